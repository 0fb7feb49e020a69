"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from benchtimer.atomic_file import (
    WRITING,
    clear_away_halves,
    force_folder,
    make_own_folder,
    write_whole,
)


def test_a_file_has_exactly_the_text(tmp_path: Path) -> None:
    """A file reads back to the byte, line ends included."""
    target = tmp_path / "record.toml"
    write_whole(target, "title = 'Käfig'\r\nnote = '½'\n")
    assert target.read_bytes() == "title = 'Käfig'\r\nnote = '½'\n".encode()
    assert [path.name for path in tmp_path.iterdir()] == ["record.toml"]


def test_a_new_file_is_private(tmp_path: Path) -> None:
    """Only you can read a new file."""
    write_whole(tmp_path / "record.toml", "x")
    assert (tmp_path / "record.toml").stat().st_mode & 0o777 == 0o600


def test_a_replaced_file_keeps_its_permissions(tmp_path: Path) -> None:
    """A replaced file keeps its permissions."""
    target = tmp_path / "settings.toml"
    target.write_text("old", encoding="utf-8")
    target.chmod(0o644)
    write_whole(target, "new")
    assert target.read_text(encoding="utf-8") == "new"
    assert target.stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize("fails", ["fsync", "write", "replace"])
def test_a_failure_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    """If any step fails, the old text stays and no partial file is left."""
    target = tmp_path / "record.toml"
    target.write_text("old", encoding="utf-8")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    if fails == "fsync":
        monkeypatch.setattr(os, "fsync", fail)
    elif fails == "replace":
        monkeypatch.setattr(Path, "replace", fail)
    text = "\ud800" if fails == "write" else "new"  # half a letter: no file can hold it
    with pytest.raises((OSError, UnicodeEncodeError)):
        write_whole(target, text)
    assert target.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["record.toml"]


def test_leftovers_of_a_killed_process_are_removed(tmp_path: Path) -> None:
    """Partial files of dead processes go, those of live ones stay, and no folder is fine."""
    at_work = tmp_path / f"{WRITING}{os.getpid()}-abc"
    for path in (at_work, tmp_path / f"{WRITING}abc", tmp_path / "record.toml"):
        path.touch()
    clear_away_halves(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {at_work.name, "record.toml"}
    clear_away_halves(tmp_path, alone=True)
    assert [path.name for path in tmp_path.iterdir()] == ["record.toml"]
    clear_away_halves(tmp_path / "nowhere")


def test_a_folder_that_cannot_be_synced_is_not_a_failure(tmp_path: Path) -> None:
    """Where the system can't sync a folder to the disk, the file is still written."""
    force_folder(tmp_path / "nowhere")
    write_whole(tmp_path / "record.toml", "x")
    assert (tmp_path / "record.toml").exists()


def test_folders_created_for_a_file_are_private_too(tmp_path: Path) -> None:
    """New folders are private for any umask."""
    before = os.umask(0)
    try:
        make_own_folder(tmp_path / "a" / "b")
        make_own_folder(tmp_path / "a" / "b")
    finally:
        os.umask(before)
    for path in (tmp_path / "a", tmp_path / "a" / "b"):
        assert path.stat().st_mode & 0o777 == 0o700
    (tmp_path / "file").touch()
    with pytest.raises(OSError, match="exists"):
        make_own_folder(tmp_path / "file")
