"""Keep apart: pairs of chemistry, what happens, how bad it is, and the source.

The levels follow ANSI Z535.4: danger will, and warning could, kill or maim; caution could cause
minor injury. If no source gives a level, it is the program's own judgment: explosion, fire or
poison gas is danger; heat and spray or fuel for a fire is warning; gas from an open tub is caution.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product
from typing import Final, Literal

from benchtimer.trade.dangers import Level
from benchtimer.trade.figure import FigureSource, SourceStatus
from benchtimer.values import dataclass

Chemistry = Literal[
    "acid",
    "alkali",
    "carbonate",
    "nitrite",
    "nitrate",
    "chlorine-releaser",
    "ammonium",
    "flammable",
    "oil-wax",
    "epoxy",
    "reactive-metal",
]
"""What a bath or a mix contains, as far as it matters for what it meets."""

HAZARDOUS: Final[frozenset[Chemistry]] = frozenset(
    {
        "acid",
        "alkali",
        "nitrite",
        "nitrate",
        "chlorine-releaser",
        "ammonium",
        "flammable",
        "epoxy",
        "reactive-metal",
    }
)
"""Chemistry that is dangerous by itself: a recipe needs a hazard text before it."""

BURNS_C: Final = 60.0
"""A bath that can be this hot burns skin in seconds, no matter what it contains."""

_EPA: Final = (
    '40 CFR 264 and 265, Appendix V, "Examples of potentially incompatible waste", group {}'
)
_NOAA: Final = "NOAA reactive groups, cameochemicals.noaa.gov, pair {}"


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two kinds of chemistry that must not meet.

    Attributes:
        first: one of them, and ``second`` the other; the order doesn't matter.
        level: how bad it is.
        effect: what happens, in a few words.
        source: where it comes from.
    """

    first: Chemistry
    second: Chemistry
    level: Level
    effect: str
    source: FigureSource


def _published(text: str) -> FigureSource:
    return FigureSource(text, SourceStatus.PUBLISHED)


CONFLICTS: Final = (
    Conflict("acid", "alkali", "danger", "violent heat and spray",
             _published(_EPA.format("1-A with 1-B"))),
    Conflict("acid", "nitrite", "danger", "poison gas (nitrogen oxides)",
             _published(_NOAA.format("RG69-RG1"))),
    Conflict("acid", "nitrate", "danger", "poison gas and fire",
             _published("ICSC 1120 (sodium nitrite and nitrate salts), ilo.org: keep from acids")),
    Conflict("acid", "chlorine-releaser", "danger", "chlorine gas",
             _published(_NOAA.format("RG44-RG60"))),
    Conflict("acid", "reactive-metal", "danger", "flammable hydrogen, fire",
             _published(_EPA.format("2-A with 1-B"))),
    Conflict("acid", "carbonate", "caution", "foam and carbon dioxide; a closed vessel bursts",
             _published(_NOAA.format("RG62-RG3"))),
    Conflict("alkali", "reactive-metal", "danger", "flammable hydrogen, fire",
             _published(_EPA.format("2-A with 1-A"))),
    Conflict("alkali", "ammonium", "danger", "ammonia gas",
             _published("ICSC 0360 (sodium hydroxide), ilo.org: ammonium salts give ammonia")),
    Conflict("nitrite", "ammonium", "danger", "explosion",
             _published("compound reactivity profile of sodium nitrite (Von Schwartz 1918): "
                        "violent explosion when melted with an ammonium salt")),
    Conflict("nitrate", "ammonium", "danger", "fire, explosion",
             _published("National Academies, Prudent Practices, table 3.9, books.nap.edu 4911: "
                        "ammonium nitrate is never stored in contact with others")),
    Conflict("nitrite", "flammable", "danger", "fire, explosion",
             _published("ICSC 1120, ilo.org: oxidizer, store apart from combustibles")),
    Conflict("nitrate", "flammable", "danger", "fire, explosion",
             _published("ICSC 1120, ilo.org: oxidizer, store apart from combustibles")),
    Conflict("nitrite", "oil-wax", "warning", "feeds a fire",
             _published("California Title 8, section 5188 (molten nitrate baths, taken as an "
                        "analogy): parts free of oil and dry before entry")),
    Conflict("nitrate", "oil-wax", "warning", "feeds a fire",
             _published("California Title 8, section 5188 (molten nitrate baths, taken as an "
                        "analogy): parts free of oil and dry before entry")),
    Conflict("chlorine-releaser", "ammonium", "danger", "explosive compounds, poison gas",
             _published("Chlorine Institute, sodium hypochlorite incompatibility chart")),
    Conflict("chlorine-releaser", "flammable", "danger", "explosive compounds, chlorine gas",
             _published("Chlorine Institute, sodium hypochlorite incompatibility chart")),
    Conflict("chlorine-releaser", "oil-wax", "warning", "heat, chlorine gas",
             _published("Chlorine Institute, sodium hypochlorite incompatibility chart")),
)  # fmt: skip
"""Every pair that must not meet."""

NAMES: Final[dict[Chemistry, str]] = {
    "chlorine-releaser": "bleach",
    "ammonium": "ammonium salts",
    "flammable": "flammable liquid",
    "oil-wax": "oil or wax",
    "epoxy": "resin and hardener",
    "reactive-metal": "aluminum, zinc or tin",
}
"""What a maker calls a chemistry; the others keep their own names."""


def said(chemistry: Chemistry) -> str:
    """A chemistry in everyday words."""
    return NAMES.get(chemistry, chemistry)


def conflicts(one: Iterable[Chemistry], other: Iterable[Chemistry]) -> Iterator[Conflict]:
    """Every conflict between what is here and what is there, each once, in the table's order."""
    met = {frozenset(pair) for pair in product(tuple(one), tuple(other))}
    yield from (c for c in CONFLICTS if frozenset((c.first, c.second)) in met)


def conflicts_within(chemistry: Iterable[Chemistry]) -> Iterator[Conflict]:
    """Every conflict inside one vessel or mix."""
    held = tuple(chemistry)
    yield from conflicts(held, held)
