"""The rule for comparing tries, fact by fact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.learn.fact import Fact
from benchtimer.records.facts import facts_of
from benchtimer.records.tries import FAILED, OPEN, WELL, tries_of
from benchtimer.records.try_comparison import Difference, _chance, _difference
from tests.records.conftest import Knife

OUTCOMES = (FAILED, FAILED, WELL)


def _figures(*numbers: float, low: float | None = None, high: float | None = None) -> list[Fact]:
    return [Fact("reading", "x", str(n), 0, n, low, high) for n in numbers]


def _words(*words: str) -> list[Fact]:
    return [Fact("answer", "x", word) for word in words]


@pytest.mark.parametrize(
    ("facts", "separates", "size"),
    [
        (_words("a", "a", "b"), True, 1.0),
        (_words("a", "b", "c"), True, 1.0),
        (_words("a", "b", "b"), False, 1.0),
        (_figures(10, 12, 15, low=10, high=20), True, 0.3),
        (_figures(10, 15, 12, low=10, high=20), False, 0.5),
        (_figures(10, 14, 14.5, low=10, high=20), False, 0.45),
        (_figures(9, 8, 10.1, low=10, high=20), True, 1.0),
        (_figures(100, 110, 220), True, 0.5),
    ],
)
def test_the_separating_facts_are_named_with_their_difference(
    facts: list[Fact], separates: bool, size: float
) -> None:
    """Words and values outside their limits count as a full width, other figures by their gap."""
    found = _difference(facts, OUTCOMES)
    assert found is not None
    assert (found.separates, round(found.size, 6)) == (separates, size)


@pytest.mark.parametrize(
    "facts", [_words("a", "a", "a"), _figures(10, 10.5, 11, low=10, high=20), _figures(99, 100, 95)]
)
def test_equal_facts_are_not_listed(facts: list[Fact]) -> None:
    """Equal words, and figures closer than a tenth of their limits, are no difference."""
    assert _difference(facts, OUTCOMES) is None


def test_a_fact_missing_from_some_tries_separates_nothing() -> None:
    """A fact that one try lacks comes last, with its gap."""
    found = _difference([*_words("a"), None, *_words("b")], OUTCOMES)
    assert found == Difference("answer", "x", ("a", None, "b"), False, 0.0, -1)


@given(st.lists(st.sampled_from([WELL, FAILED, OPEN]), max_size=8))
def test_the_chance_is_one_without_a_difference(outcomes: Sequence[str]) -> None:
    """The chance of separating by luck is between 0 and 1 and needs a good and a failed try."""
    chance = _chance(outcomes)
    assert (chance is None) == (WELL not in outcomes or FAILED not in outcomes)
    assert chance is None or 0 < chance <= 1


def test_the_chance_is_that_of_the_rank_order() -> None:
    """With 1 good try of 3, 4 of 6 orders of three figures put it at an end (counted)."""
    assert _chance([FAILED, FAILED, WELL]) == pytest.approx(4 / 6)
    assert _chance([FAILED, FAILED, WELL, WELL]) == pytest.approx(8 / 24)


def test_a_minute_longer_on_the_rack_is_not_a_cause(knife: Knife) -> None:
    """A few minutes more on the rack make no difference; hours do."""
    record = knife.record
    [*_, held] = tries_of(record, record.parts[0])
    rest, soak = (facts_of(held)["dwell", step] for step in ("ready", "hang"))
    minutes = [replace(rest, number=seconds) for seconds in (48.0, 46.0, 3.0)]
    hours = [replace(rest, number=seconds) for seconds in (48.0, 46.0, 8 * 3600.0)]
    assert _difference(minutes, OUTCOMES) is None
    assert (result := _difference(hours, OUTCOMES)) is not None
    assert result.separates
    assert (rest.scale_s, soak.scale_s) == (3600, 60)
