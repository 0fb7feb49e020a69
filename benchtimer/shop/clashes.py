"""What different runs, and the baths of the bath book, have open and must not meet.

Only dangerous pairs of the table of ``trade.compatibility`` count: a pair within one run already
has its page there (``run.hazards``), and a pair that one recipe orders safely is a line of
``check_list``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.recipe.model import Hazard
from benchtimer.run.hazards import Pair, clash_page, danger_pairs
from benchtimer.run.run_state import Bench
from benchtimer.trade.compatibility import Chemistry
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class OpenBath:
    """An open bath in the bath book.

    Attributes:
        name: its name in the book.
        of: what it is, in words.
        chemistry: what it contains.
    """

    name: str
    of: str
    chemistry: tuple[Chemistry, ...]


def pages_against(
    bench: Bench, others: Mapping[str, Bench], book: Sequence[OpenBath] = ()
) -> tuple[Hazard, ...]:
    """A page for each dangerous pair that a run's baths make with what else is open.

    Args:
        bench: the run's bench.
        others: the other runs on the bench, by name.
        book: what the bath book has open; a bath that a run uses counts there.
    """
    found: dict[tuple[str, str], list[Pair]] = {}
    own = [place.station for place in bench.places.values() if place.station.chemistry]
    for title, chemistry in _open_elsewhere(bench, others, book):
        for station in own:
            for pair in danger_pairs(station, title, chemistry):
                found.setdefault((pair.conflict.first, pair.conflict.second), []).append(pair)
    return tuple(clash_page(pairs) for pairs in found.values())


def _open_elsewhere(
    bench: Bench, others: Mapping[str, Bench], book: Sequence[OpenBath]
) -> list[tuple[str, tuple[Chemistry, ...]]]:
    """Titles and chemistry of everything open outside a run: baths of started runs, and the
    book's.
    """
    open_runs = {run: other for run, other in others.items() if other.has_begun()}
    used = {name for other in (bench, *open_runs.values()) for name in other.baths.values()}
    elsewhere = [
        (f"{place.station.title} (run {run})", place.station.chemistry)
        for run, other in open_runs.items()
        for place in other.places.values()
        if place.station.chemistry
    ]
    return elsewhere + [(f"{k.of} ({k.name})", k.chemistry) for k in book if k.name not in used]
