"""The pages around a run, pressed by a pilot: home, plan, preparation, record, list of runs."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest
from textual.color import Color
from textual.pilot import Pilot

from benchtimer.bench import Driver, Watcher
from benchtimer.run import commands as c
from benchtimer.run.state import RunPhase
from benchtimer.settings import Settings
from benchtimer.store.log import RunLine, StoreError
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board import BoardScreen
from benchtimer.tui.dialogs import TextPage
from benchtimer.tui.home import HomeScreen
from benchtimer.tui.lines import Told
from benchtimer.tui.page import Page
from benchtimer.tui.pagekeys import Tables, help_of
from benchtimer.tui.planning import PlanScreen
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.recordpage import EndPage, RecordScreen
from benchtimer.tui.rows import LOOKS, KeyBar
from benchtimer.tui.runs import RunsScreen
from benchtimer.tui.themes import THEMES
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.test_looks import LEAST_CONTRAST, contrast, poor_contrast

T = TypeVar("T", bound=Page)

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]
HOSTILE = ["[red]ferrule", "butt cap 🔪", "刃" * 60, "x" * 200]
BROKEN = StoreError(Path("bench.sqlite3"), "the disk is gone", "Plug it in")


async def _press(pilot: Pilot[None], keys: str) -> None:
    for key in keys.split():
        await pilot.press(key)
    await pilot.pause()


async def _planned(pilot: Pilot[None]) -> None:
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


def _shown(app: BenchApp, kind: type[T]) -> T:
    page = app.screen
    assert isinstance(page, kind)
    return page


def _said(page: Page, name: str = "message") -> str:
    return page.query_one(f"#{name}", Told).said


def _over(shop: Shop, *names: str) -> Shop:
    shop.lay_out(*names)
    for name in names:
        shop.press(c.Scrap(name, "cracked"))
    shop.press(c.Complete())
    return shop


@pytest.mark.parametrize("size", SIZES)
async def test_every_page_holds_at_every_size(shop: Shop, size: tuple[int, int]) -> None:
    """With hostile names each page has its header, its rows and its keys on every screen."""
    _over(shop, "bolster").lay_out(*HOSTILE)
    app = shop.app()
    async with app.run_test(size=size) as pilot:
        for keys in ("h", "n escape", "escape r", "escape l", "escape k"):
            await _press(pilot, keys)
            page = _shown(app, Page)
            assert page.query_one("#header").region.y == 0
            assert page.rows.region.height >= 4
            assert page.query_one(KeyBar).region.bottom == size[1]
            assert page.rows.text.strip()


async def test_home_is_a_key_away_and_the_board_rings_on(shop: Shop) -> None:
    """H shows home over the board, whose ticks go on below; a digit or ESC goes back."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        await _press(pilot, "h")
        assert "READ Tank   before bolster goes in" in _shown(app, HomeScreen).rows.text
        assert board in app.screen_stack
        await _press(pilot, "1")
        assert app.screen is board
        await _press(pilot, "h escape")
        assert app.screen is board
        await _press(pilot, "h r h")
        assert isinstance(app.screen, HomeScreen)
        assert len(app.screen_stack) == 3


async def test_home_opens_another_run(shop: Shop) -> None:
    """From home a digit puts another run on the board in place of the one before."""
    first = shop.lay_out("blade").name
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h 1")
        assert isinstance(app.screen, BoardScreen)
        assert app.screen.desk.name == first
        assert len([s for s in app.screen_stack if isinstance(s, BoardScreen)]) == 1


async def test_every_page_says_in_its_header_what_is_due_or_late(shop: Shop) -> None:
    """Also home, whose rows may be scrolled away, and LATE once a part is being spoiled."""
    app = shop.lay_out("bolster").app()
    shop.to_tank("bolster")
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h")
        assert "LIFT" not in _said(_shown(app, HomeScreen), "header")
        await _press(pilot, "r")
        assert "LIFT" not in _said(_shown(app, RunsScreen), "header")
        shop.clock.advance(6 * MINUTE)
        for word, after_ms in (("DUE", 4 * MINUTE), ("LATE", 0)):
            for page in (screen for screen in app.screen_stack if isinstance(screen, Page)):
                page._draw_header()
                assert f"{word}: LIFT 1 bolster" in _said(page, "header")
                assert ("(H)" in _said(page, "header")) is isinstance(page, RunsScreen)
            shop.clock.advance(after_ms)


