"""An alarm uses every sound there is, and a failed one blocks nothing."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from textual.pilot import Pilot

from benchtimer.run import commands as c
from benchtimer.settings import AlarmSettings, Settings
from benchtimer.sound.player import Player
from benchtimer.sound.ways import UNHEARD, Ways, note_heard, read_heard
from benchtimer.tui import ringer
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from tests.sound.spectrum import share_between, sound_file
from tests.tui.conftest import Shop
from tests.tui.pilots import press, text

WIDE = (120, 40)


def _recorder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that keeps what it would play."""
    play = folder / "aplay"
    play.write_text(f'#!/bin/sh\nfor last; do :; done\n/bin/cp "$last" {folder}/\n')
    play.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))


Make = Callable[[Shop, AlarmSettings], BenchApp]


@pytest.fixture(name="make")
def _make(tmp_path: Path) -> Iterator[Make]:
    """A factory for the screen of a bench whose tone goes to a Linux player."""
    players: list[Player] = []

    def app(shop: Shop, alarm: AlarmSettings) -> BenchApp:
        players.append(Player("linux"))
        ways = Ways(tmp_path, alarm, players[-1], {})
        settings = Settings(alarm=alarm)
        return BenchApp(shop.driver, shop.name, guard_s=0, settings=settings, ways=ways)

    yield app
    for player in players:
        player.close()


def _tick(app: BenchApp) -> None:
    board = app.screen
    assert isinstance(board, BoardScreen)
    board.tick()


async def _until(pilot: Pilot[None], path: Path, seconds: float = 10) -> None:
    end = time.monotonic() + seconds
    while not path.exists() and time.monotonic() < end:
        await pilot.pause(0.02)
    assert path.exists()


async def test_an_overdue_alarm_plays_the_rising_tone(
    shop: Shop, tmp_path: Path, make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reading left for minutes plays the overdue tone."""
    _recorder(tmp_path, monkeypatch)
    app = make(shop.set_up("bolster"), AlarmSettings())
    async with app.run_test(size=WIDE) as pilot:
        shop.clock.advance(10 * 60_000)
        _tick(app)
        await _until(pilot, tmp_path / "overdue.wav")
    assert share_between(*sound_file(tmp_path / "overdue.wav"), 500, 2500) > 0.99


async def test_the_tone_can_be_off(
    shop: Shop, tmp_path: Path, make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With tone = false the player never starts."""
    _recorder(tmp_path, monkeypatch)
    found = tmp_path / "told"
    program = "import sys, pathlib; pathlib.Path(sys.argv[1]).write_text(sys.argv[2])"
    command = (sys.executable, "-c", program, str(found))
    app = make(shop.set_up("bolster"), AlarmSettings(tone=False, command=command))
    async with app.run_test(size=WIDE) as pilot:
        shop.clock.advance(10 * 60_000)
        _tick(app)
        await _until(pilot, found)
    assert not (tmp_path / "overdue.wav").exists()


async def test_a_missing_player_is_reported_once(
    shop: Shop, tmp_path: Path, make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The board says once what to install."""
    monkeypatch.setenv("PATH", str(tmp_path))
    app = make(shop.set_up("bolster"), AlarmSettings())
    async with app.run_test(size=WIDE) as pilot:
        shop.clock.advance(10 * 60_000)
        _tick(app)
        end = time.monotonic() + 10
        while "no player" not in text(app, "message") and time.monotonic() < end:
            await pilot.pause(0.02)
        assert "Install one of" in text(app, "message")
        app.complain("")
        app.ring(ringer.TRY)
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "no player" not in text(app, "message")


async def test_a_command_that_fails_is_tried_again(
    shop: Shop, tmp_path: Path, make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The board says what failed and goes on without waiting for the second try."""
    monkeypatch.setattr(ringer, "RETRY_S", (0.2,))
    script = tmp_path / "call.sh"
    script.write_text(f'echo "$1" >> {tmp_path}/told\n[ -e {tmp_path}/up ] || exit 7\n')
    alarm = AlarmSettings(tone=False, command=("/bin/sh", str(script)))
    app = make(shop.set_up("bolster"), alarm)
    async with app.run_test(size=WIDE) as pilot:
        app.ring(ringer.TRY)
        end = time.monotonic() + 10
        while "exit code 7" not in text(app, "message") and time.monotonic() < end:
            await pilot.pause(0.02)
        assert "Trying again in 0.2 s" in text(app, "message")
        (tmp_path / "up").touch()
        while len((tmp_path / "told").read_text().splitlines()) < 2 and time.monotonic() < end:
            await pilot.pause(0.02)
    assert (tmp_path / "told").read_text().splitlines() == [ringer.TRY.message] * 2


async def test_before_start_a_bench_never_heard_says_so(
    shop: Shop, tmp_path: Path, make: Make
) -> None:
    """O plays the alarm and asks; a yes is saved and clears the warning."""
    shop.set_up("bolster", started=False)
    shop.press(c.Acknowledge("Hot tank"))  # the page has the rows to itself
    app = make(shop, AlarmSettings(tone=False))
    async with app.run_test(size=WIDE) as pilot:
        await pilot.pause()
        assert UNHEARD in text(app, "message").replace("\n", " ")
        await press(pilot, "o")
        await press(pilot, "1")
        assert UNHEARD not in text(app, "message")
        assert ringer.HEARD in text(app, "message")
    assert read_heard(tmp_path).any


async def test_an_alarm_not_heard_is_saved_too(shop: Shop, tmp_path: Path, make: Make) -> None:
    """A no keeps the warning and says how to find out more."""
    shop.set_up("bolster", started=False)
    shop.press(c.Acknowledge("Hot tank"))  # the page has the rows to itself
    app = make(shop, AlarmSettings(tone=False))
    async with app.run_test(size=WIDE) as pilot:
        await press(pilot, "o")
        await press(pilot, "3")
        await press(pilot, "2")
        said = text(app, "message").replace("\n", " ")
        assert "benchtimer settings alarm --try" in said
        assert UNHEARD in said
    assert read_heard(tmp_path).tried["call"][1] is False


async def test_a_bench_that_was_heard_says_nothing(shop: Shop, tmp_path: Path, make: Make) -> None:
    """On a computer where you heard it, START shows no warning."""
    note_heard(tmp_path, "bell", reached=True, on="2026-11-27")
    shop.set_up("bolster", started=False)
    app = make(shop, AlarmSettings(tone=False))
    async with app.run_test(size=WIDE) as pilot:
        await pilot.pause()
        assert UNHEARD not in text(app, "message").replace("\n", " ")


async def test_the_running_bench_does_not_nag(shop: Shop, make: Make) -> None:
    """After START the warning is gone."""
    app = make(shop.set_up("bolster"), AlarmSettings(tone=False))
    async with app.run_test(size=WIDE) as pilot:
        await pilot.pause()
        assert UNHEARD not in text(app, "message").replace("\n", " ")
