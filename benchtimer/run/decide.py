"""``decide(state, command, now) -> events``: what a command causes, or why it can't be.

Rules:
1. Pure: no clock, no store, no screen. The same state, command and time give the same events.
2. The engine accepts any order that is physically possible. It refuses what is not: a full
   tank, work on a part that is gone, a step whose hazard or reading is in the way.
3. A refusal raises a ``Refused`` and changes nothing.
4. Every event of one press carries the same press number and time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from benchtimer.quantity import QuantityError, parse_hours
from benchtimer.recipe.checks import Check, JudgedAnswer, Send
from benchtimer.recipe.model import Hazard, Property, Recipe, Step
from benchtimer.recipe.places import choose_places
from benchtimer.run import commands as c
from benchtimer.run import corrections
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.answers import judge_answer, judge_reading, safe_text
from benchtimer.run.event_builder import Now, Pen, lift
from benchtimer.run.guards import (
    check_heat,
    is_safe,
    may_stay,
    move_steps,
    obstacle,
    open_pages,
    other_heat,
    page_in_the_way,
    reading_in_the_way,
    until_words,
    worked_together,
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
    create,
    free_numbers,
)
from benchtimer.run.readiness import is_needed, is_too_hot, not_ready
from benchtimer.run.run_state import Bench, Part, PartPhase, Place, RunPhase, RunState
from benchtimer.run.setup import (
    PUT_OFF,
    entries_of,
    items_of,
    known_of,
    question,
    unread_page,
    unread_page_of,
)
from benchtimer.run.surroundings import ALONE, Surroundings
from benchtimer.run.windows import window_of
from benchtimer.times import duration


def decide(
    state: RunState, command: c.Command, now: Now, shop: Surroundings = ALONE
) -> list[e.Event]:
    """What a command causes.

    Args:
        state: the run as it is.
        command: what is wished.
        now: bench time of the press and who makes it.
        shop: what the other runs on the bench mean for this one.

    Raises:
        Refused: the command can't be done; nothing has changed.
    """
    if now.t_ms < state.last_ms:
        raise r.TimeConflict("Can't be written down", "its time is before the last entry", "Wait")
    _check_phase(state.bench, command)
    pen = Pen(shop.over(state.bench), state.presses + 1, now.t_ms, now.by, shop)
    if isinstance(command, c.Undo):
        corrections.undo(state, pen)
    elif isinstance(command, c.Redo):
        corrections.redo(state, pen)
    elif isinstance(command, c.BackDate):
        corrections.back_date(state, command, pen)
    else:
        _DECIDERS[type(command)](pen, command)
    return pen.events


def _check_phase(bench: Bench, command: c.Command) -> None:
    what = f"Can't {_verb(command)}"
    if bench.phase not in command.run_phases:
        names = [phase.value for phase in RunPhase if phase in command.run_phases]
        raise r.WrongPhase(what, "the run", bench.phase.value, names)
    name = getattr(command, "part", None)
    if name is None or isinstance(command, c.AddPart):
        return
    part = _part(bench, name)
    if part.phase not in command.part_phases:
        names = [phase.value for phase in PartPhase if phase in command.part_phases]
        raise r.WrongPhase(what, name, part.phase.value, names)


def _verb(command: c.Command) -> str:
    """What a command does, in words: ``TakeOut`` takes out."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(command).__name__).lower()


def _part(bench: Bench, name: str) -> Part:
    if name not in bench.parts:
        raise r.UnknownName("part", name, list(bench.parts))
    return bench.parts[name]


def _place(bench: Bench, name: str) -> Place:
    if name not in bench.places:
        raise r.UnknownName("station", name, list(bench.places))
    return bench.places[name]


def _start(pen: Pen, _command: c.Start) -> None:
    _pages_read(pen, "Can't start")
    for name, place in pen.bench.places.items():
        if is_needed(pen.bench, name):
            check_heat(place, "Can't start")
    pen.write(e.Started)


def _pages_read(pen: Pen, what: str) -> None:
    """Refuse set-up work and the start while its pages are unread. A started run has read them."""
    if pen.bench.phase is RunPhase.IDLE:
        _is_read(unread_page(pen.bench, pen.t_ms), what)


def _is_read(page: Hazard | None, what: str) -> None:
    if page is not None:
        raise r.HazardFirst(what, page.title)


