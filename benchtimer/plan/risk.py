"""The chance that a plan goes wrong when hands are slower or faster than planned.

The trials are those of ``plan.trials``. Every chance is the share of them in which something
happened, so it has the error of a share: with 400 trials up to 5 percentage points, with
1,000 up to 3 (two standard errors, at a chance of one half).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from benchtimer.plan.outcome import Outcome, Plan
from benchtimer.plan.problem import Problem
from benchtimer.plan.spread import SPREAD
from benchtimer.plan.trials import Column, Replay, Tried, draw_lengths
from benchtimer.values import asdict, dataclass, replace

MOST_BEFORE = 6
"""How many moves before the worst overrun are moved earlier as a test."""


@dataclass(frozen=True, slots=True)
class Overrun:
    """How often one dwell lasts past its max, and by how much on average."""

    part: str
    dwell: int
    step: str
    station: str
    chance: float
    mean_overrun_s: float

    def as_dict(self) -> dict[str, object]:
        """JSON form."""
        return {name: value for name, value in asdict(self).items() if name != "dwell"}


@dataclass(frozen=True, slots=True)
class PastHours:
    """How often work runs past one closing, and how far on average."""

    closes_s: int
    chance: float
    mean_past_s: float

    def as_dict(self) -> dict[str, object]:
        """JSON form."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Earlier:
    """Advice: begin a move earlier by this much, with the chance of any overrun before and
    after.
    """

    part: str
    step: str
    move: int
    by_s: int
    chance_before: float
    chance_after: float

    def as_dict(self) -> dict[str, object]:
        """JSON form."""
        return {name: value for name, value in asdict(self).items() if name != "move"}


@dataclass(frozen=True, slots=True)
class LateRunCause:
    """A check that makes the run late.

    Attributes:
        part: the part it sends.
        look: ``recipe/step/check``.
        ask: its question.
        share: of the late trials, the share in which it cost the most time.
    """

    part: str
    look: str
    ask: str
    share: float

    def as_dict(self) -> dict[str, object]:
        """JSON form."""
        return {"part": self.part, "check": self.look, "share": self.share}


@dataclass(frozen=True, slots=True)
class Risk:
    """The result of the trials of a plan.

    Attributes:
        trials: how many there were; every chance is a share of them.
        spread: of the hands-on times.
        any_overrun: the chance that any dwell is too long.
        dwells: the chance for each dwell, largest first, without the ones that never overrun.
        past_hours: the chance that any work runs past the hours; None without away hours.
        closings: the chance for each closing, in order, without the ones that are always kept.
        ends_s: the end of the last move: one run in ten ends before, the median, one in ten after;
            of the runs without a stopped part, if there are any.
        earlier: what to begin earlier, if that helps.
        planned_s: the plan's end, if checks were drawn; None if only hands-on times were.
        put_back: the chance that a part must repeat earlier steps because its pull was missed or
            fell outside the hours.
        stopped: the chance that a check stops a part for good.
        late: the chance of an end well after the plan's; of the same runs.
        causes: the checks that make the run late.
    """

    trials: int
    spread: float
    any_overrun: float
    dwells: tuple[Overrun, ...]
    ends_s: tuple[int, int, int]
    earlier: Earlier | None = None
    past_hours: float | None = None
    closings: tuple[PastHours, ...] = ()
    planned_s: int | None = None
    put_back: float = 0.0
    stopped: float = 0.0
    late: float = 0.0
    causes: tuple[LateRunCause, ...] = ()

    @property
    def worst(self) -> float:
        """The greater of the two chances of the whole run."""
        return max(self.any_overrun, self.past_hours or 0.0)

    def as_dict(self) -> dict[str, object]:
        """JSON form."""
        return {
            "trials": self.trials,
            "spread": self.spread,
            "any_overrun": self.any_overrun,
            "dwells": [dwell.as_dict() for dwell in self.dwells],
            "past_hours": self.past_hours,
            "closings": [closing.as_dict() for closing in self.closings],
            "ends_s": list(self.ends_s),
            "earlier": None if self.earlier is None else self.earlier.as_dict(),
            "checks_drawn": self.planned_s is not None,
            "put_back": self.put_back,
            "stopped": self.stopped,
            "late": self.late,
            "causes": [cause.as_dict() for cause in self.causes],
        }


