"""The first-aid key: what it shows, how its timer counts, and that every page has it."""

from __future__ import annotations

import pytest
from rich.cells import cell_len
from textual.pilot import Pilot
from textual.widgets import Input

from benchtimer.bench.newrun import NewRun
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from benchtimer.trade.first_aid import FIRST_AID
from benchtimer.tui.app import BenchApp
from benchtimer.tui.dialogs import LinePage, TextPage
from benchtimer.tui.first_aid_screen import FirstAidPage
from benchtimer.tui.lines import CachedLine
from benchtimer.view.first_aid_text import KEPT_S, Rinse, aid_lines, aids_now, goals_of, timer_lines
from tests.support import Hands
from tests.tui.conftest import Shop
from tests.tui.pilots import press

SIZES = [(60, 20), (80, 24), (120, 40)]


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        """The seconds so far."""
        return self.now_s


def _bench(name: str) -> Hands:
    return Hands(recipe=RecipeFiles().find(name), started=False)


def _titles(*names: str) -> list[str]:
    return [aid.name for aid in aids_now([_bench(name).state.bench for name in names])]


@pytest.mark.parametrize(
    ("runs", "shown"),
    [
        ([], [aid.name for aid in FIRST_AID]),
        (["fittings-polish"], [aid.name for aid in FIRST_AID]),
        (["temper-cycles"], ["burn", "cut"]),
        (["etch-darken"], ["acid", "gas", "soda", "cut"]),
        (["hot-black"], ["caustic", "burn", "nitrite", "gas", "solvent", "oil", "cut"]),
        (["edge-and-assembly", "temper-cycles"], ["burn", "resin", "cut"]),
    ],
)
def test_what_is_open_decides_what_is_shown(runs: list[str], shown: list[str]) -> None:
    """The page shows chemistry and heat of every open run, worst first, or else everything."""
    assert _titles(*runs) == shown


def test_a_finished_run_is_not_open() -> None:
    """The baths of a finished run are left out."""
    hands = _bench("etch-darken")
    hands(c.Abort())
    assert aids_now([hands.state.bench]) == FIRST_AID


@pytest.mark.parametrize("width", [40, 54, 76, 116])
def test_every_word_is_on_the_page(width: int) -> None:
    """All orders, signs and warnings are on the page, and no line is wider than it."""
    lines = aid_lines(FIRST_AID, width)
    assert max(map(cell_len, lines)) <= width
    shown = " ".join(" ".join(lines).replace("- ", "").split())
    for aid in FIRST_AID:
        for text in (*aid.do, *aid.never):
            assert " ".join(text.replace("- ", "").split()) in shown


@pytest.mark.parametrize(
    ("elapsed_s", "expected"),
    [
        (0, "rinse at least: 60 min caustic, nitrite   20 min burn"),
        (1199, "rinse at least: 60 min caustic, nitrite   20 min burn"),
        (1200, "rinse at least: 60 min caustic, nitrite   20 min burn DONE"),
        (3600, "rinse at least: 60 min caustic, nitrite DONE   20 min burn DONE"),
    ],
)
def test_the_timer_names_its_goal(elapsed_s: float, expected: str) -> None:
    """Each rinse has its own minutes and a mark when they are over."""
    aids = [aid for aid in FIRST_AID if aid.name in ("caustic", "burn", "nitrite", "cut")]
    assert timer_lines(elapsed_s, aids, 76)[-1] == expected


def test_a_narrow_page_keeps_the_time() -> None:
    """Where large letters don't fit, the time is small."""
    assert timer_lines(754, FIRST_AID, 12)[0] == "RINSE 12:34"
    assert len(timer_lines(754, FIRST_AID, 56)) >= 6


def test_each_goal_reached_beeps_once() -> None:
    """20 minutes and 60 minutes are announced once each."""
    clock = Clock()
    rinse = Rinse(clock)
    rinse.open()
    found = []
    for clock.now_s in (0, 1199, 1200, 1201, 3599, 3600, 3601):
        found.append(rinse.newly_reached([60, 20]))
    assert found == [[], [], [20], [], [], [60], []]


@pytest.mark.parametrize(("away_s", "elapsed_s"), [(KEPT_S, 100 + KEPT_S), (KEPT_S + 1, 0)])
def test_a_page_left_for_long_starts_a_new_rinse(away_s: float, elapsed_s: float) -> None:
    """A short absence keeps the timer running; a long one starts it again."""
    clock = Clock()
    rinse = Rinse(clock)
    rinse.open()
    clock.now_s = 100
    rinse.leave()
    clock.now_s += away_s
    rinse.open()
    assert rinse.elapsed_s == elapsed_s


def _salts(shop: Shop) -> Shop:
    table = recipe_table(RecipeFiles().find("hot-black"))
    shop.name = shop.driver.set_up(
        NewRun("Salts", {"hot-black": table}, [("cap", "hot-black")], {})
    )
    return shop


def _page(app: BenchApp) -> FirstAidPage:
    assert isinstance(app.screen, FirstAidPage)
    return app.screen


def _said(app: BenchApp, name: str) -> str:
    return app.screen.query_one(f"#{name}", CachedLine).said


