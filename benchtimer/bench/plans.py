"""The planner's latest answer about the bench, shared by every viewer.

The process that drives the bench asks the planner and saves the answer in a file next to the log.
Watchers read it there, so that board, home, watch and alarms have one agenda. It is advice, not a
record: if the file is missing or unreadable, there is no plan, and times of a part that has since
moved on are void (``Advice``).

It is separate from ``advice``, which asks the planner, so that the board can be drawn before the
planner is loaded.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, ValidationError

from benchtimer.atomic_file import write_whole
from benchtimer.run.actions import PlanTimes
from benchtimer.run.run_state import Bench, Part
from benchtimer.values import dataclass, field, replace

if TYPE_CHECKING:
    from benchtimer.plan.outcome import Outcome, Plan
    from benchtimer.plan.problem import Problem

Stage = tuple[int, str, int]
"""Where a part was when the advice was given: step, phase, since when."""


@dataclass(frozen=True, slots=True)
class MoveAhead:
    """A planned move of a part, in bench time.

    Attributes:
        part: the part, by ``part_key``; of one run's moves, by its name.
        start_ms: when the hands begin.
        end_ms: when the part is in its next place.
        place: that real place; of one run's moves, its id there; None after the last move.
        is_late: the part leaves its place past max.
    """

    part: str
    start_ms: int
    end_ms: int
    place: str | None
    is_late: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """The planner's answer about everything on the bench.

    Attributes:
        begin_ms: bench time at which each part's next move should begin, by ``part_key``.
        latest_ms: bench time until which it can be put off with every part still inside its
            windows; parts without a limit are left out.
        stages: where each part was then; advice for a part that has since moved on is void.
        warnings: an overrun is now unavoidable, with the smallest one found, or no plan was found.
        end_ms: bench time at which the last part is done, by the plan.
        outcome: the planner's full answer, if it had one.
        now_ms: bench time of the question: second 0 of the plan.
        moves: the plan's moves, in order of time.
        problem: what the planner was asked, in seconds from ``now_ms``.
    """

    begin_ms: Mapping[str, int] = field(default_factory=dict)
    latest_ms: Mapping[str, int] = field(default_factory=dict)
    stages: Mapping[str, Stage] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    end_ms: int | None = None
    outcome: Outcome | None = None
    now_ms: int = 0
    moves: tuple[MoveAhead, ...] = ()
    problem: Problem | None = None

    def is_proven_for(self, problem: Problem) -> bool:
        """Whether the planner was asked the same and proved that no plan is better."""
        return self.problem == problem and (
            self.outcome is not None and self.outcome.status == "optimal"
        )

    def moved_to(self, now_ms: int, stages: Mapping[str, Stage]) -> Advice:
        """The same plan, begun at another bench time.

        Args:
            now_ms: that time.
            stages: where each part is then.
        """
        by_ms = now_ms - self.now_ms
        return replace(
            self,
            begin_ms={key: t_ms + by_ms for key, t_ms in self.begin_ms.items()},
            latest_ms={key: t_ms + by_ms for key, t_ms in self.latest_ms.items()},
            stages=stages,
            end_ms=self.end_ms + by_ms if self.end_ms is not None else None,
            now_ms=now_ms,
            moves=tuple(
                replace(move, start_ms=move.start_ms + by_ms, end_ms=move.end_ms + by_ms)
                for move in self.moves
            ),
        )

    def moves_of(
        self, run: str, bench: Bench, real: Mapping[tuple[str, str], str]
    ) -> tuple[MoveAhead, ...]:
        """The planned moves of a run's parts that are still where they were when the planner was
        asked.

        Args:
            run: the run's name.
            bench: its bench as it is.
            real: the real place behind each place of each run.
        """
        names = self._holding(run, bench)
        places = {name: place for (of, place), name in real.items() if of == run}
        return tuple(
            replace(move, part=names[move.part], place=places.get(move.place or ""))
            for move in self.moves
            if move.part in names
        )

    def _holding(self, run: str, bench: Bench) -> dict[str, str]:
        """The parts of a run that have not moved since, by ``part_key``."""
        return {
            key: name
            for name, part in bench.parts.items()
            if self.stages.get(key := part_key(run, name)) == stage_of(part)
        }

    @property
    def plan(self) -> Plan | None:
        """The plan behind it: one that keeps every limit, or the best of the others."""
        return self.outcome.best if self.outcome is not None else None

    def times(self, run: str, bench: Bench) -> PlanTimes:
        """The plan's times for the parts of a run, as far as they are still valid.

        Args:
            run: the run's name.
            bench: its bench as it is.
        """
        names = self._holding(run, bench)
        return PlanTimes(_of(self.begin_ms, names), _of(self.latest_ms, names))


NO_ADVICE = Advice()


def _of(times: Mapping[str, int], names: Mapping[str, str]) -> dict[str, int]:
    return {name: times[key] for key, name in names.items() if key in times}


def part_key(run: str, part: str) -> str:
    """The name of a part across all runs; its own name if there is only one run."""
    return f"{run}:{part}" if run else part


def part_name(run: str, key: str) -> str:
    """The part's own name."""
    return key.removeprefix(f"{run}:")


def stage_of(part: Part) -> Stage:
    """Where a part is."""
    return part.step, part.phase.value, part.since_ms


FILE_NAME = "plan.json"


class _Published(BaseModel):
    """What is stored of the advice: everything but the planner's full answer."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    begin_ms: dict[str, int]
    latest_ms: dict[str, int]
    stages: dict[str, Stage]
    warnings: tuple[str, ...]
    end_ms: int | None
    moves: tuple[MoveAhead, ...] = ()

    @property
    def advice(self) -> Advice:
        """The advice without the planner's answer."""
        return Advice(**dict(self))


class Plans:
    """The advice on the bench.

    Args:
        folder: the data folder.

    Attributes:
        advice: the planner's latest answer; empty if there is none.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE_NAME
        self.advice = NO_ADVICE
        self._version: tuple[int, int] | None = None
        self.refresh()

    def keep(self, advice: Advice) -> None:
        """Take a new answer."""
        self.advice = advice

    def publish(self) -> None:
        """Save what is known for watchers; on a full disk they just have no plan."""
        published = _Published.model_validate(self.advice, from_attributes=True)
        with suppress(OSError):
            write_whole(self._path, published.model_dump_json(), private=True)

    def refresh(self) -> None:
        """Read what was saved since the last time."""
        try:
            found = self._path.stat()
            version = (found.st_mtime_ns, found.st_size)
            if version != self._version:
                self.advice = _Published.model_validate_json(self._path.read_bytes()).advice
                self._version = version
        except (OSError, ValidationError):
            self.advice, self._version = NO_ADVICE, None
