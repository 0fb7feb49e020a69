"""Before you leave at 20:00: what to pull first, what can rest, what can't wait."""

from __future__ import annotations

import pytest
from textual.widgets import Input, Static

from benchtimer.bench.advice import away_windows, problem_now
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.setup import setup_pages
from benchtimer.shop.hours import ALWAYS, parse_week
from benchtimer.shop.shop_state import alone, shop_of
from benchtimer.store.log import Stamp
from benchtimer.times import TimeError
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.boardpages import PLANNED_AROUND
from benchtimer.tui.dialogs import LinePage, TextPage
from benchtimer.view.desk import Desk
from benchtimer.view.leaving import leaving_lines, times_away
from tests.support import MINUTE, Hands, small_recipe
from tests.tui.benches import STRAIGHT_OVER
from tests.tui.conftest import Shop
from tests.tui.pilots import press

HOUR_MS = 3_600_000
FRIDAY = Stamp(1_000_000, None, 0, 1_770_400_800_000, 0)
"""2026-02-06 18:00 UTC."""


def _at(hands: Hands) -> Stamp:
    """The stamp of a bench in memory; it began at 18:00 on Friday."""
    ms = hands.now_ms - FRIDAY.noted_ms
    return Stamp(hands.now_ms, None, 0, FRIDAY.wall_ms + ms, 0)


def _lines(hands: Hands, text: str, **others: Hands) -> str:
    stamp = _at(hands)
    away = times_away(text, ALWAYS, stamp)
    shop = shop_of({"r": hands.state, **{run: other.state for run, other in others.items()}})
    return "\n".join(leaving_lines(shop, away, [], stamp))


def test_parts_are_listed_as_pulled_before_or_left_resting() -> None:
    """A dip that ends before you go is pulled first; the hanging part can rest without limit."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    text = _lines(hands, "18:30 to Sat 08:00")
    assert text.startswith("You leave at 18:30 and are back at Sat 08:00.")
    before, rests, late = text.split("\n\n")[1:4]
    assert "#1 bolster: Tank > Rack" in before
    assert rests.endswith("#1 bolster in Rack: as long as you like")
    assert "nothing: every part keeps its window" in late


def test_parts_that_cannot_wait_are_named_with_their_time() -> None:
    """If you leave in a minute, the page names the bolster and when it must be pulled."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank()
    text = _lines(hands, "in 1 min to Sat 08:00")
    late = text.partition("CAN'T WAIT")[2]
    assert "#1 bolster must leave Tank by 18:09" in late
    assert "past its max if you go" in late
    assert "#2 ferrule: not started, so it can wait" in text


def test_heat_is_turned_off_before_you_leave() -> None:
    """A place whose heat was turned on is named before you go, and one that was not is not."""
    hands = Hands(names=("bolster",), recipe=RecipeFiles().find("hot-black"), started=False)
    assert "Heat off" not in _lines(hands, "18:30 to Sat 08:00")
    for page in setup_pages(hands.state.bench):
        hands(c.Acknowledge(page.title))
    hands(c.Heat("salts"))
    before = _lines(hands, "18:30 to Sat 08:00").split("\n\n")[1]
    assert "Turn off the heat, as the recipe says: Blacking salts. Or stay" in before


def test_two_runs_share_the_tank_and_the_hands() -> None:
    """The other run's part goes in only after the pull that makes room for it."""
    hands, other = Hands(names=("bolster",)), Hands(names=("ferrule",))
    hands.to_tank()
    before = _lines(hands, "23:00 to Sat 08:00", other=other).split("\n\n")[1]
    ways = [line.partition("  #")[2] for line in before.splitlines()[1:]]
    assert ways.index("1 bolster: Tank > Rack") < ways.index("2 ferrule: start > Tank")


