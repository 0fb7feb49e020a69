"""The exact tests, against published examples, a statistics library, and plain counting."""

from __future__ import annotations

import tomllib
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchtimer.learn.significance import (
    _normal_p,
    _p_of_sum,
    doubled_ranks,
    fisher_p,
    holm,
    least_fisher_p,
    rank_sum_p,
)

CASES: dict[str, Any] = tomllib.loads(
    Path(__file__).with_name("published.toml").read_text(encoding="utf-8")
)
COUNT = st.integers(0, 12)
FEW = st.lists(st.integers(0, 5), min_size=1, max_size=5)


@pytest.mark.parametrize("case", CASES["fisher"], ids=lambda case: str(case["table"]))
def test_published_tables(case: dict[str, Any]) -> None:
    """Fisher's test gives the published chances."""
    assert fisher_p(*case["table"]) == pytest.approx(case["p"], abs=5e-7)


@given(COUNT, COUNT, COUNT, COUNT)
def test_tables_agree_with_a_library(a: int, b: int, c: int, d: int) -> None:
    """Any small table has scipy's chance."""
    assert fisher_p(a, b, c, d) == pytest.approx(stats.fisher_exact([[a, b], [c, d]]).pvalue)


def test_one_try_without_the_fact_proves_nothing() -> None:
    """Twelve failures with the fact and one good try without it: 1 of 13, by counting."""
    assert least_fisher_p(12, 13, 12) == pytest.approx(1 / 13)


@given(st.integers(1, 8), st.integers(1, 8), st.data())
def test_no_table_is_below_the_smallest_chance(
    group: int, others: int, data: st.DataObject
) -> None:
    """The least chance is the smallest of all tables with these margins."""
    hits = data.draw(st.integers(0, group + others))
    all_of_them = [
        fisher_p(k, group - k, hits - k, others - hits + k)
        for k in range(max(0, hits - others), min(group, hits) + 1)
    ]
    assert least_fisher_p(group, group + others, hits) == min(all_of_them)


@pytest.mark.parametrize("case", CASES["rank_sum"], ids=lambda case: case["source"])
def test_published_rank_sums(case: dict[str, Any]) -> None:
    """The rank sum test gives the published chance."""
    assert rank_sum_p(case["first"], case["second"]) == pytest.approx(case["p"], abs=5e-7)


@pytest.mark.parametrize("case", CASES["critical"], ids=lambda case: str(case["sizes"]))
def test_published_critical_values(case: dict[str, Any]) -> None:
    """At the published critical U the chance is at most 5 %, and one step further in it is more."""
    first, second = case["sizes"]
    ranks = tuple(range(2, 2 * (first + second) + 1, 2))
    least = first * (first + 1) // 2
    assert _p_of_sum(ranks, first, 2 * (least + case["u"])) <= 0.05
    assert _p_of_sum(ranks, first, 2 * (least + case["u"] + 1)) > 0.05


@given(FEW, FEW)
def test_ties_by_plain_counting(first: list[int], second: list[int]) -> None:
    """With ties the chance is the share of all ways to choose the first group, by counting."""
    values = [*first, *second]
    ranks = stats.rankdata(values)
    found = sum(ranks[: len(first)])
    sums = [sum(ranks[i] for i in some) for some in combinations(range(len(values)), len(first))]
    tails = (sum(s <= found + 1e-9 for s in sums), sum(s >= found - 1e-9 for s in sums))
    assert rank_sum_p(first, second) == pytest.approx(min(1.0, 2 * min(tails) / len(sums)))


@given(st.permutations(range(14)), st.integers(1, 13))
def test_rank_sums_agree_with_a_library(values: list[int], split: int) -> None:
    """Without ties the chance is scipy's exact one."""
    first, second = values[:split], values[split:]
    expected = stats.mannwhitneyu(first, second, method="exact").pvalue
    assert rank_sum_p(first, second) == pytest.approx(expected)


@given(st.permutations([n // 3 for n in range(50)]), st.integers(8, 42))
def test_the_normal_curve_is_near_the_exact_chance(values: list[int], split: int) -> None:
    """Where exact counting takes long, the normal curve is close, most where it matters."""
    ranks = doubled_ranks(values)
    ordered, found = tuple(sorted(ranks)), sum(ranks[:split])
    exact = _p_of_sum(ordered, split, found)
    near = 0.01 if exact < 0.1 else 0.06
    assert _normal_p(ordered, split, found) == pytest.approx(exact, abs=near)


def test_a_thousand_tries_use_the_normal_approximation() -> None:
    """For a large rank sum, the normal curve gives scipy's chance."""
    first, second = [i * 7 % 211 for i in range(300)], [i * 5 % 223 for i in range(700)]
    expected = stats.mannwhitneyu(first, second, method="asymptotic").pvalue
    assert rank_sum_p(first, second) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("case", CASES["holm"], ids=lambda case: case["source"])
def test_published_correction(case: dict[str, Any]) -> None:
    """Holm's method gives the published corrected chances."""
    assert holm(case["p"]) == pytest.approx(case["corrected"])


@given(st.lists(st.floats(0, 1), max_size=8), st.integers(0, 20))
def test_the_correction_never_lowers_a_chance(chances: list[float], looked_at: int) -> None:
    """Corrected chances keep their order, are no smaller, and grow with the number of facts."""
    corrected = holm(chances, looked_at)
    assert all(p <= q <= 1 for p, q in zip(chances, corrected, strict=True))
    assert [q for _, q in sorted(zip(chances, corrected, strict=True))] == sorted(corrected)
    assert all(p <= q for p, q in zip(holm(chances), corrected, strict=True))
