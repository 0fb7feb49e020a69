"""The board and the planner: no key waits for its answer."""

from __future__ import annotations

import threading
from collections.abc import Callable
from types import SimpleNamespace

import pytest

from benchtimer.bench.asking import Asking
from benchtimer.bench.moment import Moment
from benchtimer.bench.plans import Advice, part_key, stage_of
from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase
from benchtimer.tui.app import KEY_S, BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.view.desk import JUST_CHANGED
from benchtimer.view.keyguard import CHANGED_S
from tests.support import MINUTE, SMALL, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import lane, picture, press_at, text


async def test_the_next_action_comes_from_the_plan(shop: Shop) -> None:
    """After each press the planner is asked, and its times are on the board."""
    shop.set_up("bolster", "ferrule", "butt cap")
    shop.press(c.Read("tank", "65"))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        parts = ("bolster", "ferrule", "butt cap")
        assert set(shop.driver.plans.advice.begin_ms) == {part_key(shop.name, p) for p in parts}
        first = shop.driver.plans.advice
        await press_at(pilot, shop, "space")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert shop.driver.plans.advice is not first


async def test_alarms_follow_the_planner_at_once(shop: Shop) -> None:
    """The list of late pulls and the next action have the same order."""
    recipe = small_recipe(SMALL.replace("holds = 1", "holds = 3", 1))
    shop.set_up("bolster", "ferrule", recipe=recipe)
    shop.to_tank("bolster")
    shop.to_tank("ferrule")
    shop.clock.advance(20 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(200, 60)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        bench, now_ms = shop.driver.state(shop.name).bench, shop.driver.stamp().noted_ms
        for order in (("ferrule", "bolster"), ("bolster", "ferrule")):
            keys = [part_key(shop.name, name) for name in order]
            starts = {key: now_ms + 40_000 * i for i, key in enumerate(keys)}
            stages = {part_key(shop.name, name): stage_of(bench.parts[name]) for name in order}
            shop.driver.plans.keep(Advice(begin_ms=starts, stages=stages))
            board.refresh_board()
            first, second = (bench.parts[name].number for name in order)
            assert f"1. PULL #{first}" in text(app, "header")
            assert f"2. PULL #{second}" in text(app, "header")


async def test_an_unavoidable_overrun_is_reported(shop: Shop) -> None:
    """A message names the part and place of an unavoidable overrun."""
    shop.set_up("bolster").to_tank("bolster")
    shop.press(c.Read("tank", "65"))
    shop.clock.advance(12 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "NOW UNAVOIDABLE" in picture(app)
        assert "bolster" in picture(app)


async def test_no_key_waits_for_the_planner(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """While the planner thinks, presses take effect and stop it."""
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65"))
    release = threading.Event()
    stopped: list[bool] = []

    def think(self: Asking, _moment: Moment) -> Callable[[Callable[[], bool]], Advice]:
        self._asked_presses = self.presses()

        def ask(stop: Callable[[], bool]) -> Advice:
            release.wait(10)
            stopped.append(stop())
            return Advice()

        return ask

    monkeypatch.setattr(Asking, "question", think)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await press_at(pilot, shop, "space")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        assert "0:00 of 1:20" in lane(app, 1)
        release.set()
        await pilot.pause(0.2)
    assert True in stopped


async def test_the_planner_rests_while_a_key_has_work(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a key the planner's thread waits until the screen has had time to answer it."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        now_s, naps = [1000.0], []

        def nap(seconds: float) -> None:
            naps.append(seconds)
            now_s[0] += seconds

        app.let_keys_pass()
        with monkeypatch.context() as patch:
            patch.setattr(
                "benchtimer.tui.app.time", SimpleNamespace(monotonic=lambda: now_s[0], sleep=nap)
            )
            app.let_keys_pass()
            assert not naps, "no key yet"
            app._pressed_at = now_s[0]
            app.let_keys_pass()
        assert sum(naps) >= KEY_S
        before = app._pressed_at
        await pilot.press("x")
        assert app._pressed_at != before


async def test_a_failing_planner_is_reported_and_the_board_works_on(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the planner breaks, the board says so and works by the nearest deadline."""
    shop.set_up("bolster")
    shop.press(c.Read("tank", "65"))

    def broken(*_: object, **__: object) -> Advice:
        raise ZeroDivisionError("a fault of the planner")

    monkeypatch.setattr("benchtimer.bench.advice.advise", broken)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        await pilot.pause(0.2)
        board.refresh_board()
        assert "a fault of the planner" in text(app, "message")
        await press_at(pilot, shop, "space")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND


async def test_a_press_as_the_planner_changes_the_line_counts_for_the_previous_line(
    shop: Shop,
) -> None:
    """SPACE just as the planner changes the line does not begin the new part; later it does."""
    shop.set_up("bolster", "ferrule")
    shop.press(c.Read("tank", "65"))
    app = BenchApp(shop.driver, shop.name)
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.refresh_board()
        now_ms = shop.driver.stamp().noted_ms
        bench = shop.driver.state(shop.name).bench
        keys = {part_key(shop.name, name): stage_of(part) for name, part in bench.parts.items()}
        begins = dict(zip(keys, (now_ms + 10 * MINUTE, now_ms), strict=True))
        advice = Advice(begin_ms=begins, stages=keys)
        board._advised(advice)
        board.desk.confirm()

        def phase() -> PartPhase:
            return shop.driver.state(shop.name).bench.parts["ferrule"].phase

        assert phase() is PartPhase.WAITING
        assert board.desk.message == JUST_CHANGED
        await pilot.pause(CHANGED_S + 0.1)
        board.desk.confirm()
        assert phase() is PartPhase.IN_HAND
