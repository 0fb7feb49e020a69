"""Rates and times with intervals, against published examples and a statistics library."""

from __future__ import annotations

from math import exp, log, sqrt
from statistics import stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from benchtimer.learn.posterior import (
    LEVEL,
    PRIOR_WEIGHT,
    TimeSums,
    beta_cdf,
    beta_quantile,
    rate_posterior,
    t_quantile,
    time_posterior,
)
from benchtimer.plan.spread import SPREAD

SIDE = st.floats(0.05, 400)


def _sums(*times: float) -> TimeSums:
    logs = [log(time) for time in times]
    return TimeSums(len(logs), sum(logs), sum(value**2 for value in logs))


@given(st.floats(0.001, 0.999), SIDE, SIDE)
def test_the_beta_distribution_agrees_with_a_library(x: float, a: float, b: float) -> None:
    """The incomplete beta function is scipy's."""
    assert beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), rel=1e-7, abs=1e-12)


@given(st.sampled_from([0.025, 0.05, 0.5, 0.95, 0.975]), st.floats(0.4, 400), st.floats(0.4, 400))
def test_beta_quantiles_agree_with_a_library(chance: float, a: float, b: float) -> None:
    """The quantiles are scipy's."""
    assert beta_quantile(chance, a, b) == pytest.approx(stats.beta.ppf(chance, a, b), rel=1e-7)


@given(st.sampled_from([0.9, 0.95, 0.975]), st.floats(2, 200))
def test_students_t_quantiles_agree_with_a_library(chance: float, freedom: float) -> None:
    """The quantiles of Student's t are scipy's."""
    assert t_quantile(chance, freedom) == pytest.approx(stats.t.ppf(chance, freedom), rel=1e-7)


def test_a_published_example_of_births() -> None:
    """437 of 980: a 95 % interval of .415 to .477 (Gelman and others, BDA3, page 37)."""
    assert beta_quantile(0.025, 438, 544) == pytest.approx(0.41506549, abs=1e-8)
    assert beta_quantile(0.975, 438, 544) == pytest.approx(0.47719977, abs=1e-8)


def test_a_prior_counts_as_a_number_of_checks() -> None:
    """A prior of weight 4 at 0.9 and 3 of 5 give 6.6 of 9 (worked example, lalten.org)."""
    assert PRIOR_WEIGHT == 4
    assert rate_posterior(3, 5, 0.9).value == pytest.approx(6.6 / 9)


@given(st.floats(0, 30), st.floats(0, 30), st.none() | st.floats(0, 1))
def test_a_rate_agrees_with_a_library(hits: float, misses: float, expected: float | None) -> None:
    """Mean and interval are those of the beta posterior by scipy."""
    found = rate_posterior(hits, hits + misses, expected)
    a, b = 0.5 + hits, 0.5 + misses
    if expected is not None:
        prior = min(max(4 * expected, 0.01), 3.99)
        a, b = prior + hits, 4 - prior + misses
    low, high = stats.beta.interval(LEVEL, a, b)
    assert found.value == pytest.approx(stats.beta.mean(a, b))
    assert found.interval == pytest.approx((low, high), rel=1e-6, abs=1e-9)


def test_times_without_a_record_are_those_of_the_recipe() -> None:
    """Without times, the estimate is the recipe's, with the default spread."""
    found = time_posterior(TimeSums(0, 0, 0), 60)
    assert found.median_s == pytest.approx(60)
    assert found.spread == SPREAD
    half = stats.t.ppf(0.95, PRIOR_WEIGHT) * SPREAD / sqrt(PRIOR_WEIGHT)
    assert found.interval_s == pytest.approx((60 * exp(-half), 60 * exp(half)))


def test_a_worked_example_of_times() -> None:
    """5.0, 6.2, 7.1, 8.8, 10.4 have a log mean of 1.982128 and a log deviation of 0.287527."""
    seen = _sums(5.0, 6.2, 7.1, 8.8, 10.4)
    assert seen.logs / seen.count == pytest.approx(1.982128, abs=1e-6)
    assert sqrt(seen.off_square / 4) == pytest.approx(0.287527, abs=1e-6)
    found = time_posterior(seen, 60)
    assert log(found.median_s) == pytest.approx((4 * log(60) + 5 * 1.982128) / 9, abs=1e-6)
    assert found.spread == pytest.approx(sqrt((4 * 0.25**2 + 4 * 0.287527**2) / 8), abs=1e-6)


@given(st.lists(st.floats(1, 3600), min_size=2, max_size=40), st.floats(1, 3600))
def test_more_recorded_times_count_for_more_than_the_recipe(
    times: list[float], planned: float
) -> None:
    """The estimate is between the recipe's time and yours, closer to yours with more data."""
    once, often = _sums(*times), _sums(*times * 20)
    middle = exp(sum(log(t) for t in times) / len(times))
    one, many = (time_posterior(s, planned).median_s for s in (once, often))
    low, high = min(planned, middle), max(planned, middle)
    assert low * (1 - 1e-9) <= one <= high * (1 + 1e-9)
    assert abs(log(many / middle)) <= abs(log(one / middle)) + 1e-9
    assert once.off_square == pytest.approx(
        (len(times) - 1) * stdev(log(t) for t in times) ** 2, abs=1e-6
    )
