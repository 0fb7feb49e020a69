"""Carries out a plan once, second by second: simple, slow, independent of the planner.

It shares nothing with ``benchtimer.plan.trials``. At each second every pair of hands looks at the
next move on its list and begins it when every condition holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from benchtimer.plan.outcome import Plan, PlannedMove
from benchtimer.plan.problem import AwayTime, Problem


@dataclass
class Account:
    """What happened: overruns by (part, dwell), seconds past each closing, the last end."""

    overruns: dict[tuple[str, int], int] = field(default_factory=dict)
    past_hours: dict[int, int] = field(default_factory=dict)
    end_s: int = 0


class _Bench:
    def __init__(self, problem: Problem, plan: Plan, lengths: Sequence[int]) -> None:
        self.problem, self.plan, self.lengths = problem, plan, lengths
        self.account = Account(end_s=problem.now_s)
        self.lists = {
            pair: [n for n, move in enumerate(plan.moves) if move.hands == pair]
            for pair in range(problem.hands)
        }
        self.free_s = dict.fromkeys(self.lists, problem.now_s)
        self.place: dict[int, str | None] = dict.fromkeys(self.lists)
        self.entered_s: dict[str, int] = {}
        in_hands = 0
        for part in problem.parts:
            if part.moving_s is not None and not part.is_done:
                self.free_s[in_hands] = problem.now_s + part.moving_s
                self.place[in_hands] = part.route.goes_to(part.moves_made)
                self.entered_s[part.name] = problem.now_s + part.moving_s
                in_hands += 1
            elif part.entered_s is not None:
                self.entered_s[part.name] = part.entered_s
        if problem.hands == 1 and not in_hands:
            self.place[0] = problem.hands_at

    def run(self) -> Account:
        now = self.problem.now_s
        while any(self.lists.values()):
            while self._something_begins(now):
                pass  # a zero-length move leaves time to begin another in this second
            # Skip the seconds when all hands are busy or away.
            now = max(now + 1, min(self.free_s[pair] for pair in self.lists))
            now = max([now, *(a.to_s for a in self.problem.away if a.from_s < now < a.to_s)])
        return self.account

    def _something_begins(self, now: int) -> bool:
        for pair, left in self.lists.items():
            if left and self._can_begin(now, pair, left[0]):
                self._begin(now, pair, left.pop(0))
                return True
        return False

    def _can_begin(self, now: int, pair: int, number: int) -> bool:
        move = self.plan.moves[number]
        if now < move.start_s or now < self.free_s[pair] + self._walk(pair, move):
            return False
        if any(_gone(away, now, self.lengths[number]) for away in self.problem.away):
            return False
        if not move.move:
            return True
        part = next(p for p in self.problem.parts if p.name == move.part)
        made = all(
            n not in left
            for left in self.lists.values()
            for n, other in enumerate(self.plan.moves)
            if (other.part, other.move) == (move.part, move.move - 1)
        )
        min_s = part.route.dwells[move.move - 1].min_s
        return made and now >= self.entered_s[move.part] + min_s

    def _walk(self, pair: int, move: PlannedMove) -> int:
        way = (self.place[pair], move.from_station)
        return sum(w.walk_s for w in self.problem.walks if (w.from_station, w.to_station) == way)

    def _begin(self, now: int, pair: int, number: int) -> None:
        move, found = self.plan.moves[number], self.account
        end = now + self.lengths[number]
        if move.move:
            part = next(p for p in self.problem.parts if p.name == move.part)
            max_s = part.route.dwells[move.move - 1].max_s
            stay = now - self.entered_s[move.part]
            if max_s is not None and stay > max_s:
                found.overruns[move.part, move.move - 1] = stay - max_s
        closing = min((a.from_s for a in self.problem.away if a.from_s >= now), default=end)
        if end > closing:
            found.past_hours[closing] = max(end - closing, found.past_hours.get(closing, 0))
        found.end_s = max(found.end_s, end)
        self.free_s[pair], self.place[pair] = end, move.to_station
        self.entered_s[move.part] = end


def _gone(away: AwayTime, now: int, length: int) -> bool:
    """Whether everyone is away; a zero-length move may still finish as the shop closes."""
    return away.from_s <= now < away.to_s and (now > away.from_s or length > 0)


def carried_out(problem: Problem, plan: Plan, lengths: Sequence[int]) -> Account:
    """One trial of a plan.

    Args:
        problem: the problem planned; with several pairs of hands its stations must never fill up.
        plan: its plan.
        lengths: the seconds each move actually takes.
    """
    return _Bench(problem, plan, lengths).run()
