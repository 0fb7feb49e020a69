"""What the board draws, as plain data. Times are bench times in milliseconds."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from functools import cached_property

from benchtimer.values import dataclass


class Level(StrEnum):
    """How urgent a row is. Each level has its own mark, so that color is never needed."""

    CALM = "calm"
    NOW = "now"
    LATE = "late"

    @property
    def mark(self) -> str:
        """The mark before a row."""
        return {Level.CALM: " ", Level.NOW: ">", Level.LATE: "!"}[self]

    @property
    def trouble_mark(self) -> str:
        """The mark before a line of trouble."""
        return "!!" if self is Level.LATE else " !"


@dataclass(frozen=True, slots=True)
class DwellTimes:
    """When a dwell began, and when it can end.

    Attributes:
        in_ms: when the part went in.
        min_ms: before this it is too early.
        target_ms: the best time.
        max_ms: after this it is too late; None if there is no limit.
    """

    in_ms: int
    min_ms: int
    target_ms: int
    max_ms: int | None


@dataclass(frozen=True, slots=True)
class HandsWork:
    """Hands-on work, done or planned.

    Attributes:
        start_ms: when it begins.
        end_ms: when it ends.
        label: number of the part, or ``R`` for a reading, ``M`` for a make-up.
        level: late if it can no longer be done inside the windows.
    """

    start_ms: int
    end_ms: int
    label: str
    level: Level = Level.CALM


@dataclass(frozen=True, slots=True)
class Stay:
    """A part in a place.

    Attributes:
        start_ms: when it goes in.
        end_ms: when it comes out; None if that is not planned.
        short: the place, in at most eight letters.
    """

    start_ms: int
    end_ms: int | None
    short: str


IN_HAND = "in hand"
"""The place of a part that was taken out and can't go on yet."""


@dataclass(frozen=True, slots=True)
class LaneView:
    """One part.

    Attributes:
        number: its number on the bench.
        name: its name.
        place: where it is, in at most eight letters; empty during work, ``IN_HAND`` while it waits
            in hand for its next place.
        verb: its next action.
        left: the countdown to that, ``NOW``, what comes first, or how long the work in hand took.
        by: until when it can wait: clock time, and the time left.
        by_short: the same in at most 13 columns.
        level: how urgent it is.
        tries: the number of its try.
        window: its dwell, if it is in one.
        pull_ms: when the plan pulls it or picks it up.
        works: hands-on work on it, done and planned.
        stays: where it was, is and will be.
        picked: whether it was picked by hand.
    """

    number: int
    name: str
    place: str = ""
    verb: str = ""
    left: str = ""
    by: str = ""
    by_short: str = ""
    level: Level = Level.CALM
    tries: int = 1
    window: DwellTimes | None = None
    pull_ms: int | None = None
    works: tuple[HandsWork, ...] = ()
    stays: tuple[Stay, ...] = ()
    picked: bool = False


@dataclass(frozen=True, slots=True)
class PlaceUse:
    """When a place is used, and whether it is full then."""

    start_ms: int
    end_ms: int | None
    full: bool


@dataclass(frozen=True, slots=True)
class PlaceView:
    """One place.

    Attributes:
        short: its name in at most eight letters.
        inside: how many parts are in it.
        holds: how many it can hold.
        reading: its last reading.
        age: how long ago that was, and the same in fewer columns.
        limits: its range.
        trend: its last readings, oldest first, as fractions of the range from min to max.
        limit_ms: when it drifts past a limit, if it does.
        limit: that limit, or the one it has passed.
        limit_left: the time until then.
        read_ms: when to read it next, if known.
        uses: when parts are in it, past and planned.
        level: how urgent it is.
        closed: whether it is out of service, cooling, heating or being made up.
    """

    short: str
    inside: int
    holds: int
    reading: str = ""
    limits: str = ""
    age: tuple[str, ...] = ()
    trend: tuple[float, ...] = ()
    limit_ms: int | None = None
    limit: str = ""
    limit_left: str = ""
    read_ms: int | None = None
    uses: tuple[PlaceUse, ...] = ()
    level: Level = Level.CALM
    closed: str = ""


@dataclass(frozen=True, slots=True)
class RunLanes:
    """The lanes of one run.

    Attributes:
        title: the run, shown above its lanes if there are several runs.
        lanes: its parts, by number.
        waiting: parts not begun: number with name, and when the next one is picked up.
    """

    title: str
    lanes: tuple[LaneView, ...]
    waiting: tuple[tuple[str, str], ...] = ()

    @property
    def not_begun(self) -> str:
        """The parts not begun, in one line."""
        return ", ".join(" ".join(word for word in part if word) for part in self.waiting)


@dataclass(frozen=True)
class Scene:
    """All content of the picture.

    Attributes:
        now_ms: bench time.
        wall: local time now; None outside the calendar.
        groups: the parts by run.
        hands: your work, done and planned.
        places: the places that are in use, read or planned for.
        empty: the other places, in one line.
        trouble: up to three lines on what is wrong, worst first.
        work: the recipe's text for the work shown, if the screen has rows to spare.
        entries: the last entries, newest first, under the same condition.
    """

    now_ms: int
    wall: datetime | None
    groups: tuple[RunLanes, ...] = ()
    hands: tuple[HandsWork, ...] = ()
    places: tuple[PlaceView, ...] = ()
    empty: str = ""
    trouble: tuple[tuple[Level, str], ...] = ()
    work: tuple[str, ...] = ()
    entries: tuple[str, ...] = ()

    @cached_property
    def lanes(self) -> tuple[LaneView, ...]:
        """The lanes of all runs."""
        return tuple(lane for group in self.groups for lane in group.lanes)
