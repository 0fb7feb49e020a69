"""Writes the events of one press, and keeps the bench up to date along the way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchtimer.run import events as e
from benchtimer.run.evolve import apply
from benchtimer.run.refusals import UnknownName
from benchtimer.run.run_state import Bench, Part, Place, window_of
from benchtimer.run.surroundings import ALONE, Surroundings
from benchtimer.times import duration
from benchtimer.values import dataclass, field, replace


@dataclass(frozen=True, slots=True)
class Now:
    """The bench time of a press, and who makes it."""

    t_ms: int
    by: str = "maker"


@dataclass(slots=True)
class Pen:
    """Writes the events of one press, and knows the bench as it is after each."""

    bench: Bench
    press: int
    t_ms: int
    by: str
    shop: Surroundings = ALONE
    events: list[e.Event] = field(default_factory=list)

    def write(self, kind: Callable[..., e.Event], **body: Any) -> None:
        """Add an event."""
        self.copy(kind(press=self.press, t_ms=self.t_ms, by=self.by, **body))

    def copy(self, event: e.Event) -> None:
        """Copy an event into this press."""
        event = replace(event, press=self.press, t_ms=self.t_ms, by=self.by)
        self.events.append(event)
        if not isinstance(event, e.CORRECTIONS):
            self.bench = apply(self.bench, event)

    def part(self, name: str) -> Part:
        """The part as it is now."""
        return self.bench.parts[name]

    def place(self, name: str) -> Place:
        """The place as it is now.

        Raises:
            UnknownName: the run has no place with that name.
        """
        if name not in self.bench.places:
            raise UnknownName("station", name, list(self.bench.places))
        return self.bench.places[name]


def lift(pen: Pen, part: Part) -> None:
    """Take a dwelling part out, and record whether it was too early or too late."""
    step, window = pen.bench.step_of(part), window_of(pen.bench, part)
    dwelt_ms = pen.t_ms - part.since_ms
    pen.write(e.TakenOut, part=part.name, step=step.id, station=part.station, dwelt_ms=dwelt_ms)
    if window is None:
        return
    limit = None
    if pen.t_ms < window.min_ms:
        limit = ("early", f"at least {duration(window.min_s)}")
    elif window.max_s is not None and dwelt_ms > window.max_s * 1000:
        limit = ("overrun", f"at most {duration(window.max_s)}")
    if limit is not None:
        found = duration(round(dwelt_ms / 1000))
        body = {"part": part.name, "step": step.id, "station": part.station}
        pen.write(e.Deviated, **body, what=limit[0], limit=limit[1], found=found)
