"""A line of the fault table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What one kind of fault did.

    Attributes:
        fault: what was done to the program, in words for its user.
        tried: how often.
        lost: how often something was lost, wrong, or let in that should not have been.
        kept: what was looked at after each, in words for its user.
        first: the first thing that went wrong, empty if nothing did.
    """

    fault: str
    tried: int
    lost: int
    kept: str
    first: str = ""


def table(rows: Sequence[Row]) -> str:
    """The rows as a Markdown table."""
    lines = ["| what was done | times | lost | looked at after each |", "|---|---:|---:|---|"]
    lines += [f"| {row.fault} | {row.tried:,} | {row.lost:,} | {row.kept} |" for row in rows]
    return "\n".join(lines)
