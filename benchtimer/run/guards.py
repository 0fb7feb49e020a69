"""What must come before a part's next work: pages to read, baths to read, free places.

Rules:
1. A page is read before a part leaves a safe place: one it can wait in. It covers the whole way
   from there to the next safe place.
2. An unread page never keeps a part in a bath, and never keeps it out of a rinse or neutralizer.
3. A bath is read before a part leaves for it, up to ``TIGHT_S`` before its window closes:
   then the pull comes first. For a part between stations it is read before it goes in. A rinse or a
   neutralizer never needs a reading.
"""

from __future__ import annotations

from collections.abc import Iterator

from benchtimer.recipe.model import Hazard, Recipe, Step
from benchtimer.run.readiness import bad_reading, not_ready, wants_reading
from benchtimer.run.refusals import OnHold, WrongHeat, span
from benchtimer.run.run_state import Bench, OtherHeat, Part, PartPhase, Place, window_of

TIGHT_S = 20
"""A part whose window closes within this time is pulled before any page or bath is read."""


def move_steps(recipe: Recipe, index: int) -> list[Step]:
    """The steps of one move: hands-on work from ``index`` through the step with the next dwell."""
    move = []
    for step in recipe.step[index:]:
        move.append(step)
        if step.dwell is not None:
            break
    return move


TOGETHER_S = 300
"""Work that takes longer by its recipe begins and ends with a press (the program's own guess)."""


def worked_together(recipe: Recipe, index: int) -> list[Step]:
    """The steps in hand that one press can end, to save presses with wet gloves.

    Short work without checks or a new place ends with the next answer or load of its move: a rinse
    with the check after it, a scrub when the part is in the cleaner.
    """
    first, *later = move_steps(recipe, index)
    together = [first]
    for step in later:
        if together[-1].check or max(together[-1].hands_s, step.hands_s) > TOGETHER_S:
            break
        together.append(step)
    return together


ONE_PRESS_S = 30
"""A walk between places that takes no longer is one press, made when the part is in."""

LOOSE = 10
"""For one press, both windows are at least this many times as wide as the walk is long, so the pull
is known well enough. Both figures are the program's own guess.
"""


def is_one_press(recipe: Recipe, index: int) -> bool:
    """Whether one press covers a part's pull and its load into the next place.

    It does only for a short walk without questions, between dwells with wide windows. The press
    comes when the part is in, so a part in the hands never counts as safe.
    """
    step, before = recipe.step[index], recipe.step[index - 1].dwell if index else None
    if step.dwell is None or before is None or step.check or step.hands_s > ONE_PRESS_S:
        return False
    rooms = [dwell.max_s - dwell.min_s for dwell in (before, step.dwell) if dwell.max_s is not None]
    return all(room_s >= LOOSE * step.hands_s for room_s in rooms)


def joined_steps(bench: Bench, part: Part, now_ms: int) -> list[Step]:
    """The steps that the next press of a part in hand ends, as far as nothing blocks them.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    first, *later = worked_together(bench.recipe_of(part), part.step)
    joined = [first]
    for step in later:
        if (
            page_in_the_way(bench, part, step, now_ms) is not None
            or reading_in_the_way(bench, [step], now_ms) is not None
            or (step.at is not None and obstacle(bench, part, step.at, now_ms) is not None)
        ):
            break
        joined.append(step)
    return joined


def ends_with_answers(bench: Bench, part: Part, step: Step, now_ms: int) -> bool:
    """Whether the last answer also ends the work, because the part only waits in its place.

    Such a place, like the rack where it is worked on, needs no press of its own.

    Args:
        bench: the run's bench.
        part: the part in hand.
        step: the step in question.
        now_ms: bench time.
    """
    if step.dwell is None or step.at is None:
        return True
    return step.dwell.target_s == 0 and obstacle(bench, part, step.at, now_ms) is None


def way_steps(recipe: Recipe, index: int) -> list[Step]:
    """The steps from ``index`` up to the next place where a part can wait."""
    way = []
    for step in recipe.step[index:]:
        way.append(step)
        if step.dwell is not None and step.dwell.is_rest:
            break
    return way


def is_safe(bench: Bench, part: Part) -> bool:
    """Whether a part can wait where it is: not started, or in a place to wait."""
    if part.phase is PartPhase.DWELLING:
        dwell = bench.step_of(part).dwell
        return dwell is None or dwell.is_rest
    return part.phase is PartPhase.WAITING and part.began_ms is None


def closed_ahead(bench: Bench, part: Part, index: int) -> str | None:
    """The place out of service on a part's way from a step to its next place to wait, in words.

    None without one. It counts for a part that can wait, and for one that was sent back to before
    its first bath. Any other part is better off further on.

    Args:
        bench: the run's bench.
        part: the part.
        index: of the step.
    """
    recipe = bench.recipe_of(part)
    had_bath = any(s.dwell is not None and not s.dwell.is_rest for s in recipe.step[:index])
    if had_bath and not is_safe(bench, part):
        return None
    places = (bench.places.get(step.at or "") for step in way_steps(recipe, index))
    return next((f"{p.station.title} is out of service" for p in places if p and p.closed), None)


def may_stay(bench: Bench, part: Part, now_ms: int) -> bool:
    """Whether a part's window leaves time to read a page or a bath.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    window = window_of(bench, part)
    if window is None or window.max_ms is None or is_safe(bench, part):
        return is_safe(bench, part)
    return now_ms + TIGHT_S * 1000 <= window.max_ms


