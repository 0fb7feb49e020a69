"""Chemicals to keep apart, compared with published text."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest

from benchtimer.trade.compatibility import (
    CONFLICTS,
    Chemistry,
    conflicts,
    conflicts_within,
    said,
)
from benchtimer.trade.dangers import Level
from benchtimer.trade.figure import SourceStatus

PUBLISHED: list[tuple[Chemistry, Chemistry, str]] = [
    # 40 CFR 264/265 App. V, groups 1-A x 1-B: heat generation; violent reaction.
    ("acid", "alkali", "violent heat"),
    # NOAA RG69-RG1: NO and NO2 from unstable nitrous acid.
    ("acid", "nitrite", "nitrogen oxides"),
    # NOAA RG44-RG60: chlorine gas, even with a weak acid.
    ("acid", "chlorine-releaser", "chlorine"),
    # NOAA RG62-RG3: heat and carbon dioxide, may pressurize a closed vessel.
    ("acid", "carbonate", "carbon dioxide"),
    # 40 CFR 264/265 App. V, groups 2-A x 1-A or 1-B: flammable hydrogen, fire.
    ("alkali", "reactive-metal", "hydrogen"),
    ("acid", "reactive-metal", "hydrogen"),
    # ICSC 0360: ammonium salts give ammonia.
    ("alkali", "ammonium", "ammonia"),
    # Von Schwartz 1918: violent explosion when melted together.
    ("nitrite", "ammonium", "explosion"),
    # Chlorine Institute chart, sodium hypochlorite.
    ("chlorine-releaser", "ammonium", "explosive"),
    ("chlorine-releaser", "oil-wax", "chlorine"),
    # ICSC 1120: oxidizer, store apart from combustibles and acids.
    ("nitrate", "flammable", "fire"),
    ("acid", "nitrate", "fire"),
]


@pytest.mark.parametrize(("first", "second", "effect"), PUBLISHED)
def test_a_published_pair_is_in_the_table_in_either_order(
    first: Chemistry, second: Chemistry, effect: str
) -> None:
    """The consequence is the published one, in either order of the baths."""
    for one, other in ((first, second), (second, first)):
        (found,) = conflicts([one], [other])
        assert effect in found.effect


@pytest.mark.parametrize(
    ("first", "second", "level"),
    [
        ("acid", "alkali", "danger"),
        ("acid", "carbonate", "caution"),
        ("nitrite", "oil-wax", "warning"),
    ],
)
def test_the_level_follows_from_the_effect(
    first: Chemistry, second: Chemistry, level: Level
) -> None:
    """Violence and poison gas are danger, fuel for a fire is a warning, and foam is a caution."""
    assert [c.level for c in conflicts([first], [second])] == [level]


def test_every_row_has_a_published_source_and_is_unique() -> None:
    """Every pair has a published source and occurs once."""
    assert all(row.source.status is SourceStatus.PUBLISHED for row in CONFLICTS)
    pairs = [frozenset((row.first, row.second)) for row in CONFLICTS]
    assert len(set(pairs)) == len(pairs)
    assert all(len(pair) == 2 for pair in pairs)


def test_nothing_conflicts_with_itself_or_an_empty_bath() -> None:
    """A chemistry doesn't conflict with itself or with an empty vessel."""
    for chemistry in get_args(Chemistry):
        assert not list(conflicts_within([chemistry]))
        assert not list(conflicts([chemistry], []))


@pytest.mark.parametrize(
    ("held", "fine"),
    [(["alkali", "nitrite", "nitrate"], True), (["acid", "nitrite"], False), (["carbonate"], True)],
)
def test_one_vessel_may_hold_hot_salts_but_no_acid_with_nitrite(
    held: list[Chemistry], fine: bool
) -> None:
    """One vessel may hold alkali with nitrite and nitrate, as sold, but not acid with nitrite."""
    assert (not list(conflicts_within(held))) is fine


def test_the_table_lists_every_conflict_of_a_full_shop() -> None:
    """A query with every chemistry returns every row."""
    everything = get_args(Chemistry)
    assert list(conflicts_within(everything)) == list(CONFLICTS)
    by_pairs = [c for a, b in combinations(everything, 2) for c in conflicts([a], [b])]
    assert {id(c) for c in by_pairs} == {id(c) for c in CONFLICTS}


def test_a_maker_reads_plain_words() -> None:
    """The text uses plain words instead of chemists' terms such as chlorine releaser."""
    assert said("chlorine-releaser") == "bleach"
    assert said("acid") == "acid"
