"""Coated-abrasive grits in two systems that share numbers but not sizes.

A P number (FEPA, ISO 6344) and a CAMI number (US, ANSI) mean nearly the same grain up to 220 and
then differ: CAMI 400 is close to P800, CAMI 600 to P1200. They are separate types, and a bare
number is refused.

Source: average particle diameters as tabulated on a woodworking site (2008), which match
the usual ISO/FEPA and CAMI tables; a finish supplier's chart agrees after its rounding.
CAMI 280 is from that second chart. Rows marked otherwise are from memory: a verdict on them
is rough and says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from enum import StrEnum
from itertools import pairwise
from math import ceil, log
from typing import ClassVar, Final

from benchtimer.trade.valid_range import CannotTellError, TradeError, within
from benchtimer.values import dataclass

_FEPA_UM: Final[Mapping[int, float]] = {
    24: 764, 30: 642, 36: 538, 40: 425, 50: 336, 60: 269, 80: 201, 100: 162, 120: 125,
    150: 100, 180: 82, 220: 68, 240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5, 400: 35.0,
    500: 30.2, 600: 25.8, 800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3,
    2500: 8.4, 3000: 6.5, 5000: 5.0,
}  # fmt: skip
_CAMI_UM: Final[Mapping[int, float]] = {
    24: 708, 30: 632, 36: 530, 40: 425, 50: 348, 60: 265, 80: 190, 100: 140, 120: 115,
    150: 92, 180: 82, 220: 68, 240: 53.0, 280: 42.0, 320: 36.0, 360: 28.0, 400: 23.0,
    500: 20.0, 600: 16.0, 800: 12.6, 1000: 10.3, 1200: 6.5, 1500: 3.0, 2000: 1.0,
}  # fmt: skip

USUAL_STEP: Final = 2.0
"""Largest step between neighbors of a ladder, as a ratio of grain sizes, that most makers
would take: common practice, no source."""


class UnknownGritError(TradeError):
    """A grit that is not in the tables.

    Attributes:
        found: the text.
        known: the grits of that system.
    """

    def __init__(self, found: str, known: Sequence[str]) -> None:
        self.found = found
        self.known = tuple(known)
        super().__init__(f'"{found}" is not a grit in the tables: {", ".join(known)}')


class BareGritError(TradeError):
    """A number without its system, which could mean either of two grains."""

    def __init__(self, number: int) -> None:
        self.number = number
        sizes = [
            f"{grit} ({table[number]:g} um)"
            for grit, table in ((f"P{number}", _FEPA_UM), (f"CAMI {number}", _CAMI_UM))
            if number in table
        ]
        meant = " or ".join(sizes) or f"P{number} or CAMI {number}"
        super().__init__(f'grit "{number}" has no system: write {meant}')


@dataclass(frozen=True, slots=True)
class _Grit:
    """What the two systems have in common: a number, a table, a mark.

    Raises:
        UnknownGritError: the number is not in the system's table.
    """

    number: int

    TABLE_UM: ClassVar[Mapping[int, float]]
    FROM_MEMORY: ClassVar[frozenset[int]]
    MARK: ClassVar[str]

    def __post_init__(self) -> None:
        if self.number not in self.TABLE_UM:
            raise UnknownGritError(str(self), [f"{self.MARK}{n}" for n in self.TABLE_UM])

    @property
    def mean_um(self) -> float:
        """Average grain diameter, micrometres."""
        return self.TABLE_UM[self.number]

    @property
    def from_memory(self) -> bool:
        """Whether the size is from memory: verdicts on it are rough."""
        return self.number in self.FROM_MEMORY

    def __str__(self) -> str:
        return f"{self.MARK}{self.number}"


class Fepa(_Grit):
    """A grit of the FEPA P system (ISO 6344), for example ``Fepa(400)``, written P400."""

    __slots__ = ()
    TABLE_UM = _FEPA_UM
    FROM_MEMORY = frozenset({3000, 5000})
    MARK = "P"


class Cami(_Grit):
    """A grit of the US CAMI (ANSI) system, for example ``Cami(400)``, written CAMI 400."""

    __slots__ = ()
    TABLE_UM = _CAMI_UM
    FROM_MEMORY = frozenset({1200, 1500, 2000})
    MARK = "CAMI "


Grit = Fepa | Cami


_WRITTEN = re.compile(r"(?:(P)|(CAMI|ANSI)\s*)(\d{1,4})|(\d{1,4})\s*(CAMI|ANSI)|(\d{1,4})", re.I)


def parse_grit(text: str) -> Grit:
    """Read ``"P400"``, ``"CAMI 400"`` or ``"400 CAMI"`` (``ANSI`` reads as CAMI).

    Raises:
        BareGritError: a number without its system.
        UnknownGritError: not a grit of the tables.
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise UnknownGritError(text, ["P24 to P5000", "CAMI 24 to CAMI 2000"])
    fepa, cami, number, number_before, _, bare = match.groups()
    if bare:
        raise BareGritError(int(bare))
    if fepa:
        return Fepa(int(number))
    return Cami(int(number if cami else number_before))