@pytest.mark.parametrize("key", ["f1", "f", "F"])
@pytest.mark.parametrize("size", SIZES)
async def test_one_press_shows_first_aid(shop: Shop, key: str, size: tuple[int, int]) -> None:
    """On the board the key shows first aid for the salts, with the first order in sight."""
    app = _salts(shop).app()
    async with app.run_test(size=size) as pilot:
        await press(pilot, key)
        assert "rinse at least: 60 min caustic" in _said(app, "rinse")
        assert _said(app, "aid").startswith("CAUSTIC")
        first = app.screen.query_one("#aid", CachedLine)
        assert first.region.y + 2 < size[1] - 2
        await press(pilot, "escape")
        assert not isinstance(app.screen, FirstAidPage)


@pytest.mark.parametrize(
    "way",
    ["h", "h slash", "h p", "h k", "k", "l", "question_mark", "question_mark m",
     "question_mark m 1", "m", "i", "c"],
)  # fmt: skip
async def test_it_works_from_every_page(shop: Shop, way: str) -> None:
    """One press opens it from every page, and ESC goes back."""
    app = _salts(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, way)
        before = app.screen
        types = bool(before.query(Input))  # F is a letter there
        for key in ("f1",) if types else ("f", "f1"):
            await press(pilot, key)
            _page(app)
            await press(pilot, "escape")
            assert app.screen is before


async def test_the_function_key_works_while_something_is_typed(shop: Shop) -> None:
    """In a text field F is a letter and F1 is first aid, and the text stays."""
    app = _salts(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "t o f f")
        assert isinstance(app.screen, LinePage)
        assert app.screen.query_one(Input).value == "off"
        await press(pilot, "f1")
        _page(app)
        await press(pilot, "escape")
        assert app.screen.query_one(Input).value == "off"


async def test_it_opens_once_and_changes_nothing(shop: Shop) -> None:
    """A second press opens no second page, and no press on it reaches the run."""
    app = _salts(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        presses = shop.driver.state(shop.name).presses
        await press(pilot, "f f1 f1 space y n u 1 enter down")
        assert len([s for s in app.screen_stack if isinstance(s, FirstAidPage)]) == 1
        assert shop.driver.state(shop.name).presses == presses


async def test_the_timer_counts_and_beeps(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The timer counts up from the press, beeps at the longest goal, and SPACE twice restarts."""
    app = _salts(shop).app()
    clock = Clock()
    bells: list[float] = []
    async with app.run_test(size=(80, 24)) as pilot:
        app._rinse = Rinse(clock)
        await press(pilot, "f")
        monkeypatch.setattr(app, "bell", lambda: bells.append(clock.now_s))
        assert goals_of(_page(app)._aids) == [60, 20]
        for clock.now_s in (5, 1200, 1300, 3600, 3700):
            _page(app).tick()
        assert bells == [3600]
        assert "60 min caustic, nitrite DONE" in _said(app, "rinse")
        await press(pilot, "space")
        assert "SPACE again" in _said(app, "rinse")
        assert "60 min caustic, nitrite DONE" in _said(app, "rinse")
        await press(pilot, "space")
        assert "DONE" not in _said(app, "rinse")


async def test_alarms_stay_in_sight(shop: Shop) -> None:
    """The first line of the page is the alarm."""
    app = _salts(shop).app()
    async with app.run_test(size=(60, 20)) as pilot:
        app.calling_words = lambda: ("LATE: PULL #1 cap from Salts", True)  # type: ignore[method-assign]
        await press(pilot, "f")
        found = app.screen.query_one("#calling")
        assert found.display
        assert found.region.y == 1
        assert app.screen.query_one("#aid").region.y < 18


async def test_nothing_is_open_on_an_empty_bench(shop: Shop) -> None:
    """Without a run everything is shown."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "f")
        assert "RESIN OR HARDENER" in _said(app, "aid")


async def test_a_watcher_has_first_aid_too(shop: Shop) -> None:
    """A watcher has the key too, on the board and on text pages."""
    from benchtimer.view.keys import KEYS
    from benchtimer.view.pagekeys import (
        HOME_KEYS,
        PLAN_KEYS,
        PREPARE_KEYS,
        RECORD_KEYS,
        RUNS_KEYS,
        allowed,
    )

    for keys in (KEYS, HOME_KEYS, PLAN_KEYS, PREPARE_KEYS, RECORD_KEYS, RUNS_KEYS):
        found = [key.action for key in allowed(keys, read_only=True) if key.key == "f"]
        assert found == ["first_aid"]
    app = _salts(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        app.push_screen(TextPage("Words", "some"))
        await _settled(pilot)
        await press(pilot, "F")
        _page(app)


async def _settled(pilot: Pilot[None]) -> None:
    await pilot.pause()


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_no_line_is_wrapped_twice(shop: Shop, size: tuple[int, int]) -> None:
    """Lines fit beside the scroll bar, so no row holds a single leftover word."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=size) as pilot:
        await pilot.press("f")
        await pilot.pause()
        page = app.screen
        assert isinstance(page, FirstAidPage)
        aid = page.query_one("#aid", CachedLine)
        room = aid.content_region.width
        assert room > 0
        assert max(len(row) for row in aid.said.split("\n")) <= room
