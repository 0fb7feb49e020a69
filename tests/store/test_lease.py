"""The lease: one driver at a time, and none after the driver dies."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchtimer.store.lease import FILE_NAME, Lease, LeaseTaken, read_holder

HOLD = """
import sys, time
from pathlib import Path
from benchtimer.store.lease import Lease
lease = Lease(Path(sys.argv[1]), 123)
print("held", flush=True)
time.sleep(60)
"""


def test_a_second_lease_is_refused_and_names_the_holder(tmp_path: Path) -> None:
    """While one process has the lease, another is refused with the holder's name."""
    lease = Lease(tmp_path, 1000)
    with pytest.raises(LeaseTaken) as taken:
        Lease(tmp_path, 2000)
    assert taken.value.holder is not None
    assert taken.value.holder.pid == os.getpid()
    lease.release()
    Lease(tmp_path, 3000).release()


def test_a_killed_process_holds_nothing(tmp_path: Path) -> None:
    """After kill -9 of the holder the lease is free at once."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(LeaseTaken, match=str(holder.pid)):
            Lease(tmp_path, 1)
        holder.send_signal(signal.SIGKILL)
        holder.wait()
    Lease(tmp_path, 2).release()


def test_a_read_only_folder_is_leased_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If no lock file can be made, a lock on the folder keeps a second driver out."""
    folder = tmp_path / "bench"
    folder.mkdir()

    def refused(*_: object, **__: object) -> None:
        raise PermissionError

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", refused)
        lease = Lease(folder, 1)
        with pytest.raises(LeaseTaken):
            Lease(folder, 2)
    with pytest.raises(LeaseTaken):
        Lease(folder, 3)
    lease.release()
    Lease(folder, 4).release()


def test_a_deleted_lock_file_lets_nobody_in(tmp_path: Path) -> None:
    """With the lock file deleted, the lock on the folder still holds."""
    lease = Lease(tmp_path, 1)
    (tmp_path / FILE_NAME).unlink()
    with pytest.raises(LeaseTaken):
        Lease(tmp_path, 2)
    lease.release()
    Lease(tmp_path, 3).release()


def test_a_garbled_lease_file_is_harmless(tmp_path: Path) -> None:
    """The text of the lease file doesn't matter; the lock does."""
    (tmp_path / FILE_NAME).write_text("\x00garbage")
    assert read_holder(tmp_path / FILE_NAME) is None
    Lease(tmp_path, 1).release()
