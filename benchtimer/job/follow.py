"""Follows a plan while each part is where the plan has it, and the policy otherwise.

A part on plan starts and is pulled at its planned times, or as soon afterward as your hands, its
dwell and the next place allow. A check that fails, a repeat that isn't needed or a missed pull
takes the part off plan, and from then on it follows the policy.

Planned walks count. A part that its recipe stops is out; no new blank replaces it.
"""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.job.chain import NEVER, Chain, Soak
from benchtimer.job.policy import Draws, Play
from benchtimer.job.shop_work import OUT, REST, SOAK, ShopWork
from benchtimer.job.worktime import WorkTime
from benchtimer.plan.outcome import DONE, Plan
from benchtimer.values import dataclass

LATE_S = 1
"""Overruns and work past closing shorter than this don't count."""


@dataclass(frozen=True, slots=True)
class PartPlan:
    """What one part does in the plan.

    Attributes:
        starts: when each move begins.
        states: where the part is after each move: ``REST``, ``SOAK`` or ``OUT``, and the step.
        stays: for each move, the shortest time of the dwell before it.
    """

    starts: tuple[float, ...]
    states: tuple[tuple[int, int], ...]
    stays: tuple[float, ...]


def way_of(plan: Plan, part: str, chain: Chain) -> PartPlan:
    """A part's path through its chain.

    Args:
        plan: the plan.
        part: a part of it.
        chain: the one recipe of the part.
    """
    index = {link.step: number for number, link in enumerate(chain.links)}
    dwells = {dwell.dwell: dwell for dwell in plan.dwells if dwell.part == part}
    states, stays = [], []
    moves = [move for move in plan.moves if move.part == part]
    for move in moves:
        last = len(chain.links) - 1
        at = last if move.step == DONE else index[move.step]
        link = chain.links[at]
        if at == last:
            states.append((OUT, at))
        elif link.rest_s is not None:
            states.append((REST, at + 1))
        else:
            states.append((SOAK, at))
        before = dwells.get(move.move - 1)
        stays.append(
            0.0 if before is None else float(min(before.target_s, before.out_s - before.in_s))
        )
    return PartPlan(tuple(float(move.start_s) for move in moves), tuple(states), tuple(stays))


class Following(Play):
    """One simulation that follows a plan.

    Attributes:
        overruns: how long past its max a dwell lasted, by piece and step.
        past_s: how long after a closing work went on, by the time of the closing.
        off: the pieces no longer on plan.
    """

    new_blanks = False

    def __init__(
        self, shop: ShopWork, draws: Draws, ways: Sequence[PartPlan], worked: WorkTime | None = None
    ) -> None:
        super().__init__(shop, draws, worked or shop.hours, acts=False)
        self.ways = ways
        self.made = [0] * len(ways)
        self.off: set[int] = set()
        self.overruns: dict[tuple[int, int], float] = {}
        self.past_s: dict[float, float] = {}
        self.ready = [way.starts[0] for way in ways]

    def _next_s(self, k: int, time: float) -> float:
        """When a piece on plan that enters its planned dwell now moves on."""
        way, n = self.ways[k], self.made[k] + 1
        return max(way.starts[n], time + way.stays[n])

    def _can_start(self, k: int, time: float, room: float) -> bool:
        if k in self.off:
            return super()._can_start(k, time, room)
        # Once a part is off plan, the plan no longer shows whether the pulls leave room.
        if self.off and time + self.chains[k].slow_s[self.step[k]] > room:
            return False
        return self._way_is_free(k, self.step[k], time)

    def _leaves_time(self, k: int, soft: list[tuple[float, int]], time: float) -> bool:
        return k not in self.off or super()._leaves_time(k, soft, time)

    def _last_starts(self, k: int) -> tuple[float, float]:
        return super()._last_starts(k) if k in self.off else (self.limit[k], self.limit[k])

    def _way_is_free(self, k: int, index: int, time: float) -> bool:
        """Whether the next dwell's place has room for the piece, counting its present place as
        empty.

        With two people it is enough if the part there leaves before this one arrives.
        """
        for link in self.chains[k].links[index:]:
            time += link.hands_s
            if link.soak is not None:
                place = link.soak.place
                if place not in self.places.users or place in self.places.held[k]:
                    return True
                leaving = sum(
                    place in held and self.where[j] == SOAK and self.pull[j] < time
                    for j, held in enumerate(self.places.held)
                ) if self.shop.hands > 1 else 0  # fmt: skip
                return self.places.users[place] - leaving < self.shop.fills[place]
            if link.rest_s is not None:
                break
        return True

    def _first_due(self, due: Sequence[int], wait: float, time: float) -> int:
        free = [k for k in due if self._way_is_free(k, self.step[k] + 1, time)]
        return -1 if not free and wait != NEVER else super()._first_due(free or due, wait, time)

    def _start(self, k: int, time: float) -> float:
        if k in self.off:
            return super()._start(k, time)
        for use, _ in self.heated[k].get(self.step[k], ()):  # the plan heats it in time
            self.places.hot.setdefault(use.place, time + use.from_s)
        return self._move(k, self.step[k], time, pulled=False)

    def _lift(self, k: int, time: float) -> float:
        over_s = time - self.limit[k]
        if over_s >= LATE_S:
            key = (k, self.step[k])
            self.overruns[key] = max(over_s, self.overruns.get(key, 0.0))
        return super()._lift(k, time)

    def _put_back(self, k: int, index: int, time: float) -> float:
        self.off.add(k)
        return super()._put_back(k, index, time)

    def _pull_s(self, k: int, soak: Soak, time: float) -> float:
        by_policy = super()._pull_s(k, soak, time)
        if k in self.off:
            return by_policy
        way, n = self.ways[k], self.made[k]
        if way.states[n][0] != SOAK or soak != self.chains[k].links[way.states[n][1]].soak:
            return by_policy
        pull = max(time + soak.min_s, min(self._next_s(k, time), time + soak.max_s))
        return pull if self.worked.is_open(pull) or pull == way.starts[n + 1] else by_policy

    def _move(self, k: int, first: int, start: float, *, pulled: bool) -> float:
        end = super()._move(k, first, start, pulled=pulled)
        if k not in self.off:
            self._compare(k, end)
        close = self.worked.closes[self.worked.span(start)]
        if end - close >= LATE_S:
            self.past_s[close] = max(end - close, self.past_s.get(close, 0.0))
        return end

    def _compare(self, k: int, end: float) -> None:
        """Whether a piece is where the plan has it after a move; if so, it waits as planned."""
        way, n = self.ways[k], self.made[k]
        now = (self.where[k], self.step[k])
        if now[0] == OUT == way.states[n][0]:
            if n + 1 < len(way.starts):  # the last dwell ends as planned
                self.played.ends[k] = self._next_s(k, end)
            return
        if now != way.states[n]:
            self.off.add(k)
            return
        if now[0] == REST:
            self.ready[k] = self._next_s(k, end)
        self.made[k] += 1
