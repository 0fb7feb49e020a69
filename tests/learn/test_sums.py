"""Sums of learned data: exact, in any order, old data counting less."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.learn.observe import Seen
from benchtimer.learn.sums import (
    HALF_LIFE_DAYS,
    OWN,
    Group,
    add_up,
    change,
    weighed,
    weight_at,
)

DAY_MS = 86_400_000
NOW_MS = 1_790_000_000_000

RUN = st.tuples(
    st.lists(
        st.builds(
            Seen,
            recipe=st.just("small"),
            by=st.sampled_from(["ada", "ben"]),
            key=st.sampled_from(["hands/a", "hands/b", "look/a/x"]),
            value=st.floats(0, 9),
        ),
        max_size=5,
    ),
    st.integers(0, 4000),
)


def _taught(run: tuple[list[Seen], int]) -> dict[str, Group]:
    seen, age_days = run
    return add_up(seen, NOW_MS - age_days * DAY_MS, OWN).get("small", {})


@given(st.lists(RUN, max_size=6), st.randoms())
def test_the_order_of_runs_does_not_matter(runs: list[tuple[list[Seen], int]], rng: object) -> None:
    """Runs added in any order, with one removed again, give the sums of the others."""
    straight: dict[str, Group] = {}
    for run in runs[1:]:
        straight = change(straight, {}, _taught(run))
    mixed: dict[str, Group] = {}
    shuffled = list(runs)
    rng.shuffle(shuffled)  # type: ignore[attr-defined]
    for run in shuffled:
        mixed = change(mixed, {}, _taught(run))
    if runs:
        mixed = change(mixed, _taught(runs[0]), {})
    assert mixed == straight


@given(st.integers(0, 3000))
def test_old_data_counts_less(age_days: int) -> None:
    """A time counts as one on its day, as one half a half-life later."""
    one = Seen("small", "ada", "hands/a", log(90))
    sums = add_up([one], NOW_MS - age_days * DAY_MS, OWN)["small"][f"{OWN}\tada"]
    found = weighed([sums["hands/a"]], NOW_MS)
    expected = 0.5 ** (age_days / HALF_LIFE_DAYS)
    assert found.times == 1
    assert found.count == pytest.approx(expected, rel=2e-3, abs=1e-5)
    assert found.total / found.count == pytest.approx(log(90), abs=1e-3)
    assert found.squares / found.count == pytest.approx(log(90) ** 2, abs=1e-2)


@given(st.integers(-(2**53), 2**53))
def test_no_clock_value_breaks_a_weight(t_ms: int) -> None:
    """A clock never set, or far off, still gives a usable weight."""
    assert weight_at(t_ms) >= 1
    assert float(weight_at(t_ms)) < float("inf")


def test_no_data_has_no_weight() -> None:
    """No sums count as no data."""
    found = weighed([], NOW_MS)
    assert (found.times, found.count, found.total) == (0, 0, 0)
