"""Better plans from a placed one: take parts out, place them again, keep what gains.

A neighbor that is a little worse is accepted now and then, so that the search leaves small
dead ends; after a long time without a gain it goes back to the best, or begins anew. Nothing
is proved here.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp

from benchtimer.plan.fixpoint import earliest_starts
from benchtimer.plan.network import Turn
from benchtimer.plan.placement import Placer
from benchtimer.plan.timetable import FAR_S, Piece, Timetable

PATIENCE = 30
"""Neighbors without a gain before the search goes back, times parts and five."""
LONGER = 1.1
"""A neighbor's parts end so much later than the plan, as a share, at the most."""
WEIGHT = 0.7
"""The weight of each part's end after that of the part that ends later."""

Score = tuple[float, float]
"""(the last end, the weighted sum of the parts' ends), both from now on."""


@dataclass(slots=True)
class Improver:
    """A search from one placed plan on.

    Attributes:
        placer: places parts.
        best: the best plan so far.
        rng: where all draws come from.
        goal_s: an end that no plan beats.
        over: asked before each neighbor whether to stop.
    """

    placer: Placer
    best: Timetable
    rng: random.Random
    goal_s: float
    over: Callable[[], bool]
    score: Score = field(init=False)
    now: Timetable = field(init=False)
    stale: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self.score = self.score_of(self.best)
        self.now = self.best

    @property
    def end_s(self) -> int:
        """The end of the best plan."""
        return int(self.score[0]) + self.placer.instance.problem.now_s

    def score_of(self, table: Timetable) -> Score:
        """What makes one plan better than another."""
        now_s = self.placer.instance.problem.now_s
        ends = sorted((self.placer.end_s(table, p) for p in table.starts_of), reverse=True)
        total, weight = 0.0, 1.0
        for end in ends:
            total += weight * (end - now_s)
            weight *= WEIGHT
        return (ends[0] - now_s if ends else 0.0), total

    def run(self, neighbors: float) -> None:
        """Look for better plans.

        Args:
            neighbors: how many to try at the most.
        """
        patience = PATIENCE * (5 + len(self.placer.chains))
        tried = 0
        while tried < neighbors and self.end_s > self.goal_s and not self.over():
            tried += 1
            neighbor = self.neighbor()
            self.stale += 1
            if neighbor is not None:
                self._judge(neighbor)
            if self.stale > patience:
                self.stale = 0
                self.now = self.best
                if self.rng.random() < 0.4:
                    self.now = self._fresh() or self.best

    def _judge(self, neighbor: Timetable) -> None:
        new, old = self.score_of(neighbor), self.score_of(self.now)
        loss = 20 * (new[0] - old[0]) / max(1.0, old[0]) + 8 * (new[1] - old[1]) / max(1.0, old[1])
        if loss <= 0 or self.rng.random() < exp(-8 * loss):
            self.now = neighbor
        if new < self.score:
            self.best, self.score, self.stale = neighbor, new, 0

    def _fresh(self) -> Timetable | None:
        order = list(self.placer.chains)
        self.rng.shuffle(order)
        order.sort(key=lambda p: self.placer.chains[p].deadline_s)
        table = Timetable(self.placer.instance)
        draws = self.rng if self.rng.random() < 0.5 else None
        return table if self.placer.place_all(table, order, self.rng, draws) else None

    def neighbor(self) -> Timetable | None:
        """A plan that differs a little from the present one; None where none came of it."""
        table, kind = self.now, self.rng.random()
        if kind < 0.35:
            return self._first_choice(table.copy())
        if kind < 0.47:
            return self._right_and_left(table.copy())
        if kind < 0.62 and len(table.pieces) == 1:
            return self._other_turn(table)
        return self._again(table.copy())

    def _limit_s(self, table: Timetable) -> int:
        now_s = self.placer.instance.problem.now_s
        last = max(self.placer.end_s(table, part) for part in table.starts_of)
        return now_s + int(LONGER * (last - now_s))

    def _last(self, table: Timetable) -> int:
        """The part that ends last, or mostly the one that it had to wait for."""

        def end_s(part: int) -> int:
            return self.placer.end_s(table, part)

        last = max(table.starts_of, key=end_s)
        while (feeders := self.placer.chains[last].after) and self.rng.random() < 0.8:
            last = max(feeders, key=end_s)
        return last

    def _chosen(self, table: Timetable) -> list[int]:
        """One to five parts: near one moment, the last one and others, or any."""
        parts = list(table.starts_of)
        count = min(len(parts), self.rng.randint(1, 5))
        kind = self.rng.random()
        if kind < 0.4:
            moments = table.starts_of[self.rng.choice(parts)]
            moment = self.rng.choice(moments)
            parts.sort(key=lambda p: min(abs(start - moment) for start in table.starts_of[p]))
            return parts[:count]
        chosen = self.rng.sample(parts, count)
        if kind < 0.7 and (last := self._last(table)) not in chosen:
            chosen[-1] = last
        return chosen

    def _with_followers(self, parts: list[int]) -> list[int]:
        """The parts, mostly with those that wait for them: else these keep them late."""
        if self.rng.random() < 0.2:
            return parts
        chains, told = self.placer.chains, list(parts)
        for part in told:
            told += [other for other in chains[part].feeds if other not in told]
        return told

    def _again(self, table: Timetable) -> Timetable | None:
        """A few parts out and in again."""
        rng, placer, limit_s = self.rng, self.placer, self._limit_s(table)
        chosen = self._with_followers(self._chosen(table))
        old = {part: table.starts_of[part] for part in chosen}
        for part in chosen:
            placer.take_out(table, part)
        kind = rng.random()
        if kind < 0.5:
            rng.shuffle(chosen)
        elif kind < 0.8:
            chosen.sort(key=lambda p: -placer.chains[p].tail_s[0])
        else:
            chosen.sort(key=old.__getitem__)
        draws = rng if rng.random() < 0.5 else None
        late = []
        for part in placer.with_feeders(chosen):
            if rng.random() < 0.2:
                now_s = placer.instance.problem.now_s
                tail_s = placer.chains[part].tail_s[0]
                cap_s = rng.randint(min(now_s + tail_s, limit_s), limit_s)
                if placer.fits(table, part, cap_s, late=True):
                    late.append(part)
                    continue
            if not placer.fits(table, part, limit_s, draws):
                return None
        for part in late:
            placer.take_out(table, part)
            if not placer.fits(table, part, limit_s):
                return None
        return table

    def _first_choice(self, table: Timetable) -> Timetable | None:
        """A part takes the times it has with half of the others gone."""
        rng, placer, limit_s = self.rng, self.placer, self._limit_s(table)
        parts = list(table.starts_of)
        favored = self._last(table) if rng.random() < 0.6 else rng.choice(parts)
        others = [p for p in parts if p != favored and rng.random() < 0.5]
        gone = {p: table.starts_of[p] for p in self._with_followers([favored, *others])}
        gone.pop(favored)
        for part in (favored, *gone):
            placer.take_out(table, part)
        if not placer.fits(table, favored, limit_s):
            return None
        in_the_way = []
        for part in placer.with_feeders(sorted(gone, key=gone.__getitem__)):
            if not self._put_back(table, part, gone[part]):
                in_the_way.append(part)
        rng.shuffle(in_the_way)
        for part in placer.with_feeders(in_the_way):
            if not placer.fits(table, part, limit_s):
                return None
        return table

    def _put_back(self, table: Timetable, part: int, starts: tuple[int, ...]) -> bool:
        """Give a part the times it had, if they are still free."""
        if not still_free(self.placer, table, part, starts):
            return False
        table.put(part, self.placer.chains[part].first, starts)
        return True

    def _right_and_left(self, table: Timetable) -> Timetable | None:
        """All parts as late as they go within the end, then all as early as they go."""
        placer = self.placer
        end_s = max(placer.end_s(table, part) for part in table.starts_of)
        for part in sorted(table.starts_of, key=lambda p: -placer.end_s(table, p)):
            placer.take_out(table, part)
            if not placer.fits(table, part, end_s, late=True):
                return None
        return to_the_left(placer, table)

    def _other_turn(self, table: Timetable) -> Timetable | None:
        """One move a few places earlier or later among those of the hands."""
        pieces = table.pieces[0]
        if len(pieces) < 2:
            return None
        at = self.rng.randrange(len(pieces))
        to = max(0, min(len(pieces) - 1, at + self.rng.choice((-1, 1)) * self.rng.randint(1, 7)))
        order = pieces[:]
        order.insert(to, order.pop(at))
        turns = [Turn(part, number) for *_, part, number in order]
        if not _in_order(turns):
            return None
        starts = earliest_starts(self.placer.instance, turns, _starts_now(table, turns))
        return None if starts is None else rebuilt(self.placer, turns, starts)


