"""Lower bounds on the end of the last move.

It uses two facts that are true of every plan:

- *Links.* Within a line, part n makes each move before part n+1 does, and enters a station
  of c slots only after part n-c has been pulled out of it (``Instance.next_s`` and ``refill_s``).
  Together with the routes this gives a graph without cycles whose longest paths are ``tail_s``: the
  shortest time from the start of a move to the end of the last move of all.
- *Energy.* With one pair of hands, a part occupies a slot from the start of the move that brings it
  to the end of the move that takes it away, so c slots need at least 1/c of all that work.
"""

from __future__ import annotations

from benchtimer.plan.instance import NOWHERE, Instance


class Bounds:
    """Everything about the bounds that is independent of the search state."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.tail_s = [[0.0] * len(instance.lines[number].parts) for number in instance.line_of]
        for m, n in instance.backward():
            self.tail_s[m][n] = instance.shortest_after(m, n, self.tail_s)
        self.work_s = self._slot_work()
        self.after_s = self._least_after()

    def _slot_work(self) -> list[int]:
        """The shortest time, in seconds of one slot, that the dwell after move m takes."""
        inst = self.instance
        work = [0] * inst.moves
        for m in range(inst.moves):
            if inst.dwell_of[m] != NOWHERE:
                work[m] = inst.least_of[m] + inst.hands_of[m + 1]
                # A part that goes back where it came from never gave up its slot,
                # so count that move once, with the dwell before it.
                work[m] += 0 if inst.returns[m] else inst.hands_of[m]
        return work

    def _least_after(self) -> list[float]:
        """Per station, the least time remaining after the last part has been taken out."""
        inst = self.instance
        after = [-1.0] * len(inst.places)
        for m in range(inst.moves):
            place = inst.dwell_of[m]
            if place == NOWHERE:
                continue
            rest = self.tail_s[m + 1][-1] - inst.hands_of[m + 1]
            after[place] = rest if after[place] < 0 else min(after[place], rest)
        return after
