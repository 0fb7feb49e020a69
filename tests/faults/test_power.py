"""Power cuts and bad disks, short form."""

from __future__ import annotations

import pytest

from benchtimer.store import log as log_module
from benchtimer.store import opening
from benchtimer.store.place import keep_if_cut_short, wal_of
from tests.faults import power


def test_no_damage_to_the_files_goes_unnoticed() -> None:
    """After any damage the bench shows an earlier state or reports the damage."""
    assert [row.first for row in power.campaign(38, 7) if row.lost] == []


def test_only_damage_followed_by_a_whole_press_leaves_traces() -> None:
    """The last press alone, blank on the disk, looks like one interrupted by a power cut."""
    page = 8
    heading = bytes(8) + page.to_bytes(4) + bytes(20)
    frames = [bytes(4) + ends.to_bytes(4) + bytes(16) + b"x" * page for ends in (9, 0, 9)]
    wal = heading + b"".join(frames)
    last = len(wal) - len(frames[1] + frames[2])
    assert not power._has_traces(wal, wal[:last] + bytes(len(wal) - last))
    assert power._has_traces(wal, wal[:last] + b"y" + wal[last + 1 :])


def test_a_store_that_forgets_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The campaign counts a program that drops the newest part of the log."""

    def forget(path: object) -> list[str]:
        wal_of(path).unlink(missing_ok=True)  # type: ignore[arg-type]
        return keep_if_cut_short(path)  # type: ignore[arg-type]

    monkeypatch.setattr(opening, "keep_if_cut_short", forget)
    lost = {row.fault: row.lost for row in power.campaign(19, 7)}
    assert lost[power.KINDS[1][0]] > 0


def test_a_store_that_trusts_every_byte_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without checksums, changed entries would show as true, and the campaign counts that."""
    monkeypatch.setattr(opening, "check_opened", lambda _: None)
    monkeypatch.setattr(log_module, "trouble_in", lambda _: None)
    monkeypatch.setattr(power, "KINDS", [(*power.KINDS[5][:3], 1)])
    assert sum(row.lost for row in power.campaign(30, 7)) > 0
