"""The pages around a run, with a pilot: home, and what all pages share."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.run import commands as c
from benchtimer.settings import Settings
from benchtimer.store.log import StoreError
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.footer import KeyFooter
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.recordpage import EndPage, RecordScreen
from benchtimer.tui.row_page import RowPage
from benchtimer.tui.runs_page import RunsScreen
from benchtimer.tui.themes import THEMES
from benchtimer.view.row import LOOKS, Row
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import foot, over, press, said, shown, touch_key
from tests.tui.test_looks import poor_contrast, poor_letters

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]
HOSTILE = ["[red]ferrule", "butt cap 🔪", "刃" * 60, "x" * 200]
BROKEN = StoreError(Path("bench.sqlite3"), "the disk is gone", "Plug it in")


@pytest.mark.parametrize("size", SIZES)
async def test_every_page_fits_at_every_size(shop: Shop, size: tuple[int, int]) -> None:
    """With hostile names each page shows its header, rows and keys on every screen."""
    over(shop, "bolster").set_up(*HOSTILE)
    app = shop.app()
    async with app.run_test(size=size) as pilot:
        for keys in ("h", "p escape", "escape slash", "escape l", "escape k"):
            await press(pilot, keys)
            page = shown(app, RowPage)
            assert page.query_one("#header").region.y == 0
            assert page.rows.region.height >= 4
            assert page.query_one(KeyFooter).region.bottom == size[1]
            assert page.rows.text.strip()


async def test_home_is_one_key_away_and_alarms_continue(shop: Shop) -> None:
    """H shows home while the board ticks on; a digit or ESC goes back."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        await press(pilot, "h")
        assert "READ Tank   before #1 bolster goes in" in shown(app, HomeScreen).rows.text
        assert board in app.screen_stack
        await press(pilot, "1")
        assert app.screen is board
        await press(pilot, "h escape")
        assert app.screen is board
        await press(pilot, "h slash h")
        assert isinstance(app.screen, HomeScreen)
        assert len(app.screen_stack) == 3


async def test_home_opens_another_run(shop: Shop) -> None:
    """From home a digit puts another run on the board."""
    first = shop.set_up("blade").name
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h 1")
        assert isinstance(app.screen, BoardScreen)
        assert app.screen.desk.name == first
        assert len([s for s in app.screen_stack if isinstance(s, BoardScreen)]) == 1


async def test_home_marks_the_most_pressing_run_first(shop: Shop) -> None:
    """The mark is on the run with the late part, not on the first run set up."""
    app = shop.set_up("bolster", started=False).app()
    shop.set_up("ferrule").to_tank("ferrule")
    shop.clock.advance(9 * MINUTE)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        assert shown(app, HomeScreen).rows.chosen == f"run:{shop.name}"


async def test_every_page_says_in_its_header_what_is_due_or_late(shop: Shop) -> None:
    """Every header shows what comes next, then NOW, then LATE, even with its row out of sight."""
    app = shop.set_up("bolster").app()
    shop.to_tank("bolster")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        assert "NEXT: PULL #1  in 5:00" in said(shown(app, HomeScreen), "header")
        await press(pilot, "slash")
        assert "NEXT: PULL #1  in 5:00 (H)" in said(shown(app, RunsScreen), "header")
        shop.clock.advance(6 * MINUTE)
        for word, after_ms in (("NOW", 4 * MINUTE), ("LATE", 0)):
            for page in (screen for screen in app.screen_stack if isinstance(screen, RowPage)):
                page._draw_header()
                assert said(page, "header").startswith(f" {word}")
                assert "PULL #1 bolster" in said(page, "header")
                assert ("(H)" in said(page, "header")) is isinstance(page, RunsScreen)
            shop.clock.advance(after_ms)


async def test_a_touch_opens_what_it_touches(shop: Shop) -> None:
    """Rows of home and the words of the key bar work by touch."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        await pilot.click("#rows", offset=(10, 2))
        assert isinstance(app.screen, BoardScreen)
        await press(pilot, "h")
        await touch_key(pilot, "slash")
        assert isinstance(app.screen, RunsScreen)


async def test_a_failing_log_is_reported_on_every_page(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the log can't be read, home, list and record say so; then they go on."""
    app = over(shop, "bolster").set_up("ferrule").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")

        def fails(*_: object) -> None:
            raise BROKEN

        with monkeypatch.context() as patch:
            for name in ("recent", "find", "verdicts", "record"):
                patch.setattr(shop.driver, name, fails)
            patch.setattr(shop.driver.writer, "notice_clock", fails)
            await press(pilot, "2")
            assert "the disk is gone" in said(shown(app, HomeScreen))
            await press(pilot, "slash")
            assert "the disk is gone" in said(shown(app, RunsScreen))
            await press(pilot, "slash 6 x enter escape")
            assert "the disk is gone" in said(shown(app, HomeScreen))
            await press(pilot, "escape l")
            assert type(app.screen).__name__ == "BoardScreen"
        await press(pilot, "h")
        assert said(shown(app, HomeScreen)) == ""
        await press(pilot, "2")
        assert type(app.screen).__name__ == "RecordScreen"


