"""The bench in words, one line for each change."""

from __future__ import annotations

import signal
import subprocess
import sys

from benchtimer.bench.open_bench import look_on
from benchtimer.run import commands as c
from benchtimer.view.alarm import AlarmPacer
from benchtimer.view.telling import NOT_DRIVEN, Teller
from tests.support import MINUTE, SMALL, small_recipe
from tests.tui.conftest import Shop


def _texts(teller: Teller) -> list[str]:
    return [line.partition("  ")[2] for line in teller.lines()]


def test_each_change_is_announced_once(shop: Shop) -> None:
    """Entries, the next action and alarms get a line each, and nothing comes without a change."""
    shop.set_up("bolster")
    watcher = look_on(shop.folder, shop.clock)
    teller = Teller(watcher)
    first = _texts(teller)
    assert [text.split()[0] for text in first] == ["NEXT", "ALARM"]
    assert _texts(teller) == []
    shop.press(c.Read("tank", "65"))
    assert _texts(teller) == [
        "Tank reads 65 C, in its window",
        "NEXT  START #1 bolster, to Tank, Prepare, NOW, SPACE as you start #1 bolster",
    ]
    shop.to_tank("bolster")
    found = _texts(teller)
    assert found[-1].startswith("NEXT  PULL #1 bolster, Tank to Rack, Look, at ")
    shop.clock.advance(6 * MINUTE)
    teller._pacer = AlarmPacer()  # long after the last press
    assert _texts(teller) == ["ALARM  NOW: PULL #1 bolster from Tank"]
    watcher.close()


def test_each_question_about_a_part_is_announced(shop: Shop) -> None:
    """The second question of a step gets its own line, though the part is the same."""
    two = SMALL.replace(
        'send = { no = { to = "prepare", limit = 2, expect = 0.5 } }',
        '[[step.check]]\nid = "bright"\nkind = "yes-no"\nask = "Is it bright?"',
    )
    shop.set_up("bolster", recipe=small_recipe(two)).to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    watcher = look_on(shop.folder, shop.clock)
    teller = Teller(watcher)
    assert any("Is it even?" in text for text in _texts(teller))
    shop.press(c.Answer("bolster", "even", True))
    assert any("NEXT" in text and "Is it bright?" in text for text in _texts(teller))
    watcher.close()


def test_a_driver_that_leaves_and_returns_is_announced(shop: Shop) -> None:
    """A driver who leaves or comes back gets a line."""
    shop.set_up("bolster", started=False)
    watcher = look_on(shop.folder, shop.clock)
    teller = Teller(watcher)
    _texts(teller)
    shop.driver.close()
    assert _texts(teller) == [NOT_DRIVEN]
    shop.__post_init__()
    assert "The bench is open again." in _texts(teller)
    watcher.close()


def test_names_from_a_log_cannot_disturb_the_terminal(shop: Shop) -> None:
    """Part names are plain text, with the run's name first when there are several runs."""
    shop.set_up("[red]刃🔪")
    shop.set_up("bolster")
    watcher = look_on(shop.folder, shop.clock)
    lines = _texts(Teller(watcher))
    assert any("[red]刃🔪" in line for line in lines)
    assert all(line.startswith(tuple(watcher.names)) for line in lines if "ALARM" not in line)
    watcher.close()


def test_a_spoiling_part_of_any_run_is_announced_first(shop: Shop) -> None:
    """A late part of any run comes before another run's reading, as on the screen."""
    shop.set_up("bolster")
    shop.set_up("blade").to_tank("blade")
    shop.clock.advance(9 * MINUTE)
    watcher = look_on(shop.folder, shop.clock)
    (alarm,) = (text for text in _texts(Teller(watcher)) if text.startswith("ALARM"))
    first, second = alarm.partition("1. ")[2].split("; 2. ")
    assert first.startswith("PULL #2 blade from Tank, 1:00 late")
    assert second == "READ Tank"  # asked for once, though a part of another run wants it too
    watcher.close()


def test_the_plain_view_needs_no_terminal_and_ends_quietly(shop: Shop) -> None:
    """``watch --plain`` writes to a pipe and ends quietly on an interrupt."""
    shop.set_up("bolster")
    command = [sys.executable, "-m", "benchtimer", "--data", str(shop.folder), "watch", "--plain"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as it:
        assert it.stdout is not None
        assert it.stderr is not None
        try:
            # The last press was months ago by the real clock: in a new session gear goes on again.
            assert "NEXT  GEAR UP #1 bolster, DANGER: Hot tank, NOW" in it.stdout.readline()
            it.send_signal(signal.SIGINT)
            assert it.wait(10) == 0
            assert it.stderr.read() == ""
        finally:
            it.kill()
