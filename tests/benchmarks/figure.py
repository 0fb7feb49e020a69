"""A figure: what was measured, against what, how often, and whether it is good enough."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import Any

Pair = tuple[float, float]
"""Ours and the other's, measured one right after the other."""


@dataclass(frozen=True, slots=True)
class Asked:
    """How much is measured.

    Attributes:
        folder: a place for logs, removed at the end.
        quick: only check that everything works; the figures mean little.
    """

    folder: Path
    quick: bool = False

    def rounds(self, full: int, quick: int = 2) -> int:
        """``full`` rounds, or a few in the quick form."""
        return quick if self.quick else full


@dataclass(frozen=True, slots=True)
class Figure:
    """One row of the table.

    Attributes:
        what: what was measured.
        beside: what it was measured against, in the same run.
        pairs: both values of each round.
        unit: of both.
        aim: the limit for the middle ratio; None for no limit.
        faster: whether the ratio is how many times faster ours is (more is better);
            otherwise it is ours over the other's (less is better).
        open: the side that ran out of time: "", "ours", "other" or "both".
        note: a remark for the table.
    """

    what: str
    beside: str
    pairs: tuple[Pair, ...]
    unit: str
    aim: float | None = None
    faster: bool = False
    open: str = ""
    note: str = ""

    @property
    def ratios(self) -> list[float]:
        """The ratio of each round."""
        return [other / ours if self.faster else ours / other for ours, other in self.pairs]

    @property
    def ratio(self) -> float:
        """The middle ratio."""
        return median(self.ratios)

    @property
    def is_met(self) -> bool | None:
        """Whether the aim is met; None without an aim or if neither side finished."""
        if self.aim is None or self.open == "both":
            return None
        return self.ratio >= self.aim if self.faster else self.ratio <= self.aim

    @property
    def verdict(self) -> str:
        """The aim and the verdict."""
        if self.aim is None:
            return ""
        said = {True: "met", False: "MISSED", None: "open"}[self.is_met]
        return f"{'at least' if self.faster else 'at most'} {self.aim:g}: {said}"

    @property
    def ratio_words(self) -> str:
        """The middle ratio, marked as a limit if one side did not finish."""
        if self.open == "both":
            return "-"
        sign = {"ours": "<" if self.faster else ">", "other": ">" if self.faster else "<"}
        return sign.get(self.open, "") + three(self.ratio)

    @property
    def spread_words(self) -> str:
        """The smallest and the largest ratio."""
        if len(self.pairs) < 2 or self.open:
            return ""
        return f"{three(min(self.ratios))} to {three(max(self.ratios))}"

    @property
    def sides_words(self) -> str:
        """The median of each side."""
        ours, other = (median(side) for side in zip(*self.pairs, strict=True))
        return f"{three(ours)} : {three(other)} {self.unit}".rstrip()

    def as_table(self) -> dict[str, Any]:
        """The figure as plain values for programs."""
        return asdict(self) | {"ratio": self.ratio, "is_met": self.is_met}


def three(value: float) -> str:
    """A number with three figures, enough for a ratio."""
    if abs(value) >= 100:
        return f"{value:,.0f}"
    return (
        f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}" if value >= 0.1 else f"{value:.3f}"
    )


def alternate(
    rounds: int, ours: Callable[[], float], other: Callable[[], float]
) -> tuple[Pair, ...]:
    """Measure both in turn, alternating which goes first, so drift affects both equally."""
    pairs: list[Pair] = []
    for number in range(rounds):
        if number % 2:
            second = other()
            pairs.append((ours(), second))
        else:
            first = ours()
            pairs.append((first, other()))
    return tuple(pairs)


def line(figure: Figure) -> str:
    """A figure as a line for the terminal."""
    cells = (
        f"{figure.what[:56]:56} {figure.ratio_words:>7} {'faster' if figure.faster else 'times':6}",
        f"{figure.spread_words:>15} {len(figure.pairs):>4}  {figure.sides_words:24}",
        f"{figure.verdict:20} {figure.note}",
    )
    return " ".join(cells).rstrip()


HEAD = (
    "| what | beside | ratio | least to most | rounds | the two sides | aim | |",
    "|---|---|---:|---:|---:|---:|---|---|",
)


def markdown(figures: Iterable[Figure], machine: str) -> str:
    """All figures as a Markdown table."""
    return "\n".join([f"{machine}\n", *HEAD, *map(_row, figures)])


def _row(figure: Figure) -> str:
    ratio = f"{figure.ratio_words}{' faster' if figure.faster else ''}"
    verdict = figure.verdict.replace("MISSED", "**MISSED**")
    cells = (
        figure.what, figure.beside, ratio, figure.spread_words, str(len(figure.pairs)),
        figure.sides_words, verdict, figure.note,
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def missed(figures: Sequence[Figure]) -> list[str]:
    """The figures that missed their aim."""
    return [figure.what for figure in figures if figure.is_met is False]
