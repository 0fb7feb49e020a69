"""What two parts in stations now mean for each other further down the line.

A part that has entered the dwell after move m reaches each later station of its route
within a window that follows from its own mins and maxes. If two parts must share a station with one
slot, or keep their order in a line, the windows of both give an edge between their entry times long
before they meet:

- *forced*: the part ahead has left before the part behind is brought in (same line);
- *either-or*: one of the two has left before the other is brought in (other lines).

A weight w from a to b reads "b enters its present dwell at least w seconds after a entered
its own". Only weights with a finite window on the later side can ever matter.
"""

from __future__ import annotations

from math import inf

from benchtimer.plan.instance import NOWHERE, Instance

Either = tuple[float, float]
"""(weight from a to b if a goes first, weight from b to a if b goes first)."""


class Lookahead:
    """Weights between two entries, computed once for each pair of moves."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._forced: dict[tuple[int, int, int], float] = {}
        self._either: dict[tuple[int, int], tuple[Either, ...]] = {}
        self._reach = [self._windows(m) for m in range(instance.moves)]
        self.is_idle = all(most == inf for most in instance.most_of)

    def _windows(self, m: int) -> list[tuple[int, float, float]]:
        """(move, earliest start, latest start) of the later moves, from the entry after m."""
        instance = self.instance
        windows = []
        early, late = 0.0, 0.0
        for later in range(m + 1, instance.last_of[m] + 1):
            early += instance.least_of[later - 1]
            late += instance.most_of[later - 1]
            windows.append((later, early, late))
            early += instance.hands_of[later]
            late += instance.hands_of[later]
        return windows

    def forced(self, ahead_m: int, behind_m: int, parts_between: int) -> float:
        """Weight from the part ahead to the one this many parts behind it in the same line.

        Args:
            ahead_m: the number of the move of the part ahead.
            behind_m: the number of the move of the part behind.
            parts_between: how many parts later that part is.
        """
        key = (ahead_m, behind_m, parts_between)
        weight = self._forced.get(key)
        if weight is None:
            weight = self._forced[key] = self._find_forced(ahead_m, behind_m, parts_between)
        return weight

    def _find_forced(self, ahead_m: int, behind_m: int, parts_between: int) -> float:
        instance = self.instance
        ends = {later: early + instance.hands_of[later] for later, early, _ in self._reach[ahead_m]}
        best = -inf
        for later, _, late in self._reach[behind_m]:
            best = max(best, ends.get(later, -inf) - late)
            place = instance.dwell_of[later]
            if place != NOWHERE and instance.capacity[place] <= parts_between:
                best = max(best, ends.get(later + 1, -inf) - late)
        return best

    def either(self, a_m: int, b_m: int) -> tuple[Either, ...]:
        """The open choices between parts of two lines in one-slot stations."""
        key = (a_m, b_m)
        choices = self._either.get(key)
        if choices is None:
            choices = self._either[key] = tuple(self._find_either(a_m, b_m))
        return choices

    def _find_either(self, a_m: int, b_m: int) -> list[Either]:
        choices = []
        for place_a, in_a, out_a in self._visits(a_m):
            for place_b, in_b, out_b in self._visits(b_m):
                if place_a == place_b and self.instance.capacity[place_a] == 1:
                    choice = (out_a - in_b, out_b - in_a)
                    if max(choice) > -inf:
                        choices.append(choice)
        return choices

    def _visits(self, m: int) -> list[tuple[int, float, float]]:
        """(place, latest start of the load, earliest end of the pull), present visit included."""
        instance = self.instance
        starts = {later: (early, late) for later, early, late in self._reach[m]}
        visits = []
        for later in range(m, instance.last_of[m]):
            latest_in = -inf if later == m else starts[later][1]
            earliest_out = starts[later + 1][0] + instance.hands_of[later + 1]
            # The part inside now was first, so it can't choose the other order.
            visits.append((instance.dwell_of[later], latest_in, earliest_out))
        return visits
