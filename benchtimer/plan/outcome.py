"""The planner's answer: a plan with its proof or bound, or why there is none.

``as_dict`` of any outcome gives the published JSON form:

    {"status": "optimal|feasible|infeasible|undecided", "makespan_s": 2760, "bound_s": 2760,
     "moves":  [{"run", "part", "step", "from", "to", "start_s", "end_s"}],
     "dwells": [{"run", "part", "step", "place", "in_s", "out_s", "min_s", "target_s", "max_s"}],
     "why": ["..."], "nodes": 0, "elapsed_s": 0.0}

``makespan_s`` is the end of the last move on the problem's own time axis; it is null if there is no
plan. "undecided" means that the budget ended before a plan was found or ruled out. ``verdict`` has
each of the four in words.
"""

from __future__ import annotations

from collections.abc import Callable

from benchtimer.plan.problem import Problem, room_s
from benchtimer.times import duration
from benchtimer.values import dataclass, replace

START = "start"
DONE = "done"


def _called(part: str, run: str) -> str:
    return part.removeprefix(f"{run}:") if run else part


@dataclass(frozen=True, slots=True)
class PlannedMove:
    """One move with its times; ``step`` is the step it leads into, ``done`` for a last move."""

    part: str
    move: int
    step: str
    steps: tuple[str, ...]
    from_station: str
    to_station: str
    start_s: int
    end_s: int
    hands: int = 0
    run: str = ""

    def words(self, step: Callable[[str, str], str] = lambda _, step: step) -> str:
        """What to do: ``bolster: salts > boil  (rinse, boil)``.

        ``step`` gives the name of a part's step, from the part and the step's id.
        """
        steps = ", ".join(step(self.part, each) for each in self.steps or (self.step,))
        return f"{self.part}: {self.from_station} > {self.to_station}  ({steps})"

    def as_dict(self) -> dict[str, object]:
        """The published JSON form."""
        return {
            "run": self.run,
            "part": _called(self.part, self.run),
            "step": self.step,
            "from": self.from_station,
            "to": self.to_station,
            "start_s": self.start_s,
            "end_s": self.end_s,
        }


@dataclass(frozen=True, slots=True)
class PlannedDwell:
    """One dwell with its times; ``in_s`` may be in the past."""

    part: str
    dwell: int
    step: str
    station: str
    in_s: int
    out_s: int
    min_s: int
    target_s: int
    max_s: int | None
    run: str = ""

    @property
    def lateness(self) -> float:
        """Time past target as a share of the room up to max; 0 if it does not matter."""
        room = room_s(self.target_s, self.max_s)
        return max(0, self.out_s - self.in_s - self.target_s) / room if room else 0.0

    @property
    def overrun_s(self) -> int:
        """Seconds beyond ``max_s``, or 0."""
        return 0 if self.max_s is None else max(0, self.out_s - self.in_s - self.max_s)

    def as_dict(self) -> dict[str, object]:
        """The published JSON form."""
        return {
            "run": self.run,
            "part": _called(self.part, self.run),
            "step": self.step,
            "place": self.station,
            "in_s": self.in_s,
            "out_s": self.out_s,
            "min_s": self.min_s,
            "target_s": self.target_s,
            "max_s": self.max_s,
        }


@dataclass(frozen=True, slots=True)
class Closing:
    """A span in which a place takes no part, and the span of your work on it.

    Attributes:
        place: the place.
        from_s: when it closes.
        to_s: when it takes parts again.
        why: ``heats up`` or ``made up``.
        hands: when the hands are busy with it; None: not at all.
    """

    place: str
    from_s: int
    to_s: int
    why: str
    hands: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """All future moves in order, and the dwells between them."""

    moves: tuple[PlannedMove, ...]
    dwells: tuple[PlannedDwell, ...]
    closings: tuple[Closing, ...] = ()
    """When places heat up and are made up."""

    @property
    def end_s(self) -> int | None:
        """The end of the last move; None for a plan without moves."""
        return max((move.end_s for move in self.moves), default=None)

    def moved(self, by_s: int) -> Plan:
        """The same plan seen from a zero that is ``by_s`` seconds earlier."""
        moves = tuple(
            replace(m, start_s=m.start_s + by_s, end_s=m.end_s + by_s) for m in self.moves
        )
        dwells = tuple(replace(d, in_s=d.in_s + by_s, out_s=d.out_s + by_s) for d in self.dwells)
        closings = tuple(
            replace(
                c,
                from_s=c.from_s + by_s,
                to_s=c.to_s + by_s,
                hands=None if c.hands is None else (c.hands[0] + by_s, c.hands[1] + by_s),
            )
            for c in self.closings
        )
        return replace(self, moves=moves, dwells=dwells, closings=closings)


