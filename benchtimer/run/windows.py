"""The window of the dwell a part is in now: min, target and max, as the run has them.

How long a part still has is worked out here, and the recipe is read nowhere else for it: a run may
move a target.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchtimer.run.run_state import Bench, Part, PartPhase


@dataclass(frozen=True, slots=True)
class DwellWindow:
    """From when to when a part may leave its station.

    Attributes:
        since_ms: bench time at which the dwell began, less what it had before a pull by mistake.
        min_s: seconds after which it may leave; ``target_s`` when it should, ``max_s`` when it
            must; None: no limit.
    """

    since_ms: int
    min_s: int
    target_s: int
    max_s: int | None

    @property
    def min_ms(self) -> int:
        """Bench time before which it is too early."""
        return self.since_ms + self.min_s * 1000

    @property
    def target_ms(self) -> int:
        """Bench time at which the part should leave."""
        return self.since_ms + self.target_s * 1000

    @property
    def max_ms(self) -> int | None:
        """Bench time after which it is too late, if there is one."""
        return self.since_ms + self.max_s * 1000 if self.max_s is not None else None


def window_of(bench: Bench, part: Part) -> DwellWindow | None:
    """The window of a part's present dwell; None if it is in none."""
    dwell = bench.step_of(part).dwell
    if part.phase is not PartPhase.DWELLING or dwell is None:
        return None
    target_s = part.target_s if part.target_s is not None else dwell.target_s
    return DwellWindow(part.since_ms, dwell.min_s, target_s, dwell.max_s)