async def test_a_touch_opens_what_it_touches(shop: Shop) -> None:
    """Rows of home and the words of the bar of keys can be touched."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h")
        await pilot.click("#rows", offset=(10, 2))
        assert isinstance(app.screen, BoardScreen)
        await _press(pilot, "h")
        bar = app.screen.query_one(KeyBar)
        at = str(bar.content).index("R all runs")
        await pilot.click(KeyBar, offset=(at + 3, 0))
        assert isinstance(app.screen, RunsScreen)


async def test_a_run_is_planned_shifted_and_laid_out(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Recipe, parts, order, a part held back, hands: all by single keys, then START is shown."""
    monkeypatch.setattr("benchtimer.tui.planning.HELP_S", 0.1)
    monkeypatch.setattr("benchtimer.tui.planning.THINK_S", 0.5)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        at = list(app.shelf.paths()).index("hot-black") + 1
        await _press(pilot, f"n {at} a comma b comma d enter")
        await _planned(pilot)
        page = _shown(app, PlanScreen)
        assert "DONE" in _said(page, "lead")
        await _press(pilot, "down o h right right d")
        await _planned(pilot)
        assert [part.name for part in page.draft.parts] == ["a", "d"]
        await _press(pilot, "up right n 3 0 space m i n enter m")
        assert isinstance(app.screen, TextPage)
        await _press(pilot, "escape")
        await _planned(pilot)
        await _press(pilot, "space")
        assert isinstance(app.screen, BoardScreen)
    (name,) = shop.driver.names
    bench = shop.driver.state(name).bench
    assert (list(bench.parts), bench.hands, bench.phase) == (["a", "d"], 2, RunPhase.IDLE)
    held = bench.parts["a"].not_before_ms
    assert held is not None
    assert held - bench.parts["a"].since_ms == 30 * MINUTE


async def test_a_plan_that_was_left_is_taken_up_again(shop: Shop) -> None:
    """ESC leaves the plan without laying it out; N takes it up as it was."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        at = list(app.shelf.paths()).index("hot-black") + 1
        await _press(pilot, f"n {at} p i n enter escape n")
        assert [p.name for p in _shown(app, PlanScreen).draft.parts] == ["pin"]
        await _press(pilot, "w 2 5 enter")
        assert "25" in _said(_shown(app, PlanScreen))
        await _press(pilot, "k")
        assert "lay it out first" in _said(_shown(app, PrepareScreen), "lead")
    assert not shop.driver.names


async def test_no_key_waits_for_the_plan(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the planner thinks keys are taken; leaving tells it to stop."""
    release, stops = threading.Event(), []

    def slow(_draft: object, _now: object, stop: Callable[[], bool], _answer: object) -> None:
        stops.append(stop)
        release.wait(10)

    monkeypatch.setattr("benchtimer.tui.planning.think", slow)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "n 4 a comma b enter")
        page = _shown(app, PlanScreen)
        await _press(pilot, "down o")
        assert [part.name for part in page.draft.parts] == ["b", "a"]
        assert "X stops" in _said(page, "lead")
        await _press(pilot, "escape")
        assert isinstance(app.screen, HomeScreen)
        assert all(stop() for stop in stops)
        release.set()


async def test_a_planner_that_breaks_is_said(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the planner breaks the page says so, and the run can be laid out all the same."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a fault of the planner")

    monkeypatch.setattr("benchtimer.tui.planning.think", broken)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "n 4 a enter")
        await pilot.pause(0.1)
        assert "a fault of the planner" in _said(_shown(app, PlanScreen))
        await _press(pilot, "space")
        assert isinstance(app.screen, BoardScreen)


async def test_ticks_are_kept_with_the_run(shop: Shop) -> None:
    """SPACE ticks, T ticks with words, U takes back; another program opened later knows it."""
    app = shop.lay_out("bolster", started=False).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "k space t a t space 6 5 enter")
        page = _shown(app, PrepareScreen)
        assert _said(page, "lead").startswith(" 2 of ")
        assert "at 65" in page.rows.text
        await _press(pilot, "u")
        assert _said(page, "lead").startswith(" 1 of ")
        await _press(pilot, "n up up space")
        assert _said(page, "lead").startswith(" 0 of ")
        await _press(pilot, "r")
    shop.driver.close()
    shop.driver = Driver(shop.folder, shop.clock)
    assert not shop.driver.state(shop.name).bench.prepared
    told = [line.text for line in shop.driver.record(shop.name).lines]
    assert sum(text.startswith("prepared: Gear: gloves") for text in told) == 1
    assert sum(text.startswith("not ready after all") for text in told) == 1


