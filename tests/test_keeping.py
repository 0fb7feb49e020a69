"""The shop's own recipes: a good run becomes the next revision, and no old file is lost."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from benchtimer.keeping import NewRevision, NotKept, made_already, prepare, write
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from tests.support import SMALL

WORDS = "# The second dip of the day wants longer.\n"
LINEAGE = {"run": "2026-02-02-1", "uid": "u1", "made_from": "dip, revision 1", "part": "pin"}


@pytest.fixture(name="shelf")
def _shelf(tmp_path: Path) -> RecipeFiles:
    """A shop with its own recipe, which has a comment and no id in the file."""
    folder = tmp_path / "recipes"
    folder.mkdir()
    (folder / "dip.toml").write_text(WORDS + SMALL, encoding="utf-8")
    return RecipeFiles(folder)


def _table(shelf: RecipeFiles, aim: str = "6 min") -> dict[str, Any]:
    table = recipe_table(shelf.find("dip"))
    table.pop("lineage", None)
    table["step"][1]["dwell"]["target"] = aim
    return table


def _keep(shelf: RecipeFiles, ran: int = 1, aim: str = "6 min") -> tuple[NewRevision, Path | None]:
    kept = prepare(shelf, "dip", ran, _table(shelf, aim), LINEAGE)
    return kept, write(kept)


def test_the_next_run_finds_the_new_revision(shelf: RecipeFiles) -> None:
    """The kept recipe has the next number, the changed target and its comments."""
    kept, _ = _keep(shelf)
    found = shelf.find("dip")
    dwell = found.step[1].dwell
    assert dwell is not None
    assert (found.revision, dwell.target_s, kept.comments) == (2, 360, True)
    assert kept.text.startswith(WORDS)


def test_an_old_run_can_still_be_kept_with_its_comments(shelf: RecipeFiles) -> None:
    """The file of the old run is kept aside and found, though its name has a number."""
    _keep(shelf)
    kept, moved = _keep(shelf, ran=1, aim="7 min")
    assert (kept.revision, kept.comments) == (3, True)
    assert moved == shelf.folders[0] / "revisions" / "dip-2.toml"
    assert WORDS in kept.text


def test_a_recipe_run_from_a_path_keeps_that_files_comments(
    shelf: RecipeFiles, tmp_path: Path
) -> None:
    """The text comes from the file that was run, not from a recipe with the same name."""
    file = tmp_path / "trial.toml"
    file.write_bytes(f'# My own words.\nid = "dip"\n{SMALL}'.replace("\n", "\r\n").encode())
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    write(kept)
    assert kept.comments
    assert kept.path.read_bytes().startswith(b"# My own words.\r\n")
    assert kept.path.read_bytes().count(b"\n") == kept.path.read_bytes().count(b"\r\n")
    assert shelf.find("dip").revision == 2


@pytest.mark.parametrize("change", ["gone", "revision = 3", 'id = "other"'])
def test_a_file_changed_since_the_run_is_reported(
    shelf: RecipeFiles, tmp_path: Path, change: str
) -> None:
    """If the file is gone, or is another recipe or revision, the first line says so."""
    file = tmp_path / "trial.toml"
    if change != "gone":
        file.write_text(f"{change}\n{SMALL}")
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    assert not kept.comments
    assert f"{file}, which the run followed, is gone or is another recipe now" in kept.text


def test_a_missing_path_does_no_harm(shelf: RecipeFiles) -> None:
    """A bad path from an imported run puts no line into the recipe."""
    file = Path("/no/such\nrevision = 99\n\x1b[2J\0.toml")
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    write(kept)
    assert "/no/such?revision = 99?" in kept.text.splitlines()[0]
    assert kept.text.splitlines()[0].isprintable()
    assert shelf.find("dip").revision == 2


def test_a_path_to_a_known_recipe_is_that_recipe(shelf: RecipeFiles) -> None:
    """An own recipe named by its path is still found after it was set aside."""
    _keep(shelf)
    kept = prepare(shelf, "dip", 1, _table(shelf, "7 min"), LINEAGE, shelf.folders[0] / "dip.toml")
    assert kept.comments


def test_numbers_are_never_used_twice(shelf: RecipeFiles) -> None:
    """The next number is above those of all files kept aside."""
    for _ in range(3):
        _keep(shelf)
    table = _table(shelf)
    (shelf.folders[0] / "dip.toml").unlink()
    assert prepare(shelf, "dip", 1, table, LINEAGE).revision == 4


def test_a_recipe_with_a_longer_name_is_another_recipe(shelf: RecipeFiles) -> None:
    """A file kept aside for "dip-twice" is not a revision of "dip"."""
    aside = shelf.folders[0] / "revisions"
    aside.mkdir()
    (aside / "dip-twice-9.toml").write_text(f"revision = 9\n{SMALL}", encoding="utf-8")
    kept, _ = _keep(shelf)
    assert kept.revision == 2


def test_the_same_file_is_set_aside_once(shelf: RecipeFiles) -> None:
    """A file that is already kept aside is not copied again, but a different one is."""
    _, first = _keep(shelf)
    path = shelf.folders[0] / "dip.toml"
    path.write_text(WORDS + SMALL, encoding="utf-8")
    _, again = _keep(shelf)
    path.write_text("# Other words.\n" + SMALL, encoding="utf-8")
    _, third = _keep(shelf)
    aside = shelf.folders[0] / "revisions"
    assert (first, again, third) == (
        aside / "dip-1.toml", aside / "dip-1.toml", aside / "dip-1-2.toml"
    )  # fmt: skip
    assert third is not None
    assert third.read_text(encoding="utf-8").startswith("# Other words.")


def test_an_unreadable_file_is_set_aside_whole(shelf: RecipeFiles) -> None:
    """A broken file in the recipe's place is kept aside too."""
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE)
    kept.path.write_text("not toml at all", encoding="utf-8")
    moved = write(kept)
    assert moved == shelf.folders[0] / "revisions" / "dip-unreadable.toml"
    assert moved.read_text(encoding="utf-8") == "not toml at all"
    assert shelf.find("dip").revision == 2


@pytest.mark.parametrize(("uid", "aim", "found"), [
    ("u1", "6 min", 2), ("u2", "6 min", None), ("u1", "7 min", None)
])  # fmt: skip
def test_a_run_is_not_kept_twice(shelf: RecipeFiles, uid: str, aim: str, found: int | None) -> None:
    """The same run with the same text is kept only once."""
    _keep(shelf)
    assert made_already(shelf, "dip", _table(shelf, aim), uid) == found


def test_a_full_disk_leaves_the_old_file(
    shelf: RecipeFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the new file can't be written, the old one stays, and a message says so."""

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    before = (shelf.folders[0] / "dip.toml").read_bytes()
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE)
    monkeypatch.setattr("benchtimer.atomic_file.os.fsync", full)
    with pytest.raises(NotKept, match=r"dip\.toml can't be written: No space left on device"):
        write(kept)
    assert (shelf.folders[0] / "dip.toml").read_bytes() == before
    assert shelf.find("dip").revision == 1
