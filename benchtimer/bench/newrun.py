"""What a run is set up from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from benchtimer.recipe.raw_tables import Table
from benchtimer.run.layout import EntersAt


@dataclass(frozen=True, slots=True)
class NewRun:
    """What a run is set up from.

    Attributes:
        title: what it is called.
        recipes: recipe tables by key, adjustments made.
        parts: name and recipe key of each part.
        properties: what is known of each part, such as its temper.
        away: hours when you are away, every day, such as "22:00-07:00".
        adjustments: the changes made, as texts for the record.
        hands: people who work.
        baths: bath of the bath book wanted in a station, by its id or its address
            ``RECIPE.STATION``; others are chosen.
        files: file of each recipe that was named by a path, by its key.
        enters: where parts enter their recipe that are half done, by name.
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
