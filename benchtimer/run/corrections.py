"""Corrections: undo, redo, back-dating. Each is written down and names the press it corrects."""

from __future__ import annotations

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.event_builder import Pen, lift
from benchtimer.run.evolve import station_of
from benchtimer.run.run_state import Press, RunState
from benchtimer.run.surroundings import Elsewhere, Surroundings
from benchtimer.times import duration


def undo(state: RunState, pen: Pen) -> None:
    """Take the last press back."""
    if not state.past:
        raise r.NothingTo("undo")
    pen.shop.check_room(state.bench, state.past[-1].before, "Can't undo")
    pen.write(e.Undone, undone=state.past[-1].number)


def redo(state: RunState, pen: Pen) -> None:
    """Let the press count again that was taken back last."""
    if not state.future:
        raise r.NothingTo("redo")
    pen.shop.check_room(state.bench, state.future[-1].after, "Can't redo")
    pen.write(e.Redone, redone=state.future[-1].press.number)


def back_date(state: RunState, command: c.BackDate, pen: Pen) -> None:
    """Write the last press again with its real time; dwells are judged again."""
    if not state.past:
        raise r.NothingTo("back-date")
    press = state.past[-1]
    real_ms = press.events[0].t_ms - command.ago_ms
    _check_real_time(press, command.ago_ms, real_ms, pen.shop)
    pen.write(e.Retimed, retimed=press.number, ago_ms=command.ago_ms)
    pen.bench, pen.t_ms = press.base, real_ms
    for event in press.events:
        if isinstance(event, e.TakenOut):
            lift(pen, pen.part(event.part))
        elif not (isinstance(event, e.Deviated) and event.what in ("early", "overrun")):
            pen.copy(event)


def _check_real_time(press: Press, ago_ms: int, real_ms: int, shop: Surroundings) -> None:
    """A back-dated press stays behind whatever came before it at the same part or station.

    What another run did there after the press, the press did not come after.
    """
    made_ms = press.events[0].t_ms
    if ago_ms <= 0:
        raise r.TimeConflict("Can't back-date", "the time must be in the past", "Give a time ago")
    limits = [("the run", press.base.touched_ms)]
    for event in press.events:
        name, station = getattr(event, "part", None), station_of(press.base, event)
        if isinstance(name, str) and name in press.base.parts:
            limits.append((name, press.base.parts[name].touched_ms))
        if isinstance(station, str) and station in press.base.places:
            limits.append((station, press.base.places[station].touched_ms))
            elsewhere = shop.places.get(station, Elsewhere())
            limits += [(station, p.touched_ms) for p in elsewhere.places if p.touched_ms <= made_ms]
    thing, earliest = max(limits, key=lambda limit: limit[1])
    if real_ms < earliest:
        most = max(0, (press.events[0].t_ms - earliest) // 1000)
        raise r.TimeConflict(
            "Can't back-date so far",
            f"something else happened to {thing} in between",
            f"{duration(most)} is the most",
        )
