"""What the policy works on: open jobs, parts on the bench, places and hours, at one moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from math import inf

from benchtimer.job.chain import Chain
from benchtimer.job.job_progress import PartProgress
from benchtimer.job.job_state import Job
from benchtimer.job.order import split_identity
from benchtimer.job.shop_work import Heating, HeatTimes, Piece, ShopWork
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import Placed
from benchtimer.run.run_state import Bench
from benchtimer.values import dataclass, field


@dataclass(frozen=True, slots=True)
class UnfinishedJob:
    """An open job and how far along its parts are."""

    job: Job
    progress: Sequence[PartProgress]


@dataclass(frozen=True, slots=True)
class OnBench:
    """An open run."""

    run: str
    bench: Bench


@dataclass(frozen=True, slots=True)
class PlanMoment:
    """A moment on both clocks.

    Attributes:
        unix_s: by the wall clock.
        bench_ms: bench time.
    """

    unix_s: int
    bench_ms: int
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class Blocked:
    """A part that can't be planned, and why: its recipe is gone, or no hours fit a section."""

    part: str
    recipe: str
    step: str
    why: str

    @property
    def reason(self) -> str:
        """The recipe, the step and why."""
        at = f", {self.step}" if self.step else ""
        return f"{self.recipe}{at}: {self.why}"

    def __str__(self) -> str:
        return f"{self.part}: {self.reason}"


@dataclass(slots=True)
class Workload:
    """A shop with its jobs.

    Attributes:
        due_s: by job, the end of the day it is due, in seconds of the shop.
        blocked: parts that can't be planned; they are not in the shop.
        recipes: the placed recipes, by key.
        learned: your own times and rates, by the id of the recipe.
        set_up: the parts of jobs that are in an open run.
    """

    shop: ShopWork
    moment: PlanMoment
    due_s: dict[str, float]
    blocked: list[Blocked] = field(default_factory=list)
    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    learned: Learned = NOTHING
    set_up: frozenset[str] = frozenset()

    def at(self, seconds: float) -> datetime:
        """The wall-clock time at a second of the shop."""
        return datetime.fromtimestamp(self.moment.unix_s + round(seconds), self.moment.zone)

    def seconds(self, when: datetime) -> float:
        """The second of the shop at a moment."""
        return when.timestamp() - self.moment.unix_s

    def place_title(self, name: str) -> str:
        """What a place is called."""
        stations = (one for recipe in self.recipes.values() for one in recipe.station)
        return next((station.title for station in stations if station.id == name), name)

    def blocked_of(self, job: str) -> list[Blocked]:
        """The parts of a job that can't be planned."""
        return [one for one in self.blocked if split_identity(one.part)[0] == job]

    def heat_words(self, heating: Heating) -> str:
        """What to do to have a place hot."""
        title = self.place_title(heating.place)
        return f"heat off, make up {title}, heat again" if heating.again else f"heat {title}"


def heats_of(placed: Placed) -> dict[str, HeatTimes]:
    """The heating times of the places."""
    return {
        name: HeatTimes(
            place.heat_up_s,
            place.make_up.after_s if place.make_up else inf,
            place.make_up.cool_s + place.make_up.hands_s + place.heat_up_s if place.make_up else 0,
        )
        for name, place in placed.places.items()
        if place.heat_up_s is not None
    }


def fills_of(pieces: Sequence[Piece], chains: Sequence[Chain], placed: Placed) -> dict[str, int]:
    """How many parts each place takes, of those that can be full.

    Args:
        pieces: the parts.
        chains: their chains.
        placed: the recipes with their places.
    """
    holds = {name: place.holds for name, place in placed.places.items()}
    visits: dict[str, int] = {}
    for piece in pieces:
        soaks = {link.soak.place for link in chains[piece.chain].links if link.soak is not None}
        for place in soaks:
            visits[place] = visits.get(place, 0) + 1
    return {place: holds[place] for place, count in visits.items() if holds[place] < count}
