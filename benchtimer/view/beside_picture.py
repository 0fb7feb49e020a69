"""The text for the free rows of a large screen: the work shown, its hazards, the last entries."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from itertools import islice

from benchtimer.bench.moment import Moment
from benchtimer.recipe.model import Hazard
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.actions import Action
from benchtimer.run.events import Completed, Deviated, ReadingShared
from benchtimer.run.run_state import Bench, Press
from benchtimer.store.log import Stamp
from benchtimer.trade.dangers import headed
from benchtimer.view.words import clock_time, work, work_page

ENTRIES = 10


def work_words(bench: Bench, action: Action | None) -> tuple[str, ...]:
    """The recipe's own text on the work shown, then each of its hazards with gear."""
    if action is None:
        return ()
    page = work_page(bench, action)
    words = [" ".join(page[1].split())] if page is not None else [work(bench, action)]
    for hazard in _hazards(bench, action):
        wear = f" WEAR: {', '.join(hazard.wear)}." if hazard.wear else ""
        words.append(f"{headed(hazard.level, hazard.title)}.{wear}")
        words += [f"NEVER: {never}" for never in hazard.never]
    return tuple(word for word in words if word)


def _hazards(bench: Bench, action: Action) -> Iterator[Hazard]:
    """The hazards of the part's recipe that are read before this step or at its places."""
    about = {action.to_station, action.from_station}
    recipes = list(bench.recipes.values())
    if action.part is not None:
        recipes = [bench.recipe_of(bench.parts[action.part])]
        about |= {recipes[0].step[action.index].id} if action.index is not None else set()
    for recipe in recipes:
        yield from (hazard for hazard in recipe.hazard if about & set(hazard.before))


def press_words(press: Press, bench: Bench, stamp: Stamp) -> str:
    """What a press did last, in words with the part's number.

    A deviation or a reading shared by another run doesn't count.

    Args:
        press: the press.
        bench: the bench of its run.
        stamp: now, for times of day.
    """
    if isinstance(press.events[-1], Completed):
        return "the end of the run"
    did = [event for event in press.events if not isinstance(event, Deviated | ReadingShared)]
    event = (did or press.events)[-1]
    part = bench.parts.get(getattr(event, "part", None) or "")
    words = sentence(event, words_of(bench, partial(clock_time, stamp=stamp)))
    return f"#{part.number} {words}" if part and words.startswith(part.name) else words


def last_entries(moment: Moment) -> tuple[str, ...]:
    """The last presses in all runs, newest first, each with its time of day."""
    presses = [
        (press.made_ms, press.number, run, press)
        for run in moment.shop.runs
        for press in moment.shop.states[run].past[-ENTRIES:]
    ]
    newest = sorted(presses, key=lambda press: press[:3], reverse=True)
    lines = (
        (made_ms, press_words(press, moment.shop.bench(run), moment.stamp))
        for made_ms, _, run, press in newest
    )
    once = dict.fromkeys(lines)  # a reading of a shared bath is a press of each run that uses it
    return tuple(
        f"{clock_time(made_ms, moment.stamp)}  {text}" for made_ms, text in islice(once, ENTRIES)
    )
