"""What a new run is set up from: new, or the recipes, parts and settings of an earlier run with new
names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from benchtimer.recipe.places import ShopPlace
from benchtimer.recipe.raw_tables import Table
from benchtimer.recipe.writer import recipe_table
from benchtimer.run.event_builder import Now
from benchtimer.run.events import Event
from benchtimer.run.evolve import fold
from benchtimer.run.layout import EntersAt, create
from benchtimer.run.refusals import BadValue
from benchtimer.run.run_state import OVER, RunState
from benchtimer.store.entries import created_of
from benchtimer.store.log import LogEntry
from benchtimer.values import dataclass, field


@dataclass(frozen=True, slots=True)
class NewRun:
    """What a new run is set up from.

    Attributes:
        title: what it is called.
        recipes: recipe tables by key, adjustments included.
        parts: name and recipe key of each part.
        properties: what is known about each part, such as its temper.
        away: hours when you are away, every day, such as "22:00-07:00".
        adjustments: the changes, as text for the record.
        hands: people who work.
        baths: the bath chosen for a station, by the station's id or its address ``RECIPE.STATION``;
            the program picks the others.
        files: file of each recipe that was named by a path, by its key.
        enters: where half-done parts enter their recipe, by name.
        counts: pieces of each part that is a batch, by name.
        jobs: what parts of jobs are called in the log, by their names in this run.
    """

    title: str
    recipes: Mapping[str, Table]
    parts: Sequence[tuple[str, str]]
    properties: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    away: tuple[str, ...] = ()
    adjustments: tuple[str, ...] = ()
    hands: int = 1
    baths: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    enters: Mapping[str, EntersAt] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    jobs: Mapping[str, str] = field(default_factory=dict)

    def created(
        self,
        now: Now,
        *,
        uid: str,
        speed: float = 1,
        baths: Mapping[str, str] | None = None,
        taken: frozenset[int] = frozenset(),
        shop: Sequence[ShopPlace] = (),
    ) -> list[Event]:
        """The first event of the run.

        Args:
            now: bench time and who sets the run up.
            uid: the run's unique id.
            speed: bench seconds per real second.
            baths: names of baths of the bath book, by station address ``RECIPE.STATION``.
            taken: part numbers that other runs on the bench have.
            shop: places that the settings declare.

        Raises:
            Refused: as ``layout.create``.
        """
        return create(
            now, uid=uid, title=self.title, recipes=self.recipes, parts=list(self.parts),
            properties=self.properties, away=self.away, adjustments=self.adjustments,
            hands=self.hands, speed=speed, baths=baths, files=self.files, taken=taken, shop=shop,
            enters=self.enters, counts=self.counts, jobs=self.jobs,
        )  # fmt: skip


def run_again(
    entries: Sequence[LogEntry], names: Sequence[str] = (), taken: Iterable[str] = ()
) -> NewRun:
    """An earlier run, from its entries, to set up again.

    Its recipes include the changes made for that run; its baths are chosen again. A part that
    entered half done enters at the same step, without a note of what was done before.

    Args:
        entries: all of the run's log.
        names: what the parts are called now, in the order of their numbers; none: new names.
        taken: names that are already in use.

    Raises:
        Refused: more or fewer names than the run had parts.
        ValueError: the entries are not those of a run.
    """
    first = created_of(entries)
    bench = fold(entry.event for entry in entries).bench
    parts = sorted(bench.parts.values(), key=lambda part: part.number)
    chosen = list(names) or new_names([part.name for part in parts], taken)
    if len(chosen) != len(parts):
        had = ", ".join(part.name for part in parts)
        found = f"{len(chosen)} names for {len(parts)} parts ({had})"
        raise BadValue("Can't set it up again", found, f"Give {len(parts)} names, or none")
    named = {part.name: name for part, name in zip(parts, chosen, strict=True)}
    steps = {p.name: bench.sources[p.recipe].step[p.entered].id for p in parts if p.entered}
    return NewRun(
        title=first.title,
        recipes={key: recipe_table(recipe) for key, recipe in bench.sources.items()},
        parts=[(named[part.name], part.recipe) for part in parts],
        properties={
            named[part.name]: {key: str(value) for key, value in part.properties.items()}
            for part in parts
            if part.properties
        },
        away=bench.away,
        adjustments=first.adjustments,
        hands=bench.hands,
        files=first.files,
        enters={named[name]: EntersAt(step) for name, step in steps.items()},
        counts={named[part.name]: part.count_begun for part in parts if part.count_begun > 1},
    )


def new_names(names: Iterable[str], taken: Iterable[str] = ()) -> list[str]:
    """The next free name for each: ``bolster`` gives ``bolster 2``, ``bolster 2`` gives 3.

    Args:
        names: the old names.
        taken: names that are already in use.
    """
    old = list(names)
    used, found = {*old, *taken}, []
    for name in old:
        match = re.fullmatch(r"(.*\S)\s+(\d{1,6})", name)
        stem, number = (match[1], int(match[2])) if match else (name, 1)
        while f"{stem} {number + 1}" in used:
            number += 1
        found.append(f"{stem} {number + 1}")
        used.add(found[-1])
    return found


def twin_of(new: NewRun, states: Mapping[str, RunState]) -> str | None:
    """The open run that already has the same parts and recipes, if any.

    Parts of two jobs with the same name are not the same.
    """
    wanted = sorted((new.jobs.get(name, name), recipe) for name, recipe in new.parts)
    for name, state in states.items():
        bench = state.bench
        called = {name: bench.jobs.get(name, name) for name in bench.parts}
        there = sorted((called[part.name], part.recipe) for part in bench.parts.values())
        if there == wanted and bench.phase not in OVER:
            return name
    return None
