"""Clock faults, short form."""

from __future__ import annotations

import pytest

from benchtimer.bench import bench_time
from benchtimer.bench.bench_time import Timeline
from benchtimer.run.agenda import agenda
from tests.faults import clocks


def test_no_wrong_clock_moves_a_timer() -> None:
    """Set, slow, asleep, restarted, back in 1970: timers stay right, settings are logged once."""
    assert [row.first for row in clocks.campaign(90, 7) if row.lost] == []


def test_a_bench_that_never_catches_up_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts timers that stay behind after a flat battery."""
    monkeypatch.setattr(Timeline, "catch_up_ms", lambda _: 0)
    assert "the timers are" in clocks.campaign(60, 3)[0].first


def test_an_alarm_for_the_wrong_part_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts an agenda in the wrong order."""
    monkeypatch.setattr(clocks, "agenda", lambda bench, now_ms: agenda(bench, now_ms)[::-1])
    assert clocks.campaign(15, 7)[1].lost > 0


def test_a_bench_that_hides_a_clock_jump_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The campaign counts a setting of the clock that leaves no entry."""
    monkeypatch.setattr(bench_time, "JUMP_MS", 10**15)
    assert clocks.campaign(15, 7)[0].lost > 0