def _starts_now(table: Timetable, turns: list[Turn]) -> list[int] | None:
    """The times that moves have in a table: they tell between which closings each stay is."""
    if not any(table.instance.closed):
        return None
    first = {part: number for *_, part, number in reversed(sorted(_all(table), key=_number))}
    return [table.starts_of[t.part][t.move - first[t.part]] for t in turns]


def _all(table: Timetable) -> list[Piece]:
    return [piece for pieces in table.pieces for piece in pieces]


def _number(piece: Piece) -> int:
    return piece[5]


def _in_order(turns: list[Turn]) -> bool:
    """Whether each part makes its moves one after the other."""
    made: dict[int, int] = {}
    for turn in turns:
        if made.get(turn.part, -1) > turn.move:
            return False
        made[turn.part] = turn.move
    return True


def rebuilt(placer: Placer, turns: list[Turn], starts: list[int]) -> Timetable | None:
    """A table of parts at given times, None if they break a rule.

    Args:
        placer: for the problem.
        turns: the moves.
        starts: when each begins.
    """
    times: dict[int, list[tuple[int, int]]] = {}
    for turn, start in zip(turns, starts, strict=True):
        times.setdefault(turn.part, []).append((turn.move, start))
    if times.keys() != placer.chains.keys():
        return None
    table = Timetable(placer.instance)
    own = {part: tuple(start for _, start in sorted(moves)) for part, moves in times.items()}
    # Parts that leave first come first: until it is placed, a part keeps its slot.
    for part in placer.with_feeders(sorted(own, key=own.__getitem__)):
        if not still_free(placer, table, part, own[part]):
            return None
        table.put(part, placer.chains[part].first, own[part])
    return table


