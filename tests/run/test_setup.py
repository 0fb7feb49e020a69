"""What a run asks for before its start."""

from __future__ import annotations

import pytest

from benchtimer.recipe.places import ShopPlace
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.codec import body_of, event_from, kind_of
from benchtimer.run.decide import Now, create, decide
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import RunPhase
from benchtimer.run.setup import setup_items, setup_pages
from tests.support import SMALL, Hands, small_recipe, table

BREW = SMALL.replace(
    'title = "Tank"', 'title = "Tank"\nbath = "brew"\nheat_up = "45 min"'
).replace(
    "[[hazard]]",
    '[[mix]]\nid = "brew"\ntitle = "Brew"\nof = [{ what = "tea", parts = 1 }]\n\n'
    '[[hazard]]\nbefore = "brew"\ntitle = "Mixing"\ntext = "It spits."\n\n'
    '[[hazard]]\nbefore = "look"\ntitle = "Dust"\ntext = "Wear a mask."\n\n[[hazard]]',
    1,
)  # fmt: skip


def _idle(baths: dict[str, str] | None = None) -> Hands:
    """A run of the brew, not started."""
    hands = Hands(started=False)
    created = create(
        Now(hands.now_ms),
        uid="",
        title="t",
        recipes={"brew": table(small_recipe(BREW))},
        parts=[("bolster", "brew")],
        baths=baths,
    )
    hands.state = fold(created)
    return hands


def _asked(hands: Hands) -> tuple[str, str]:
    """What the large line of an idle run asks for."""
    (action,) = agenda(hands.state.bench, hands.now_ms)
    page = action.hazard.title if action.hazard is not None else action.title
    return action.kind.value, page


def test_pages_come_before_mixing_and_heating_and_both_before_the_start() -> None:
    """SPACE alone goes through the list in order of danger, without the step's own page."""
    hands, seen = _idle(), []
    while hands.state.bench.phase is RunPhase.IDLE:
        (action,) = agenda(hands.state.bench, hands.now_ms)
        seen.append(_asked(hands))
        assert action.command is not None
        hands(action.command)
    assert seen == [
        ("hazard", "Mixing"), ("hazard", "Hot tank"), ("mix", "Brew"),
        ("heat", "Turn the heat on: ready in about 45 min"), ("start", ""),
    ]  # fmt: skip
    assert hands.state.bench.places["tank"].heated_ms is not None


def test_a_start_without_the_pages_is_refused() -> None:
    """START is refused before the pages of mixing are read."""
    hands = _idle()
    with pytest.raises(r.HazardFirst, match="Mixing"):
        hands(c.Start())
    for page in setup_pages(hands.state.bench):
        hands(c.Acknowledge(page.title))
    hands(c.Start())


def test_postponed_heat_is_in_the_record_and_not_asked_again() -> None:
    """What you put off is in the record and not asked for again."""
    hands = _idle()
    for page in setup_pages(hands.state.bench):
        hands(c.Acknowledge(page.title))
    for item in list(setup_items(hands.state.bench)):
        hands(c.Prepare(item.key, said="not now"))
    assert _asked(hands) == ("start", "")
    assert {tick.said for tick in hands.state.bench.prepared.values()} == {"not now"}


def test_a_bath_of_the_bath_book_is_not_mixed_again() -> None:
    """A bath of the book is only heated."""
    hands = _idle({"brew.tank": "tea 1"})
    assert [item.key for item in setup_items(hands.state.bench)] == ["heat tank"]


@pytest.mark.parametrize("press", [c.Read("tank", "65 C"), c.SkipReading("tank", "by eye")])
def test_a_bath_that_was_read_is_already_hot(press: c.Command) -> None:
    """A bath that was read needs no heat-up."""
    hands = _idle()
    hands(press)
    assert [item.key for item in setup_items(hands.state.bench)] == ["mix tank"]
    assert all(a.kind is not ActionKind.HEAT for a in agenda(hands.state.bench, hands.now_ms))


def test_the_settings_places_apply_to_a_recipe_that_joins() -> None:
    """A run keeps the shop's places in its log and uses them for a recipe that joins."""
    shop = (ShopPlace("drum", "Drum", 1, ("brew.tank", "small.tank")),)
    created = create(Now(0), uid="", title="t", recipes={"brew": table(small_recipe(SMALL))},
                     parts=[("bolster", "brew")], shop=shop)  # fmt: skip
    (kept,) = [event_from(kind_of(x), body_of(x), press=0, t_ms=0, by="maker") for x in created]
    state = fold([kept])
    joins = c.AddPart("ferrule", "small", table(small_recipe(SMALL)))
    bench = fold(decide(state, joins, Now(1)), state).bench
    assert bench.at["brew.tank"] == bench.at["small.tank"] == "drum"
    assert bench.places["drum"].station.title == "Drum"
