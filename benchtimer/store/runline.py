"""The register's line of a run. It imports little, because completion waits for it."""

from __future__ import annotations

from benchtimer.values import dataclass

OPEN = frozenset(("idle", "running", "held"))
"""The phases of open runs, as in ``run.run_state``."""


@dataclass(frozen=True, slots=True)
class RunLine:
    """One row of the register of runs."""

    name: str
    phase: str
    title: str
    parts: tuple[str, ...]
    created_ms: int
    offset_s: int
