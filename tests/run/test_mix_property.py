"""A figure of a mix, such as an oil's flash point: asked once in the setup, then used."""

from __future__ import annotations

import pytest

from benchtimer.recipe.problems import RecipeError
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.refusals import BadValue, ChecksFirst, HazardFirst, TooHot
from benchtimer.run.setup import PUT_OFF, known_of, setup_items
from tests.support import Hands, small_recipe

OIL = """
schema = 1
title = "Warm and dip"

[[property]]
id = "flash"
of = "oil"
unit = "F"
min = "100 F"
ask = "Flash point?"

[[station]]
id = "tray"
title = "Oil tray"
bath = "oil"
chemistry = ["flammable"]

[[hazard]]
before = "tray"
title = "Oil"
text = "It burns."

[[mix]]
id = "oil"
title = "Oil"
of = [{ what = "oil", parts = 1 }]

[[step]]
id = "cool"
title = "Cool it"
hands = "10 s"

[[step]]
id = "dip"
title = "Dip it"
at = "tray"
hands = "10 s"
dwell = { min = "1 h", target = "2 h" }
[[step.check]]
id = "warmth"
kind = "reading"
ask = "How warm is it?"
max = "40 C"
ceiling_from = { property = "flash", margin = "28 C" }
send.above = { to = "cool", limit = 2 }
"""


def _hands(*said: str) -> Hands:
    """A started run with a figure from the setup."""
    hands = Hands(("bolster",), small_recipe(OIL), started=False)
    hands(c.Acknowledge("Oil"))
    for each in said:
        hands(c.Prepare("flash of tray", said=each))
    hands(c.Start())
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"))
    return hands


def test_the_value_is_asked_right_after_the_mix() -> None:
    """The setup has the mix, then its question, and both go once they are answered."""
    hands = Hands(("bolster",), small_recipe(OIL), started=False)
    assert [item.key for item in setup_items(hands.state.bench)] == ["mix tray", "flash of tray"]
    hands(c.Acknowledge("Oil"))
    hands(c.Prepare("mix tray"))
    (action,) = agenda(hands.state.bench, hands.now_ms)
    assert (action.kind, action.item) == (ActionKind.ASK, "flash of tray")
    hands(c.Prepare("flash of tray", said="150"))
    assert [a.kind for a in agenda(hands.state.bench, hands.now_ms)] == [ActionKind.START]


def test_a_bare_number_is_in_the_unit_of_the_question() -> None:
    """150 is 150 F, or 65.6 C, for every part of the recipe."""
    hands = _hands("150")
    assert str(known_of(hands.state.bench, hands.part())["flash"]) == "150 F"
    assert hands.state.bench.prepared["flash of tray"].said == "150 F"


@pytest.mark.parametrize("said", ["", "hot", "12 kg"])
def test_text_that_is_not_a_temperature_is_refused(said: str) -> None:
    """Empty text, words and weights are no flash point."""
    hands = Hands(("bolster",), small_recipe(OIL), started=False)
    hands(c.Acknowledge("Oil"))
    with pytest.raises(BadValue):
        hands(c.Prepare("flash of tray", said=said))


def test_a_product_below_the_minimum_is_refused() -> None:
    """An oil that flashes too low is refused, and its figure can be corrected."""
    hands = Hands(("bolster",), small_recipe(OIL), started=False)
    hands(c.Acknowledge("Oil"))
    with pytest.raises(BadValue, match="99 F is below 100 F"):
        hands(c.Prepare("flash of tray", said="99"))
    hands(c.Prepare("flash of tray", said="100"))
    assert hands.state.bench.prepared["flash of tray"].said == "100 F"


@pytest.mark.parametrize(
    ("said", "reading", "goes_in"),
    [
        (["150"], "37 C", True),
        (["150"], "38 C", False),  # 65.6 C less 28 C is 37.6 C
    ],
)
def test_the_ceiling_follows_the_entered_value(
    said: list[str], reading: str, goes_in: bool
) -> None:
    """The part goes in only below the flash point less the margin."""
    hands = _hands(*said)
    hands(c.Answer("bolster", "warmth", reading))
    if goes_in:
        hands(c.Finish("bolster"))
        assert hands.part().station == "tray"
        return
    with pytest.raises(TooHot):
        hands(c.Finish("bolster"))


@pytest.mark.parametrize("said", [[PUT_OFF], []])
@pytest.mark.parametrize("reading", ["-20 C", "20 C", "60 C"])
def test_no_part_goes_in_while_the_value_is_unknown(said: list[str], reading: str) -> None:
    """Without the figure the check refuses any reading and says to look it up."""
    hands = _hands(*said)
    with pytest.raises(BadValue) as found:
        hands(c.Answer("bolster", "warmth", reading))
    words = "the flash is not known. Look up the flash and enter it (key K on the board), then"
    assert words in str(found.value)
    with pytest.raises(ChecksFirst):
        hands(c.Finish("bolster"))
    hands(c.Prepare("flash of tray", said="150"))
    hands(c.Answer("bolster", "warmth", "20 C"))
    hands(c.Finish("bolster"))
    assert hands.part().station == "tray"


def test_a_warm_part_is_sent_to_cool() -> None:
    """Below the ceiling but above the window the part goes back to cool."""
    hands = _hands("500")
    hands(c.Answer("bolster", "warmth", "41 C"))
    assert hands.state.bench.step_of(hands.part()).id == "cool"


def test_set_up_work_waits_for_its_pages() -> None:
    """Mixing, looking up and heating wait for the pages; putting off does not."""
    hands = Hands(("bolster",), small_recipe(OIL), started=False)
    for wish in (c.Prepare("mix tray"), c.Prepare("flash of tray", said="150"), c.Start()):
        with pytest.raises(HazardFirst):
            hands(wish)
    hands(c.Prepare("mix tray", said=PUT_OFF))


def test_a_property_of_a_mix_is_not_asked_of_each_part() -> None:
    """A run can be set up without it, and a part can have its own."""
    recipe = small_recipe(OIL)
    assert recipe.part_properties == ()
    assert [prop.id for prop in recipe.property] == ["flash"]


def test_it_must_belong_to_a_mix_of_the_recipe() -> None:
    """A property of a missing mix is refused by name."""
    with pytest.raises(RecipeError, match='there is no mix "oyl"'):
        small_recipe(OIL.replace('of = "oil"', 'of = "oyl"'))
