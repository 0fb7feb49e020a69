"""The register's line of a run. It loads nothing, because you wait for it while you type a name."""

from __future__ import annotations

from dataclasses import dataclass

OPEN = frozenset(("idle", "running", "held"))
"""The phases of runs that are not over, as ``run.run_state`` has them."""


@dataclass(frozen=True, slots=True)
class RunLine:
    """One row of the register of runs."""

    name: str
    phase: str
    title: str
    parts: tuple[str, ...]
    created_ms: int
    offset_s: int
