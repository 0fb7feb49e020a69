"""The whole board is in the maker's unit, whatever unit the recipe uses."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.own_units import check_in, shop_in, unit_of
from benchtimer.quantity import Quantity
from benchtimer.recipe.answers import AskFigure
from benchtimer.recipe.checks import ReadingCheck
from benchtimer.run import commands as c
from benchtimer.run.refusals import verdict_of
from benchtimer.shop.shop_state import shop_of
from benchtimer.view.board_text import BoardView, make_board
from benchtimer.view.picture.sheet import draw
from benchtimer.view.space import Size
from benchtimer.view.stations import page_rows
from benchtimer.view.words import reading_unit, window_read, with_unit
from tests.support import MINUTE, Hands
from tests.tui.benches import dwelling, stamp_at

RUN = "2026-02-02-1"


def _moment(hands: Hands, unit: str) -> Moment:
    return moment_of(stamp_at(hands.now_ms), shop_in(shop_of({RUN: hands.state}), unit))


def _screen(hands: Hands, unit: str) -> str:
    """Everything on the board and on the page of stations."""
    moment = _moment(hands, unit)
    board = make_board(moment, moment.first, Size(120, 40), BoardView(RUN))
    rows = [row.text for row in draw(board.scene, 120, 24).rows]
    return "\n".join(
        [*board.next_lines, board.then_line, *rows, *page_rows(moment.shop, moment.stamp)]
    )


def test_the_board_shows_the_makers_unit() -> None:
    """A bath kept from 60 C to 70 C and read at 65 C shows F in readings, limits and trend."""
    hands = dwelling()
    hands(c.Read("tank", "65 C"), MINUTE)
    shown = _screen(hands, "F")
    assert "149 F" in shown
    assert "140 F to 158 F" in shown
    assert not re.search(r"\d C\b", shown)
    assert "65 C" in _screen(hands, "")


def test_the_limits_of_a_reading_are_in_both_units() -> None:
    """Where a limit matters, the recipe's own figures follow in parentheses."""
    hands = Hands(names=("bolster",))
    moment = _moment(hands, "F")
    assert moment.first is not None
    lines = make_board(moment, moment.first, Size(80, 24), BoardView(RUN)).next_lines
    assert "Temperature of Tank, 140 F to 158 F (60 C to 70 C)" in "\n".join(lines)
    assert reading_unit(moment.bench_of(moment.first), moment.first) == "F"


@pytest.mark.parametrize(
    ("typed", "unit", "text"),
    [
        ("149", "F", "149 F"),
        (" 65.5 ", "C", "65.5 C"),
        ("149 F", "C", "149 F"),
        ("warm", "C", "warm"),
    ],
)
def test_a_bare_number_is_in_the_unit_shown(typed: str, unit: str, text: str) -> None:
    """A figure typed without a unit is in the unit on the screen."""
    assert with_unit(typed, unit) == text


@given(st.integers(100, 200), st.sampled_from(["F", "C"]))
def test_a_reading_shown_as_in_range_is_judged_in_range(tenths: int, unit: str) -> None:
    """Limits round inward, so a figure inside the displayed window is never out of range."""
    hands = Hands(names=("bolster",))
    moment = _moment(hands, unit)
    assert moment.first is not None
    window = window_read(moment.bench_of(moment.first), moment.first)
    assert window is not None
    reading = Quantity(
        window.min.value + (window.max.value - window.min.value) * (tenths - 100) / 100, unit
    )
    assert verdict_of(hands.state.bench.places["tank"].station, reading) == "in"


def test_the_engine_keeps_the_units_of_the_recipe() -> None:
    """The shop that decides keeps its units; with no unit set, the view is the same shop."""
    shop = shop_of({RUN: dwelling().state})
    assert shop_in(shop, "") is shop
    shown = shop_in(shop, "F")
    assert shop.bench(RUN).places["tank"].station.temperature != (
        shown.bench(RUN).places["tank"].station.temperature
    )
    assert shop_in(shop, "C") is shop


def test_a_question_about_a_temperature_is_in_the_same_unit() -> None:
    """A check written in C asks in F, with its limits in F, and its answer is judged the same."""
    hands = dwelling()
    check = ReadingCheck.model_validate(
        {"kind": "reading", "id": "heat", "ask": "Steel?", "min": "86 C", "max": "100 C"}
    )
    action = replace(moment_of(stamp_at(0), shop_of({RUN: hands.state})).actions[0], check=check)
    asked = check_in(action, "F").form
    assert isinstance(asked, AskFigure)
    assert (asked.unit, asked.limits) == ("F", "from 186.8 F to 212 F")
    assert check.judge("190 F", {}).key == check.judge("88 C", {}).key == "in"
    assert check.judge("180 F", {}).key == "below"
    assert check_in(action, "C") is action
    assert check_in(action, "") is action


def test_without_a_setting_a_screen_has_one_unit() -> None:
    """Where recipes or readings differ in unit, everything is in F."""
    hands = dwelling()
    shop = shop_of({RUN: hands.state})
    assert unit_of(shop, "") == ""
    assert unit_of(shop, "F") == "F"
    hands(c.Read("tank", "149 F"), MINUTE)
    assert unit_of(shop_of({RUN: hands.state}), "") == "F"