def still_free(placer: Placer, table: Timetable, part: int, starts: tuple[int, ...]) -> bool:
    """Whether a part can have these times among those that are placed.

    Args:
        placer: for the problem.
        table: what is placed.
        part: index of the part.
        starts: when its moves begin.
    """
    chain = placer.chains[part]
    if len(starts) != len(chain.hands_s):
        return False
    floor_s = max(placer.instance.problem.now_s, chain.release_s if chain.entered_s is None else 0)
    for other in chain.after:
        if other not in table.starts_of or placer.end_s(table, other) > starts[0]:
            return False
    if starts[0] < floor_s:
        return False
    for other in chain.feeds:
        if other in table.starts_of and table.starts_of[other][0] < starts[-1] + chain.hands_s[-1]:
            return False
    entered = chain.entered_s
    if entered is not None:
        table.keep_slot(part, FAR_S, free=True)
    try:
        for k, start in enumerate(starts):
            if entered is not None:
                stay = start - entered
                since = max(entered, placer.instance.problem.now_s) if not k else entered
                if not chain.least_s[k] <= stay <= chain.most_s[k]:
                    return False
                if not any(f <= since and start <= g for f, g in table.rooms(chain.places[k])):
                    return False
            if not table.starts([(start, start)], chain.hands_s[k], *chain.ways[k]):
                return False
            entered = start + chain.hands_s[k]
    finally:
        if chain.entered_s is not None:
            table.keep_slot(part, FAR_S)
    return True


def to_the_left(placer: Placer, table: Timetable) -> Timetable | None:
    """Every part once more as early as it goes, those that end first first.

    Args:
        placer: for the problem.
        table: what is placed; it is changed.
    """
    for part in sorted(table.starts_of, key=lambda p: placer.end_s(table, p)):
        placer.take_out(table, part)
        if not placer.fits(table, part):
            return None
    return table
