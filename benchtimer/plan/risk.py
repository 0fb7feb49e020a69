"""What happens to a plan when hands are slower or faster than thought.

Seeded draws of the hands-on times go through the plan in its order: no move begins before
its planned time, before the hands are free and have walked, or before the least dwell is
over. That is somebody who follows the board and never changes the order; a live re-plan can
only do better. Each hands-on time is its planned length times a log-normal factor with
median 1 and the given spread (0.25: about two moves of three within -22 % and +28 %).

One pair of hands is meant; with more, each pair keeps its own order.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp
from statistics import NormalDist
from typing import Any

from benchtimer.plan.instance import Instance, entry_s
from benchtimer.plan.network import hands_now
from benchtimer.plan.outcome import DONE, Plan, PlannedDwell, PlannedMove
from benchtimer.plan.problem import Problem

QUANTILES = 512


@dataclass(frozen=True, slots=True)
class Odds:
    """How often one dwell lasts longer than its most, and by how much when it does."""

    part: str
    dwell: int
    step: str
    station: str
    odds: float
    mean_overstay_s: float

    def as_dict(self) -> dict[str, Any]:
        """JSON form."""
        return {
            "part": self.part,
            "step": self.step,
            "station": self.station,
            "odds": self.odds,
            "mean_overstay_s": self.mean_overstay_s,
        }


@dataclass(frozen=True, slots=True)
class Earlier:
    """Advice: begin a move earlier by so much; the odds of any overstay before and after."""

    part: str
    step: str
    move: int
    by_s: int
    odds_before: float
    odds_after: float


@dataclass(frozen=True, slots=True)
class Risk:
    """Odds for each dwell with a limit, worst first, and for the run as a whole."""

    draws: int
    spread: float
    any_overstay: float
    dwells: tuple[Odds, ...]
    ends_s: tuple[int, int, int]
    """The end of the last move: one run in ten ends before, the median, one in ten after."""
    earlier: Earlier | None = None

    def as_dict(self) -> dict[str, Any]:
        """JSON form."""
        tip = self.earlier
        return {
            "draws": self.draws,
            "spread": self.spread,
            "any_overstay": self.any_overstay,
            "dwells": [odds.as_dict() for odds in self.dwells],
            "ends_s": list(self.ends_s),
            "earlier": None
            if tip is None
            else {
                "part": tip.part,
                "step": tip.step,
                "by_s": tip.by_s,
                "odds_before": tip.odds_before,
                "odds_after": tip.odds_after,
            },
        }


Columns = list[list[float]]


def assess(
    problem: Problem,
    plan: Plan,
    *,
    seed: int = 0,
    draws: int = 1000,
    spread: float = 0.25,
    advise: bool = True,
) -> Risk:
    """Draw the hands-on times and count overstays.

    ``spread`` is the standard deviation of the factor's logarithm, 0 for none.
    """
    lengths = _draw(plan, seed, draws, spread)
    walk = _Replay(problem, plan, draws)
    starts = [move.start_s for move in plan.moves]
    late, ends = walk.run(starts, lengths)
    odds = [
        _odds(dwell, over, draws) for dwell, over in zip(plan.dwells, late, strict=True) if over
    ]
    odds.sort(key=lambda o: (-o.odds, -o.mean_overstay_s, o.part, o.dwell))
    share = _any(late, draws)
    tip = None
    if advise and share > 0:
        tip = _advice(walk, plan, starts, lengths, odds[0], share)
    ends.sort()
    tenth = draws // 10
    told = (round(ends[tenth]), round(ends[draws // 2]), round(ends[-1 - tenth]))
    return Risk(draws, spread, share, tuple(odds), told, tip)


def _draw(plan: Plan, seed: int, draws: int, spread: float) -> Columns:
    """For each move its hands-on seconds in every draw, from a fixed table of quantiles."""
    normal = NormalDist()
    table = [exp(spread * normal.inv_cdf((i + 0.5) / QUANTILES)) for i in range(QUANTILES)]
    rng = random.Random(seed)
    columns = []
    for move in plan.moves:
        hands_s = move.end_s - move.start_s
        columns.append(rng.choices([hands_s * factor for factor in table], k=draws))
    return columns


class _Replay:
    """The plan's order, ready to be run through for all draws at once, move by move."""

    def __init__(self, problem: Problem, plan: Plan, draws: int) -> None:
        self.problem, self.plan, self.draws = problem, plan, draws
        self.walks = {(w.from_station, w.to_station): w.walk_s for w in problem.walks}
        self.leaves = {(d.part, d.dwell + 1): n for n, d in enumerate(plan.dwells)}

    def run(self, starts: Sequence[int], lengths: Columns) -> tuple[Columns, list[float]]:
        """Overstays in each dwell (a list per dwell: one value per draw that has one), ends."""
        free_s = [free for free, _ in hands_now(Instance(self.problem))]
        late: Columns = [[] for _ in self.plan.dwells]
        hands: dict[int, tuple[list[float], str]] = {}
        entered: dict[str, list[float]] = {}
        last: list[float] = [float(self.problem.now_s)] * self.draws
        for number, move in enumerate(self.plan.moves):
            begun = self._begin(move, starts[number], hands, free_s, entered)
            leaving = self.leaves.get((move.part, move.move))
            if leaving is not None:
                late[leaving] = _over(self.plan.dwells[leaving], begun, entered.get(move.part))
            ended = [a + b for a, b in zip(begun, lengths[number], strict=True)]
            hands[move.hands] = (ended, move.to_station)
            entered[move.part] = ended
            last = ended if self.problem.hands == 1 else list(map(max, last, ended))
        return late, last

    def _begin(
        self,
        move: PlannedMove,
        start: int,
        hands: dict[int, tuple[list[float], str]],
        free: Sequence[int],
        entered: dict[str, list[float]],
    ) -> list[float]:
        floor = float(max(start, free[move.hands]))
        leaving = self.leaves.get((move.part, move.move))
        since = entered.get(move.part)
        least = 0 if leaving is None else self.plan.dwells[leaving].least_s
        if move.hands not in hands:
            if since is None:
                return [floor] * self.draws
            return [a if (a := e + least) > floor else floor for e in since]
        ended, place = hands[move.hands]
        walk = self.walks.get((place, move.from_station), 0) if place != DONE else 0
        if since is None:
            return [a if (a := f + walk) > floor else floor for f in ended]
        if since is ended:
            ready = max(walk, least)
            return [a if (a := f + ready) > floor else floor for f in ended]
        return [max(floor, f + walk, e + least) for f, e in zip(ended, since, strict=True)]


