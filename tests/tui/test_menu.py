"""The page behind M: each digit always means the same, and what it leads to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given

from benchtimer.bath import bath_decide as b
from benchtimer.run import commands as c
from benchtimer.run.decide import Now, decide
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.view.menu import HOLD_REASONS, MenuItem, offers
from tests.support import MINUTE, SMALL, Hands, small_recipe, table
from tests.tui.benches import FEW, benches, dwelling, hung_up

KINDS = (
    ("Hold", "Resume"),
    ("Take", "Put"),
    ("Change hours, hands or order",),
    ("Send",),
    ("Read the temperature",),
    ("Take a station out of service",),
    ("Hold the whole run", "Resume the whole run"),
    ("The bath book",),
    ("Give up",),
)
"""How the line of each digit from 1 to 9 begins, in any state."""


def _offers(hands: Hands, name: str | None = "bolster") -> list[MenuItem]:
    bench = hands.state.bench
    return offers(bench, bench.parts[name] if name is not None else None)


def _can(offer: MenuItem) -> bool:
    return bool(offer.command or offer.choices or offer.with_words or offer.in_book)


def _leaves(found: list[MenuItem] | tuple[MenuItem, ...]) -> Iterator[MenuItem]:
    for offer in found:
        yield from _leaves(offer.choices) if offer.choices else (offer,)


@given(benches())
@FEW
def test_a_digit_never_moves(hands: Hands) -> None:
    """All nine digits keep their meaning in every state of part and run."""
    bench = hands.state.bench
    for part in (None, *bench.parts.values()):
        offered = offers(bench, part)
        assert len(offered) == len(KINDS)
        assert all(
            offer.text.startswith(begins) for offer, begins in zip(offered, KINDS, strict=True)
        )


def test_a_recipe_that_joins_moves_no_digit() -> None:
    """When another recipe joins, every digit keeps its meaning."""
    hands = dwelling(("bolster",))
    other = table(small_recipe(SMALL.replace('"tank"', '"vat"').replace('"Tank"', '"Vat"')))
    hands(c.AddPart("blade", "other", {**other, "id": "other"}))
    for name in (None, "bolster", "blade"):
        offered = _offers(hands, name)
        assert all(
            offer.text.startswith(begins) for offer, begins in zip(offered, KINDS, strict=True)
        )


@given(benches())
@FEW
def test_each_offer_for_a_part_works_or_says_why_not(hands: Hands) -> None:
    """The engine accepts each offered press or refuses it in words."""
    bench = hands.state.bench
    if bench.phase not in (RunPhase.RUNNING, RunPhase.HELD):
        return
    for part in bench.parts.values():
        for offer in _leaves(offers(bench, part)):
            made = offer.with_words("66 C") if offer.with_words is not None else offer.command
            if made is None:
                continue
            with suppress(Refused):
                assert decide(hands.state, made, Now(hands.now_ms))


@given(benches())
@FEW
def test_nothing_final_takes_a_single_press(hands: Hands) -> None:
    """Scrap and abort are on a second menu that begins with "Go back", and each asks why."""
    bench = hands.state.bench
    for part in (None, *bench.parts.values()):
        offered = offers(bench, part)
        assert all(_is_harmless(offer) for offer in offered)
        final = offered[-1].choices
        assert final[0] == MenuItem("Go back", leaves=True)
        assert final[0].can
        assert all(offer.command is None and "why?" in offer.ask for offer in final if _can(offer))


def _is_harmless(offer: MenuItem) -> bool:
    made = offer.with_words("x") if offer.with_words is not None else offer.command
    return not isinstance(made, c.Scrap | c.Abort)


def test_without_a_part_the_lines_say_that_one_must_be_picked() -> None:
    """Without a picked part, or with a finished one, the part's lines can't be chosen."""
    hands = dwelling()
    for found in (_offers(hands, None), _offers(_scrapped())):
        of_part = [found[0], found[1], found[3]]
        assert [_can(offer) for offer in of_part] == [False] * 3
        assert all("pick one first" in offer.text for offer in of_part)
        assert found[8].choices[1].text == "Scrap the part (pick one first)"
        assert not _can(found[8].choices[1])
        assert _can(found[8].choices[2])


def _scrapped() -> Hands:
    hands = dwelling(("bolster", "ferrule"))
    hands(c.Scrap("bolster", "cracked"))
    return hands


def test_a_hold_asks_why_and_a_resume_does_not() -> None:
    """A hold offers ready reasons or asks for yours; a resume is one press."""
    hands = dwelling()
    hold = _offers(hands)[0]
    assert (hold.text, hold.command) == ("Hold bolster", None)
    *ready, other = hold.choices
    assert [offer.command for offer in ready] == [c.Hold("bolster", r) for r in HOLD_REASONS]
    assert other.ask == "Why is bolster held?"
    assert other.with_words is not None
    assert other.with_words("a stain") == c.Hold("bolster", "a stain")
    hands(c.Hold("bolster", "a stain"))
    assert _offers(hands)[0] == MenuItem("Resume bolster", c.Resume("bolster"))


@pytest.mark.parametrize("phase", list(PartPhase)[:3])
def test_only_a_part_in_its_station_can_be_taken_out(phase: PartPhase) -> None:
    """ "Take out" can be chosen for a part in a station, not in hand or on a rack."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    if phase is not PartPhase.WAITING:
        hands(c.Begin("bolster"))
    if phase is PartPhase.DWELLING:
        hands(c.Finish("bolster"), MINUTE)
        hands(c.Finish("bolster"))
    assert hands.part().phase is phase
    out = _offers(hands)[1]
    assert out.command == (c.TakeOut("bolster") if phase is PartPhase.DWELLING else None)