def _acknowledge(pen: Pen, command: c.Acknowledge) -> None:
    known = [hazard.title for rec in pen.bench.recipes.values() for hazard in rec.hazard]
    known += [page.title for page in pen.bench.clashes]
    known += [page.title for pages in pen.bench.carried.values() for page in pages]
    if command.hazard not in known:
        raise r.UnknownName("hazard", command.hazard, known)
    pen.write(e.Acknowledged, hazard=command.hazard)


def _begin(pen: Pen, command: c.Begin) -> None:
    part = pen.part(command.part)
    what = f"Can't begin {part.name}"
    _not_held(what, part)
    index = pen.bench.next_index(part)
    if is_safe(pen.bench, part) and not command.anyway:
        _free_hand(pen, part, what)
    if index is not None:
        _may_leave(pen, part, index, what)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    if index is None:
        pen.write(e.PartDone, part=part.name)
    elif part.phase is PartPhase.DWELLING:
        _go_on(pen, pen.part(part.name))  # a pull is never refused, whatever comes behind it
    else:
        step = pen.bench.recipe_of(part).step[index]
        pen.write(e.WorkBegan, part=part.name, step=step.id)


def _free_hand(pen: Pen, part: Part, what: str) -> None:
    """Ask before a part that can wait is begun while every hand in the shop holds another."""
    holding = pen.shop.holding(pen.bench, part)
    if pen.shop.hands is not None and len(holding) >= pen.shop.hands:
        raise r.HandsFull(what, holding)


def _may_leave(pen: Pen, part: Part, index: int, what: str) -> None:
    """Refuse to begin work whose page or bath is not read, while the part can wait for that.

    A part that has to leave its bath leaves it; a wet part between stations is refused only
    the step that goes into the unread bath itself.
    """
    bench, steps = pen.bench, move_steps(pen.bench.recipe_of(part), index)
    if is_safe(bench, part):
        for page in open_pages(bench, part, pen.t_ms):
            raise r.HazardFirst(what, page.title)
    if may_stay(bench, part, pen.t_ms):
        _baths_read(pen, steps, what)
        first = steps[0]
        if is_safe(bench, part) and first.at is not None and first.dwell is None:
            _room(bench, part, first.at, what)
    elif part.phase is not PartPhase.DWELLING:
        _may_go_on(pen, part, index, what)


def _may_go_on(pen: Pen, part: Part, index: int, what: str) -> None:
    """Refuse the next step of a part between stations for its own page, bath or room."""
    step = pen.bench.recipe_of(part).step[index]
    _is_read(page_in_the_way(pen.bench, part, step, pen.t_ms), what)
    _baths_read(pen, [step], what)
    if step.at is not None and step.dwell is None:
        _room(pen.bench, part, step.at, what)


def _baths_read(pen: Pen, steps: list[Step], what: str) -> None:
    found = reading_in_the_way(pen.bench, steps, pen.t_ms)
    if found is not None:
        place, why = found
        raise r.ReadingFirst(what, place.station.id, place.station.title, why)


def _room(bench: Bench, part: Part, station: str, what: str) -> None:
    place = bench.places[station]
    if place.closed is not None:
        raise r.OutOfService(what, place.station.title, place.closed)
    others = bench.occupants(station, part)
    if len(others) >= place.station.holds:
        until = until_words(place)
        raise r.StationFull(what, place.station.title, place.station.holds, others, until)
    if place.station.purpose is not None:
        return  # it makes wet parts safe, whatever it was read at
    kept = other_heat(place)
    if kept is not None:
        raise r.WrongHeat(what, place.station.title, kept)
    waits = not_ready(place)
    if waits is not None:
        raise r.NotReady(what, place.station.title, waits)
    window = place.station.temperature
    if is_too_hot(place) and place.reading is not None and window is not None:
        raise r.TooHot(what, str(place.reading.quantity), str(window.ceiling))


def _not_held(what: str, part: Part) -> None:
    if part.held is not None:
        raise r.OnHold(what, part.name, part.held)


def _finish(pen: Pen, command: c.Finish) -> None:
    part = pen.part(command.part)
    what = f"Can't finish {part.name}"
    _not_held(what, part)
    if command.through is not None:
        part = _work_through(pen, part, command.through, what)
    step = pen.bench.step_of(part)
    _checks_done(pen.bench, part, what)
    if step.dwell is not None and step.at is not None:
        _room(pen.bench, part, step.at, what)
    _work_done(pen, part)