def _over(dwell: PlannedDwell, begun: list[float], since: list[float] | None) -> list[float]:
    if dwell.most_s is None:
        return []
    most = dwell.most_s
    if since is None:
        limit = dwell.in_s + most
        return [b - limit if b > limit else 0.0 for b in begun]
    return [b - e - most if b - e > most else 0.0 for b, e in zip(begun, since, strict=True)]


def _odds(dwell: PlannedDwell, over: list[float], draws: int) -> Odds:
    count = draws - over.count(0.0)
    mean = sum(over) / count if count else 0.0
    return Odds(dwell.part, dwell.dwell, dwell.step, dwell.station, count / draws, mean)


def _any(late: Columns, draws: int) -> float:
    """Share of draws in which any dwell lasts too long."""
    columns = [over for over in late if over and any(over)]
    if not columns:
        return 0.0
    return sum(any(row) for row in zip(*columns, strict=True)) / draws


def _advice(
    replay: _Replay, plan: Plan, starts: list[int], lengths: Columns, worst: Odds, share: float
) -> Earlier | None:
    """The one move among those before the worst overstay that helps most if begun earlier.

    A move is tried at the earliest start that the planned times of everything else allow.
    """
    index = next(
        n for n, m in enumerate(plan.moves) if (m.part, m.move) == (worst.part, worst.dwell + 1)
    )
    best: Earlier | None = None
    for number in range(max(0, index - 6), index + 1):
        move = plan.moves[number]
        by_s = move.start_s - _floor(replay, number)
        if by_s <= 0:
            continue
        trial = [*starts[:number], starts[number] - by_s, *starts[number + 1 :]]
        late, _ = replay.run(trial, lengths)
        after = _any(late, replay.draws)
        if after < share and (best is None or after < best.odds_after):
            best = Earlier(move.part, move.step, move.move, by_s, share, after)
    return best


def _floor(replay: _Replay, number: int) -> int:
    """The earliest start of one move with all other moves at their planned times."""
    problem, plan = replay.problem, replay.plan
    move = plan.moves[number]
    part = next(p for p in problem.parts if p.name == move.part)
    floor = max(problem.now_s, part.release_s if move.move == 0 else problem.now_s)
    before = [m for m in plan.moves[:number] if m.hands == move.hands]
    if before:
        walk = replay.walks.get((before[-1].to_station, move.from_station), 0)
        floor = max(floor, before[-1].end_s + walk)
    if move.move:
        made = [m.end_s for m in plan.moves[:number] if m.part == move.part]
        since = made[-1] if made else entry_s(problem, part) or 0
        floor = max(floor, since + part.route.dwells[move.move - 1].least_s)
    for away in problem.away:
        if away.from_s < floor + move.end_s - move.start_s and floor < away.to_s:
            floor = away.to_s
    return min(floor, move.start_s)


def largest_batch(
    count_limit: int,
    odds_limit: float,
    plan_for: Callable[[int], tuple[Problem, Plan] | None],
    *,
    seed: int = 0,
    draws: int = 1000,
    spread: float = 0.25,
) -> tuple[int, Risk | None]:
    """The largest number of parts, up to ``count_limit``, whose odds stay under the limit.

    ``plan_for(n)`` plans n parts (None: no plan). Numbers are tried upwards and the search
    ends at the first that fails, so a larger number that happens to work is not looked for.
    """
    best: tuple[int, Risk | None] = (0, None)
    for number in range(1, count_limit + 1):
        planned = plan_for(number)
        if planned is None:
            break
        risk = assess(*planned, seed=seed, draws=draws, spread=spread, advise=False)
        if risk.any_overstay > odds_limit:
            break
        best = (number, risk)
    return best