def test_what_was_taken_out_can_be_put_back() -> None:
    """A part taken out of its station can go back in, and can't be taken out again."""
    hands = dwelling()
    hands(c.TakeOut("bolster"), MINUTE)
    assert _offers(hands)[1].command == c.PutBack("bolster")
    hands(c.Begin("bolster"))
    assert _offers(hands)[1].command is None


def test_hours_hands_and_order_can_change_during_a_run() -> None:
    """The third line changes hours, hands and order in mid-run, each with a press that counts."""
    hands = Hands(names=("bolster", "ferrule"))
    hours, people, later = _offers(hands)[2].choices
    assert hours.with_words is not None
    hands(hours.with_words("10 pm to 7 am, 12-13"))
    assert list(hands.state.bench.away) == ["22:00-07:00", "12:00-13:00"]
    with pytest.raises(Refused, match="not a span of the day"):
        hands(hours.with_words("at night"))
    hands(hours.with_words("none"))
    assert list(hands.state.bench.away) == []
    (two,) = (offer for offer in people.choices if offer.text == "2 people")
    assert two.command is not None
    hands(two.command)
    assert hands.state.bench.hands == 2
    assert later.choices[0].command == c.Postpone("bolster", 15 * MINUTE)


def test_a_part_is_sent_back_to_any_step_it_has_reached() -> None:
    """The steps offered are those begun, latest first, none ahead of the part."""
    found = [offer.text for offer in _offers(hung_up())[3].choices[0].choices]
    assert found == ["Hang up", "Look", "Dip", "Prepare"]
    assert [offer.command for offer in _offers(dwelling())[3].choices[0].choices] == [
        c.SendBack("bolster", "dip"),
        c.SendBack("bolster", "prepare"),
    ]


def test_a_part_skips_forward_to_any_later_step_with_a_reason() -> None:
    """The next step begins; a skip to any later step or the end asks why."""
    skips = _offers(dwelling())[3].choices[1].choices
    assert [offer.text for offer in skips] == [
        "Skip to Hang up", "Skip to Judge", "Skip to the end: it is done",
    ]  # fmt: skip
    assert [offer.with_words and offer.with_words("late") for offer in skips] == [
        c.Skip("bolster", "hang", "late"),
        c.Skip("bolster", "judge", "late"),
        c.Skip("bolster", None, "late"),
    ]
    assert "skip forward to Hang up" in skips[0].ask


def test_stations_are_read_closed_and_opened() -> None:
    """Each bath can be read and each station closed; a closed one can only be opened."""
    hands = dwelling()
    readings, stations = _offers(hands)[4].choices, _offers(hands)[5].choices
    assert [offer.ask for offer in readings] == ["Tank: what does it read, in C?"]
    assert readings[0].with_words is not None
    assert readings[0].with_words("66 C") == c.Read("tank", "66 C")
    assert readings[0].with_words("66") == c.Read("tank", "66 C")
    assert [offer.command for offer in stations] == [
        c.CloseStation("tank"), c.CloseStation("rack")]  # fmt: skip
    hands(c.CloseStation("rack", "full of rust"))
    closed = _offers(hands)[5].choices[1]
    assert (closed.text, closed.command) == ("Rack: back into service", c.OpenStation("rack"))
    assert _offers(hands)[5].choices[0].text == "Tank: take out of service"


@pytest.mark.parametrize("started", [False, True])
def test_a_run_that_is_not_running_cannot_be_held(started: bool) -> None:
    """Only a started run can be held, with a reason, and then resumed."""
    hands = Hands(names=("bolster",), started=started)
    offered = _offers(hands)[6]
    assert _can(offered) == started
    if not started:
        return
    *_, other = offered.choices
    assert other.with_words is not None
    assert other.ask == "Why is the run held?"
    hands(other.with_words("the telephone"))
    assert hands.state.bench.held == "the telephone"
    assert _offers(hands)[6] == MenuItem("Resume the whole run", c.Resume(None))


def test_a_run_without_baths_has_no_bath_book() -> None:
    """Without a bath of the bath book, the bath line can't be chosen."""
    assert not _can(_offers(dwelling())[7])


@pytest.mark.parametrize("baths", [("salts",), ("salts", "oil")])
def test_the_bath_book_takes_top_ups_and_readings(baths: tuple[str, ...]) -> None:
    """One bath shows its four entries at once; several ask which one first."""
    hands = dwelling()
    tied = dict(zip(("tank", "rack"), baths, strict=False))
    bench = replace(hands.state.bench, baths=tied)
    offered = offers(bench, None)[7].choices[0].choices
    if len(baths) > 1:
        assert [offer.text for offer in offered] == list(baths)
        offered = offered[0].choices
    assert [offer.bath for offer in offered] == ["salts"] * 4
    made = [offer.in_book("4.2 g") for offer in offered if offer.in_book is not None]
    assert made == [
        b.TopUp("4.2 g"), b.ReadBath("4.2 g"), b.Wear("4.2 g"), b.Coupon("4.2 g"),
    ]  # fmt: skip
    assert [offer.ask for offer in offered] == [
        "What did you add to salts?",
        "salts: what does it read, with its unit?",
        "salts: how much metal, like 4.2 g?",
        "salts: weight lost or depth, like 0.12 g or 8 um?",
    ]


def test_one_bath_in_two_stations_is_offered_once() -> None:
    """A bath in two stations of the run is one bath in the menu."""
    bench = replace(dwelling().state.bench, baths={"tank": "salts", "rack": "salts"})
    assert len(offers(bench, None)[7].choices[0].choices) == 4
