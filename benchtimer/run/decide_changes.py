"""The events of a change by hand to a part's path, the plan, the people, or the run itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchtimer.quantity import QuantityError, parse_hours
from benchtimer.recipe.model import Property, Recipe
from benchtimer.recipe.places import choose_places
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.event_builder import Pen, lift
from benchtimer.run.guards import (
    check_not_held,
)
from benchtimer.run.hazards import why_not_skip
from benchtimer.run.layout import (
    MAX_PARTS,
    EntersAt,
    check_count,
    check_entry,
    check_name,
    check_places,
    check_properties,
    checked_recipe,
    free_numbers,
)
from benchtimer.run.refusals import judge_answer, safe_text
from benchtimer.run.run_state import PartPhase, window_of
from benchtimer.run.setup import (
    PUT_OFF,
    entries_of,
    items_of,
    question,
    want_pages_read,
)
from benchtimer.times import duration


def _send_back(pen: Pen, command: c.SendBack) -> None:
    part = pen.part(command.part)
    recipe = pen.bench.recipe_of(part)
    here, was = recipe.step[part.step].id, part.step
    known = [step.id for step in recipe.step[: part.step + 1]]
    if command.to_step not in known:
        raise r.UnknownName("step to go back to", command.to_step, known)
    reason = safe_text("reason", command.reason)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    back = {"from_step": here, "to_step": command.to_step, "check": None}
    again = recipe.step_index(command.to_step) < was and starts_new_try(recipe, command.to_step)
    pen.write(e.Sent, part=part.name, **back, count=0, reason=reason, new_try=again)


def starts_new_try(recipe: Recipe, to_step: str) -> bool:
    """Whether a step is as far back as those that end a try, or the first one.

    Sending a part back that far by hand is a full send-back; repeating only the step in hand is
    not.
    """
    ends = [way.to_index for way in recipe.ways if way.send.new_try and way.to_index is not None]
    return recipe.step_index(to_step) <= min(ends, default=0)


def _skip(pen: Pen, command: c.Skip) -> None:
    part = pen.part(command.part)
    steps, first = pen.bench.recipe_of(part).step, pen.bench.next_index(part)
    first = len(steps) if first is None else first
    known = [step.id for step in steps[first + 1 :]]
    if command.to_step is not None and command.to_step not in known:
        raise r.UnknownName("step to skip forward to", command.to_step, known)
    last = len(steps) if command.to_step is None else first + 1 + known.index(command.to_step)
    what, reason = f"Can't skip forward with {part.name}", safe_text("reason", command.reason)
    check_not_held(part, what)
    if first == len(steps):
        raise r.BadValue(what, "all its steps are done", "Pull it")
    danger = why_not_skip(pen.bench, part, first, last)
    if danger is not None:
        raise r.BadValue(what, *danger)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    out = steps[first:last]
    pen.write(e.Skipped, part=part.name, from_step=steps[first].id, to_step=command.to_step,
              left_out=[step.id for step in out], reason=reason)  # fmt: skip
    limit = ", ".join(step.title for step in out)
    body = {"part": part.name, "step": steps[first].id}
    pen.write(e.Deviated, **body, what="skipped", limit=limit, found=reason)
    if command.to_step is None:
        pen.write(e.PartDone, part=part.name)


def _held(pen: Pen, part: str | None) -> tuple[str, str | None]:
    """A part, or the run if None, in words; and why it is held, if it is."""
    return part or "the run", pen.bench.held if part is None else pen.part(part).held


def _hold(pen: Pen, command: c.Hold) -> None:
    subject, held = _held(pen, command.part)
    if held is not None:
        raise r.BadValue(f"Can't hold {subject}", f"it is already held ({held})", "Resume it first")
    pen.write(e.Held, part=command.part, reason=safe_text("reason", command.reason))


def _resume(pen: Pen, command: c.Resume) -> None:
    subject, held = _held(pen, command.part)
    if held is None:
        raise r.BadValue(f"Can't resume {subject}", "it is not held", "Nothing needs to be done")
    pen.write(e.Resumed, part=command.part)


def _scrap(pen: Pen, command: c.Scrap) -> None:
    part = pen.part(command.part)
    reason = safe_text("reason", command.reason)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    pen.write(e.Scrapped, part=part.name, reason=reason)


def _leave(pen: Pen, command: c.Leave) -> None:
    begin, end = command.from_ms, command.to_ms
    if begin is not None and (end is None or end <= max(begin, pen.t_ms)):
        way_out = "Give a time to leave, and a later time to be back"
        raise r.BadValue(
            "Can't plan around your leaving", "you would be back before you leave", way_out
        )
    pen.write(e.Leaving, from_ms=begin, to_ms=end if begin is not None else None)


def _scrap_some(pen: Pen, command: c.ScrapSome) -> None:
    part, what = pen.part(command.part), f"Can't scrap {command.number} of {command.part}"
    left = part.count - command.number
    if command.number < 1 or left < 1:
        found = f"it has {part.count} pieces" if part.count > 1 else "it is one piece"
        way_out = f"1 to {part.count - 1}; or scrap all" if part.count > 1 else "Scrap all of it"
        raise r.BadValue(what, found, way_out)
    reason = safe_text("reason", command.reason)
    pen.write(e.SomeScrapped, part=part.name, number=command.number, left=left, reason=reason)


def _add_part(pen: Pen, command: c.AddPart) -> None:
    check_name(command.part, list(pen.bench.parts))
    check_count(command.part, command.count)
    if len(pen.bench.parts) >= MAX_PARTS:
        raise r.BadValue("Can't add a part", f"the run has {MAX_PARTS}", "Start another run")
    known = pen.bench.recipes
    if command.recipe is None and command.key not in known:
        raise r.UnknownName("recipe", command.key, list(known))
    joins = known[command.key] if command.recipe is None else checked_recipe(command.recipe)
    check_properties(joins, command.part, command.properties)
    if command.recipe is not None and command.key in known:
        raise r.BadValue(
            f"Can't add {command.part}",
            f"this run already has a recipe {command.key}",
            "Name that recipe, or give the new one another key",
        )
    places: dict[str, str] = {}
    if command.recipe is not None:
        sources = {**pen.bench.sources, command.key: joins}
        shop = pen.bench.shop
        at = choose_places(sources, known=pen.bench.at, shop=shop)
        places = check_places(sources, at, shop)
    if command.step is not None:
        check_entry(joins, EntersAt(command.step, command.before))
    taken = pen.shop.numbers | {part.number for part in pen.bench.parts.values()}
    body = {"key": command.key, "recipe": command.recipe, "properties": command.properties,
            "places": places, "number": free_numbers(taken, 1)[0],
            "step": command.step, "before": command.before,
            "count": command.count}  # fmt: skip
    pen.write(e.PartAdded, part=command.part, **body)


def _note(pen: Pen, command: c.Note) -> None:
    pen.write(e.Noted, part=command.part, text=safe_text("note", command.text))


def _prepare(pen: Pen, command: c.Prepare) -> None:
    item = safe_text("line of the page", command.item)
    said = safe_text("words", command.said) if command.said else ""
    if not command.ready and item not in pen.bench.prepared:
        raise r.BadValue(
            "Can't take the check mark off this line", "it has none", "Nothing needs to be done"
        )
    items = items_of(pen.bench.recipes, entries_of(pen.bench))
    asked = next((i for i in items if i.key == item), None)
    if asked is not None and command.ready and said != PUT_OFF:
        want_pages_read(pen.bench, pen.t_ms, f"Can't check off {asked.title}")
        if asked.asks is not None:
            said = _looked_up(asked.asks, said)
    pen.write(e.Prepared, item=item, ready=command.ready, said=said)


def _looked_up(prop: Property, said: str) -> str:
    """A figure of a mix in stored form.

    One below the recipe's minimum means that you need another mix.
    """
    judged = judge_answer(question(prop), said, {})
    if judged.key == "below":
        found = f"{judged.shown} is below {prop.min}, the minimum for this recipe"
        asked = prop.ask.removesuffix("?")
        raise r.BadValue(asked, found, "Correct the entry, or use another product")
    return judged.shown


def _postpone(pen: Pen, command: c.Postpone) -> None:
    if command.part is None:
        waiting = [p.name for p in pen.bench.parts.values() if p.began_ms is None and not p.is_out]
        if not waiting:
            what = "Can't plan the start"
            raise r.BadValue(what, "the work of every part has begun", "Hold the run instead")
        for name in waiting:
            pen.write(e.Postponed, part=name, until_ms=command.until_ms)
        return
    part = pen.part(command.part)
    if part.began_ms is not None:
        what = f"Can't hold {part.name} back"
        raise r.BadValue(what, "its work has begun", "Hold it instead")
    pen.write(e.Postponed, part=part.name, until_ms=command.until_ms)


def _move_target(pen: Pen, command: c.MoveTarget) -> None:
    part, step = pen.part(command.part), pen.bench.step_of(pen.part(command.part))
    what, window = f"Can't move the target of {part.name}", window_of(pen.bench, part)
    if window is None or window.target_s == 0:
        raise r.BadValue(what, "it can wait where it is", "Pull it when you want it")
    if command.by_s > 0:
        target_s = window.target_s + command.by_s
        target_s = target_s if window.max_s is None else min(target_s, window.max_s)
        end = f"its max of {duration(target_s)}"
    else:
        target_s = max(window.target_s + command.by_s, window.min_s, 1)
        end = f"its min of {duration(window.min_s)}"
    if target_s == window.target_s:
        raise r.BadValue(what, f"the target is already {end}", "Pull it in its window")
    body = {"step": step.id, "target_s": target_s, "was_s": window.target_s}
    pen.write(e.TargetMoved, part=part.name, **body)


def _change_hands(pen: Pen, command: c.ChangeHands) -> None:
    if command.hands not in c.HANDS:
        raise r.BadValue(
            "Can't change the hands", f"{command.hands} is not a valid number of people",
            f"Give {c.HANDS[0]} to {c.HANDS[-1]}",
        )  # fmt: skip
    if command.hands == pen.bench.hands:
        raise r.BadValue(
            "Can't change the hands", f"it is {command.hands} already", "Nothing needs to be done"
        )
    pen.write(e.HandsChanged, hands=command.hands, was=pen.bench.hands)


def _change_hours(pen: Pen, command: c.ChangeHours) -> None:
    what = "Can't change the hours away"
    for text in command.away:
        try:
            parse_hours(text)
        except QuantityError:
            allowed = 'Write it like "22:00-07:00"'
            raise r.BadValue(what, f'"{text}" is not a span of the day', allowed) from None
    if command.away == pen.bench.away:
        raise r.BadValue(what, "they are already set that way", "Nothing needs to be done")
    pen.write(e.HoursChanged, away=command.away, was=pen.bench.away)


def _judge(pen: Pen, command: c.Judge) -> None:
    what = f"Can't judge {command.part}"
    if command.verdict not in c.VERDICTS:
        allowed = f"One of {', '.join(c.VERDICTS)}"
        raise r.BadValue(what, f'"{command.verdict}" is not a verdict', allowed)
    if command.rating is not None and command.rating not in range(1, 6):
        raise r.BadValue(what, f"{command.rating} is not a rating", "1 (poor) to 5 (flawless)")
    scrapped = pen.part(command.part).phase is PartPhase.SCRAPPED
    if scrapped and command.verdict == c.ACCEPTED:
        way_out = "Judge it rejected or rework; if it is good after all, undo the scrapping first"
        raise r.BadValue(f"{what} {c.ACCEPTED}", "it was scrapped", way_out)
    pen.write(e.Judged, part=command.part, verdict=command.verdict, rating=command.rating)


def _complete(pen: Pen, _command: c.Complete) -> None:
    left = [part.name for part in pen.bench.parts.values() if not part.is_out]
    if left:
        raise r.PartsLeft(left)
    pen.write(e.Completed)


def _abort(pen: Pen, command: c.Abort) -> None:
    pen.write(e.Aborted, reason=safe_text("reason", command.reason))


CHANGE_DECIDERS: Mapping[type[c.Command], Callable[[Pen, Any], None]] = {
    c.SendBack: _send_back,
    c.Skip: _skip,
    c.Hold: _hold,
    c.Resume: _resume,
    c.Scrap: _scrap,
    c.Leave: _leave,
    c.ScrapSome: _scrap_some,
    c.AddPart: _add_part,
    c.Note: _note,
    c.Judge: _judge,
    c.Prepare: _prepare,
    c.Postpone: _postpone,
    c.MoveTarget: _move_target,
    c.ChangeHands: _change_hands,
    c.ChangeHours: _change_hours,
    c.Complete: _complete,
    c.Abort: _abort,
}
"""The function that decides each kind of command; see ``decide``."""