@dataclass(frozen=True, slots=True)
class CutDwell:
    """A dwell that ends before its target, and why.

    Attributes:
        part: the part.
        step: the step of the dwell.
        place: where it is.
        short_s: seconds short of target.
        otherwise: what would happen with the dwell at its target; empty: the plan would end a day
            later.
    """

    part: str
    step: str
    place: str
    short_s: int
    otherwise: str

    @property
    def words(self) -> str:
        """A sentence for the maker."""
        short = duration(self.short_s)
        if not self.otherwise:
            return f"{self.part}: {self.step} {short} under target, saves a day"
        return f"{self.part} leaves {self.place} {short} before target: otherwise {self.otherwise}"


@dataclass(frozen=True, slots=True)
class ProblemChange:
    """A change that makes an infeasible problem feasible, in words, with the resulting problem."""

    words: str
    problem: Problem


@dataclass(frozen=True, slots=True)
class Witness:
    """Why there is no plan: sentences, the parts they name, and changes that would allow one.

    ``at_s`` is the moment by which something had to move and could not, if there is one.
    """

    sentences: tuple[str, ...]
    parts: tuple[str, ...] = ()
    at_s: int | None = None
    changes: tuple[ProblemChange, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What all answers share.

    ``least_bad`` is, if requested and no plan keeps every limit, the plan with the shortest
    overruns found. ``verdict`` says what is known and what is not, in the words that every screen
    and command uses.
    """

    status = "undecided"
    nodes: int = 0
    elapsed_s: float = 0.0
    bound_s: int | None = None
    why: tuple[str, ...] = ()
    plan: Plan | None = None
    least_bad: Plan | None = None

    def as_dict(self) -> dict[str, object]:
        """The published JSON form."""
        plan = self.plan or Plan((), ())
        return {
            "status": self.status,
            "makespan_s": plan.end_s,
            "bound_s": self.bound_s,
            "moves": [move.as_dict() for move in plan.moves],
            "dwells": [dwell.as_dict() for dwell in plan.dwells],
            "why": list(self.why),
            "nodes": self.nodes,
            "elapsed_s": self.elapsed_s,
        }

    @property
    def best(self) -> Plan | None:
        """The plan, or the least bad one if none keeps every limit."""
        return self.plan or self.least_bad

    @property
    def verdict(self) -> str:
        """Only the search time is known."""
        if not self.elapsed_s:  # no clock was read
            return "no plan found, none ruled out"
        spent = duration(self.elapsed_s) if self.elapsed_s >= 1 else "under 1 s"
        return f"no plan found in {spent}, none ruled out"


@dataclass(frozen=True, slots=True)
class Undecided(Outcome):
    """The budget ended before a plan was found or proven impossible."""


@dataclass(frozen=True, slots=True)
class Infeasible(Outcome):
    """Proven: there is no plan."""

    status = "infeasible"
    verdict = "no plan keeps every limit"
    witness: Witness = Witness(())


@dataclass(frozen=True, slots=True)
class Feasible(Outcome):
    """A plan that keeps every rule; no plan ends before ``bound_s``."""

    status = "feasible"
    verdict = "not proven the earliest"
    plan: Plan = Plan((), ())
    cuts: tuple[CutDwell, ...] = ()


@dataclass(frozen=True, slots=True)
class Optimal(Feasible):
    """Proven: no plan ends earlier."""

    status = "optimal"
    verdict = "proven the earliest"
