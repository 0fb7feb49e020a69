"""Counts tries and losses, and catches forbidden events."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from tests.faults.row import Row

HANG_S = 1.0
"""Processor time of one case; more counts as a hang. The suite sets no limit."""

STUCK_S = 60
"""Wall-clock limit for a case that neither works nor ends."""


class Stuck(Exception):
    """A case did not end."""


@dataclass(slots=True)
class Tally:
    """How often something was tried and lost, and the first loss."""

    tried: int = 0
    lost: int = 0
    first: str = ""
    longest_s: float = 0.0

    def wrong(self, what: str) -> None:
        """Count a loss or a wrong acceptance."""
        self.lost += 1
        self.first = self.first or what

    def row(self, fault: str, kept: str) -> Row:
        """The row of the table."""
        return Row(fault, self.tried, self.lost, kept, self.first)


def attempt(
    tally: Tally, case: Callable[[], str], name: Callable[[], str], many: float = 1
) -> None:
    """Try one case, which returns its fault, or an empty text.

    Any exception is a loss, and so is a case that uses more than ``HANG_S`` of processor time or
    never ends. A case may count as ``many``.
    """
    tally.tried += 1
    begun_s = time.process_time()
    try:
        with alarm(STUCK_S):
            wrong = case()
    except Stuck:
        wrong = f"did not end in {STUCK_S} s"
    except Exception as error:
        wrong = f"{type(error).__name__}: {str(error)[:300]!r} at {_place(error)}"
    took_s = time.process_time() - begun_s
    tally.longest_s = max(tally.longest_s, took_s)
    if not wrong and took_s > many * HANG_S:
        wrong = f"took {took_s:.1f} s"
    if wrong:
        tally.wrong(f"{name()}: {wrong}")


def _place(error: Exception) -> str:
    at = error.__traceback__
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    return "" if at is None else f"{Path(at.tb_frame.f_code.co_filename).name}:{at.tb_lineno}"


@contextmanager
def alarm(seconds: float) -> Iterator[None]:
    """Raise ``Stuck`` inside the block after a wall-clock limit."""

    def ring(_number: int, _frame: FrameType | None) -> None:
        raise Stuck

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def resident_mb() -> float:
    """Resident memory of this process now, in MB (Linux)."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6
