"""A long time at the bench, short form; ``python -m tests.faults soak`` is the long form."""

from __future__ import annotations

import pytest

from tests.faults import soak
from tests.faults.tally import Tally

HOURS = 3_600_000


def test_log_and_board_do_not_drift(monkeypatch: pytest.MonkeyPatch) -> None:
    """After hours with twelve parts, log, driver, watcher and both boards agree."""
    monkeypatch.setattr(soak, "DAY_MS", 3 * HOURS)
    tally = Tally()
    grown_kb, _, count = soak.soak(tally, 2, 1)
    assert (tally.lost, tally.first) == (0, "")
    assert count > 100
    assert grown_kb < 5000


def test_a_watcher_that_falls_behind_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The soak counts a watcher that reads nothing new."""
    monkeypatch.setattr(soak, "DAY_MS", HOURS)
    monkeypatch.setattr("benchtimer.bench.open_bench.OpenBench.refresh", lambda _self: False)
    tally = Tally()
    soak.soak(tally, 1, 1)
    assert tally.lost
