"""Which places of the runs on the bench are one real tank, rack or sink.

The rules are those of ``recipe.places``, over all open runs: one bath of the bath book is one
place; else two are one only if id, title, bath and chemistry of their stations agree. Anything
else is two places, whatever the ids are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchtimer.recipe.model import Station
from benchtimer.recipe.places import address, alike
from benchtimer.run.state import Bench

At = tuple[str, str]
"""A place of a run: the run's name and the id of the place there."""


@dataclass(slots=True)
class _Real:
    """One real place: the stations put there, and its bath if it is known."""

    name: str
    bath: str | None
    stations: list[Station] = field(default_factory=list)

    def is_also(self, bath: str | None, stations: list[Station]) -> bool:
        if self.bath is not None and bath is not None:
            return self.bath == bath
        return any(alike(one, other) for one in self.stations for other in stations)


def real_places(benches: Mapping[str, Bench]) -> dict[At, str]:
    """The name of the real place behind each place of each run, the same for the same one.

    Args:
        benches: the open runs, oldest first.
    """
    reals: list[_Real] = []
    found: dict[At, str] = {}
    for run, bench in benches.items():
        taken: set[str] = set()  # two places of one run are never one
        for place, stations in _stations_at(bench).items():
            bath = bench.baths.get(place)
            free = (r for r in reals if r.name not in taken and r.is_also(bath, stations))
            real = next(free, None)
            if real is None:
                real = _Real(_free_name(place, reals), bath)
                reals.append(real)
            real.bath = real.bath if real.bath is not None else bath
            real.stations += stations
            taken.add(real.name)
            found[run, place] = real.name
    return found


def _stations_at(bench: Bench) -> dict[str, list[Station]]:
    """The stations of a run's recipes by the place they are put at."""
    found: dict[str, list[Station]] = {name: [] for name in bench.places}
    for key, recipe in bench.sources.items():
        for station in recipe.station:
            found[bench.at[address(key, station.id)]].append(station)
    return found


def _free_name(place: str, reals: list[_Real]) -> str:
    taken = {real.name for real in reals}
    names = (place, *(f"{place}-{number}" for number in range(2, len(taken) + 3)))
    return next(name for name in names if name not in taken)