def pages_for(bench: Bench, part: Part, step: Step) -> Iterator[Hazard]:
    """Every page for a step of a part: clashes, carried drops, the recipe's own.

    Args:
        bench: the run's bench.
        part: the part.
        step: the step.
    """
    recipe = bench.recipe_of(part)
    carried = bench.carried.get(part.recipe, ())
    for page in (*bench.clashes, *carried):
        if step.id in page.before or (step.at is not None and step.at in page.before):
            yield page
    yield from recipe.hazards_for(step)


def open_pages(bench: Bench, part: Part, now_ms: int) -> list[Hazard]:
    """The pages to read before the part's next work, in the order of the work.

    From a safe place these are all pages up to the next one. A part under way should have read
    them; any unread one comes before it enters a place that is not a rinse.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    index = bench.next_index(part)
    if index is None:
        return []
    recipe = bench.recipe_of(part)
    if is_safe(bench, part):
        steps = way_steps(recipe, index)
    else:
        steps = [s for s in move_steps(recipe, index) if not makes_safe(bench, s)]
    pages = {page.title: page for step in steps for page in pages_for(bench, part, step)}
    return [page for page in pages.values() if not bench.is_acknowledged(page.title, now_ms)]


def page_in_the_way(bench: Bench, part: Part, step: Step, now_ms: int) -> Hazard | None:
    """The page that must be read before this step can begin; None if there is none.

    Args:
        bench: the run's bench.
        part: the part.
        step: the step.
        now_ms: bench time.
    """
    if makes_safe(bench, step):
        return None
    for page in pages_for(bench, part, step):
        if not bench.is_acknowledged(page.title, now_ms):
            return page
    return None


def makes_safe(bench: Bench, step: Step) -> bool:
    """Whether a step rinses or neutralizes, so that it is never refused."""
    place = bench.places.get(step.at or "")
    return step.rinse or (place is not None and place.station.purpose is not None)


def reading_in_the_way(bench: Bench, steps: list[Step], now_ms: int) -> tuple[Place, str] | None:
    """The first of these steps' places that must be read before a part goes in, and why.

    Args:
        bench: the run's bench.
        steps: the steps in order.
        now_ms: bench time.
    """
    for step in steps:
        place = bench.places.get(step.at or "")
        if place is None or makes_safe(bench, step):
            continue
        why = wants_reading(bench, place, now_ms)
        if why is not None:
            return place, why
    return None


def until_words(place: Place, now_ms: int) -> str:
    """About when the first part of another run leaves a place, or since when it is due."""
    first = min(place.guests, key=lambda guest: guest.until_ms, default=None)
    if first is None or not first.until:
        return ""
    if now_ms >= first.until_ms:
        return f", due out since {first.until}"
    return f" until about {first.until}"


def other_heat(place: Place) -> OtherHeat | None:
    """The run whose part is in a bath at a temperature that this run's parts can't have."""
    return next((heat for heat in place.other_heats if heat.guest is not None), None)


def check_not_held(part: Part, what: str) -> None:
    """Refuse what can't be done with a held part."""
    if part.held is not None:
        raise OnHold(what, part.name, part.held)


def check_heat(place: Place, what: str) -> None:
    """Refuse to begin with a bath that a running run keeps at another temperature.

    Args:
        place: the bath.
        what: what can't be done.

    Raises:
        WrongHeat: a run that has started needs it at that temperature.
    """
    kept = next((heat for heat in place.other_heats if heat.is_open), None)
    if kept is not None:
        raise WrongHeat(what, place.station.title, kept)


def obstacle(bench: Bench, part: Part, station: str, now_ms: int) -> str | None:
    """What keeps a part out of a place, in words; None if nothing does.

    Args:
        bench: the run's bench.
        part: the part.
        station: the place.
        now_ms: bench time.
    """
    place = bench.places[station]
    if place.closed is not None:
        return f"{place.station.title} is out of service"
    others = bench.occupants(station, part)
    if len(others) >= place.station.holds:
        return f"{place.station.title} is full: {', '.join(others)}{until_words(place, now_ms)}"
    if place.station.purpose is not None:
        return None
    kept = other_heat(place)
    if kept is not None:
        return f"{place.station.title} is kept at {span(kept.window)}: {kept.guest} is in it"
    waits = not_ready(place)
    return f"{place.station.title} {waits}" if waits is not None else bad_reading(place)
