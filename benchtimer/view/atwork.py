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
        if part.is_in_hand or part.phase is PartPhase.DWELLING
    ]


def _waits_in_hand(bench: OpenBench) -> list[str]:
    """The parts taken out and not loaded anywhere yet, by number and name."""
    parts = [part for name in bench.names for part in bench.state(name).bench.parts.values()]
    return [p.label for p in parts if p.is_in_hand and p.phase is PartPhase.WAITING]


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
    out = ", ".join(_waits_in_hand(bench))
    hand = f" In hand with no place yet: {out}." if out else ""
    return f"{count} in process.{hand} No alarms while benchtimer is closed. Q again leaves."
