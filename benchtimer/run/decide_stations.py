"""The events of a command about a station: readings, heat, make-up, its bath, its service."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.event_builder import Pen
from benchtimer.run.guards import (
    check_heat,
)
from benchtimer.run.readiness import is_too_hot
from benchtimer.run.refusals import judge_reading, safe_text
from benchtimer.run.setup import (
    unread_page_of,
    want_pages_read,
    want_read,
)


def _read(pen: Pen, command: c.Read) -> None:
    place = pen.place(command.station)
    reading, verdict, limit = judge_reading(place.station, command.reading)
    name = command.station
    pen.write(e.ReadingTaken, station=name, reading=str(reading), verdict=verdict)
    if verdict != "in":
        body = {"part": None, "step": None, "station": name}
        pen.write(e.Deviated, **body, what="reading", limit=limit, found=str(reading))


def _skip_reading(pen: Pen, command: c.SkipReading) -> None:
    place = pen.place(command.station)
    what = f"Can't go on without a reading of {place.station.title}"
    if command.reason not in c.NO_READING:
        allowed = f"One of {_listed(c.NO_READING)}"
        raise r.BadValue(what, f'"{command.reason}" is not a reason', allowed)
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
    place = pen.place(command.station)
    what = f"Can't heat {place.station.title}"
    if place.station.temperature is None and place.station.heat_up_s is None:
        raise r.BadValue(what, "its recipe has no temperature for it", "Nothing needs to be done")
    if place.cooling_ms is not None:
        raise r.BadValue(what, "it is cooling for its make-up", "End the make-up first")
    check_heat(place, what)
    want_pages_read(pen.bench, pen.t_ms, what)
    want_read(unread_page_of(pen.bench, command.station, pen.t_ms), what)
    pen.write(e.Heated, station=command.station)


def _begin_make_up(pen: Pen, command: c.BeginMakeUp) -> None:
    place = pen.place(command.station)
    what = f"Can't make up {place.station.title}"
    if place.station.make_up is None:
        raise r.BadValue(what, "its recipe has no make-up", "Write a note instead")
    if place.cooling_ms is not None:
        raise r.BadValue(what, "its make-up has begun", "End it when the work is done")
    inside = pen.bench.occupants(command.station)
    if inside:
        raise r.BadValue(what, f"{', '.join(inside)} is in it", "Pull the parts first")
    pen.write(e.MakeUpBegan, station=command.station)


def _end_make_up(pen: Pen, command: c.EndMakeUp) -> None:
    place = pen.place(command.station)
    what = f"Can't end the make-up of {place.station.title}"
    if place.cooling_ms is None:
        raise r.BadValue(what, "none has begun", "Begin it first")
    want_read(unread_page_of(pen.bench, command.station, pen.t_ms), what)
    pen.write(e.MadeUp, station=command.station)


def _tie_bath(pen: Pen, command: c.TieBath) -> None:
    place = pen.place(command.station)
    what = f"Can't put {command.bath} into {place.station.title}"
    if place.station.bath is None:
        raise r.BadValue(what, "its recipe names no bath for it", "Write a note instead")
    if pen.bench.baths.get(command.station) == command.bath:
        raise r.BadValue(what, "it is already in there", "Nothing needs to be done")
    inside = [part.name for part in pen.bench.inside(command.station)]
    if inside:
        raise r.BadValue(what, f"{', '.join(inside)} is in it", "Pull the parts first")
    bath = safe_text("bath name", command.bath)
    pen.write(e.BathTied, station=command.station, bath=bath)


def _close_station(pen: Pen, command: c.CloseStation) -> None:
    place = pen.place(command.station)
    if place.closed is not None:
        what = f"Can't close {place.station.title}"
        raise r.BadValue(what, f"it is out of service ({place.closed})", "Nothing needs to be done")
    reason = safe_text("reason", command.reason)
    pen.write(e.StationClosed, station=command.station, reason=reason)


def _open_station(pen: Pen, command: c.OpenStation) -> None:
    place = pen.place(command.station)
    if place.closed is None:
        what = f"Can't open {place.station.title}"
        raise r.BadValue(what, "it is in service", "Nothing needs to be done")
    pen.write(e.StationOpened, station=command.station)


STATION_DECIDERS: Mapping[type[c.Command], Callable[[Pen, Any], None]] = {
    c.Read: _read,
    c.SkipReading: _skip_reading,
    c.Heat: _heat,
    c.BeginMakeUp: _begin_make_up,
    c.EndMakeUp: _end_make_up,
    c.TieBath: _tie_bath,
    c.CloseStation: _close_station,
    c.OpenStation: _open_station,
}
"""The function that decides each kind of command; see ``decide``."""
