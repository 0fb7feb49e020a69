"""What the planner said of a bench, and how long it holds.

It is separate from ``advice``, which asks the planner, so that the board can be drawn before
the planner is loaded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from benchtimer.run.actions import PlanTimes
from benchtimer.run.state import Bench, Part

if TYPE_CHECKING:
    from benchtimer.plan.outcome import Outcome, Plan

Stage = tuple[int, str, int]
"""Where a part was when it was advised: step, phase, since."""


@dataclass(frozen=True, slots=True)
class MoveAhead:
    """A planned move of a part, in bench time.

    Attributes:
        part: the part.
        start_ms: when the hands begin.
        end_ms: when the part is in its next place.
        place: that place; None after the last move.
        is_late: the part leaves its place past max.
    """

    part: str
    start_ms: int
    end_ms: int
    place: str | None
    is_late: bool = False


@dataclass(frozen=True, slots=True)
class Advice:
    """The planner's word on a bench.

    Attributes:
        begin_ms: bench time at which each part's next move should begin.
        latest_ms: bench time up to which it can be put off with every part still in its
            windows; parts that nothing binds are left out.
        stages: where each part was then; advice for a part that has moved on is void.
        warnings: that an overrun is now unavoidable, with the least bad way found, or
            that no plan was found.
        end_ms: bench time at which the last part is done, by the plan.
        outcome: the planner's whole answer, if it had one.
        now_ms: bench time at which it was asked: second 0 of the plan.
        moves: the plan's moves, in order of time.
    """

    begin_ms: Mapping[str, int] = field(default_factory=dict)
    latest_ms: Mapping[str, int] = field(default_factory=dict)
    stages: Mapping[str, Stage] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    end_ms: int | None = None
    outcome: Outcome | None = None
    now_ms: int = 0
    moves: tuple[MoveAhead, ...] = ()

    def moves_of(self, bench: Bench) -> tuple[MoveAhead, ...]:
        """The planned moves of the parts that are where they were when it was asked."""
        return tuple(
            move
            for move in self.moves
            if move.part in bench.parts
            and self.stages.get(move.part) == stage_of(bench.parts[move.part])
        )

    @property
    def plan(self) -> Plan | None:
        """The plan behind it: one that keeps every limit, or the least bad one."""
        return self.outcome.best if self.outcome is not None else None

    def for_bench(self, bench: Bench) -> dict[str, int]:
        """When to begin, as far as it still holds for the bench as it is."""
        return self._holding(self.begin_ms, bench)

    def put_off_until(self, bench: Bench) -> dict[str, int]:
        """How long each next move can be put off, as far as it still holds."""
        return self._holding(self.latest_ms, bench)

    def times(self, bench: Bench) -> PlanTimes:
        """The plan's times, as far as they still hold for the bench as it is."""
        return PlanTimes(self.for_bench(bench), self.put_off_until(bench))

    def _holding(self, times: Mapping[str, int], bench: Bench) -> dict[str, int]:
        return {
            name: t_ms
            for name, t_ms in times.items()
            if name in bench.parts and self.stages.get(name) == stage_of(bench.parts[name])
        }


def stage_of(part: Part) -> Stage:
    """Where a part is."""
    return part.step, part.phase.value, part.since_ms
