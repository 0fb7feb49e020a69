"""A plan carried out many times with varied hands-on times.

Each trial keeps the plan's order. A move begins at its planned time, or as soon afterward as the
hands are free and have walked, the part's min is over and you are there: a start in the hours away
waits for the next opening. Work that has begun continues to its end, and if it ends after the
hours, it is past the hours by that much. This is how you work if you follow the plan and never
change its order; replanning during the run can do better.

With several pairs of hands each keeps its own order, and a slot is handed on as planned: the move
that fills it waits for the move that frees it, less its head start in the plan. All trials go
through one move at a time: a column has one value per trial.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence

from benchtimer.plan.instance import Instance
from benchtimer.plan.network import OrderedMove, hands_now, order_edges
from benchtimer.plan.outcome import DONE, Plan, PlannedDwell, PlannedMove
from benchtimer.plan.problem import Problem
from benchtimer.plan.spread import draw_times_s
from benchtimer.progress import counted
from benchtimer.values import dataclass

Column = list[float]


@dataclass(frozen=True, slots=True)
class Tried:
    """The results of the trials, in seconds.

    Attributes:
        overruns: for each dwell of the plan, a column with how far past its max it was; empty for a
            dwell without a max.
        past_hours: for each closing that some trial missed, by its time, a column with how long the
            work ran past it.
        ends: the end of the last move.
    """

    overruns: list[Column]
    past_hours: dict[int, Column]
    ends: Column


def draw_lengths(
    problem: Problem, plan: Plan, seed: int, trials: int, spread: float
) -> list[Column]:
    """For each move of the plan a column of hands-on seconds: the drawn times of its steps.

    Args:
        problem: the planned problem.
        plan: its plan.
        seed: same seed, same times.
        trials: how many values a column has.
        spread: of the hands-on times, as ``plan.spread`` defines it.
    """
    rng = random.Random(seed)
    routes = {part.name: part.route for part in problem.parts}
    columns = []
    for move in counted(plan.moves, "moves drawn", every=1):
        steps = routes[move.part].moves[move.move].step_s or (move.end_s - move.start_s,)
        column, *more = [draw_times_s(rng, step_s, spread, trials) for step_s in steps]
        for drawn in more:
            column = [a + b for a, b in zip(column, drawn, strict=True)]
        columns.append(column)
    return columns


class PresentHours:
    """The spans of a problem in which you are at the bench."""

    def __init__(self, instance: Instance) -> None:
        self.opens = [float(open_s) for open_s, _ in instance.gaps]
        self.closes = [float(close_s) for _, close_s in instance.gaps]

    def all_inside(self, begun: Column, ended: Column) -> bool:
        """Whether everything is in one span, so no trial needs separate treatment."""
        first, last = min(begun), max(ended)
        stretch = bisect_right(self.opens, first) - 1
        return stretch >= 0 and last <= self.closes[stretch]

    def begin(self, time: float, work: float) -> float:
        """When work of a given length begins if it is due at a given time."""
        stretch = bisect_right(self.opens, time) - 1
        if stretch < 0:
            return self.opens[0]
        close = self.closes[stretch]
        # Work that takes no time fits into the very moment of closing.
        return time if time < close or (time == close and not work) else self.opens[stretch + 1]

    def closing(self, begun: float) -> float:
        """The next closing after work has begun."""
        return self.closes[bisect_right(self.opens, begun) - 1]


class Replay:
    """The order of a plan, ready to carry out.

    Args:
        problem: the planned problem.
        plan: its plan.
        trials: how many values every column has.
    """

    def __init__(self, problem: Problem, plan: Plan, trials: int) -> None:
        self.instance = instance = Instance(problem)
        self.problem, self.plan, self.trials = problem, plan, trials
        self.walks = {(w.from_station, w.to_station): w.walk_s for w in problem.walks}
        self.leaves = {(d.part, d.dwell + 1): n for n, d in enumerate(plan.dwells)}
        self.free = hands_now(instance)
        self.hours = PresentHours(instance) if problem.away else None
        index = {part.name: i for i, part in enumerate(problem.parts)}
        turns = [OrderedMove(index[move.part], move.move, hands=move.hands) for move in plan.moves]
        starts = [move.start_s for move in plan.moves]
        self.edges = order_edges(instance, turns, starts, hours=False)
        # With several pairs of hands, the move that frees the slot of each move that needs one.
        self.freed_by = {
            edge.after - 1: edge.before - 1
            for edge in self.edges
            if edge.rule == "the slot is empty" and edge.after != edge.before
        }
        # The move that frees a slot comes before the one that fills it, even if it begins later.
        self.order = sorted(range(len(plan.moves)), key=self._turn)

    def _turn(self, number: int) -> tuple[int, bool]:
        start_s = self.plan.moves[number].start_s
        freeing = self.freed_by.get(number)
        if freeing is None or self.plan.moves[freeing].start_s < start_s:
            return start_s, False
        return self.plan.moves[freeing].start_s, True

    def earliest_s(self, number: int) -> int:
        """The earliest start of one move with all other moves at their planned times."""
        move, starts = self.plan.moves[number], [0, *(m.start_s for m in self.plan.moves)]
        floor_s = max(
            starts[edge.before] + edge.weight_s
            for edge in self.edges
            if edge.after == number + 1 and edge.rule != "max"
        )
        if number in self.freed_by:
            floor_s = max(floor_s, self.plan.moves[self.freed_by[number]].start_s)
        for away in sorted(self.problem.away, key=lambda away: away.from_s):
            if away.from_s < floor_s + move.end_s - move.start_s and floor_s < away.to_s:
                floor_s = away.to_s
        return min(floor_s, move.start_s)

    def run(self, starts: Sequence[int], lengths: Sequence[Column]) -> Tried:
        """Carry the plan out.

        Args:
            starts: for each move, its earliest start.
            lengths: for each move a column of hands-on seconds.
        """
        tried = Tried([[] for _ in self.plan.dwells], {}, [])
        hands: dict[int, tuple[Column, str]] = {}
        entered: dict[str, Column] = {}
        begins: dict[int, Column] = {}
        last: Column = [float(self.problem.now_s)] * self.trials
        for number in counted(self.order, "moves tried", every=1):
            move = self.plan.moves[number]
            begun = self._begin(move, starts[number], hands, entered)
            begun = self._after_the_slot_is_free(number, begun, starts, begins)
            begun, ended = self._within_hours(begun, lengths[number], tried)
            leaving = self.leaves.get((move.part, move.move))
            if leaving is not None:
                tried.overruns[leaving] = _over(
                    self.plan.dwells[leaving], begun, entered.get(move.part)
                )
            hands[move.hands] = (ended, move.to_station)
            entered[move.part] = ended
            begins[number] = begun
            last = ended if self.problem.hands == 1 else list(map(max, last, ended))
        tried.ends.extend(last)
        return tried

    def _begin(
        self,
        move: PlannedMove,
        start: int,
        hands: dict[int, tuple[Column, str]],
        entered: dict[str, Column],
    ) -> Column:
        """When hands and part are ready, without hours and slots."""
        floor = float(max(start, self.free[move.hands][0]))
        leaving = self.leaves.get((move.part, move.move))
        since = entered.get(move.part)
        least = 0 if leaving is None else self.plan.dwells[leaving].min_s
        if move.hands not in hands:
            if since is None:
                return [floor] * self.trials
            return [a if (a := e + least) > floor else floor for e in since]
        ended, place = hands[move.hands]
        walk = self.walks.get((place, move.from_station), 0) if place != DONE else 0
        if since is None:
            return [a if (a := f + walk) > floor else floor for f in ended]
        if since is ended:
            ready = max(walk, least)
            return [a if (a := f + ready) > floor else floor for f in ended]
        return [max(floor, f + walk, e + least) for f, e in zip(ended, since, strict=True)]

    def _after_the_slot_is_free(
        self, number: int, begun: Column, starts: Sequence[int], begins: dict[int, Column]
    ) -> Column:
        freeing = self.freed_by.get(number)
        # If two parts change places, each move frees the other's slot: the first does not wait.
        if freeing is None or freeing not in begins:
            return begun
        ahead = min(0, starts[number] - starts[freeing])
        return [max(b, f + ahead) for b, f in zip(begun, begins[freeing], strict=True)]

    def _within_hours(self, begun: Column, lengths: Column, tried: Tried) -> tuple[Column, Column]:
        """The move's starts and ends after any wait; notes what runs past a closing."""
        ended = [b + work for b, work in zip(begun, lengths, strict=True)]
        hours = self.hours
        if hours is None or hours.all_inside(begun, ended):
            return begun, ended
        begun = [hours.begin(b, work) for b, work in zip(begun, lengths, strict=True)]
        ended = [b + work for b, work in zip(begun, lengths, strict=True)]
        for trial, (begin, end) in enumerate(zip(begun, ended, strict=True)):
            close = hours.closing(begin)
            if end > close:
                column = tried.past_hours.setdefault(int(close), [0.0] * self.trials)
                column[trial] = max(column[trial], end - close)
        return begun, ended


def _over(dwell: PlannedDwell, begun: Column, since: Column | None) -> Column:
    if dwell.max_s is None:
        return []
    most = dwell.max_s
    if since is None:
        limit = dwell.in_s + most
        return [b - limit if b > limit else 0.0 for b in begun]
    return [b - e - most if b - e > most else 0.0 for b, e in zip(begun, since, strict=True)]
