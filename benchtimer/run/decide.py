"""``decide(state, command, now) -> events``: what a command causes, or why it is refused.

Rules:
1. Pure: no clock, no store, no screen. The same state, command and time give the same events.
2. The engine accepts any order that is physically possible. It refuses the rest: a full tank, work
   on a part that is gone, a step whose hazard or reading is missing.
3. A refusal raises a ``Refused`` and changes nothing.
4. Every event of one press carries the same press number and time.

This module has the commands that take a part through its steps; ``decide_stations`` has the ones
about a station, ``decide_changes`` the changes by hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from benchtimer.recipe.answers import JudgedAnswer
from benchtimer.recipe.checks import Check, Send
from benchtimer.recipe.model import Step
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run import setup
from benchtimer.run.decide_changes import CHANGE_DECIDERS
from benchtimer.run.decide_stations import STATION_DECIDERS
from benchtimer.run.event_builder import Now, Pen, lift
from benchtimer.run.guards import (
    check_heat,
    check_not_held,
    ends_with_answers,
    is_one_press,
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
from benchtimer.run.layout import (
    create,
)
from benchtimer.run.readiness import good_until_ms, is_needed, is_too_hot, not_ready
from benchtimer.run.refusals import judge_answer
from benchtimer.run.run_state import Bench, Part, PartPhase, Place, RunPhase, RunState
from benchtimer.run.setup import (
    known_of,
    want_pages_read,
    want_read,
)
from benchtimer.run.surroundings import ALONE, Surroundings


def decide(
    state: RunState, command: c.Command, now: Now, shop: Surroundings = ALONE
) -> list[e.Event]:
    """The events of a command.

    Args:
        state: the run as it is.
        command: what to do.
        now: bench time of the press and who makes it.
        shop: the effect of the other runs on the bench on this one.

    Raises:
        Refused: the command can't be done; nothing has changed.
    """
    if now.t_ms < state.last_ms:
        raise r.TimeConflict("Can't save this entry", "its time is before the last entry", "Wait")
    _check_phase(state.bench, command)
    pen = Pen(shop.over(state.bench), state.presses + 1, now.t_ms, now.by, shop)
    if isinstance(command, c.Undo):
        setup.undo(state, pen)
    elif isinstance(command, c.Redo):
        setup.redo(state, pen)
    elif isinstance(command, c.BackDate):
        setup.back_date(state, command, pen)
    else:
        _DECIDERS[type(command)](pen, command)
        _write_shared_readings(state.bench, pen)
    return pen.events


def _write_shared_readings(own: Bench, pen: Pen) -> None:
    """Record another run's reading of a place that a part goes into, if it is valid."""
    entered = [event.station for event in pen.events if isinstance(event, e.PutIn)]
    for name in dict.fromkeys(entered):
        place = pen.bench.places[name]
        found, known = place.reading, {reading.t_ms for reading in own.places[name].readings}
        if found is None or found.t_ms in known or place.skipped is not None:
            continue
        if place.station.temperature and pen.t_ms <= good_until_ms(pen.bench, place, pen.t_ms):
            reading, verdict = str(found.quantity), found.verdict
            pen.write(
                e.ReadingShared, station=name, reading=reading, verdict=verdict, read_ms=found.t_ms
            )


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
    """A command in words: ``TakeOut`` takes out."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(command).__name__).lower()


def _part(bench: Bench, name: str) -> Part:
    if name not in bench.parts:
        raise r.UnknownName("part", name, list(bench.parts))
    return bench.parts[name]


def _start(pen: Pen, _command: c.Start) -> None:
    want_pages_read(pen.bench, pen.t_ms, "Can't start")
    for name, place in pen.bench.places.items():
        if is_needed(pen.bench, name):
            check_heat(place, "Can't start")
    pen.write(e.Started)


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
    check_not_held(part, what)
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
        loads = command.loads and is_one_press(pen.bench.recipe_of(part), index)
        _go_on(pen, pen.part(part.name), with_last=loads)  # a pull is never refused
        if loads:
            _load_too(pen, pen.part(part.name))
    else:
        step = pen.bench.recipe_of(part).step[index]
        pen.write(e.WorkBegan, part=part.name, step=step.id)


def _load_too(pen: Pen, part: Part) -> None:
    """Load the part into its next place with the same press; it stays in hand if that is blocked.

    The press doesn't say when the pull was, so no hands-on time is recorded.
    """
    step = pen.bench.step_of(part)
    if part.phase is not PartPhase.IN_HAND or step.at is None:
        return
    if obstacle(pen.bench, part, step.at, pen.t_ms) is None:
        pen.write(e.PutIn, part=part.name, step=step.id, station=step.at)


def _free_hand(pen: Pen, part: Part, what: str) -> None:
    """Ask before starting a part that can wait while every hand in the shop is full."""
    holding = pen.shop.holding(pen.bench, part)
    if pen.shop.hands is not None and len(holding) >= pen.shop.hands:
        raise r.HandsFull(what, holding)


def _may_leave(pen: Pen, part: Part, index: int, what: str) -> None:
    """Refuse to begin work whose page or bath is unread, while the part can wait.

    A part that has to leave its bath can leave. For a wet part between stations, only the step into
    the unread bath is refused.
    """
    bench, steps = pen.bench, move_steps(pen.bench.recipe_of(part), index)
    if is_safe(bench, part):
        for page in open_pages(bench, part, pen.t_ms):
            raise r.HazardFirst(what, page.title)
    if may_stay(bench, part, pen.t_ms):
        for step in steps if is_safe(bench, part) else ():  # a pull out of a bath is never refused
            if step.at is not None:
                _in_service(bench.places[step.at], what)
        _baths_read(pen, steps, what)
        first = steps[0]
        if is_safe(bench, part) and first.at is not None and first.dwell is None:
            _room(pen, part, first.at, what)
    elif part.phase is not PartPhase.DWELLING:
        _may_go_on(pen, part, index, what)


def _may_go_on(pen: Pen, part: Part, index: int, what: str) -> None:
    """Refuse the next step of a part between stations because of its own page, bath or room."""
    step = pen.bench.recipe_of(part).step[index]
    want_read(page_in_the_way(pen.bench, part, step, pen.t_ms), what)
    _baths_read(pen, [step], what)
    if step.at is not None and step.dwell is None:
        _room(pen, part, step.at, what)


def _baths_read(pen: Pen, steps: list[Step], what: str) -> None:
    found = reading_in_the_way(pen.bench, steps, pen.t_ms)
    if found is not None:
        place, why = found
        raise r.ReadingFirst(what, place.station.id, place.station.title, why)


def _room(pen: Pen, part: Part, station: str, what: str) -> None:
    bench = pen.bench
    place = bench.places[station]
    _in_service(place, what)
    others = bench.occupants(station, part)
    if len(others) >= place.station.holds:
        until = until_words(place, pen.t_ms)
        raise r.StationFull(what, place.station.title, place.station.holds, others, until)
    if place.station.purpose is not None:
        return  # it makes wet parts safe at any reading
    kept = other_heat(place)
    if kept is not None:
        raise r.WrongHeat(what, place.station.title, kept)
    waits = not_ready(place)
    if waits is not None:
        raise r.NotReady(what, place.station.title, waits)
    window = place.station.temperature
    if is_too_hot(place) and place.reading is not None and window is not None:
        raise r.TooHot(what, str(place.reading.quantity), str(window.ceiling))


def _in_service(place: Place, what: str) -> None:
    if place.closed is not None:
        raise r.OutOfService(what, place.station.title, place.closed)


def _finish(pen: Pen, command: c.Finish) -> None:
    part = pen.part(command.part)
    what = f"Can't finish {part.name}"
    check_not_held(part, what)
    if command.through is not None:
        part = _work_through(pen, part, command.through, what)
    step = pen.bench.step_of(part)
    _checks_done(pen.bench, part, what)
    if step.dwell is not None and step.at is not None:
        _room(pen, part, step.at, what)
    _work_done(pen, part)


def _work_through(pen: Pen, part: Part, step_id: str, what: str) -> Part:
    """End the work in hand and begin the next, up to a later step of the move. Returns the part."""
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
    """End the work of the step in hand: into the station, on to the next work, or done."""
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


def _go_on(pen: Pen, part: Part, *, with_last: bool = False) -> None:
    """Begin the next hands-on work of the same move right away, unless something blocks it."""
    try:
        _may_go_on(pen, part, part.step, "")
    except r.Refused:
        return
    step = pen.bench.step_of(part)
    pen.write(e.WorkBegan, part=part.name, step=step.id, with_last=with_last)


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
        raise r.BadValue(what, "it was not pulled out of a station", "Begin its next work")
    step = pen.bench.recipe_of(part).step[part.lifted_from]
    assert step.at is not None  # noqa: S101  a dwell has a station: the recipe's rules say so
    _room(pen, part, step.at, what)
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
    """Record that a part differs from its recipe; ``what`` as in ``events.Deviated``."""
    pen.write(e.Deviated, part=part.name, step=step.id, what=what, limit=limit, found=found)


def _ceiling(bench: Bench, check: Check, part: Part) -> str:
    return str(check.ceiling_for(known_of(bench, part)))


def _after_last_answer(pen: Pen, part: Part, step: Step) -> None:
    """End the work with the last answer, unless the part goes where its time counts."""
    if pen.bench.phase is not RunPhase.RUNNING or pen.bench.open_checks(part):
        return
    if ends_with_answers(pen.bench, part, step, pen.t_ms):
        _work_done(pen, part)


def _follow(pen: Pen, part: Part, check: Check, judged: JudgedAnswer) -> None:
    """What the recipe says about an answer: the part goes to another step, or stops."""
    send, reason = check.send[judged.key], f"{check.ask} {judged.shown}"
    _close_for(pen, send, reason)
    if send.to is None:
        _stop(pen, part, "stop", reason, str(send.stop))
        return
    step = pen.bench.step_of(part)
    count = part.sent.get(f"{step.id}/{check.id}/{judged.key}", 0)
    if send.limit is not None and count >= send.limit:
        often = "once" if send.limit == 1 else f"{send.limit} times"
        way_out = f"{check.id}: sent back {often} already; send back, scrap or resume"
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


_DECIDERS: Mapping[type[c.Command], Callable[[Pen, Any], None]] = {
    c.Start: _start,
    c.Acknowledge: _acknowledge,
    c.Begin: _begin,
    c.Finish: _finish,
    c.TakeOut: _take_out,
    c.PutBack: _put_back,
    c.Answer: _answer,
    **STATION_DECIDERS,
    **CHANGE_DECIDERS,
}

__all__ = ["Now", "create", "decide"]