def test_a_part_in_hand_cannot_wait() -> None:
    """A part in hand, with its next place closed, is named with what to do before you go."""
    hands = Hands(names=("bolster",), recipe=small_recipe(STRAIGHT_OVER))
    hands.to_tank()
    hands(c.CloseStation("oil", "spilled"))
    hands(c.TakeOut("bolster"), 5 * MINUTE)
    late = _lines(hands, "18:30 to Sat 08:00").partition("CAN'T WAIT")[2]
    assert "#1 bolster is in hand" in late
    assert "Oil is out of service. Put it in its next place before you go" in late


def test_the_hours_of_today_change_for_the_planner() -> None:
    """No move is planned while you are away, and staying cancels the time away."""
    hands = Hands(names=("bolster",))
    hands(c.Leave(hands.now_ms + HOUR_MS, hands.now_ms + 10 * HOUR_MS))
    (window,) = problem_now(alone(hands.state.bench), hands.now_ms).away
    assert (window.from_s, window.to_s) == (3599, 35_999)
    assert len(problem_now(alone(hands.state.bench), hands.now_ms + 11 * HOUR_MS).away) == 0
    hands(c.Leave(None, None))
    assert hands.state.bench.gone is None
    with pytest.raises(r.Refused, match="back before you leave"):
        hands(c.Leave(hands.now_ms + HOUR_MS, hands.now_ms))


def test_you_are_back_when_your_hours_open_again() -> None:
    """You are back at your next hours; with no hours set, the page asks for the time."""
    hours = parse_week("Mon-Fri 17:00-22:30, Sat-Sun 09:00-18:00")
    begin, end = times_away("20:00", hours, FRIDAY)
    assert begin - FRIDAY.noted_ms == 2 * HOUR_MS
    assert end - FRIDAY.noted_ms == 15 * HOUR_MS
    for text in ("20:00-08:00", "20:00 to 08:00", "20:00 until Sat 08:00"):
        assert times_away(text, ALWAYS, FRIDAY)[1] - FRIDAY.noted_ms == 14 * HOUR_MS
    assert away_windows((), FRIDAY, hours)
    with pytest.raises(TimeError, match="does not say when you are back"):
        times_away("20:00", ALWAYS, FRIDAY)


async def test_the_key_asks_when_and_shows_the_page(shop: Shop) -> None:
    """The semicolon asks for the time, and the page lists every run."""
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "semicolon")
        await press(pilot, "2 3 : 0 0 minus 2 3 : 3 0 enter")
        await app.workers.wait_for_complete()
        await pilot.pause()
        page = app.screen
        assert isinstance(page, TextPage)
        assert "Before you go" in page._title
        bench = shop.driver.state(shop.name).bench
        assert bench.gone is not None
        assert bench.gone[1] - bench.gone[0] == 30 * MINUTE
        gone = Desk(shop.driver, shop.name).takes_back()
        assert gone == "U undoes: you leave at 23:00, back at 23:30"
        assert PLANNED_AROUND in page._text
        await press(pilot, "escape semicolon s t a y enter")
        assert shop.driver.state(shop.name).bench.gone is None
        assert isinstance(app.screen, BoardScreen)


@pytest.mark.parametrize(
    ("key", "typed", "wrong", "right"),
    [
        ("semicolon", "2 5 : 9 9", "25:99", "backspace " * 5 + "s t a y enter"),
        ("asterisk", "g l u e", "is not a name followed by a time", "space 2 4 space h enter"),
    ],
)
async def test_a_bad_entry_stays_for_correction(
    shop: Shop, key: str, typed: str, wrong: str, right: str
) -> None:
    """A wrong entry stays in the box with the error; corrected, it is accepted."""
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, key)
        await press(pilot, f"{typed} enter")
        page = app.screen
        assert isinstance(page, LinePage)
        assert page.query_one(Input).value == typed.replace(" ", "")
        assert wrong in str(page.query_one(".wrong", Static).render())
        await press(pilot, right)
        assert isinstance(app.screen, BoardScreen)
        assert wrong not in app.screen.desk.message
