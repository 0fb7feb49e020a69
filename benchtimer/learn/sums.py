"""What all runs taught, added up in whole numbers, so that a run can be removed exactly.

Each run has a weight that doubles every ``HALF_LIFE_DAYS``, counted from a fixed day. A sum over
runs, divided by the weight of today, is then a sum in which a run of that age counts half. Old data
counts less, and no sum has to be recalculated as data ages.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from benchtimer.learn.observe import Seen
from benchtimer.values import dataclass

HALF_LIFE_DAYS = 365
"""A run this old counts half as much as one from today. Our choice, no source."""

_FIRST_MS = 1_577_836_800_000
"""2020-01-01: the day from which weights double."""
_DAY_MS = 86_400_000
_UNIT = 1000
"""Values are added in thousandths; weights start at this number, too."""

Sum = tuple[int, int, int, int]
"""The count, the weights, the weighted values, the weighted squares."""
Group = dict[str, Sum]
"""Sums by key."""
Taught = dict[str, dict[str, Group]]
"""Groups by recipe and by maker, with the source in front: ``source TAB by``."""

OWN, PRACTICE, IMPORTED = "own", "practice", "imported"
"""Where a run comes from."""


def weight_at(t_ms: int) -> int:
    """The weight of a run set up at this time, by the wall clock; at least 1."""
    days = (t_ms - _FIRST_MS) / _DAY_MS
    doublings = min(max(days / HALF_LIFE_DAYS, -10.0), 900.0)  # a clock that is not set
    return max(1, round(_UNIT * 2**doublings))


def add_up(seen: Iterable[Seen], t_ms: int, source: str) -> Taught:
    """What one run taught.

    Args:
        seen: what it showed.
        t_ms: when it was set up, by the wall clock.
        source: ``OWN``, ``PRACTICE`` or ``IMPORTED``.
    """
    sums: Taught = {}
    age = weight_at(t_ms)
    for one in seen:
        group = sums.setdefault(one.recipe, {}).setdefault(f"{source}\t{one.by}", {})
        weight, value = age * round(_UNIT * one.weight), round(_UNIT * one.value)
        row = (1, weight, age * value, age * value * value)
        group[one.key] = _both(group.get(one.key, _NOTHING), row, 1)
    return sums


_NOTHING: Sum = (0, 0, 0, 0)


def _both(one: Sum, other: Sum, sign: int) -> Sum:
    a, b, c, d = (x + sign * y for x, y in zip(one, other, strict=True))
    return a, b, c, d


def change(
    sums: Mapping[str, Group], taken: Mapping[str, Group], added: Mapping[str, Group]
) -> dict[str, Group]:
    """The sums of one recipe after one run's old results are replaced by its new ones.

    Args:
        sums: by maker, so far.
        taken: the run's old results.
        added: its new results.
    """
    now = {who: dict(group) for who, group in sums.items()}
    for some, sign in ((taken, -1), (added, 1)):
        for who, group in some.items():
            whole = now.setdefault(who, {})
            for key, row in group.items():
                whole[key] = _both(whole.get(key, _NOTHING), row, sign)
    full = {who: {k: row for k, row in group.items() if row[0]} for who, group in now.items()}
    return {who: group for who, group in full.items() if group}


@dataclass(frozen=True, slots=True)
class Weighed:
    """One sum as of today.

    Attributes:
        times: how often it was seen.
        count: the same with old ones counting less.
        total: the weighted values.
        squares: their weighted squares.
    """

    times: int = 0
    count: float = 0.0
    total: float = 0.0
    squares: float = 0.0


def weighed(rows: Iterable[Sum], now_ms: int) -> Weighed:
    """Some sums together, as of now by the wall clock; none means nothing seen."""
    whole = _NOTHING
    for row in rows:
        whole = _both(whole, row, 1)
    now = weight_at(now_ms)
    return Weighed(
        whole[0],
        whole[1] / now / _UNIT,
        whole[2] / now / _UNIT,
        whole[3] / now / _UNIT**2,
    )
