"""The list of runs: the filter in words, and one run as a row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.store.index import Query
from benchtimer.store.log import RunLine
from benchtimer.values import dataclass, fields, replace
from benchtimer.view.home_rows import run_lines
from benchtimer.view.row import Row
from benchtimer.view.space import Size

STATES: Mapping[str, frozenset[str]] = {
    "on the bench": frozenset({"idle", "running", "held"}),
    "complete": frozenset({"complete"}),
    "aborted": frozenset({"aborted"}),
}
"""The states you can filter runs by, and the phases each one means."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which runs to show; empty fields don't filter."""

    part: str = ""
    recipe: str = ""
    verdict: str = ""
    state: str = ""
    date: str = ""
    words: str = ""

    def with_(self, name: str, text: str) -> Filter:
        """The filter with one more condition, or without it."""
        return replace(self, **{name: text.strip()})

    @property
    def query(self) -> Query:
        """The query for the index."""
        return Query(
            part=self.part or None,
            recipe=self.recipe or None,
            verdict=self.verdict or None,
            date=self.date or None,
            words=tuple(self.words.split()),
        )

    @property
    def is_indexed(self) -> bool:
        """Whether the index can answer it; a state is looked up run by run."""
        return any((self.part, self.recipe, self.verdict, self.date, self.words))

    def takes(self, line: RunLine) -> bool:
        """Whether a run in the register is in the state you want."""
        return not self.state or line.phase in STATES[self.state]

    @property
    def said(self) -> str:
        """The filter in words."""
        words = [
            f"{f.name}: {getattr(self, f.name)}" for f in fields(self) if getattr(self, f.name)
        ]
        return ", ".join(words)


def lead_line(wanted: Filter, count: int, more: bool) -> str:
    """How many runs the list has, and the filter.

    Args:
        wanted: the filter.
        count: how many runs.
        more: whether there are more below.
    """
    runs = "1 run" if count == 1 else f"{count} runs"
    text = f"the newest {runs}, more below" if more else runs
    return f"{text} with {wanted.said}   X shows all again" if wanted.said else text


def run_row(line: RunLine, verdicts: Sequence[str], size: Size) -> Row:
    """One run.

    Args:
        line: the run's line in the register.
        verdicts: how its parts came out.
        size: columns and rows of the screen.
    """
    return Row(run_lines(" ", line, verdicts, size), "plain", line.name)