async def test_the_last_press_of_a_run_can_be_taken_back_on_its_record(shop: Shop) -> None:
    """At the end the record is shown; U there takes the last press back and the board returns."""
    shop.lay_out("bolster")
    shop.press(c.Scrap("bolster", "cracked"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "space")
        assert "U takes back: complete" in _said(_shown(app, EndPage), "lead")
        await _press(pilot, "t o k enter u u")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name).bench.phase is RunPhase.RUNNING


async def test_the_record_is_searched_and_trouble_is_a_key_away(shop: Shop) -> None:
    """D goes from trouble to trouble; / looks for words, N and P go on; nothing is changed."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 10 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(60, 20)) as pilot:
        await _press(pilot, "l d d")
        page = _shown(app, RecordScreen)
        assert _said(page).startswith("trouble 2 of")
        assert page.rows.scroll_offset.y > 0
        await _press(pilot, "slash t a n k enter n p")
        assert _said(page).startswith('"tank" 1 of')
        await _press(pilot, "slash q q q enter")
        assert "no" in _said(page)
        await _press(pilot, "end home escape")
        assert isinstance(app.screen, BoardScreen)


async def test_the_list_of_runs_filters(shop: Shop) -> None:
    """By part, verdict, state, words and date, one key each; X shows all again."""
    _over(shop, "bolster")
    shop.press(c.Judge("bolster", "accepted", 4))
    shop.press(c.Note("the tang was dark"))
    _over(shop, "petty knife")
    shop.lay_out("ferrule")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h r")
        page = _shown(app, RunsScreen)
        assert _said(page, "lead") == " 3 runs"
        for keys, there in (
            ("p p e t asterisk enter", "petty knife"), ("j 2", "bolster"), ("s 2", "ferrule"),
            ("slash t a n g enter", "bolster"),
        ):  # fmt: skip
            await _press(pilot, keys)
            assert _said(page, "lead").startswith(" 1 run with"), keys
            assert there in page.rows.text
            await _press(pilot, "x")
        await _press(pilot, "d 1 9 9 9 enter")
        assert "No run is like that" in page.rows.text
        await _press(pilot, "x end space")
        assert isinstance(app.screen, RecordScreen)
        await _press(pilot, "escape home o")
        assert isinstance(app.screen, BoardScreen)


async def test_a_long_list_is_read_as_it_is_looked_at(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of ten thousand runs only the newest are read at first, and more when the end comes near."""
    lines = [RunLine(f"r{n}", "complete", "Old", ("a",), 0, 0) for n in range(10_000)]
    asked: list[int] = []

    def recent(limit: int = 20) -> list[RunLine]:
        asked.append(limit)
        return lines[:limit]

    monkeypatch.setattr(shop.driver, "recent", recent)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        asked.clear()
        await _press(pilot, "r")
        assert asked
        assert max(asked) == 100
        assert "more below" in _said(_shown(app, RunsScreen), "lead")
        await _press(pilot, "end")
        assert max(asked) == 200
        assert "r199" in _shown(app, RunsScreen).rows.text


