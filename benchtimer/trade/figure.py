"""A figure: a result with its inputs, steps, sources, limits and hazards. This module calculates
nothing except straight-line interpolation between the rows of a printed table; the sheets fill in
these records, and the command line, the recipe pages and the tests read them.
"""

from __future__ import annotations

import textwrap
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from enum import StrEnum

from benchtimer.quantity import show_number
from benchtimer.values import dataclass


class SourceStatus(StrEnum):
    """How reliable a source is."""

    STANDARD = "standard"
    HANDBOOK = "handbook table"
    PUBLISHED = "published page or paper"
    LIBRARY = "library and version"
    ARITHMETIC = "arithmetic from definitions"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"

    @property
    def may_judge(self) -> bool:
        """Whether a verdict can depend on it: a figure from memory is only shown."""
        return self is not SourceStatus.MEMORY


@dataclass(frozen=True, slots=True)
class FigureSource:
    """Where a figure comes from."""

    cite: str
    status: SourceStatus

    def __str__(self) -> str:
        if self.status is SourceStatus.ARITHMETIC:
            return self.cite
        return f"{self.cite} [{self.status}]"


@dataclass(frozen=True, slots=True)
class Amount:
    """A value in one unit, with its meaningful decimal places."""

    value: float
    unit: str
    places: int = 1

    def __str__(self) -> str:
        # Adding 0.0 turns a rounded -0.0 into 0.0, so that no one is asked to boil off minus zero.
        text = show_number(round(self.value, self.places) + 0.0, max(self.places, 0))
        return f"{text} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class ResultLine:
    """One result.

    Attributes:
        label: what it is, unique within a figure where a program may want to find it.
        value: the value; a line of one label always has the same unit, large or small.
        also: the same value in other units, as steady as the first.
        note: a remark.
        bound: words before the value if it is only a bound: "at least", "up to".
        shown: the text to show instead, in units of a convenient size; empty for value and also.
    """

    label: str
    value: Amount | str
    also: tuple[Amount, ...] = ()
    note: str = ""
    shown: tuple[Amount, ...] = ()
    bound: str = ""

    @property
    def text(self) -> str:
        """The result without its label, for example ``"94.98 C (202.97 F)"``."""
        amounts: tuple[Amount | str, ...] = self.shown or (self.value, *self.also)
        first, *rest = map(str, amounts)
        others = f" ({', '.join(rest)})" if rest else ""
        bound = f"{self.bound} " if self.bound else ""
        return f"{bound}{first}{others}{'; ' + self.note if self.note else ''}"

    def as_dict(self) -> dict[str, object]:
        """Plain values for JSON; numbers are not rounded, ``text`` is."""
        plain: dict[str, object] = {"label": self.label, "text": self.text}
        if isinstance(self.value, Amount):
            plain |= {"value": self.value.value, "unit": self.value.unit}
        else:
            plain |= {"value": self.value, "unit": ""}
        plain["also"] = [{"value": a.value, "unit": a.unit} for a in self.also]
        plain["note"] = self.note
        return plain


class Origin(StrEnum):
    """Where an input came from."""

    WRITTEN = "written"
    SHOP = "shop setting"
    DEFAULT = "default"


@dataclass(frozen=True, slots=True)
class Given:
    """One input as it was written, or its default."""

    name: str
    text: str
    origin: Origin = Origin.WRITTEN

    def __str__(self) -> str:
        said = "" if self.origin is Origin.WRITTEN else f" ({self.origin})"
        return f"{self.name} = {self.text}{said}"


@dataclass(frozen=True, slots=True)
class Figure:
    """One answer with everything needed to check it.

    Attributes:
        title: what was worked out.
        results: the answer, most wanted line first.
        working: the steps, one short line each.
        sources: where each table, formula and rule comes from.
        limits: where the answer stops being true.
        hazards: what can hurt, and what to do about it.
        given: the inputs; filled in by the registry of topics.
        topic: the name it was asked by; filled in likewise.
    """

    title: str
    results: tuple[ResultLine, ...]
    working: tuple[str, ...]
    sources: tuple[FigureSource, ...]
    limits: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    given: tuple[Given, ...] = ()
    topic: str = ""

    def as_dict(self) -> dict[str, object]:
        """The figure in lists, texts and numbers, ready for JSON."""
        return {
            "topic": self.topic,
            "title": self.title,
            "given": [
                {"name": g.name, "text": g.text, "origin": str(g.origin)} for g in self.given
            ],
            "results": [line.as_dict() for line in self.results],
            "working": list(self.working),
            "sources": [{"cite": s.cite, "status": str(s.status)} for s in self.sources],
            "limits": list(self.limits),
            "hazards": list(self.hazards),
        }


def render_text(figure: Figure, width: int = 88) -> str:
    """The figure as plain text, ending in a newline; hazards come before the results.

    Args:
        figure: what to show.
        width: columns to wrap at, 40 or more.
    """
    return "\n".join(_text_lines(figure, max(width, 40))) + "\n"


def _text_lines(figure: Figure, width: int) -> Iterator[str]:
    yield figure.title
    yield from _section("given", [str(g) for g in figure.given], width)
    yield from _section("hazard", list(figure.hazards), width)
    yield from _section("result", _aligned(figure.results), width)
    yield from _section("working", list(figure.working), width)
    yield from _section("limits", list(figure.limits), width)
    yield from _section("sources", [str(s) for s in figure.sources], width)


def _aligned(lines: tuple[ResultLine, ...]) -> list[str]:
    room = max((len(line.label) for line in lines), default=0)
    return [f"{line.label:<{room}}  {line.text}" for line in lines]


def _section(name: str, items: list[str], width: int) -> Iterator[str]:
    if not items:
        return
    yield ""
    yield name
    for item in items:
        yield from textwrap.wrap(
            item, width, initial_indent="  ", subsequent_indent="      ", drop_whitespace=True
        )


def between(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    """The y that belongs to x, on straight lines between the rows.

    Args:
        xs: the table's arguments, strictly increasing, at least two.
        ys: the table's values, one per argument.
        x: from the first argument to the last; the caller has checked the range.
    """
    row = min(max(bisect_right(xs, x) - 1, 0), len(xs) - 2)
    share = (x - xs[row]) / (xs[row + 1] - xs[row])
    return ys[row] + share * (ys[row + 1] - ys[row])
