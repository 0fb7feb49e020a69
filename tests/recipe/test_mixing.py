"""Mixes scaled to a vessel."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.quantity import Quantity, parse
from benchtimer.recipe.describe import describe
from benchtimer.recipe.mixing import scaled
from benchtimer.recipe.model import Mix, Recipe
from tests.recipe.drawn import SMALLEST, read


def mixed(*of: str, volume: str = "1 L") -> Mix:
    """A mix for a volume; each ingredient is an amount or a number of parts."""
    return recipe_with(*of, volume=volume).mix[0]


def recipe_with(*of: str, volume: str = "1 L") -> Recipe:
    """The smallest recipe with this mix."""
    items = [
        f'{{ what = "thing {i}", {"parts" if text.isdecimal() else "amount"} = '
        f"{text if text.isdecimal() else repr(text)} }}"
        for i, text in enumerate(of)
    ]
    mix = f'[[mix]]\nid = "m"\ntitle = "M"\nvolume = "{volume}"\nof = [{", ".join(items)}]\n'
    return read(SMALLEST + mix)


# Calculated by hand; 1 gal = 3.785411784 L and 1 oz = 28.349523125 g (NIST SP 811, B.8).
WORKED: list[tuple[Any, ...]] = [
    ("90 g/L", "1 L", "2 L", 180, "g"),
    ("750 g/L", "6 L", "6 L", 4.5, "kg"),
    ("12 oz/gal", "1 gal", "1 gal", 340.1942775, "g"),
    ("250 mL/L", "1 L", "4 L", 1000, "mL"),
    ("40 %", "1 L", "250 mL", 100, "mL"),
    ("0.5 %", "1 gal", "1 gal", 0.005, "gal"),
    ("20 g", "4 L", "2 L", 10, "g"),
    ("2 oz", "1 gal", "2 gal", 4, "oz"),
    ("5 mL", "1 L", "1 gal", 18.92705892, "mL"),
]


@pytest.mark.parametrize(("amount", "for_volume", "vessel", "value", "unit"), WORKED)
def test_amounts_follow_the_vessel(
    amount: str, for_volume: str, vessel: str, value: float, unit: str
) -> None:
    """Amounts per volume, shares and plain amounts match the hand calculation."""
    ((_, found),) = scaled(mixed(amount, volume=for_volume), parse(vessel, "volume"))
    assert found.value == pytest.approx(value)
    assert found.unit == unit


@given(st.lists(st.integers(1, 20), min_size=1, max_size=5), st.floats(0.01, 1000))
def test_the_parts_of_a_mix_fill_the_vessel(parts: list[int], litres: float) -> None:
    """The volumes of all parts add up to the vessel, each in proportion."""
    found = scaled(mixed(*map(str, parts)), Quantity(litres, "L"))
    volumes = [amount.base for _, amount in found]
    assert sum(volumes) == pytest.approx(litres)
    assert [v / volumes[0] for v in volumes] == pytest.approx([p / parts[0] for p in parts])


@given(st.sampled_from([row[0] for row in WORKED]), st.floats(0.01, 500))
def test_twice_the_vessel_needs_twice_as_much(amount: str, litres: float) -> None:
    """Every form of amount is proportional to the volume."""
    mix = mixed(amount)
    ((_, once),) = scaled(mix, Quantity(litres, "L"))
    ((_, twice),) = scaled(mix, Quantity(2 * litres, "L"))
    assert twice.base == pytest.approx(2 * once.base)


@pytest.mark.parametrize(
    ("amount", "volume", "line"),
    [
        ("0.5 %", "1 gal", "0.005 gal thing 0 (0.5 % by volume)"),
        ("40 mg", "1 L", "40 mg thing 0 (40 mg for 1 L)"),
        ("90 g/L", "2 L", "180 g thing 0 (90 g/L)"),
        ("1", "2 L", "2 L thing 0"),
        ("12 oz/gal", "1 gal", "340.2 g thing 0 (12 oz/gal)"),
    ],
)
def test_what_to_weigh_is_never_rounded_to_nothing(amount: str, volume: str, line: str) -> None:
    """A small amount keeps two significant digits."""
    assert f"    {line}" in describe(recipe_with(amount, volume=volume)).splitlines()
