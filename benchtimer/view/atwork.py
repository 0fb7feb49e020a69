"""What to know before you leave the bench."""

from __future__ import annotations

from benchtimer.bench.open_bench import OpenBench
from benchtimer.run.run_state import PartPhase


def parts_at_work(bench: OpenBench) -> list[str]:
    """The parts in hand or in a station, in all runs."""
    return [
        part.name
        for name in bench.names
        for part in bench.state(name).bench.parts.values()
        if part.phase in (PartPhase.IN_HAND, PartPhase.DWELLING)
    ]


def leaves_behind(bench: OpenBench) -> str:
    """What you should know before you leave now; empty if nothing."""
    if bench.read_only:
        return ""
    if bench.unsaved_entries:
        return "Not saved yet. Q again leaves anyway and says where it is kept."
    parts = parts_at_work(bench)
    if not parts:
        return ""
    count = "1 part is" if len(parts) == 1 else f"{len(parts)} parts are"
    return f"{count} in process. No alarms while benchtimer is closed. Q again leaves."