def _work_through(pen: Pen, part: Part, step_id: str, what: str) -> Part:
    """End the work in hand and begin the next, up to a later step of the move; the part then."""
    steps = worked_together(pen.bench.recipe_of(part), part.step)
    known = [step.id for step in steps]
    if step_id not in known:
        raise r.UnknownName("step that ends with this one", step_id, known)
    _checks_done(pen.bench, part, what)
    for index, step in enumerate(steps[1 : known.index(step_id) + 1], part.step + 1):
        _may_go_on(pen, part, index, what)
        before = pen.bench.step_of(pen.part(part.name))
        pen.write(e.WorkFinished, part=part.name, step=before.id, with_next=True)
        pen.write(e.WorkBegan, part=part.name, step=step.id, with_last=True)
    return pen.part(part.name)


def _work_done(pen: Pen, part: Part) -> None:
    """The work of the step in hand is over: into the station, on to the next work, or done."""
    step = pen.bench.step_of(part)
    pen.write(e.WorkFinished, part=part.name, step=step.id)
    if step.dwell is not None:
        pen.write(e.PutIn, part=part.name, step=step.id, station=step.at)
    elif step is pen.bench.recipe_of(part).step[-1]:
        pen.write(e.PartDone, part=part.name)
    else:
        _go_on(pen, pen.part(part.name))


def _checks_done(bench: Bench, part: Part, what: str) -> None:
    still = bench.open_checks(part)
    for check in still:
        given = part.answers.get(check.id)
        if given is not None and given.above_ceiling:
            raise r.TooHot(what, str(given.answer), _ceiling(bench, check, part))
    if still:
        raise r.ChecksFirst(what, [check.ask for check in still])


def _go_on(pen: Pen, part: Part) -> None:
    """Begin the next hands-on work of the same move at once, unless something guards it."""
    try:
        _may_go_on(pen, part, part.step, "")
    except r.Refused:
        return
    pen.write(e.WorkBegan, part=part.name, step=pen.bench.step_of(part).id)


def _take_out(pen: Pen, command: c.TakeOut) -> None:
    part = pen.part(command.part)
    last = pen.bench.next_index(part) is None
    lift(pen, part)
    if last:
        pen.write(e.PartDone, part=part.name)


def _put_back(pen: Pen, command: c.PutBack) -> None:
    part = pen.part(command.part)
    what = f"Can't put {part.name} back"
    if part.lifted_from is None:
        raise r.BadValue(what, "it was not lifted out of a station", "Begin its next work")
    step = pen.bench.recipe_of(part).step[part.lifted_from]
    assert step.at is not None  # noqa: S101  a dwell has a station: the recipe's rules say so
    _room(pen.bench, part, step.at, what)
    pen.write(e.PutIn, part=part.name, step=step.id, station=step.at)


def _answer(pen: Pen, command: c.Answer) -> None:
    part = pen.part(command.part)
    step = pen.bench.step_of(part)
    if pen.bench.phase is RunPhase.RUNNING and part.held is None:
        step = worked_together(pen.bench.recipe_of(part), part.step)[-1]
    check = next((k for k in step.check if k.id == command.check), None)
    if check is None:
        raise r.UnknownName("check", command.check, [k.id for k in step.check])
    if step is not pen.bench.step_of(part):
        part = _work_through(pen, part, step.id, f"Can't answer for {part.name}")
    judged = judge_answer(check, command.answer, known_of(pen.bench, part))
    pen.write(
        e.Answered,
        part=part.name,
        step=step.id,
        check=check.id,
        answer=judged.answer,
        no=judged.bad,
        above_ceiling=judged.above_ceiling,
        key=judged.key,
    )
    if judged.above_ceiling:
        limit = f"never above {_ceiling(pen.bench, check, part)}"
        _deviates(pen, part, step, "ceiling", limit, judged.shown)
    elif judged.key in check.send:
        _follow(pen, pen.part(part.name), check, judged)
    elif judged.bad:
        _deviates(pen, part, step, "check", check.ask, judged.shown)
    part = pen.part(part.name)
    if part.phase is PartPhase.IN_HAND and part.held is None:
        _after_last_answer(pen, part, step)


