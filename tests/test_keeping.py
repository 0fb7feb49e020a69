"""The shop's own shelf: what worked goes on as the next revision, and no old file is lost."""

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
    """A shop that wrote its own recipe, with a comment and without an id in the file."""
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
    """Kept, the recipe has the next number and the changed aim, and its comments stay."""
    kept, _ = _keep(shelf)
    found = shelf.find("dip")
    dwell = found.step[1].dwell
    assert dwell is not None
    assert (found.revision, dwell.target_s, kept.comments) == (2, 360, True)
    assert kept.text.startswith(WORDS)


def test_an_old_run_can_still_be_kept_with_its_comments(shelf: RecipeFiles) -> None:
    """The file the old run followed stands aside, and is found although its name has a number."""
    _keep(shelf)
    kept, moved = _keep(shelf, ran=1, aim="7 min")
    assert (kept.revision, kept.comments) == (3, True)
    assert moved == shelf.folders[0] / "revisions" / "dip-2.toml"
    assert WORDS in kept.text


def test_a_recipe_run_from_a_path_keeps_that_files_comments(
    shelf: RecipeFiles, tmp_path: Path
) -> None:
    """The file that was run gives the text, and not one of the same name on the shelf."""
    file = tmp_path / "trial.toml"
    file.write_bytes(f'# My own words.\nid = "dip"\n{SMALL}'.replace("\n", "\r\n").encode())
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    write(kept)
    assert kept.comments
    assert kept.path.read_bytes().startswith(b"# My own words.\r\n")
    assert kept.path.read_bytes().count(b"\n") == kept.path.read_bytes().count(b"\r\n")
    assert shelf.find("dip").revision == 2


@pytest.mark.parametrize("change", ["gone", "revision = 3", 'id = "other"'])
def test_a_file_that_is_not_the_one_that_was_run_is_told(
    shelf: RecipeFiles, tmp_path: Path, change: str
) -> None:
    """Gone, or with another revision or recipe in it: the first line of the new text says so."""
    file = tmp_path / "trial.toml"
    if change != "gone":
        file.write_text(f"{change}\n{SMALL}")
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    assert not kept.comments
    assert f"{file}, which the run followed, is gone or is another recipe now" in kept.text


def test_a_path_that_is_none_disturbs_nothing(shelf: RecipeFiles) -> None:
    """A run that was imported may name anything: no line of it gets into the recipe."""
    file = Path("/no/such\nrevision = 99\n\x1b[2J\0.toml")
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE, file)
    write(kept)
    assert "/no/such?revision = 99?" in kept.text.splitlines()[0]
    assert kept.text.splitlines()[0].isprintable()
    assert shelf.find("dip").revision == 2


def test_a_path_to_the_shelf_is_the_shelf(shelf: RecipeFiles) -> None:
    """A recipe of the shelf named by its path is found again after it was set aside."""
    _keep(shelf)
    kept = prepare(shelf, "dip", 1, _table(shelf, "7 min"), LINEAGE, shelf.folders[0] / "dip.toml")
    assert kept.comments


def test_numbers_are_never_used_twice(shelf: RecipeFiles) -> None:
    """Whatever stands aside counts: the next number is above all of them."""
    for _ in range(3):
        _keep(shelf)
    table = _table(shelf)
    (shelf.folders[0] / "dip.toml").unlink()
    assert prepare(shelf, "dip", 1, table, LINEAGE).revision == 4


def test_another_recipe_of_a_longer_name_is_another(shelf: RecipeFiles) -> None:
    """What stands aside of "dip-twice" is no revision of "dip"."""
    aside = shelf.folders[0] / "revisions"
    aside.mkdir()
    (aside / "dip-twice-9.toml").write_text(f"revision = 9\n{SMALL}", encoding="utf-8")
    kept, _ = _keep(shelf)
    assert kept.revision == 2


def test_the_same_file_is_set_aside_once(shelf: RecipeFiles) -> None:
    """A file that stands aside already is not copied again; another of its number is."""
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


def test_what_nobody_can_read_is_set_aside_whole(shelf: RecipeFiles) -> None:
    """A broken file in the recipe's place is not lost either."""
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
    """A revision is known again by its run and by what it says, both."""
    _keep(shelf)
    assert made_already(shelf, "dip", _table(shelf, aim), uid) == found


def test_a_full_disk_leaves_the_old_file(
    shelf: RecipeFiles, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the new file can't be written, the old one stands where it stood, and that is said."""

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    before = (shelf.folders[0] / "dip.toml").read_bytes()
    kept = prepare(shelf, "dip", 1, _table(shelf), LINEAGE)
    monkeypatch.setattr("benchtimer.atomic_file.os.fsync", full)
    with pytest.raises(NotKept, match=r"dip\.toml can't be written: No space left on device"):
        write(kept)
    assert (shelf.folders[0] / "dip.toml").read_bytes() == before
    assert shelf.find("dip").revision == 1
