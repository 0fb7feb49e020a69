"""Keys typed ahead of a page set nothing up and tick nothing; a plan that was left is named."""

from __future__ import annotations

import pytest

from benchtimer.tui.app import BenchApp
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.rows import Rows
from benchtimer.view.draft import Draft
from tests.support import small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import shown

SEEN_S = 0.7
"""Long enough for a page to have been seen."""


def home_with_a_plan(shop: Shop) -> BenchApp:
    """Home, with a plan of a bolster that was left."""
    app = BenchApp(shop.driver)
    app.kept_draft = Draft().add(small_recipe(), "bolster")
    return app


async def test_a_kept_plan_is_named_on_home_and_has_its_key(shop: Shop) -> None:
    """Home names its parts; 0 goes on with it."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause(SEEN_S)
        shown(app, HomeScreen)
        assert "PLAN KEPT, 1 part. 0 goes on with it" in app.screen.query_one(Rows).text
        await pilot.press("0")
        await pilot.pause(SEEN_S)
        parts = shown(app, PlanScreen).draft.parts
        assert [part.name for part in parts] == ["bolster"]


@pytest.mark.parametrize("burst", [("0", "space"), ("0", "enter"), ("0", "1", "space", "enter")])
async def test_a_burst_sets_nothing_up(shop: Shop, burst: tuple[str, ...]) -> None:
    """What confirms is dropped until the plan could be seen; then it counts."""
    app = home_with_a_plan(shop)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(SEEN_S)
        for key in burst:
            app.simulate_key(key)
        await pilot.pause(SEEN_S)
        assert shop.driver.names == []
        await pilot.press("space")
        await pilot.pause(SEEN_S)
        assert shop.driver.names == ["2026-02-02-1"]


async def test_a_burst_ticks_nothing(shop: Shop) -> None:
    """On the check list, too, the first SPACE that counts is one that saw it."""
    shop.set_up("bolster", started=False)
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(SEEN_S)
        presses = shop.driver.state(shop.name).presses
        for key in ("k", "space"):
            app.simulate_key(key)
        await pilot.pause(SEEN_S)
        assert isinstance(app.screen, PrepareScreen)
        assert shop.driver.state(shop.name).presses == presses
        await pilot.press("space")
        await pilot.pause(SEEN_S)
        assert shop.driver.state(shop.name).presses == presses + 1