def _deviates(pen: Pen, part: Part, step: Step, what: str, limit: str, found: str) -> None:
    """Write down that a part differs from its recipe; ``what`` as in ``events.Deviated``."""
    pen.write(e.Deviated, part=part.name, step=step.id, what=what, limit=limit, found=found)


def _ceiling(bench: Bench, check: Check, part: Part) -> str:
    return str(check.ceiling_for(known_of(bench, part)))


def _after_last_answer(pen: Pen, part: Part, step: Step) -> None:
    """The last answer ends the work, unless the part has to be put where its time counts.

    A place where it only waits, such as the rack it is worked at, needs no press of its own.
    """
    if pen.bench.phase is not RunPhase.RUNNING or pen.bench.open_checks(part):
        return
    if step.dwell is not None and step.at is not None:
        only_waits = step.dwell.target_s == 0
        if not only_waits or obstacle(pen.bench, part, step.at) is not None:
            return
    _work_done(pen, part)


def _follow(pen: Pen, part: Part, check: Check, judged: JudgedAnswer) -> None:
    """What the recipe says of an answer: the part goes to another step, or stops."""
    send, reason = check.send[judged.key], f"{check.ask} {judged.shown}"
    _close_for(pen, send, reason)
    if send.to is None:
        _stop(pen, part, "stop", reason, str(send.stop))
        return
    step = pen.bench.step_of(part)
    count = part.sent.get(f"{step.id}/{check.id}/{judged.key}", 0)
    if send.limit is not None and count >= send.limit:
        often = "once" if send.limit == 1 else f"{send.limit} times"
        way_out = f"{check.id}: sent {often} already; send, scrap or resume"
        _stop(pen, part, "tries", reason, way_out)
        return
    pen.write(
        e.Sent,
        part=part.name,
        from_step=step.id,
        to_step=send.to,
        check=check.id,
        answer=judged.key,
        count=count + 1,
        reason=reason,
        new_try=send.new_try,
    )


def _stop(pen: Pen, part: Part, what: str, found: str, reason: str) -> None:
    step = pen.bench.step_of(part)
    _deviates(pen, part, step, what, reason, found)
    if part.held is None:
        pen.write(e.Held, part=part.name, reason=reason, by_recipe=True)


def _close_for(pen: Pen, send: Send, reason: str) -> None:
    station = send.out_of_service
    if station is not None and pen.bench.places[station].closed is None:
        pen.write(e.StationClosed, station=station, reason=reason)


def _read(pen: Pen, command: c.Read) -> None:
    place = _place(pen.bench, command.station)
    reading, verdict, limit = judge_reading(place.station, command.reading)
    name = command.station
    pen.write(e.ReadingTaken, station=name, reading=str(reading), verdict=verdict)
    if verdict != "in":
        body = {"part": None, "step": None, "station": name}
        pen.write(e.Deviated, **body, what="reading", limit=limit, found=str(reading))


def _skip_reading(pen: Pen, command: c.SkipReading) -> None:
    place = _place(pen.bench, command.station)
    what = f"Can't go on without a reading of {place.station.title}"
    if command.reason not in c.NO_READING:
        allowed = f"One of {_listed(c.NO_READING)}"
        raise r.BadValue(what, f'"{command.reason}" is no reason', allowed)
    window = place.station.temperature
    if window is None:
        raise r.BadValue(what, "it needs none", "Nothing needs to be done")
    if is_too_hot(place) and place.reading is not None:
        raise r.TooHot(what, str(place.reading.quantity), str(window.ceiling))
    pen.write(e.ReadingSkipped, station=command.station, reason=command.reason)
    body = {"part": None, "step": None, "station": command.station}
    limit = f"{window.min} to {window.max}"
    pen.write(e.Deviated, **body, what="no-reading", limit=limit, found=command.reason)


