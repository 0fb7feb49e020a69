"""Which places of the runs on the bench are one real tank, rack or sink.

The rules are those of ``recipe.places``, over all open runs: stations that the settings put at one
place are one place, and so are stations with the same bath from the book; otherwise two are one
only if id, title, bath and chemistry of their stations agree. Anything else is two places, even if
the ids are the same.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from benchtimer.recipe.model import Station
from benchtimer.recipe.places import address, alike
from benchtimer.run.run_state import Bench
from benchtimer.values import dataclass

At = tuple[str, str]
"""A place of a run: the run's name and the id of the place there."""


@dataclass(slots=True)
class _Standing:
    """What is known about a place: its stations, its bath, and its name in the settings."""

    stations: list[Station]
    bath: str | None
    declared: str | None

    def is_also(self, other: _Standing) -> bool:
        """Whether another place is the same one."""
        if self.declared is not None and other.declared is not None:
            return self.declared == other.declared
        if self.bath is not None and other.bath is not None:
            return self.bath == other.bath
        return any(alike(one, two) for one in self.stations for two in other.stations)

    def learn(self, other: _Standing) -> None:
        """Add what another run knows about the same place."""
        self.stations += other.stations
        self.bath = self.bath if self.bath is not None else other.bath
        self.declared = self.declared if self.declared is not None else other.declared


def real_places(benches: Mapping[str, Bench]) -> dict[At, str]:
    """The name of the real place for each place of each run.

    Args:
        benches: the open runs, oldest first.
    """
    reals: dict[str, _Standing] = {}
    found: dict[At, str] = {}
    for run, bench in benches.items():
        taken: set[str] = set()  # two places of one run are never the same
        for place, standing in _standing(bench).items():
            same = (n for n, real in reals.items() if n not in taken and real.is_also(standing))
            name = next(same, None)
            if name is None:
                name = _free_name(place, reals)
                reals[name] = _Standing([], None, None)
            reals[name].learn(standing)
            taken.add(name)
            found[run, place] = name
    return found


def _standing(bench: Bench) -> dict[str, _Standing]:
    """What is known about each place of a run."""
    found = {name: _Standing([], bench.baths.get(name), None) for name in bench.places}
    declared = {at: place.id for place in bench.shop for at in place.stations}
    for key, recipe in bench.sources.items():
        for station in recipe.station:
            at = address(key, station.id)
            place = found[bench.at[at]]
            place.stations.append(station)
            place.declared = place.declared or declared.get(at)
    return found


def _free_name(place: str, taken: Collection[str]) -> str:
    names = (place, *(f"{place}-{number}" for number in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)