async def test_a_watcher_sees_the_same_and_changes_nothing(shop: Shop) -> None:
    """A watcher has home, list, record and checklist, and no key there writes anything."""
    over(shop, "bolster").set_up("ferrule", started=False)
    watcher = look_on(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    before = [shop.driver.record(line.name).lines for line in shop.driver.recent()]
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "h p equals_sign")
        assert "WATCHING" in said(shown(app, HomeScreen), "header")
        assert "p" not in foot(app)
        await press(pilot, "k space t u")
        await pilot.click("#rows", offset=(10, 2))
        assert "[x]" not in shown(app, PrepareScreen).rows.text
        shop.press(c.Prepare("Gear: gloves (Hot tank)"))
        shown(app, PrepareScreen).tick()
        assert "[x]" in shown(app, PrepareScreen).rows.text
        await press(pilot, "escape 2 j t u")
        shown(app, RecordScreen)
        await press(pilot, "h slash space full_stop escape escape")
        shop.press(c.Acknowledge("Hot tank"))
        shop.press(c.Start())
        shown(app, HomeScreen).tick()
    assert [shop.driver.record(line.name).lines for line in shop.driver.recent()][1:] == before[1:]
    assert len(shop.driver.record(shop.name).lines) == len(before[0]) + 3
    watcher.close()


async def test_home_draws_only_what_changed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tick without a change draws no row; a new minute draws only the rows that show time."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        await pilot.app.workers.wait_for_complete()
        home = shown(app, HomeScreen)
        drawn: list[int] = []
        monkeypatch.setattr(home.rows, "refresh_line", drawn.append)
        monkeypatch.setattr(home.rows, "set_options", lambda _: drawn.append(-1))
        home.tick()
        assert drawn == []
        shop.clock.advance(60_000)
        home.tick()
        assert drawn == [1]


async def test_space_on_home_never_leads_away_from_due_work(shop: Shop) -> None:
    """With a pull due, SPACE shows it whichever row is marked; ENTER opens the marked row."""
    shop.set_up("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        await pilot.app.workers.wait_for_complete()
        await press(pilot, "end enter")
        assert not isinstance(app.screen, HomeScreen | BoardScreen)
        await press(pilot, "escape h")
        shop.clock.advance(6 * MINUTE)
        await press(pilot, "end space")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name).bench.parts["bolster"].station == "tank"


async def test_due_work_shows_on_every_other_page(shop: Shop) -> None:
    """On a page without the bench, the header names the due work."""
    app = shop.set_up("bolster").app()
    shop.to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h slash")
        page = shown(app, RunsScreen)
        assert "NOW" not in said(page, "header")
        shop.clock.advance(6 * MINUTE)
        page.tick()
        assert "NOW: PULL #1 bolster" in said(page, "header")


@pytest.mark.parametrize(
    "kind", [HomeScreen, PlanScreen, PrepareScreen, RecordScreen, EndPage, RunsScreen]
)
def test_each_page_lists_its_keys_once(kind: type[RowPage]) -> None:
    """On no page has a key two meanings."""
    keys = kind.KEYS
    assert len({key.key for key in keys}) == len(keys)
    assert not any("+" in key.key for key in keys)


@pytest.mark.parametrize("theme", [theme.name for theme in THEMES])
async def test_rows_keep_their_contrast_in_every_theme(shop: Shop, theme: str) -> None:
    """Each kind of row and field keeps the contrast of WCAG 2.2 AA."""
    settings = Settings.model_validate({"screen": {"theme": theme}})
    app = BenchApp(shop.set_up("bolster").driver, guard_s=0, settings=settings)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "h")
        rows = shown(app, HomeScreen).rows
        rows.show([Row((f" {look}",), look, key) for look in LOOKS for key in ("", look)])
        for look in LOOKS:  # the mark is on each in turn
            rows.point_at_key(look)
            await pilot.pause()
            assert poor_letters(app) == {}, look
        assert poor_contrast(app) == {}
        await press(pilot, "v")
        assert app.theme != theme


async def test_a_pages_message_is_in_sight(shop: Shop) -> None:
    """A message appears at once, on the page and on the board."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "y")
        assert app.screen.query_one("#message").region.height > 0
        await press(pilot, "h slash")
        assert app.screen.query_one("#lead").region.height > 0
        await press(pilot, "h l slash q q q enter")
        assert app.screen.query_one("#message").region.height > 0


@pytest.mark.parametrize("way", ["h equals_sign", "l equals_sign", "h slash equals_sign"])
async def test_a_run_is_set_up_again_from_every_list_of_runs(shop: Shop, way: str) -> None:
    """= offers new names and plans them, from home, a record or all runs; SPACE sets it up."""
    app = shop.set_up("bolster", "cap").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, way)
        await press(pilot, "enter")
        page = shown(app, PlanScreen)
        assert [part.name for part in page.draft.parts] == ["bolster 2", "cap 2"]
        await press(pilot, "space")
        parts = [list(shop.driver.state(name).bench.parts) for name in shop.driver.names]
        assert parts == [["bolster", "cap"], ["bolster 2", "cap 2"]]
