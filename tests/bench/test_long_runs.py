"""A long run is read and verified once when the bench opens, with its progress shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtimer.bench import unsaved
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.progress import listening
from benchtimer.run import commands as c
from benchtimer.store.log import EventLog
from tests.tui.conftest import Shop


def test_a_long_run_is_read_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run too long for memory is also read once, and the work is counted."""
    shop = Shop(tmp_path / "bench").set_up("bolster")
    for number in range(70):
        shop.press(c.Note(f"note {number}"))
    shop.driver.close()
    monkeypatch.setattr(unsaved, "MOST_AT_HAND", 10)
    read, found = EventLog.entries, []

    def counting(log: EventLog, run: str, after: int = 0) -> object:
        found.append(run)
        return read(log, run, after)

    monkeypatch.setattr(EventLog, "entries", counting)
    heard: list[tuple[str, int, int]] = []
    with listening(lambda *words: heard.append(words)):
        driver = drive(tmp_path / "bench", ManualClock(shop.clock.wall_ms))
    assert found.count(shop.name) == 1
    assert driver.state(shop.name).presses > 70
    assert {what for what, _, _ in heard} >= {"entries read", "entries followed"}
    assert any(0 < done < total for _, done, total in heard)
    driver.close()
