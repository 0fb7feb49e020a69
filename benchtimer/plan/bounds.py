"""Lower bounds on the end of the last move.

It uses two facts that are true of every plan with one pair of hands:

- *Links.* Within a line, part n makes each move before part n+1 does, and enters a station
  of c slots only after part n-c has been pulled out of it and put down. Together with the routes
  this gives a graph without cycles whose longest paths are ``tail_s``: the shortest time from the
  start of a move to the end of the last move of all.
- *Energy.* A part occupies a slot from the start of the move that brings it to the end of the move
  that takes it away, so c slots need at least 1/c of all that work. With several pairs of hands
  only a weaker version is true (a slot is used from entry to pull), and the bounds account for
  that.
"""

from __future__ import annotations

from benchtimer.plan.instance import NOWHERE, Instance


class Bounds:
    """Everything about the bounds that is independent of the search state."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.single = instance.problem.hands == 1
        self.tail_s = self._tails()
        self.work_s = self._slot_work()
        self.after_s = self._least_after()

    def _tails(self) -> list[list[int]]:
        """``tail_s[m][n]``: from the start of move m of part n of its line to the very end."""
        inst = self.instance
        tails: list[list[int]] = [[] for _ in range(inst.moves)]
        for line in inst.lines:
            for m in range(line.first_m, line.last_m + 1):
                tails[m] = [0] * len(line.parts)
            for n in reversed(range(len(line.parts))):
                for m in range(line.last_m, line.first_m - 1, -1):
                    tails[m][n] = self._tail(tails, m, n)
        return tails

    def _tail(self, tails: list[list[int]], m: int, n: int) -> int:
        inst = self.instance
        line = inst.lines[inst.line_of[m]]
        hands_s = inst.hands_of[m]
        best = hands_s
        if m < line.last_m:
            best = max(best, hands_s + inst.least_of[m] + tails[m + 1][n])
        if self.single and n + 1 < len(line.parts):
            way = inst.way[inst.to_of[m]][inst.from_of[m]]
            best = max(best, hands_s + way + tails[m][n + 1])
        if m > line.first_m:
            place = inst.dwell_of[m - 1]
            follower = n + inst.capacity[place]
            if n < follower < len(line.parts):
                if self.single:
                    way = inst.way[inst.to_of[m]][inst.from_of[m - 1]]
                    best = max(best, hands_s + way + tails[m - 1][follower])
                else:
                    best = max(best, tails[m - 1][follower] - inst.hands_of[m - 1])
        return best

    def _slot_work(self) -> list[int]:
        """The shortest time, in seconds of one slot, that the dwell after move m takes."""
        inst = self.instance
        work = [0] * inst.moves
        for m in range(inst.moves):
            if inst.dwell_of[m] != NOWHERE:
                work[m] = inst.least_of[m]
                if self.single:
                    work[m] += inst.hands_of[m + 1]
                    # A part that goes back where it came from never gave up its slot,
                    # so count that move once, with the dwell before it.
                    work[m] += 0 if inst.returns[m] else inst.hands_of[m]
        return work

    def _least_after(self) -> list[int]:
        """Per station, the least time remaining after the last part has been taken out."""
        inst = self.instance
        after = [-1] * len(inst.places)
        for m in range(inst.moves):
            place = inst.dwell_of[m]
            if place == NOWHERE:
                continue
            rest = self.tail_s[m + 1][-1] - (inst.hands_of[m + 1] if self.single else 0)
            after[place] = rest if after[place] < 0 else min(after[place], rest)
        return after
