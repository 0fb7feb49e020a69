"""Disks that can't be written, short form."""

from __future__ import annotations

import pytest

from benchtimer.bench.unsaved import SteadyLog
from tests.faults import disk


def test_no_failing_disk_loses_a_press() -> None:
    """On a full, failing, moved or missing disk the run continues, and every press is kept."""
    assert [row.first for row in disk.campaign(11, 7) if row.lost] == []


def test_a_log_that_forgets_what_it_could_not_write_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The campaign counts presses dropped instead of kept."""
    monkeypatch.setattr(SteadyLog, "save", lambda log: log.unsaved.clear() or [])
    monkeypatch.setattr(disk, "COMES_BACK", [disk.COMES_BACK[2]])
    monkeypatch.setattr(disk, "STAYS_AWAY", [])
    assert disk.campaign(4, 7)[0].lost > 0


def test_a_log_that_claims_to_have_saved_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts a board without the warning, even if nothing is lost in the end."""
    monkeypatch.setattr(SteadyLog, "warning", lambda _: "")
    monkeypatch.setattr(disk, "COMES_BACK", [disk.COMES_BACK[2]])
    monkeypatch.setattr(disk, "STAYS_AWAY", [])
    row = disk.campaign(4, 7)[0]
    assert row.lost == row.tried
    assert row.first == "something was called saved that is not on the disk"
