"""``decide(state, command, now) -> events``: what a command causes, or why it can't be.

Rules:
1. Pure: no clock, no store, no screen. The same state, command and time give the same events.
2. The engine accepts any order that is physically possible. It refuses what is not: a full
   tank, work on a part that is gone, a step whose caution or reading stands in the way.
3. A refusal raises a ``Refused`` and changes nothing.
4. Every event of one press carries the same press number and time.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from benchtimer.recipe.model import Check, NoteCheck, Step
from benchtimer.run import commands as c
from benchtimer.run import corrections
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.answers import Told, ceiling_of, judge_answer, judge_reading, safe_text
from benchtimer.run.hazards import ACID_AND_CAUSTIC
from benchtimer.run.layout import (
    MAX_PARTS,
    check_name,
    check_properties,
    check_stations,
    checked_recipe,
    create,
)
from benchtimer.run.pen import Now, Pen, lift
from benchtimer.run.state import Bench, Part, PartPhase, Place, RunPhase, State
from benchtimer.run.transitions import PART_ALLOWS, RUN_ALLOWS


def decide(state: State, command: c.Command, now: Now) -> list[e.Event]:
    """What a command causes.

    Args:
        state: the run as it is.
        command: what is wished.
        now: bench time of the press and who makes it.

    Raises:
        Refused: the command can't be done; nothing has changed.
    """
    if now.t_ms < state.last_ms:
        raise r.TimeConflict("Can't be written down", "its time is before the last entry", "Wait")
    _check_phase(state.bench, command)
    pen = Pen(state.bench, state.presses + 1, now.t_ms, now.by)
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
    allowed = RUN_ALLOWS[type(command)]
    if bench.phase not in allowed:
        names = [phase.value for phase in RunPhase if phase in allowed]
        raise r.WrongPhase(what, "the run", bench.phase.value, names)
    name = getattr(command, "part", None)
    if name is None or isinstance(command, c.AddPart):
        return
    part = _part(bench, name)
    phases = PART_ALLOWS.get(type(command), frozenset(PartPhase))
    if part.phase not in phases:
        names = [phase.value for phase in PartPhase if phase in phases]
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
    pen.write(e.Started)


def _acknowledge(pen: Pen, command: c.Acknowledge) -> None:
    known = [caution.title for rec in pen.bench.recipes.values() for caution in rec.caution]
    known.append(ACID_AND_CAUSTIC.title)
    if command.caution not in known:
        raise r.UnknownName("caution", command.caution, known)
    pen.write(e.Acknowledged, caution=command.caution)


def _begin(pen: Pen, command: c.Begin) -> None:
    part = pen.part(command.part)
    what = f"Can't begin {part.name}"
    _not_held(what, part)
    index = pen.bench.next_index(part)
    if index is not None:
        _may_begin(pen.bench, part, index, what)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    if index is None:
        pen.write(e.PartDone, part=part.name)
    else:
        step = pen.bench.recipe_of(part).step[index]
        pen.write(e.WorkBegan, part=part.name, step=step.id)


def _may_begin(bench: Bench, part: Part, index: int, what: str) -> None:
    """Cautions first; work done inside a station needs a free place in it."""
    cautions = bench.open_cautions(part, index)
    if cautions:
        raise r.CautionFirst(what, cautions[0].title)
    step = bench.recipe_of(part).step[index]
    if step.at is not None and step.dwell is None:
        _room(bench, part, step.at, what)


def _room(bench: Bench, part: Part, station: str, what: str) -> None:
    place = bench.places[station]
    if place.closed is not None:
        raise r.OutOfService(what, place.station.title, place.closed)
    others = [p.name for p in bench.inside(station) if p.name != part.name]
    if len(others) >= place.station.holds:
        raise r.StationFull(what, place.station.title, place.station.holds, others)
    window = place.station.temperature
    hot = place.reading is not None and place.reading.verdict == "above-ceiling"
    if hot and place.reading is not None and window is not None:
        raise r.TooHot(what, str(place.reading.quantity), str(window.ceiling))


def _not_held(what: str, part: Part) -> None:
    if part.held is not None:
        raise r.OnHold(what, part.name, part.held)


def _finish(pen: Pen, command: c.Finish) -> None:
    part = pen.part(command.part)
    what = f"Can't finish {part.name}"
    _not_held(what, part)
    step = pen.bench.step_of(part)
    _checks_done(pen.bench, part, what)
    if step.dwell is not None and step.at is not None:
        _room(pen.bench, part, step.at, what)
    _work_done(pen, part)


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
        if given is not None and check.kind == "reading":
            raise r.TooHot(what, str(given.answer), str(ceiling_of(check, part.properties)))
    if still:
        raise r.ChecksFirst(what, [check.ask for check in still])


def _go_on(pen: Pen, part: Part) -> None:
    """Begin the next hands-on work of the same move at once, unless something guards it."""
    try:
        _may_begin(pen.bench, part, part.step, "")
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
    check = next((k for k in step.check if k.id == command.check), None)
    if check is None:
        raise r.UnknownName("check", command.check, [k.id for k in step.check])
    told = judge_answer(check, command.answer, part.properties)
    body: dict[str, Any] = {"part": part.name, "step": step.id}
    pen.write(
        e.Answered,
        **body,
        check=check.id,
        answer=told.answer,
        no=told.no,
        above_ceiling=told.above_ceiling,
    )
    if told.above_ceiling:
        limit = f"never above {ceiling_of(check, part.properties)}"
        pen.write(e.Deviated, **body, what="ceiling", limit=limit, found=told.shown)
    if told.no and not told.above_ceiling:
        _after_no(pen, pen.part(part.name), check, told)
    part = pen.part(part.name)
    if part.phase is PartPhase.IN_HAND and part.held is None:
        _after_last_answer(pen, part, step)


def _after_last_answer(pen: Pen, part: Part, step: Step) -> None:
    """The last answer ends the work, unless the part still has to be put somewhere."""
    runs = pen.bench.phase is RunPhase.RUNNING
    if runs and step.dwell is None and not pen.bench.open_checks(part):
        _work_done(pen, part)


def _after_no(pen: Pen, part: Part, check: Check, told: Told) -> None:
    """A no sends the part back as often as it may, then holds it for the maker to decide."""
    step = pen.bench.step_of(part)
    body: dict[str, Any] = {"part": part.name, "step": step.id}
    on_no = None if isinstance(check, NoteCheck) else check.on_no
    if on_no is None:
        pen.write(e.Deviated, **body, what="check", limit=check.ask, found=told.shown)
        return
    count = part.sent_back.get(f"{step.id}/{check.id}", 0)
    if count < on_no.at_most:
        reason = f"{check.ask} {told.shown}"
        back = {"from_step": step.id, "to_step": on_no.back_to, "check": check.id}
        pen.write(e.SentBack, part=part.name, **back, count=count + 1, reason=reason)
        return
    times = f"sent back {'once' if on_no.at_most == 1 else f'{on_no.at_most} times'} at most"
    limit = times if on_no.at_most else "a no stops the part"
    pen.write(e.Deviated, **body, what="attempts", limit=limit, found=told.shown)
    if part.held is None:
        pen.write(e.Held, part=part.name, reason=f"{check.id}: {limit}; send back, scrap or resume")


def _read(pen: Pen, command: c.Read) -> None:
    place = _place(pen.bench, command.station)
    reading, verdict, limit = judge_reading(place.station, command.reading)
    name = command.station
    pen.write(e.ReadingTaken, station=name, reading=str(reading), verdict=verdict)
    if verdict != "in":
        body = {"part": None, "step": None, "station": name}
        pen.write(e.Deviated, **body, what="reading", limit=limit, found=str(reading))


def _send_back(pen: Pen, command: c.SendBack) -> None:
    part = pen.part(command.part)
    recipe = pen.bench.recipe_of(part)
    here = recipe.step[part.step].id
    known = [step.id for step in recipe.step[: part.step + 1]]
    if command.to_step not in known:
        raise r.UnknownName("step to go back to", command.to_step, known)
    reason = safe_text("reason", command.reason)
    if part.phase is PartPhase.DWELLING:
        lift(pen, part)
    back = {"from_step": here, "to_step": command.to_step, "check": None}
    pen.write(e.SentBack, part=part.name, **back, count=0, reason=reason)


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


def _add_part(pen: Pen, command: c.AddPart) -> None:
    check_name(command.part, list(pen.bench.parts))
    if len(pen.bench.parts) >= MAX_PARTS:
        raise r.BadValue("Can't add a part", f"the run has {MAX_PARTS}", "Start another run")
    known = pen.bench.recipes
    if command.recipe is None and command.key not in known:
        raise r.UnknownName("recipe", command.key, list(known))
    joins = known[command.key] if command.recipe is None else checked_recipe(command.recipe)
    check_properties(joins, command.part, command.properties)
    if command.recipe is not None:
        if command.key in known:
            raise r.BadValue(
                f"Can't add {command.part}",
                f"this run has a recipe {command.key} already",
                "Name that recipe, or give the new one another key",
            )
        check_stations([*known.values(), joins])
    body = {"key": command.key, "recipe": command.recipe, "properties": command.properties}
    pen.write(e.PartAdded, part=command.part, **body)


def _note(pen: Pen, command: c.Note) -> None:
    pen.write(e.Noted, part=command.part, text=safe_text("note", command.text))


def _prepare(pen: Pen, command: c.Prepare) -> None:
    item = safe_text("line of the page", command.item)
    said = safe_text("words", command.said) if command.said else ""
    if not command.ready and item not in pen.bench.prepared:
        raise r.BadValue("Can't take the tick off", "there is none", "Nothing needs to be done")
    pen.write(e.Prepared, item=item, ready=command.ready, said=said)


def _postpone(pen: Pen, command: c.Postpone) -> None:
    part = pen.part(command.part)
    if part.began_ms is not None:
        what = f"Can't hold {part.name} back"
        raise r.BadValue(what, "its work has begun", "Hold it instead")
    pen.write(e.Postponed, part=part.name, until_ms=command.until_ms)


def _judge(pen: Pen, command: c.Judge) -> None:
    what = f"Can't judge {command.part}"
    if command.verdict not in c.VERDICTS:
        allowed = f"One of {', '.join(c.VERDICTS)}"
        raise r.BadValue(what, f'"{command.verdict}" is no verdict', allowed)
    if command.rating is not None and command.rating not in range(1, 6):
        raise r.BadValue(what, f"{command.rating} is no rating", "1 (poor) to 5 (very good)")
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
    c.SendBack: _send_back,
    c.Hold: _hold,
    c.Resume: _resume,
    c.Scrap: _scrap,
    c.AddPart: _add_part,
    c.Note: _note,
    c.Judge: _judge,
    c.Prepare: _prepare,
    c.Postpone: _postpone,
    c.CloseStation: _close_station,
    c.OpenStation: _open_station,
    c.Complete: _complete,
    c.Abort: _abort,
}

__all__ = ["Now", "create", "decide"]
