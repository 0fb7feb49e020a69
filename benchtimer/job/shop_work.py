"""The work to do in the shop at one moment, and its outcome."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from math import inf
from typing import NamedTuple

from benchtimer.job.chain import NEVER, Chain, PlaceNeed
from benchtimer.job.starts import SectionStarts
from benchtimer.job.worktime import WorkTime
from benchtimer.values import dataclass, field

REST, SOAK, OUT = 0, 1, 2
"""The state of a part: at rest before a step, in a dwell with a max, done."""


SCARCE, WAITS, AT_WILL = 0, 1, 2
"""Parts at rest come in this order: those with few safe starts, those that can only rest for a
while, and those that rest at will."""


@dataclass(frozen=True, slots=True)
class HeatTimes:
    """The heating times of a place, in seconds.

    Attributes:
        after_s: time at heat after which it needs a make-up, which takes ``again_s``.
    """

    heat_up_s: int
    after_s: float = inf
    again_s: int = 0


HeatNeed = tuple[PlaceNeed, HeatTimes]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a part is at the start.

    Attributes:
        where: ``REST``, ``SOAK`` or ``OUT``.
        step: the step it rests before, or the one whose dwell it is in.
        since_s: when it is ready at rest, or when it went into the dwell; before the start is
            below zero.
        in_hand: work on that step is under way.
    """

    where: int = REST
    step: int = 0
    since_s: float = 0
    in_hand: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One part of the shop, of a job or on the bench without one.

    Attributes:
        job: its job; empty without one.
        chain: number of its chain.
        needs: for each part it waits for, the numbers of the pieces, any one of which will do.
        latest: for each step that begins at rest the latest start that makes the due date.
    """

    name: str
    job: str
    chain: int
    standing: Standing = field(default_factory=Standing)
    needs: tuple[tuple[int, ...], ...] = ()
    latest: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class ShopWork:
    """All the work to do, and the hours, with the present as second 0.

    Attributes:
        sections: what is known about the sections of each chain.
        fills: how many parts each limited place takes.
        heats: the places that are heated.
        hot: places that are hot at the start, and since when.
        hands: how many people work.
    """

    hours: WorkTime
    chains: Sequence[Chain]
    sections: Sequence[Mapping[int, SectionStarts]]
    pieces: Sequence[Piece]
    fills: Mapping[str, int] = field(default_factory=dict)
    heats: Mapping[str, HeatTimes] = field(default_factory=dict)
    hot: Mapping[str, float] = field(default_factory=dict)
    hands: int = 1

    @cached_property
    def heated(self) -> list[Mapping[int, list[HeatNeed]]]:
        """The heated places that a section needs, by chain and the step it starts with."""
        return [
            {
                index: [(use, self.heats[use.place]) for use in uses if use.place in self.heats]
                for index, uses in chain.uses.items()
            }
            for chain in self.chains
        ]

    @cached_property
    def turns(self) -> list[list[tuple[int, float, int]]]:
        """By piece and step, its turn among those that rest at will: lowest first."""
        found = []
        for k, piece in enumerate(self.pieces):
            sections = self.sections[piece.chain]
            scarce = {step for step, section in sections.items() if section.scarce}
            found.append(
                [
                    (SCARCE if step in scarce else AT_WILL, piece.latest.get(step, NEVER), k)
                    for step in range(len(self.chains[piece.chain].links))
                ]
            )
        return found

    @cached_property
    def filled(self) -> list[Mapping[int, list[str]]]:
        """The same for the places that can be full."""
        return [
            {
                index: [use.place for use in uses if use.place in self.fills]
                for index, uses in chain.uses.items()
            }
            for chain in self.chains
        ]


@dataclass(frozen=True, slots=True)
class Act:
    """One piece of work in a simulation.

    Attributes:
        first: the first step, and ``last`` the last.
        pulled: the part came out of a dwell with a max.
        next_s: when it will be pulled, if it went into such a dwell.
    """

    start_s: float
    end_s: float
    piece: int
    first: int
    last: int
    pulled: bool
    next_s: float = NEVER


class Heating(NamedTuple):
    """A place that is heated in a simulation.

    Attributes:
        again: it was hot for so long that it needs a make-up first.
    """

    at_s: float
    place: str
    again: bool


@dataclass(slots=True)
class Played:
    """The outcome of one simulation.

    Attributes:
        ends: when each piece was done; ``NEVER`` if it was not.
        hands_s: total hands-on time.
        losses: time lost by far send-backs, by piece and check.
        acts: the work in order, if requested.
        heats: places heated, and when, if requested.
        missed: sections started over because a pull was missed, and ``given_up`` starts given up
            because the pull would have been outside the hours.
        failed_late: parts set aside because a check failed too late to continue in these hours.
        blanks: new blanks for parts that their recipe stopped.
    """

    ends: list[float]
    hands_s: float = 0
    losses: dict[tuple[int, str], float] = field(default_factory=dict)
    acts: list[Act] = field(default_factory=list)
    heats: list[Heating] = field(default_factory=list)
    missed: int = 0
    given_up: int = 0
    failed_late: int = 0
    blanks: int = 0