async def test_a_log_that_fails_is_said_on_every_page(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the log can't be read home, list and record say so, and go on when it can."""
    app = _over(shop, "bolster").lay_out("ferrule").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h")

        def fails(*_: object) -> None:
            raise BROKEN

        with monkeypatch.context() as patch:
            for name in ("recent", "find", "verdicts", "record", "notice_clock"):
                patch.setattr(shop.driver, name, fails)
            await _press(pilot, "2")
            assert "the disk is gone" in _said(_shown(app, HomeScreen))
            await _press(pilot, "r")
            assert "the disk is gone" in _said(_shown(app, RunsScreen))
            await _press(pilot, "slash x enter escape")
            assert "the disk is gone" in _said(_shown(app, HomeScreen))
            await _press(pilot, "escape l")
            assert isinstance(app.screen, BoardScreen)
        await _press(pilot, "h")
        assert _said(_shown(app, HomeScreen)) == ""
        await _press(pilot, "2")
        assert isinstance(app.screen, RecordScreen)


async def test_who_looks_on_sees_the_same_and_changes_nothing(shop: Shop) -> None:
    """The watcher has home, list, record and preparation, and no key there writes anything."""
    _over(shop, "bolster").lay_out("ferrule", started=False)
    watcher = Watcher(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    before = [shop.driver.record(line.name).lines for line in shop.driver.recent()]
    async with app.run_test(size=(60, 20)) as pilot:
        await _press(pilot, "h n a")
        assert "LOOKING ON" in _said(_shown(app, HomeScreen), "header")
        assert "N new run" not in str(app.screen.query_one(KeyBar).content)
        await _press(pilot, "k space t u")
        await pilot.click("#rows", offset=(10, 2))
        assert "[x]" not in _shown(app, PrepareScreen).rows.text
        shop.press(c.Prepare("Gear: gloves (Hot tank)"))
        _shown(app, PrepareScreen).tick()
        assert "[x]" in _shown(app, PrepareScreen).rows.text
        await _press(pilot, "escape 2 j t u")
        _shown(app, RecordScreen)
        await _press(pilot, "h r space d escape escape")
        shop.press(c.Start())
        _shown(app, HomeScreen).tick()
    assert [shop.driver.record(line.name).lines for line in shop.driver.recent()][1:] == before[1:]
    assert len(shop.driver.record(shop.name).lines) == len(before[0]) + 2
    watcher.close()


async def test_home_draws_only_what_changed(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tick without a change draws no row; a later second draws only the rows that count."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h")
        await pilot.app.workers.wait_for_complete()
        home = _shown(app, HomeScreen)
        drawn: list[int] = []
        monkeypatch.setattr(home.rows, "refresh_line", drawn.append)
        home.tick()
        assert drawn == []
        shop.clock.advance(1000)
        home.tick()
        assert drawn == [1]


async def test_work_that_is_due_is_told_on_every_other_page(shop: Shop) -> None:
    """On a page that doesn't show the bench the header names what is due there."""
    app = shop.lay_out("bolster").app()
    shop.to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h r")
        page = _shown(app, RunsScreen)
        assert "DUE" not in _said(page, "header")
        shop.clock.advance(6 * MINUTE)
        page.tick()
        assert "DUE: LIFT 1 bolster" in _said(page, "header")


@pytest.mark.parametrize("name", list(Tables.ALL))
def test_each_page_tells_its_keys_once(name: str) -> None:
    """On no page has a key two meanings, and the help has every one of them."""
    keys = Tables.ALL[name]
    assert len({key.key for key in keys}) == len(keys)
    text = help_of(keys, read_only=False)
    assert all(key.help in text for key in keys)
    assert not any("+" in key.key for key in keys)


@pytest.mark.parametrize("theme", [theme.name for theme in THEMES])
async def test_rows_keep_their_contrast_in_every_theme(shop: Shop, theme: str) -> None:
    """Each look a row can have, and every field of a page, keeps the contrast of WCAG 2.2 AA."""
    settings = Settings.model_validate({"screen": {"theme": theme}})
    app = BenchApp(shop.lay_out("bolster").driver, guard_s=0, settings=settings)
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "h")
        rows = _shown(app, HomeScreen).rows
        for look in (*LOOKS, "cursor"):
            style = rows.get_component_rich_style(f"rows--{look}")
            assert style.color is not None
            assert style.bgcolor is not None
            ink, ground = Color.from_rich_color(style.color), Color.from_rich_color(style.bgcolor)
            assert contrast(ink, ground) >= LEAST_CONTRAST, look
        assert poor_contrast(app) == {}
        await _press(pilot, "v")
        assert app.theme != theme


async def test_what_a_page_has_to_say_is_in_sight(shop: Shop) -> None:
    """A message takes room on the page, and on the board, as soon as there is one."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, "y")
        assert app.screen.query_one("#message").region.height > 0
        await _press(pilot, "h r")
        assert app.screen.query_one("#lead").region.height > 0
        await _press(pilot, "h l n")
        assert app.screen.query_one("#message").region.height > 0
