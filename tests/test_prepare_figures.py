"""Figures on the page before a run: boiling points of water and salts, wheel speeds."""

from __future__ import annotations

from math import pi

import pytest

from benchtimer.settings import Settings
from tests.test_prepare import BOIL, HIGH_UP, METRIC, WHEEL, WHOLE, _items, _lines, _recipe, page_of


@pytest.mark.parametrize(
    ("shop", "said", "reaches"),
    [(METRIC, "100 C at sea level (your settings have no altitude)", True),
     (HIGH_UP, "202.4 F at 1600 m (standard weather)", False)],
)  # fmt: skip
def test_a_boil_is_as_hot_as_the_air_allows(shop: Settings, said: str, reaches: bool) -> None:
    """Standard air at 1600 m has 83.5 kPa (ISO 2533), where water boils at 94.7 C (IAPWS IF97)."""
    lines = _lines(BOIL, "Temperatures and readings", shop)
    assert lines[0] == f"Boiling rinse: water boils at {said}"
    assert f"water boils at {said}" in lines
    cannot = "it can't reach 99 C here: allow more time, and note it in the record"
    assert (cannot in lines) == (not reaches)


def test_the_calculation_for_salts_comes_with_their_hazards() -> None:
    """A bath in the window of hot caustic shows its strength as a hint, and its hazards."""
    (salts,) = [i for i in _items(page_of(BOIL, shop=HIGH_UP), "Temperatures and readings")
                if i.text.startswith("Salts")]  # fmt: skip
    assert "52 % sodium hydroxide" in salts.more[0]
    assert (
        "(48 % at sea level); a hint, not a recipe: mix by the supplier's data sheet"
        in salts.more[0]
    )
    assert any("about 1700 times its volume of steam" in more for more in salts.more)
    assert any("Olsson" in source for source in salts.sources)
    assert not any(
        "sodium hydroxide" in line for line in _lines(WHOLE, "Temperatures and readings")
    )


_LIMITS = [
    ('min = "20 m/s"\nmax = "30 m/s"', "20 m/s to 30 m/s", (1880, 2820), "{} to {} rpm"),
    ('max = "30 m/s"', "up to 30 m/s", (2820,), "{} rpm at most"),
    ('min = "20 m/s"', "20 m/s at least", (1880,), "{} rpm at least"),
    ('unit = "m/s"\nceiling = "30 m/s"', "up to 30 m/s", (2820,), "{} rpm at most"),
]


@pytest.mark.parametrize(("limits", "asked", "turns", "words"), _LIMITS)
def test_a_speed_is_given_in_rpm(
    limits: str, asked: str, turns: tuple[int, ...], words: str
) -> None:
    """An 8 in wheel turns 20 / (pi x 0.2032) times a second for 20 m/s: 1880 a minute."""
    text = (
        'schema = 1\ntitle = "B"\n[[step]]\nid = "b"\ntitle = "Buff"\nhands = "1 s"\n'
        f'[[step.check]]\nid = "s"\nkind = "reading"\nask = "Speed?"\n{limits}\n'
    )
    lines = _lines(_recipe(text, "b"), "Wheels", HIGH_UP)
    assert lines[0] == f"Speed [b]: {asked}"
    assert lines[1] == f"8 in wheel: {words.format(*turns)}"
    assert turns[-1] == round(60 * (20 if "20" in limits and "30" not in limits else 30)
                              / (pi * 0.2032))  # fmt: skip


def test_a_shop_without_wheels_learns_how_to_list_them() -> None:
    """Without wheels in the settings the page names the command that adds them."""
    assert 'benchtimer settings --set wheels="8 in, 6 in"' in _lines(WHEEL, "Wheels")[1]