def parse_ladder(text: str) -> list[Grit]:
    """Read grits separated by commas, for example ``"P180, P320, CAMI 400"``.

    Raises:
        BareGritError, UnknownGritError: as ``parse_grit``.
    """
    return [parse_grit(piece) for piece in text.split(",") if piece.strip()]


def all_fepa() -> list[Fepa]:
    """Every P grit in the table, coarsest first."""
    return [Fepa(number) for number in _FEPA_UM]


def all_cami() -> list[Cami]:
    """Every CAMI grit in the table, coarsest first."""
    return [Cami(number) for number in _CAMI_UM]


def nearest_in_other_system(grit: Grit) -> Grit:
    """The verified grit of the other system whose size is nearest by ratio."""
    others: Sequence[Grit] = all_cami() if isinstance(grit, Fepa) else all_fepa()
    sound = [other for other in others if not other.from_memory]
    return min(sound, key=lambda other: abs(log(other.mean_um / grit.mean_um)))


class StepVerdict(StrEnum):
    """The verdict on one step of a ladder."""

    FINE = "fine"
    TOO_LONG = "too long: a grit is missing"
    NOT_FINER = "does not get finer"


@dataclass(frozen=True, slots=True)
class LadderStep:
    """One step of a ladder.

    Attributes:
        coarse: the grit before.
        fine: the grit after.
        ratio: size before divided by size after; at 1 or less it does not get finer.
        verdict: the verdict on it.
        missing: grits that would split a step that is too long, coarsest first.
        rough: a size is from memory, so the verdict is rough.
    """

    coarse: Grit
    fine: Grit
    ratio: float
    verdict: StepVerdict
    missing: tuple[Grit, ...] = ()
    rough: bool = False


def ladder(grits: Sequence[Grit], most_ratio: float = USUAL_STEP) -> list[LadderStep]:
    """Judge a ladder of grits step by step, by grain size and not by number.

    Args:
        grits: two or more grits in the order of use.
        most_ratio: largest step accepted, as a ratio of sizes, 1.2 to 10.

    Raises:
        CannotTellError: fewer than two grits.
        OutOfRangeError: a ratio outside 1.2 to 10.
    """
    within("largest step", most_ratio, 1.2, 10, "", "ratio of grain sizes")
    if len(grits) < 2:
        raise CannotTellError(
            "the ladder", "it has fewer than two grits", 'write "P180, P240, P320"'
        )
    return [_step(a, b, most_ratio) for a, b in pairwise(grits)]


def _step(coarse: Grit, fine: Grit, most_ratio: float) -> LadderStep:
    ratio = coarse.mean_um / fine.mean_um
    rough = coarse.from_memory or fine.from_memory
    if ratio <= 1:
        return LadderStep(coarse, fine, ratio, StepVerdict.NOT_FINER, rough=rough)
    if ratio <= most_ratio * (1 + 1e-9):
        return LadderStep(coarse, fine, ratio, StepVerdict.FINE, rough=rough)
    missing = _missing(coarse, fine, most_ratio)
    return LadderStep(coarse, fine, ratio, StepVerdict.TOO_LONG, missing, rough)


def _missing(coarse: Grit, fine: Grit, most_ratio: float) -> tuple[Grit, ...]:
    """The fewest grits of the coarser one's system that make every step short enough. If that is
    impossible, all the grits in between.
    """
    system: Sequence[Grit] = all_fepa() if isinstance(coarse, Fepa) else all_cami()
    inside = [g for g in system if not g.from_memory and fine.mean_um < g.mean_um < coarse.mean_um]
    least = ceil(log(coarse.mean_um / fine.mean_um) / log(most_ratio))
    for pieces in range(max(least, 2), len(inside) + 1):
        picks = _even_split(coarse, fine, inside, pieces)
        if _longest((coarse, *picks, fine)) <= most_ratio:
            return picks
    return tuple(inside)


def _even_split(coarse: Grit, fine: Grit, inside: Sequence[Grit], pieces: int) -> tuple[Grit, ...]:
    """The grits nearest to steps of equal ratio, coarsest first."""
    ratio = coarse.mean_um / fine.mean_um
    wanted = [coarse.mean_um / ratio ** (k / pieces) for k in range(1, pieces)]
    picks = {min(inside, key=lambda g: abs(log(g.mean_um / um))) for um in wanted}
    return tuple(sorted(picks, key=lambda g: -g.mean_um))


def _longest(grits: Sequence[Grit]) -> float:
    return max(a.mean_um / b.mean_um for a, b in pairwise(grits))
