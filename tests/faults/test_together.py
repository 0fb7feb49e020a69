"""Two programs at one bench, short form."""

from __future__ import annotations

import pytest

from benchtimer.store.log import EventLog
from tests.faults import together


def test_a_second_process_does_no_harm() -> None:
    """Second and dead drivers, watchers, copies, and older and newer logs lose nothing."""
    assert [row.first for row in together.campaign(9, 7) if row.lost] == []


def test_a_log_that_lets_two_write_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts presses written over another driver's."""
    monkeypatch.setattr(EventLog, "_refuse_another_writer", lambda _: None)
    monkeypatch.setattr(together, "KINDS", [together.KINDS[4]])
    assert together.campaign(1, 7)[0].lost == 1
