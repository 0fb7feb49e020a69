"""The actions of an agenda: one for each part, place or run."""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum, StrEnum

from benchtimer.recipe.answers import Form
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Hazard
from benchtimer.run import commands as c
from benchtimer.values import dataclass, field


class ActionKind(StrEnum):
    """The kind of an action."""

    MIX = "mix"
    HEAT = "heat"
    ASK = "ask"
    START = "start"
    RESUME = "resume"
    HAZARD = "hazard"
    READING = "reading"
    MAKE_UP = "make up"
    COOL = "cool"
    BEGIN = "begin"
    ANSWER = "answer"
    FINISH = "finish"
    COMPLETE = "complete"


class Rank(IntEnum):
    """Which actions come before which, by the rules in ``agenda``."""

    LATE_OR_IN_DANGER = 0
    IN_HAND = 1
    BETWEEN_STATIONS = 2
    MOVE = 3
    """Due work of a part, or a reading."""
    ANY_TIME = 4
    """What you can do if nothing else is due: set up, start, resume, close a run."""
    NOT_DUE = 5
    BLOCKED = 6
    LAST = 7
    """What comes last: decisions, and setup that is not due yet."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do.

    Attributes:
        due_ms: when it should be done.
        earliest_ms: before this it is too early (the dwell's ``min``).
        latest_ms: after this it is too late (the dwell's ``max``), if there is such a time.
        move_s: how long the hands will be busy, by the recipe.
        index: index of the step the work belongs to; None for the last pull of a part.
        command: the command that confirms it; None if it needs an answer.
        blocked: what is in the way, in words.
        item: the key of its setup line.
        title: what to do, if no step says it; ``text`` is what to know about it.
        rank: its rank while it is not late, blocked or early.
        is_dry: whether its part comes from a dry place, where it can rest.
        starts: whether it is the very first work on its part.
        stays: whether the work is done where the part is, such as in a clamp, with no pull.
        begin_ms: when the plan begins it, if there is a plan; for a late part its turn.
        put_off_ms: until when it can wait with every window of the plan kept, if known.
        in_danger: whether its part has to leave a bath that is too hot.
        run: name of its run; empty if there is only one run.
        place: the real place of ``to_station``; empty if there is only one run.
    """

    kind: ActionKind
    due_ms: int
    part: str | None = None
    index: int | None = None
    earliest_ms: int = 0
    latest_ms: int | None = None
    move_s: int = 0
    from_station: str | None = None
    to_station: str | None = None
    is_dry: bool = False
    starts: bool = False
    stays: bool = False
    check: Check | None = None
    hazard: Hazard | None = None
    command: c.Command | None = None
    blocked: str | None = None
    item: str = ""
    title: str = ""
    text: str = ""
    rank: Rank = Rank.MOVE
    begin_ms: int | None = None
    put_off_ms: int | None = None
    in_danger: bool = False
    run: str = ""
    place: str = ""

    @property
    def form(self) -> Form | None:
        """How to enter the answer to its question; None if it has none."""
        return self.check.form() if self.check is not None else None

    @property
    def planned(self) -> bool:
        """Whether its time comes from the planner."""
        return self.begin_ms is not None

    def is_due(self, now_ms: int) -> bool:
        """Time to do it."""
        return self.blocked is None and now_ms >= self.due_ms

    def is_late(self, now_ms: int) -> bool:
        """The window has closed."""
        return self.latest_ms is not None and now_ms > self.latest_ms


@dataclass(frozen=True, slots=True)
class PlanTimes:
    """The planner's times for each part's next move, in bench time.

    Attributes:
        begin_ms: when it should begin.
        put_off_ms: until when it can wait with every window kept; parts without a limit are left
            out.
    """

    begin_ms: Mapping[str, int] = field(default_factory=dict)
    put_off_ms: Mapping[str, int] = field(default_factory=dict)


NO_PLAN = PlanTimes()
