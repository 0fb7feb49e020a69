"""The page of a plan, with a pilot."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.last_time import LastTime
from benchtimer.run.run_state import RunPhase
from benchtimer.shop.hours import hours_words
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.view.draft import Draft
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import planned, press, said, shown, write


async def test_a_run_is_planned_shifted_and_set_up(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Single keys set recipe, parts, order, a part held back and hands, then START shows."""
    monkeypatch.setattr("benchtimer.tui.planning.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.tui.planning.THINK_S", 0.5)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black a, b, d")
        await planned(pilot)
        page = shown(app, PlanScreen)
        assert "DONE" in said(page, "lead")
        await press(pilot, "down m 2 m 6 right right delete")
        await planned(pilot)
        assert [part.name for part in page.draft.parts] == ["a", "d"]
        await press(pilot, "up right m 1 3 0 space m i n enter i")
        assert isinstance(app.screen, TextPage)
        await press(pilot, "escape")
        await planned(pilot)
        await press(pilot, "space")
        assert isinstance(app.screen, BoardScreen)
    (name,) = shop.driver.names
    bench = shop.driver.state(name).bench
    assert (list(bench.parts), bench.hands, bench.phase) == (["a", "d"], 2, RunPhase.IDLE)
    held = bench.parts["a"].not_before_ms
    assert held is not None
    assert held - bench.parts["a"].since_ms == 30 * MINUTE


async def test_a_plan_you_left_can_be_resumed(shop: Shop) -> None:
    """ESC leaves the plan without setting it up; P opens it as it was."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black pin")
        await press(pilot, "escape p")
        assert [p.name for p in shown(app, PlanScreen).draft.parts] == ["pin"]
        await press(pilot, "m 5 2 5 enter")
        assert "25" in said(shown(app, PlanScreen))
        await press(pilot, "k")
        assert "set it up first" in said(shown(app, PrepareScreen), "lead")
    assert not shop.driver.names


async def test_hours_are_entered_by_weekday(shop: Shop) -> None:
    """The box is empty while no hours are set, so that what you type is the whole entry."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black pin")
        await press(pilot, "m 4 S a t space 9 minus 1 8 enter")
        assert hours_words(shown(app, PlanScreen).draft.hours_worked) == "Sat 09:00-18:00"


@pytest.mark.parametrize(
    ("recipes", "danger"),
    [(["hot-black", "etch-darken"], " DANGER: acid with"), (["hot-black"], "")],
)
async def test_baths_that_must_not_meet_are_named_first(
    shop: Shop, recipes: list[str], danger: str
) -> None:
    """Acid and hot salts in one plan are a line of their own, in the color of danger."""
    app = shop.app()
    draft = Draft()
    for recipe in recipes:
        draft = draft.add(app.recipe_files.find(recipe), f"part of {recipe}")
    app.kept_draft = draft
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        page = shown(app, PlanScreen)
        assert said(page, "danger")[: len(danger) or None] == danger
        line = page.query_one("#danger")
        assert line.display == bool(danger)
        late = app.theme_variables["late-ground"]
        assert not danger or line.styles.background.hex == late.upper()


async def test_no_key_waits_for_the_plan(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the planner thinks keys work; leaving stops it."""
    release, stops = threading.Event(), []

    def slow(_draft: object, _now: object, stop: Callable[[], bool], *_rest: object) -> None:
        stops.append(stop)
        release.wait(10)

    monkeypatch.setattr("benchtimer.tui.planning.think", slow)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black a, b")
        page = shown(app, PlanScreen)
        await press(pilot, "down m 2")
        assert [part.name for part in page.draft.parts] == ["b", "a"]
        assert "M stops" in said(page, "lead")
        await press(pilot, "escape")
        assert isinstance(app.screen, HomeScreen)
        assert all(stop() for stop in stops)
        release.set()


async def test_a_failing_planner_is_reported(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the planner breaks, the page says so and the run can still be set up."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a fault of the planner")

    monkeypatch.setattr("benchtimer.tui.planning.think", broken)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black a")
        await pilot.pause(0.1)
        assert "a fault of the planner" in said(shown(app, PlanScreen))
        await press(pilot, "space")
        assert isinstance(app.screen, BoardScreen)


async def test_a_plan_whose_start_has_passed_is_made_again(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan left open past its start time plans again from now."""
    monkeypatch.setattr("benchtimer.tui.planning.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.tui.planning.AGAIN_S", 0.0)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "p")
        await write(pilot, "hot-black a")
        await press(pilot, "m 7")
        await write(pilot, "03:00")
        await planned(pilot)
        page = shown(app, PlanScreen)
        assert page.sheet is not None
        begins_ms = page.sheet.zero.noted_ms
        page.tick()
        await planned(pilot)
        assert page.sheet.zero.noted_ms == begins_ms
        shop.clock.advance(2 * 60 * MINUTE)
        page.tick()
        await planned(pilot)
        assert page.sheet.zero.noted_ms == shop.driver.stamp().noted_ms > begins_ms
        assert "Begins now" in said(page, "lead")


async def test_the_last_run_is_shown_and_copied(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line shows how the last accepted try differed, and one key copies it."""
    monkeypatch.setattr("benchtimer.tui.planning.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.tui.planning.THINK_S", 0.5)
    last = LastTime("r:a", "2026-02-01", "accepted", ("black.target=12 min",), (), ("kept dry",))
    monkeypatch.setattr(type(shop.driver), "last_time", lambda _self, _recipe: last)
    app = shop.app()
    async with app.run_test(size=(120, 40)) as pilot:
        await app.push_screen(PlanScreen(Draft().add(RecipeFiles().find("hot-black"), "a")))
        await planned(pilot)
        page = shown(app, PlanScreen)
        assert "Last time, 2026-02-01: accepted; black.target 12 min" in said(page, "lead")
        await press(pilot, "z")
        await planned(pilot)
        assert page.draft.changes == ("hot-black: black.target = 12 min",)
        await press(pilot, "i")
        words = app.screen
        assert isinstance(words, TextPage)
        assert "kept dry" in words._text


async def test_without_a_last_run_nothing_is_copied(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A recipe without an accepted try has nothing to copy, and the key says so."""
    monkeypatch.setattr("benchtimer.tui.planning.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.tui.planning.THINK_S", 0.5)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await app.push_screen(PlanScreen(Draft().add(RecipeFiles().find("hot-black"), "a")))
        await planned(pilot)
        page = shown(app, PlanScreen)
        assert "Last time" not in said(page, "lead")
        await press(pilot, "z")
        assert "no try was accepted" in said(page)
        assert page.draft.changes == ()
