"""A shop in a folder: its clock, the command line, and the screen with a maker in front.

The clock moves only when the maker spends time. Everything else is the real program: commands
go through ``main`` or through a process with the same clock, and the screen is the one that
``main`` opens, on a terminal in memory.
"""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from math import inf
from pathlib import Path
from typing import Any
from unittest.mock import patch

from textual import events
from textual.keys import _character_to_key

from benchtimer.bench import advice
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.view.keyguard import KeyGuard
from tests.week.acts import Act, Die, Keys, Wait
from tests.week.eyes import look
from tests.week.maker import Maker

WIDTH, HEIGHT = 80, 24
NEVER_S = 10.0**6
THINK = partial(advice.advise, nodes=150, seconds=inf)
"""The planner limited by states, not time, so that the week is the same on any machine."""

FRAME_S = 0.001
"""How often the screen is drawn; no person watches here."""

QUIET = 8
"""A key passes through application, screen and widget, so this many quiet looks end a wait."""

KEY_CHARACTERS = {"space": " ", "enter": "\r", "tab": "\t"}
MOST_LOOKS = 4000


@dataclass(frozen=True, slots=True)
class CommandResult:
    """The output of a command and its exit code."""

    code: int
    out: str
    err: str

    @property
    def text(self) -> str:
        """All of the output."""
        return self.out + self.err


@dataclass
class Shop:
    """One shop.

    Attributes:
        folder: all its files: settings, recipes, the log.
        wall_ms: when the week begins.
        bells: when the bell rang.
        fail: what to do when the machine fails.
    """

    folder: Path
    wall_ms: int
    offset_s: int = 3600
    clock: ManualClock = field(init=False)
    bells: list[int] = field(default_factory=list)
    fail: Callable[[], None] | None = None

    def __post_init__(self) -> None:
        self.clock = ManualClock(self.wall_ms, offset_s=self.offset_s)

    @property
    def data(self) -> Path:
        """The data folder."""
        return self.folder / "data"

    @property
    def config(self) -> Path:
        """The folder of settings and own recipes."""
        return self.folder / "config"

    @property
    def environment(self) -> dict[str, str]:
        """The environment variables that point to the shop."""
        return {"BENCHTIMER_DATA": str(self.data), "BENCHTIMER_CONFIG": str(self.config)}

    def until(self, wall_ms: int) -> None:
        """Advance the clock to a time; never back."""
        self.clock.advance(max(0, wall_ms - self.clock.wall_ms))

    def command(self, *arguments: str) -> CommandResult:
        """Run a command in this process."""
        out, err = io.StringIO(), io.StringIO()
        with self._inside(), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(arguments)
        return CommandResult(code, out.getvalue(), err.getvalue())

    def process(self, *arguments: str, module: str = "tests.week.parents_clock") -> CommandResult:
        """Run a command in its own process, with the shop's clock."""
        found = {**os.environ, **self.environment, "PARENTS_CLOCK": json.dumps(vars(self.clock))}
        done = subprocess.run(
            [sys.executable, "-m", module, *arguments],
            capture_output=True, text=True, env=found, timeout=60, check=False,
        )  # fmt: skip
        return CommandResult(done.returncode, done.stdout, done.stderr)

    def screen(self, maker: Maker, *arguments: str) -> CommandResult:
        """Open the screen with a command and work it until the maker leaves."""

        def run(app: BenchApp) -> None:
            asyncio.run(self._sit(app, maker))

        with (
            patch.object(BenchApp, "run", run),
            patch("benchtimer.cli.bench_command._need_terminal"),
            patch("benchtimer.cli.bench_command._keep_last_words"),
        ):
            return self.command(*arguments)

    @contextlib.contextmanager
    def _inside(self) -> Iterator[None]:
        """Replace the program's clocks with the shop's."""
        with (
            patch.dict(os.environ, self.environment),
            patch("benchtimer.clock.SystemClock", lambda: self.clock),
            patch("benchtimer.bench.advice.advise", THINK),
            patch("benchtimer.bench.asking.ADVICE_S", NEVER_S),
            patch("benchtimer.tui.board_screen.TICK_S", NEVER_S),
            patch("textual.screen.UPDATE_PERIOD", FRAME_S),
            patch("textual._compositor.Compositor.render_update", lambda *_, **__: None),
        ):
            yield

    async def _sit(self, app: BenchApp, maker: Maker) -> None:
        app._guard_s = 0  # keys come faster here than from any hand
        app._guard = KeyGuard(0)
        gone, leave = asyncio.Event(), app.exit

        def ring() -> None:
            self.bells.append(self.clock.wall_ms)

        def go(*found: Any, **more: Any) -> None:
            leave(*found, **more)
            gone.set()

        with patch.object(app, "bell", ring), patch.object(app, "exit", go):
            async with app.run_test(size=(WIDTH, HEIGHT)):
                await self._work(app, maker, gone)

    async def _work(self, app: BenchApp, maker: Maker, gone: asyncio.Event) -> None:
        for _ in range(MOST_LOOKS):
            rows = await _settled(app, gone)
            if gone.is_set():
                return
            act = maker.acts(look(rows), self.clock.wall_ms)
            await self._do(app, act, gone)
            if isinstance(act, Wait) and isinstance(app.screen, BoardScreen):
                app.screen.tick()
        raise AssertionError("the maker never gets away from the screen")

    async def _do(self, app: BenchApp, act: Act, gone: asyncio.Event) -> None:
        if isinstance(act, Wait):
            self.clock.advance(act.ms)
        elif isinstance(act, Keys):
            self.clock.advance(act.after_ms)
            for key in act.keys:
                self.clock.advance(act.each_ms)
                _send(app, key)
                await _processed(app, gone)
        elif isinstance(act, Die) and self.fail is not None:
            self.fail()


def seen(app: BenchApp) -> list[str]:
    """The rows of the terminal."""
    strips = app.screen._compositor.render_strips()
    return ["".join(segment.text for segment in strip) for strip in strips]


def _send(app: BenchApp, key: str) -> None:
    """Send a key from the terminal."""
    name = _character_to_key(key) if len(key) == 1 else key
    char = key if len(key) == 1 else KEY_CHARACTERS.get(key)
    event = events.Key(name, char)
    event.set_sender(app)
    assert app._driver is not None
    app._driver.send_message(event)


async def _processed(app: BenchApp, gone: asyncio.Event) -> None:
    """Wait until no widget has a message left, or the program has ended."""
    quiet = 0
    while quiet < QUIET and not gone.is_set():
        await asyncio.sleep(0)
        quiet = 0 if _busy(app) else quiet + 1


def _busy(app: BenchApp) -> bool:
    pumps = [app, *app.screen_stack, *app.screen.walk_children()]
    return any(not pump._message_queue.empty() for pump in pumps if pump._running)


async def _settled(app: BenchApp, gone: asyncio.Event) -> list[str]:
    """The rows of the terminal once they stop changing."""
    before: list[str] = []
    while not gone.is_set():
        await _processed(app, gone)
        await asyncio.sleep(2 * FRAME_S)
        await app.workers.wait_for_complete()
        if gone.is_set():
            break
        rows = seen(app)
        if rows == before:
            return rows
        before = rows
    return before
