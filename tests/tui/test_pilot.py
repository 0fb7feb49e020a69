"""The screen itself, pressed by a pilot."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Static

from benchtimer.advice import Advice
from benchtimer.bench import Driver, Watcher
from benchtimer.run import commands as c
from benchtimer.run.state import PartPhase, RunPhase
from benchtimer.settings import Settings
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board import BoardScreen
from benchtimer.tui.desk import Desk
from benchtimer.tui.dialogs import ChoicePage, LinePage, TextPage
from benchtimer.tui.home import HomeScreen
from benchtimer.tui.keys import KEYS, bottom_keys, help_lines
from benchtimer.tui.recordpage import EndPage, RecordScreen
from tests.support import MINUTE, SMALL, TEMPERED, small_recipe
from tests.tui.conftest import Shop

SIZES = [(60, 20), (80, 24), (120, 40), (200, 60)]


def _text(app: BenchApp, name: str) -> str:
    return str(app.screen.query_one(f"#{name}", Static).content)


async def _press(pilot: Pilot[None], shop: Shop, keys: str, after_ms: int = 1000) -> None:
    for key in keys.split():
        shop.clock.advance(after_ms)
        await pilot.press(key)
    await pilot.pause()


async def test_a_run_by_space_digits_and_letters(shop: Shop) -> None:
    """One part goes from start to the record by single keys."""
    app = shop.lay_out("bolster", started=False).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "space space 6 5 space space space space")
        part = shop.driver.state(shop.name).bench.parts["bolster"]
        assert part.phase is PartPhase.DWELLING
        shop.clock.advance(5 * MINUTE)
        await _press(pilot, shop, "space y 2 5 space space")
        shop.clock.advance(120 * MINUTE)
        await _press(pilot, shop, "space 1 space")
        assert isinstance(app.screen, LinePage)
        await _press(pilot, shop, "f i n e enter space")
        assert isinstance(app.screen, EndPage)
    assert shop.driver.state(shop.name).bench.phase is RunPhase.COMPLETE


@pytest.mark.parametrize("size", SIZES)
async def test_the_board_holds_at_every_size(shop: Shop, size: tuple[int, int]) -> None:
    """At each size the next action, the lanes and the bottom line are on the screen."""
    names = ["bolster", "[red]ferrule", "butt cap 🔪", "刃" * 60]
    app = shop.lay_out(*names).app()
    shop.to_tank("bolster")
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        assert "1 bolster" in _text(app, "lane-1")
        assert "[red]ferrule" in _text(app, "lane-2")
        assert app.screen.query_one("#next").region.height >= 7
        assert app.screen.query_one("#keys").region.bottom == size[1]
        assert app.screen.query_one("#lane-1").region.height >= 1


async def test_the_clock_moves_the_board(shop: Shop) -> None:
    """The countdown follows the clock and nothing else."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        before = _text(app, "lane-1")
        board.tick()
        assert _text(app, "lane-1") == before
        shop.clock.advance(MINUTE)
        board.tick()
        assert "lift in 3:59" in _text(app, "lane-1")


async def test_nothing_is_drawn_again_that_did_not_change(shop: Shop) -> None:
    """A tick without a change updates no widget."""
    shop.lay_out("bolster", started=False)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        updated: list[str] = []
        for line in board.query(Static):
            line.update = lambda *_, line=line, **__: updated.append(str(line.id))  # type: ignore[method-assign]
        board.tick()
        assert updated == []
        shop.clock.advance(1000)
        board.tick()
        assert updated == ["header"]


