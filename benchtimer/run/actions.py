"""What an agenda is made of: one action for a part, a place or the run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

from benchtimer.recipe.checks import Check, Form
from benchtimer.recipe.model import Hazard
from benchtimer.run import commands as c


class ActionKind(StrEnum):
    """What kind of thing is to be done."""

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
    """Which actions go before which; ``agenda`` has the rules."""

    LATE_OR_IN_DANGER = 0
    IN_HAND = 1
    BETWEEN_STATIONS = 2
    MOVE = 3
    """Due work of a part, or a reading."""
    ANY_TIME = 4
    """What can be done whenever nothing else is due: set up, start, resume, close a run."""
    NOT_DUE = 5
    BLOCKED = 6
    LAST = 7
    """What comes after all else: decisions, and set-up that is not due yet."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do.

    Attributes:
        due_ms: when it should be done.
        earliest_ms: before this it is too early (the dwell's ``min``).
        latest_ms: after this it is too late (the dwell's ``max``), if there is such a time.
        move_s: how long the hands will be busy, by the recipe.
        index: index of the step the work belongs to; None for the last lift of a part.
        command: what confirming it asks of the engine; None where an answer is needed.
        blocked: what is in the way, in words.
        item: what set-up work is ticked under.
        title: what is to be done, where no step says it; ``text`` what to know of it.
        rank: what it goes before, as long as it is neither late, blocked nor ahead of its time.
        stays: the work is done where the part is, such as in a clamp: nothing is pulled.
        begin_ms: when the plan begins it, if there is a plan; for a late part its turn.
        put_off_ms: up to when it can be put off with every window of the plan kept, if known.
        in_danger: its part has to leave a bath that is too hot.
        run: name of the run it is of; empty where there is one run only.
        place: the real place of ``to_station``; empty where there is one run only.
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
        """How the answer to its question is entered; None where none is asked."""
        return self.check.form() if self.check is not None else None

    @property
    def planned(self) -> bool:
        """Whether its time is the planner's."""
        return self.begin_ms is not None

    def is_due(self, now_ms: int) -> bool:
        """Time to do it."""
        return self.blocked is None and now_ms >= self.due_ms

    def is_late(self, now_ms: int) -> bool:
        """The window has closed."""
        return self.latest_ms is not None and now_ms > self.latest_ms


@dataclass(frozen=True, slots=True)
class PlanTimes:
    """The planner's word on each part's next move, in bench time.

    Attributes:
        begin_ms: when it should begin.
        put_off_ms: up to when it can be put off with every window kept; parts that nothing
            binds are left out.
    """

    begin_ms: Mapping[str, int] = field(default_factory=dict)
    put_off_ms: Mapping[str, int] = field(default_factory=dict)


NO_PLAN = PlanTimes()
