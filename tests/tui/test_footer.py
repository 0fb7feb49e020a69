"""The keys at the foot of a page and the key panel: from the tables, whole, touchable."""

from __future__ import annotations

import pytest
from textual.widgets._key_panel import BindingsTable

from benchtimer.bench.open_bench import look_on
from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.view.keys import KEYS, Key
from benchtimer.view.pagekeys import HOME_KEYS, RECORD_KEYS, RUNS_KEYS
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import foot, press, touch_key

WAYS = {"": KEYS, "h": HOME_KEYS, "h slash": RUNS_KEYS, "l": RECORD_KEYS}


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("way", WAYS)
async def test_the_footer_shows_the_key_table_and_cuts_no_word(
    shop: Shop, way: str, size: tuple[int, int]
) -> None:
    """Each visible key shows its whole label, and help and first aid are there."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    labels = {key.key: key.label for key in WAYS[way]}
    async with app.run_test(size=size) as pilot:
        await press(pilot, way)
        await pilot.pause(0.1)
        shown = foot(app)
        assert {"f", "question_mark"} <= set(shown)
        for key in shown.values():
            assert key.region.right <= size[0]
            assert key.region.bottom <= size[1]
            assert key.key == "space" or key.description == labels[key.key]


async def test_space_says_what_it_does_or_is_gone(shop: Shop) -> None:
    """SPACE has the label of the large line and disappears while it would do nothing."""
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:

        async def label() -> str:
            app.screen.refresh_board()  # type: ignore[attr-defined]
            await pilot.pause()
            return foot(app)["space"].description if "space" in foot(app) else ""

        assert await label() == ""  # a figure is asked for
        await press(pilot, "6")
        assert await label() == "save"
        await press(pilot, "5")
        assert await label() == "start"
        shop.to_tank("bolster")
        assert await label() == ""  # too early to pull
        shop.clock.advance(6 * MINUTE)
        shop.press(c.Read("tank", "65"))
        assert await label() == "pull"


@pytest.mark.parametrize(("way", "keys"), [("", KEYS), ("h", HOME_KEYS)])
async def test_the_key_panel_has_every_key(shop: Shop, way: str, keys: tuple[Key, ...]) -> None:
    """? shows each key of the page behind it, and none of its own."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot, f"{way} question_mark".strip())
        table = app.screen.query_one(BindingsTable).render_bindings_table()
        cells = [" ".join(str(cell) for cell in column.cells) for column in table.columns]
        shown, helps = cells
        assert all(key.shown in shown.split() for key in keys)
        same = {key.action for key in keys if key.help.startswith("The same")}
        for key in keys:
            assert key.help in helps or key.action in same
        assert "manual" not in helps


async def test_a_watcher_is_offered_no_key_that_changes_anything(shop: Shop) -> None:
    """Neither foot nor panel offers a watcher a key that changes the run."""
    shop.set_up("bolster")
    watcher = look_on(shop.folder, shop.clock)
    app = BenchApp(watcher, shop.name, guard_s=0)
    changing = {key.key for key in KEYS if key.changes}
    async with app.run_test(size=(200, 60)) as pilot:
        await pilot.pause()
        assert not changing & set(foot(app))
        assert "q" in foot(app)
        await press(pilot, "question_mark")
        table = app.screen.query_one(BindingsTable).render_bindings_table()
        assert "note" not in " ".join(str(cell) for cell in table.columns[1].cells)
    watcher.close()


async def test_arrows_have_names_on_ascii_terminals(shop: Shop) -> None:
    """Without arrow characters, the foot of a plan says RIGHT and LEFT."""
    shop.set_up("bolster")
    app = BenchApp(shop.driver, guard_s=0, ascii_only=True)
    async with app.run_test(size=(200, 60)) as pilot:
        await press(pilot, "h p escape")
        assert {foot(app)[key].key_display for key in ("right", "left")} == {"RIGHT", "LEFT"}


async def test_a_key_touched_three_times_is_pressed_where_it_was_shown(shop: Shop) -> None:
    """Three quick touches on a key open one page."""
    app = BenchApp(shop.set_up("bolster").driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        target = foot(app)["m"]
        for _ in range(3):
            await pilot.mouse_down(target)
        await pilot.pause(0.1)
        assert len(app.screen_stack) == 3
        await touch_key(pilot, "escape")
        assert len(app.screen_stack) == 2