def assess(
    problem: Problem,
    plan: Plan,
    *,
    seed: int = 0,
    trials: int = 1000,
    spread: float = SPREAD,
    advise: bool = True,
) -> Risk:
    """Try a plan many times and count what goes wrong.

    Args:
        problem: the planned problem.
        plan: its plan.
        seed: same seed, same trials.
        trials: how many.
        spread: of the hands-on times, as ``plan.spread`` defines it.
        advise: whether to look for moves to begin earlier.
    """
    lengths = draw_lengths(problem, plan, seed, trials, spread)
    plan = as_followed(plan)
    replay = Replay(problem, plan, trials)
    starts = [move.start_s for move in plan.moves]
    tried = replay.run(starts, lengths)
    dwells = worst_first(
        Overrun(d.part, d.dwell, d.step, d.station, *chance_and_mean(over))
        for d, over in zip(plan.dwells, tried.overruns, strict=True)
        if any(over)
    )
    chances = _chances(tried, trials)

    def again(number: int, by_s: int) -> tuple[float, float]:
        earlier = [*starts[:number], starts[number] - by_s, *starts[number + 1 :]]
        return _chances(replay.run(earlier, lengths), trials)

    tip = None
    if advise and dwells:
        late = dwells[0].part, dwells[0].dwell + 1
        index = next(n for n, m in enumerate(plan.moves) if (m.part, m.move) == late)
        tip = what_earlier(replay, index, chances, again)
    ends = sorted(tried.ends)
    tenth = trials // 10
    return Risk(
        trials,
        spread,
        chances[0],
        tuple(dwells),
        (round(ends[tenth]), round(ends[trials // 2]), round(ends[-1 - tenth])),
        tip,
        chances[1] if problem.away else None,
        tuple(PastHours(s, *chance_and_mean(over)) for s, over in sorted(tried.past_hours.items())),
    )


def as_followed(plan: Plan) -> Plan:
    """The plan as you follow it: no dwell shorter than target, or than planned."""
    dwells = tuple(
        replace(d, min_s=max(d.min_s, min(d.target_s, d.out_s - d.in_s))) for d in plan.dwells
    )
    return replace(plan, dwells=dwells)


def worst_first(overruns: Iterable[Overrun]) -> list[Overrun]:
    """Overruns in the order in which they are shown."""
    return sorted(overruns, key=lambda d: (-d.chance, -d.mean_overrun_s, d.part, d.dwell))


def chance_and_mean(values: Sequence[float]) -> tuple[float, float]:
    """How often a value is above zero, and their mean where it is."""
    count = len(values) - values.count(0.0)
    return count / len(values), sum(values) / count if count else 0.0


def _chances(tried: Tried, trials: int) -> tuple[float, float]:
    """The share of trials with any overrun, and of those with any work past the hours."""
    return _share(tried.overruns, trials), _share(tried.past_hours.values(), trials)


def _share(columns: Iterable[Column], trials: int) -> float:
    """The share of trials in which any column is above zero."""
    used = [column for column in columns if column and any(column)]
    return sum(any(row) for row in zip(*used, strict=True)) / trials if used else 0.0


def what_earlier(
    replay: Replay,
    index: int,
    chances: tuple[float, float],
    again: Callable[[int, int], tuple[float, float]],
) -> Earlier | None:
    """The one move among those before the worst overrun that helps most if begun earlier.

    A move is tried at the earliest start that the planned times of everything else allow. One that
    makes work run past the hours more often is not suggested.

    Args:
        replay: the plan.
        index: number of the move that ends the worst overrun.
        chances: of an overrun, and of work past the hours.
        again: the same chances if a move, by its number, begins some seconds earlier.
    """
    before, past = chances
    best: Earlier | None = None
    for number in range(max(0, index - MOST_BEFORE), index + 1):
        move = replay.plan.moves[number]
        by_s = move.start_s - replay.earliest_s(number)
        if by_s <= 0:
            continue
        after, past_after = again(number, by_s)
        if past_after <= past and after < (before if best is None else best.chance_after):
            best = Earlier(move.part, move.step, move.move, by_s, before, after)
    return best


@dataclass(frozen=True, slots=True)
class Batch:
    """How many identical parts keep a limit.

    Attributes:
        count: the largest number that does.
        risk: its chances; None for no part at all.
        more: the result with one more part: its chances, or the planner's answer without a plan;
            None if no larger number was tried.
    """

    count: int
    risk: Risk | None
    more: Risk | Outcome | None


def largest_batch(
    count_limit: int,
    chance_limit: float,
    plan_for: Callable[[int], tuple[Problem, Outcome]],
    judge: Callable[[Problem, Plan], Risk],
) -> Batch:
    """How many parts keep the chance of an overrun, and that of work past the hours, in a limit.

    Numbers are tried in increasing order up to the first that fails, so a larger number that
    happens to work is not found.

    Args:
        count_limit: the largest number to try.
        chance_limit: the largest acceptable chance.
        plan_for: plans this many parts.
        judge: returns the chances of a plan.
    """
    best: Risk | None = None
    for number in range(1, count_limit + 1):
        problem, outcome = plan_for(number)
        if outcome.plan is None:
            return Batch(number - 1, best, outcome)
        risk = judge(problem, outcome.plan)
        if risk.worst > chance_limit:
            return Batch(number - 1, best, risk)
        best = risk
    return Batch(count_limit, best, None)