def _listed(words: tuple[str, ...]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _heat(pen: Pen, command: c.Heat) -> None:
    place = _place(pen.bench, command.station)
    what = f"Can't heat {place.station.title}"
    if place.station.temperature is None and place.station.heat_up_s is None:
        raise r.BadValue(what, "its recipe gives it no temperature", "Nothing needs to be done")
    if place.cooling_ms is not None:
        raise r.BadValue(what, "it cools for its make-up", "End the make-up first")
    check_heat(place, what)
    _pages_read(pen, what)
    _is_read(unread_page_of(pen.bench, command.station, pen.t_ms), what)
    pen.write(e.Heated, station=command.station)


def _begin_make_up(pen: Pen, command: c.BeginMakeUp) -> None:
    place = _place(pen.bench, command.station)
    what = f"Can't make up {place.station.title}"
    if place.station.make_up is None:
        raise r.BadValue(what, "its recipe knows no make-up", "Write a note instead")
    if place.cooling_ms is not None:
        raise r.BadValue(what, "its make-up has begun", "End it when the work is done")
    inside = pen.bench.occupants(command.station)
    if inside:
        raise r.BadValue(what, f"{', '.join(inside)} is in it", "Pull the parts first")
    pen.write(e.MakeUpBegan, station=command.station)


def _end_make_up(pen: Pen, command: c.EndMakeUp) -> None:
    place = _place(pen.bench, command.station)
    what = f"Can't end the make-up of {place.station.title}"
    if place.cooling_ms is None:
        raise r.BadValue(what, "none has begun", "Begin it first")
    _is_read(unread_page_of(pen.bench, command.station, pen.t_ms), what)
    pen.write(e.MadeUp, station=command.station)


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

    A way back by hand to there is a full send-back; one that only repeats the step in hand is
    none.
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
    _not_held(what, part)
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
    limit = f"not done: {', '.join(step.title for step in out)}"
    body = {"part": part.name, "step": steps[first].id}
    pen.write(e.Deviated, **body, what="skipped", limit=limit, found=reason)
    if command.to_step is None:
        pen.write(e.PartDone, part=part.name)


def _hold(pen: Pen, command: c.Hold) -> None:
    held = pen.bench.held if command.part is None else pen.part(command.part).held
    if held is not None:
        thing = command.part or "the run"
        raise r.BadValue(f"Can't hold {thing}", f"it is held already ({held})", "Resume it first")
    pen.write(e.Held, part=command.part, reason=safe_text("reason", command.reason))


def _resume(pen: Pen, command: c.Resume) -> None:
    held = pen.bench.held if command.part is None else pen.part(command.part).held
    if held is None:
        thing = command.part or "the run"
        raise r.BadValue(f"Can't resume {thing}", "it is not held", "Nothing needs to be done")
    pen.write(e.Resumed, part=command.part)


def _scrap(pen: Pen, command: c.Scrap) -> None:
    part = pen.part(command.part)
    reason = safe_text("reason", command.reason)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    pen.write(e.Scrapped, part=part.name, reason=reason)


def _tie_bath(pen: Pen, command: c.TieBath) -> None:
    place = _place(pen.bench, command.station)
    what = f"Can't put {command.bath} into {place.station.title}"
    if place.station.bath is None:
        raise r.BadValue(what, "its recipe names no bath for it", "Write a note instead")
    if pen.bench.baths.get(command.station) == command.bath:
        raise r.BadValue(what, "it is in there already", "Nothing needs to be done")
    inside = [part.name for part in pen.bench.inside(command.station)]
    if inside:
        raise r.BadValue(what, f"{', '.join(inside)} is in it", "Pull the parts first")
    bath = safe_text("name of a bath", command.bath)
    pen.write(e.BathTied, station=command.station, bath=bath)


def _leave(pen: Pen, command: c.Leave) -> None:
    begin, end = command.from_ms, command.to_ms
    if begin is not None and (end is None or end <= max(begin, pen.t_ms)):
        way_out = "Give a time to go, and a later one to be back"
        raise r.BadValue("Can't plan around that", "it ends before it begins", way_out)
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
            f"this run has a recipe {command.key} already",
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
        raise r.BadValue("Can't take the tick off", "there is none", "Nothing needs to be done")
    items = items_of(pen.bench.recipes, entries_of(pen.bench))
    asked = next((i for i in items if i.key == item), None)
    if asked is not None and command.ready and said != PUT_OFF:
        _pages_read(pen, f"Can't tick {asked.title}")
        if asked.asks is not None:
            said = _looked_up(asked.asks, said)
    pen.write(e.Prepared, item=item, ready=command.ready, said=said)


def _looked_up(prop: Property, said: str) -> str:
    """A figure of a mix as it is kept; one below the recipe's minimum means another mix."""
    judged = judge_answer(question(prop), said, {})
    if judged.key == "below":
        found = f"{judged.shown} is below {prop.min}, the least this recipe takes"
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
        raise r.BadValue(what, "it may wait where it is", "Pull it when you want it")
    if command.by_s > 0:
        target_s = window.target_s + command.by_s
        target_s = target_s if window.max_s is None else min(target_s, window.max_s)
        end = f"its max of {duration(target_s)}"
    else:
        target_s = max(window.target_s + command.by_s, window.min_s, 1)
        end = f"its min of {duration(window.min_s)}"
    if target_s == window.target_s:
        raise r.BadValue(what, f"the target is {end} already", "Pull it in its window")
    body = {"step": step.id, "target_s": target_s, "was_s": window.target_s}
    pen.write(e.TargetMoved, part=part.name, **body)


def _change_hands(pen: Pen, command: c.ChangeHands) -> None:
    if command.hands not in c.HANDS:
        raise r.BadValue(
            "Can't change the hands", f"{command.hands} is not a number of people who work here",
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
            raise r.BadValue(what, f'"{text}" is no span of the day', allowed) from None
    if command.away == pen.bench.away:
        raise r.BadValue(what, "they are that already", "Nothing needs to be done")
    pen.write(e.HoursChanged, away=command.away, was=pen.bench.away)


def _judge(pen: Pen, command: c.Judge) -> None:
    what = f"Can't judge {command.part}"
    if command.verdict not in c.VERDICTS:
        allowed = f"One of {', '.join(c.VERDICTS)}"
        raise r.BadValue(what, f'"{command.verdict}" is no verdict', allowed)
    if command.rating is not None and command.rating not in range(1, 6):
        raise r.BadValue(what, f"{command.rating} is no rating", "1 (poor) to 5 (very good)")
    scrapped = pen.part(command.part).phase is PartPhase.SCRAPPED
    if scrapped and command.verdict == c.ACCEPTED:
        way_out = "Judge it rejected or rework; if it is good after all, undo the scrapping first"
        raise r.BadValue(f"{what} {c.ACCEPTED}", "it was scrapped", way_out)
    pen.write(e.Judged, part=command.part, verdict=command.verdict, rating=command.rating)


def _close_station(pen: Pen, command: c.CloseStation) -> None:
    place = _place(pen.bench, command.station)
    if place.closed is not None:
        what = f"Can't close {place.station.title}"
        raise r.BadValue(what, f"it is out of service ({place.closed})", "Nothing needs to be done")
    reason = safe_text("reason", command.reason)
    pen.write(e.StationClosed, station=command.station, reason=reason)


def _open_station(pen: Pen, command: c.OpenStation) -> None:
    place = _place(pen.bench, command.station)
    if place.closed is None:
        what = f"Can't open {place.station.title}"
        raise r.BadValue(what, "it is in service", "Nothing needs to be done")
    pen.write(e.StationOpened, station=command.station)


def _complete(pen: Pen, _command: c.Complete) -> None:
    left = [part.name for part in pen.bench.parts.values() if not part.is_out]
    if left:
        raise r.PartsLeft(left)
    pen.write(e.Completed)


def _abort(pen: Pen, command: c.Abort) -> None:
    pen.write(e.Aborted, reason=safe_text("reason", command.reason))


_DECIDERS: Mapping[type[c.Command], Callable[[Pen, Any], None]] = {
    c.Start: _start,
    c.Acknowledge: _acknowledge,
    c.Begin: _begin,
    c.Finish: _finish,
    c.TakeOut: _take_out,
    c.PutBack: _put_back,
    c.Answer: _answer,
    c.Read: _read,
    c.SkipReading: _skip_reading,
    c.Heat: _heat,
    c.BeginMakeUp: _begin_make_up,
    c.EndMakeUp: _end_make_up,
    c.SendBack: _send_back,
    c.Skip: _skip,
    c.Hold: _hold,
    c.Resume: _resume,
    c.Scrap: _scrap,
    c.TieBath: _tie_bath,
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
    c.CloseStation: _close_station,
    c.OpenStation: _open_station,
    c.Complete: _complete,
    c.Abort: _abort,
}

__all__ = ["Now", "create", "decide"]
