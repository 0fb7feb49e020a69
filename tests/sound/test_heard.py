"""Sounds that you heard are remembered on that computer only."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchtimer.sound.ways import FILE_NAME, note_heard, read_heard


def test_a_try_of_the_alarm_is_saved(tmp_path: Path) -> None:
    """Each way of sounding keeps its last answer, with the day."""
    folder = tmp_path / "new"
    assert not read_heard(folder).any
    assert not note_heard(folder, "bell", reached=False, on="2026-11-27").any
    assert note_heard(folder, "tone", reached=True, on="2026-11-28").any
    assert read_heard(folder).tried == {
        "bell": ("2026-11-27", False),
        "tone": ("2026-11-28", True),
    }
    note_heard(folder, "tone", reached=False, on="2026-11-29")
    assert not read_heard(folder).any


def test_another_computer_counts_as_not_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A data folder moved to another computer starts over."""
    note_heard(tmp_path, "bell", reached=True, on="2026-11-27")
    monkeypatch.setattr("platform.node", lambda: "the other laptop")
    assert not read_heard(tmp_path).any


@pytest.mark.parametrize("text", ["", "[]", "{", '{"computer": 1}', '{"tried": {"bell": 3}}'])
def test_a_broken_file_counts_as_missing(tmp_path: Path, text: str) -> None:
    """With a broken file you are asked to try again."""
    (tmp_path / FILE_NAME).write_text(text)
    assert not read_heard(tmp_path).any