async def test_the_bell_rings_when_something_falls_due(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bell is silent while all is in time and rings when a part is due."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    rung: list[int] = []
    monkeypatch.setattr(app, "bell", lambda: rung.append(1))
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        board.tick()
        assert not rung
        shop.clock.advance(6 * MINUTE)
        board.tick()
        assert len(rung) == 1


async def test_undo_and_back_date_by_key(shop: Shop) -> None:
    """U takes the last press back, R makes it count again, B and S put it earlier."""
    shop.lay_out("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        since = shop.driver.state(shop.name).bench.parts["bolster"].since_ms
        await _press(pilot, shop, "s")
        assert shop.driver.state(shop.name).bench.parts["bolster"].since_ms == since - 10_000
        await _press(pilot, shop, "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].since_ms == since
        await _press(pilot, shop, "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        await _press(pilot, shop, "r")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.DWELLING


async def test_the_menu_holds_sends_back_and_aborts(shop: Shop) -> None:
    """The page behind M reaches what is done seldom, by digits and a few words."""
    shop.lay_out("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "1 m")
        assert type(app.screen).__name__ == "ChoicePage"
        await _press(pilot, shop, "1 o d d enter")
        assert shop.driver.state(shop.name).bench.parts["bolster"].held == "odd"
        await _press(pilot, shop, "1 m 1")
        assert shop.driver.state(shop.name).bench.parts["bolster"].held is None
        await _press(pilot, shop, "1 m 4 2")
        assert shop.driver.state(shop.name).bench.parts["bolster"].step == 0
        await _press(pilot, shop, "m escape")
        assert type(app.screen).__name__ == "BoardScreen"
        await _press(pilot, shop, "m 3")  # nothing to put back: the digit does nothing
        assert not shop.driver.state(shop.name).bench.parts["bolster"].is_out
        await _press(pilot, shop, "m 9 3 o k enter")
        assert shop.driver.state(shop.name).bench.phase is RunPhase.ABORTED


async def test_a_note_and_another_part(shop: Shop) -> None:
    """T writes a note, A lets a part join."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "t o k enter")
        assert "note: ok" in shop.driver.record(shop.name).lines[-1].text
        await _press(pilot, shop, "a p i n enter")
        assert "pin" in shop.driver.state(shop.name).bench.parts
        assert "2 pin" in _text(app, "lane-2")


async def test_pages_to_read_open_and_close(shop: Shop) -> None:
    """Record, cautions and keys open by one key, scroll, and close by escape."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("l", "c", "question_mark"):
            await _press(pilot, shop, key)
            assert isinstance(app.screen, TextPage | RecordScreen)
            await _press(pilot, shop, "down pagedown end home escape")
            assert isinstance(app.screen, BoardScreen)


async def test_a_touch_confirms_picks_and_takes_back(shop: Shop) -> None:
    """Everything large can be touched: the next action, a lane, the undo line."""
    shop.lay_out("bolster", "ferrule")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.click("#lane-2")
        await pilot.click("#next")
        assert shop.driver.state(shop.name).bench.parts["ferrule"].phase is PartPhase.IN_HAND
        await pilot.click("#undo")
        assert shop.driver.state(shop.name).bench.parts["ferrule"].phase is PartPhase.WAITING


async def test_two_runs_on_one_bench(shop: Shop) -> None:
    """With two runs open the header says so and TAB goes from one to the other."""
    shop.lay_out("blade")
    first = shop.name
    shop.lay_out("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "+1 MORE RUN" in _text(app, "header")
        await _press(pilot, shop, "tab")
        await pilot.pause()
        shown = app.screen
        assert isinstance(shown, BoardScreen)
        assert shown.desk.name == first


async def test_looking_on_changes_nothing_and_follows(shop: Shop) -> None:
    """The read-only board says what it is, has no changing keys, and follows every press."""
    shop.lay_out("bolster")
    watcher = Watcher(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        before = shop.driver.state(shop.name)
        await _press(pilot, shop, "space u m t a 1 b y")
        assert isinstance(app.screen, BoardScreen)
        assert shop.driver.state(shop.name) == before
        assert "LOOKING ON" in _text(app, "header")
        shop.to_tank("bolster")
        app.screen.tick()
        assert "in Tank" in _text(app, "lane-1")
    watcher.close()


async def test_an_empty_bench_lays_out_a_run(shop: Shop) -> None:
    """With no run home offers the recipes, takes part names, shows the plan, opens the board."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert isinstance(app.screen, HomeScreen)
        names = list(app.shelf.paths())
        await _press(pilot, shop, f"space {names.index('hot-black') + 1}")
        await _press(pilot, shop, "a comma b enter")
        assert type(app.screen).__name__ == "PlanScreen"
        await _press(pilot, shop, "space")
        assert type(app.screen).__name__ == "BoardScreen"
    (name,) = shop.driver.names
    assert list(shop.driver.state(name).bench.parts) == ["a", "b"]


async def test_practice_is_marked_on_every_board(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A practice bench says PRACTICE in the first line of every screen."""
    from benchtimer.clock import ManualClock

    driver = Driver(tmp_path_factory.mktemp("bench"), ManualClock(10**12), speed=30)
    app = BenchApp(driver, guard_s=0)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "PRACTICE 30x" in _text(app, "header")
    driver.close()


def test_keys_are_told_once() -> None:
    """No key has two meanings, and the help page has every one of them."""
    keys = [key.key for key in KEYS]
    assert len(set(keys)) == len(keys)
    text = "\n".join(help_lines(read_only=False))
    assert all(key.help in text for key in KEYS)
    assert [k.shown for k in bottom_keys(read_only=False, width=58)][:3] == ["SPACE", "U", "?"]
    assert not any(k.changes for k in bottom_keys(read_only=True, width=200))


async def test_the_next_action_comes_from_the_plan(shop: Shop) -> None:
    """After each press the planner is asked, and its times are on the board."""
    shop.lay_out("bolster", "ferrule", "butt cap")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert set(board.desk.advice.begin_ms) == {"bolster", "ferrule", "butt cap"}
        first = board.desk.advice
        await _press(pilot, shop, "space")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert board.desk.advice is not first


async def test_what_cannot_be_avoided_is_said(shop: Shop) -> None:
    """When an overstay can't be avoided any more the board says which part and where."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    shop.clock.advance(12 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "bolster" in _text(app, "message")


async def test_no_key_waits_for_the_planner(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the planner thinks, presses are taken and shown; it is told to stop thinking."""
    shop.lay_out("bolster")
    shop.press(c.Read("tank", "65"))
    release = threading.Event()
    stopped: list[bool] = []

    def think(self: Desk) -> Callable[[Callable[[], bool]], Advice]:
        self._advised_presses = self.state.presses

        def ask(stop: Callable[[], bool]) -> Advice:
            release.wait(10)
            stopped.append(stop())
            return Advice()

        return ask

    monkeypatch.setattr(Desk, "ask_planner", think)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await _press(pilot, shop, "space")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        assert "in hand" in _text(app, "lane-1")
        release.set()
        await pilot.pause(0.2)
    assert True in stopped


async def test_a_recipe_asks_what_it_must_know_of_a_part(shop: Shop) -> None:
    """Adding a part asks for its name and then for each property its recipe needs."""
    shop.lay_out("blade", recipe=small_recipe(TEMPERED), properties={"blade": {"temper": "200 C"}})
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "a p i n enter 4 0 0 space F enter")
        parts = shop.driver.state(shop.name).bench.parts
        assert str(parts["pin"].properties["temper"]) == "400 F"
        await _press(pilot, shop, "a x enter escape")
        assert "x" not in shop.driver.state(shop.name).bench.parts


async def test_a_failing_planner_is_said_and_the_board_goes_on(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the planner breaks, the board says so and works by the nearest deadline."""
    shop.lay_out("bolster")
    shop.press(c.Read("tank", "65"))

    def broken(*_: object, **__: object) -> Advice:
        raise ZeroDivisionError("a fault of the planner")

    monkeypatch.setattr("benchtimer.tui.desk.advise", broken)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await pilot.pause(0.2)
        board.refresh_board()
        assert "a fault of the planner" in _text(app, "message")
        await _press(pilot, shop, "space")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND


async def test_a_figure_stays_with_what_it_is_typed_for(shop: Shop) -> None:
    """While a figure is typed, nothing that falls due takes the line, and SPACE writes it."""
    shop.lay_out("bolster").to_tank("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        shop.clock.advance(10 * MINUTE)
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.desk.reading = True
        reading = next(a for a in board.desk.actions(shop.driver.stamp()) if a.part is None)
        board.desk.entry, board.desk._entry_for = "66", ("reading", "tank")
        assert reading.to_station == "tank"
        board.refresh_board()
        await _press(pilot, shop, "space")
        place = shop.driver.state(shop.name).bench.places["tank"]
        assert place.reading is not None
        assert place.reading.quantity.value == 66
        assert shop.driver.state(shop.name).bench.parts["bolster"].station == "tank"


async def test_a_bouncing_key_answers_one_question(shop: Shop) -> None:
    """Y pressed twice in a moment is one answer."""
    shop.lay_out("bolster").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    desk = Desk(shop.driver, shop.name, monotonic=lambda: 5.0, guard_s=0.4)
    desk.say(True)
    answered = shop.driver.state(shop.name)
    desk.say(True)
    assert shop.driver.state(shop.name) == answered


async def test_a_long_caution_is_read_to_its_end(shop: Shop) -> None:
    """SPACE shows what is below before it acknowledges; first aid stands at the top."""
    long = SMALL.replace('text = "It is hot."', f'text = "{"It is very hot. " * 80}"').replace(
        'wear = ["gloves"]', 'wear = ["gloves"]\nfirst_aid = "Cool it."'
    )
    shop.lay_out("bolster", recipe=small_recipe(long), started=False)
    shop.press(c.Start())
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "FIRST AID" in _text(app, "caution").split("\n")[1]
        await pilot.pause(0.1)
        presses = 0
        while not shop.driver.state(shop.name).bench.acknowledged:
            await _press(pilot, shop, "space")
            await pilot.pause(0.05)
            presses += 1
            assert presses < 12
        assert presses >= 2


TWO_CAUTIONS = SMALL.replace(
    "[[step]]",
    '[[caution]]\nbefore = "tank"\ntitle = "Second"\ntext = "'
    + "Read this. " * 90
    + '"\nwear = ["apron"]\n[[step]]',
    1,
).replace('text = "It is hot."', 'text = "' + "It is very hot. " * 60 + '"')


async def test_each_caution_is_read_from_its_beginning(shop: Shop) -> None:
    """The second of two cautions opens at its first line, and is read to its end as well."""
    shop.lay_out("bolster", recipe=small_recipe(TWO_CAUTIONS), started=False)
    shop.press(c.Start())
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        for title in ("Hot tank", "Second"):
            scroll = app.screen.query_one("#lanes")
            assert scroll.scroll_y == 0
            presses = 0
            while title not in shop.driver.state(shop.name).bench.acknowledged:
                await _press(pilot, shop, "space")
                await pilot.pause(0.05)
                presses += 1
                assert presses < 20
            assert presses >= 2


async def test_a_bouncing_key_does_not_acknowledge_what_it_scrolled_to(shop: Shop) -> None:
    """The press that scrolls a caution counts for the guard against slips."""
    shop.lay_out("bolster", recipe=small_recipe(TWO_CAUTIONS), started=False)
    shop.press(c.Start())
    app = BenchApp(shop.driver, shop.name, guard_s=60)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.1)
        await _press(pilot, shop, "space space space space space space")
        assert not shop.driver.state(shop.name).bench.acknowledged


async def test_words_go_to_the_question_that_was_asked(shop: Shop) -> None:
    """What is written answers its own question although another part has become critical."""
    shop.lay_out("bolster", "ferrule").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    shop.press(c.Answer("bolster", "even", True))
    shop.press(c.Answer("bolster", "heat", "25 C"))
    shop.press(c.Finish("bolster"))
    shop.to_tank("ferrule")
    shop.press(c.Begin("bolster"), 2 * MINUTE)
    shop.press(c.Answer("bolster", "colour", "black"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "1 space")
        assert isinstance(app.screen, LinePage)
        title = app.screen.query_one(".title", Static)
        assert str(title.render()) == "bolster: Anything else?"  # of several parts, this one
        shop.clock.advance(6 * MINUTE)
        await _press(pilot, shop, "f i n e enter")
    answers = shop.driver.state(shop.name).bench.parts["bolster"].answers
    assert answers["words"].answer == "fine"


async def test_looking_on_at_an_empty_bench_shows_the_first_run(shop: Shop) -> None:
    """A watcher that began before any run follows it, alarms and all, once it is laid out."""
    watcher = Watcher(shop.folder, shop.clock)
    app = BenchApp(watcher, guard_s=0)
    async with app.run_test(size=(60, 20)) as pilot:
        assert isinstance(app.screen, HomeScreen)
        shop.lay_out("bolster")
        watcher.refresh()
        app._show_first_run()
        await pilot.pause()
        assert type(app.screen).__name__ == "BoardScreen"
    watcher.close()


async def test_long_lists_turn_the_page(shop: Shop) -> None:
    """More than nine choices are offered page by page, none left out."""
    app = shop.lay_out("bolster").app()
    chosen: list[int | None] = []
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.pause()
        app.push_screen(ChoicePage("Which?", [f"choice {n}" for n in range(20)]), chosen.append)
        await _press(pilot, shop, "9 9 2")
        app.push_screen(ChoicePage("Which?", [f"choice {n}" for n in range(20)]), chosen.append)
        await _press(pilot, shop, "9 9 9 1")
    assert chosen == [17, 0]


async def test_tab_leads_on_after_a_run_has_ended(shop: Shop) -> None:
    """When the run shown is over, TAB shows the one that is still open."""
    shop.lay_out("blade")
    first = shop.name
    shop.lay_out("bolster")
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        shop.press(c.Abort("enough"))
        await _press(pilot, shop, "down escape")
        await _press(pilot, shop, "tab")
        await pilot.pause()
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.name == first


async def test_the_own_command_hears_of_an_alarm(shop: Shop, tmp_path: Path) -> None:
    """What falls due is told to the shop's command; one that fails is said on the board."""
    told = tmp_path / "told"
    write = f"import sys; open({str(told)!r}, 'a').write(sys.argv[1] + '\\n'); sys.exit(7)"
    shop.lay_out("bolster").to_tank("bolster")
    shop.clock.advance(12 * MINUTE)
    settings = Settings.model_validate({"alarm": {"command": [sys.executable, "-c", write]}})
    app = BenchApp(shop.driver, shop.name, guard_s=0, settings=settings)
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        for _ in range(3):
            board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "exit code 7" in _text(app, "message")
    (line,) = told.read_text().splitlines()
    assert line.startswith("LATE, 2 things in this order: 1. LIFT 1 bolster from Tank, LATE 4:0")


async def test_capitals_count_too(shop: Shop) -> None:
    """With the capitals lock on, every key does the same."""
    app = shop.lay_out("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await _press(pilot, shop, "G")
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.glance
        await _press(pilot, shop, "L")
        assert type(app.screen).__name__ == "RecordScreen"
        await _press(pilot, shop, "H")
        assert isinstance(app.screen, HomeScreen)
