"""A row of the fault table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """The result of one kind of fault.

    Attributes:
        fault: the fault done to the program, in words for its user.
        tried: the number of tries.
        lost: how often something was lost, wrong, or wrongly accepted.
        kept: what was checked after each try, in words for its user.
        first: the first loss; empty if there was none.
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
