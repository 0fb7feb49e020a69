"""A petty knife whose darkening fails twice and holds on the third try, and the lesson."""

from __future__ import annotations

from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from typing import Any

import pytest

from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.guide import page
from benchtimer.keeping import NewRevision, made_already, prepare, write
from benchtimer.orders import new_run
from benchtimer.recipe.describe import describe
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles, shipped_folder
from benchtimer.records.kept_settings import NothingToKeep, revision_from
from benchtimer.records.life import life_of, life_table, life_text
from benchtimer.records.record import PartRecord, Record
from benchtimer.records.recorded import RecordedBath
from benchtimer.records.tries import FAILED, WELL, tries_of
from benchtimer.records.try_comparison import (
    compare,
    comparison_table,
    comparison_text,
    tries_text_of,
)
from benchtimer.run import commands as c
from tests.records.conftest import PART, Knife, knife_answers
from tests.records.maker import Answers, Maker

SHIPPED = RecipeFiles().find("etch-darken").revision


def _part(record: Record) -> PartRecord:
    part = record.part(PART)
    assert part is not None
    return part


def test_tries_are_distinguished(knife: Knife) -> None:
    """Two tries were sent back and the third was accepted; small loops begin no try."""
    tries = tries_of(knife.record, _part(knife.record))
    assert [(a.number, a.of, a.outcome) for a in tries] == [
        (1, 3, FAILED),
        (2, 3, FAILED),
        (3, 3, WELL),
    ]
    assert tries[0].failed_at == "judge"
    assert tries[2].words == "accepted, rating 4 of 5"


def test_the_cause_comes_first(knife: Knife) -> None:
    """Cleaning, the planted cause, ranks above all other differences."""
    found = compare(tries_of(knife.record, _part(knife.record)))
    first = found.differences[0]
    assert first.label == "Cleaned with what? (degrease)"
    assert first.values == ("dish soap", "dish soap", "solvent, then alkaline")
    assert first.separates
    assert len(found.differences) > 3
    assert all(
        d.label != "Blacks stay black, second cloth clean? (judge)" for d in found.differences
    )
    text = comparison_text(found)
    assert "  1   Cleaned with what?" in text
    assert "67% of the time" in text
    assert comparison_table(found)["chance"] == 0.667


STRENGTHS = {1: "11 Be", 2: "11.5 Be", 3: "16 Be"}
WARMTHS = {1: "15 C", 2: "16 C", 3: "21 C"}


@pytest.mark.parametrize(
    ("cause", "answers", "soak_late_s"),
    [
        ("Etchant strength by hydrometer? (ready)", {"strength": STRENGTHS}, {}),
        ("Etchant temperature? (ready)", {"warmth": WARMTHS}, {}),
        ("hang: time in soak", {}, {1: -1500, 2: -1320, 3: 900}),
    ],
)
def test_a_different_cause_comes_first_too(
    tmp_path: Path, cause: str, answers: dict[str, dict[int, str]], soak_late_s: dict[int, int]
) -> None:
    """Whichever usual cause the scenario plants comes first."""

    def drawn(one: int) -> Answers:
        usual = {**knife_answers(one), "cleaner": "alkaline cleaner"}
        return {**usual, **{check: values[one] for check, values in answers.items()}}

    clock = ManualClock(1_774_594_800_000)
    driver = drive(tmp_path, clock)
    name = driver.set_up(new_run(RecipeFiles(), "etch-darken", [PART]))
    late = lambda one: {"hang": soak_late_s.get(one, 30 * one)}  # noqa: E731
    Maker(driver, clock, name, answers=drawn, late_s=late, loop="ready").work()
    record = driver.record(name)
    driver.close()
    assert compare(tries_of(record, _part(record))).differences[0].label == cause


def _shop(folder: Path) -> RecipeFiles:
    return RecipeFiles(folder / "recipes")


def _keep(shelf: RecipeFiles, record: Record) -> tuple[NewRevision, Path | None]:
    found = revision_from(record)
    kept = prepare(shelf, found.recipe, found.ran, found.table, found.lineage)
    return kept, write(kept)


def test_the_next_run_starts_from_what_worked(knife: Knife, tmp_path: Path) -> None:
    """``keep`` writes the next revision with lineage and comments, and the next run gets it."""
    shelf = _shop(tmp_path)
    kept, moved = _keep(shelf, knife.record)
    assert (kept.revision, kept.comments, moved) == (SHIPPED + 1, True, None)
    found = shelf.find("etch-darken")
    assert found.revision == SHIPPED + 1
    assert found.lineage is not None
    assert found.lineage.run == knife.name
    assert "degrease: Cleaned with what? solvent, then alkaline" in found.lineage.worked
    next_run = new_run(shelf, "etch-darken", ["next knife"])
    (hang,) = [s for s in next_run.recipes["etch-darken"]["step"] if s["id"] == "hang"]
    assert hang["dwell"]["target"] == "6 h 40 min"
    assert f"by run {knife.name}, {PART}, accepted" in describe(found)
    assert made_already(shelf, "etch-darken", revision_from(knife.record).table, found.lineage.uid)


def test_only_settings_and_lineage_change_in_the_file(knife: Knife, tmp_path: Path) -> None:
    """Every other line of the original, comments included, is unchanged in the new file."""
    shelf = _shop(tmp_path)
    _keep(shelf, knife.record)
    old = (shipped_folder() / "etch-darken.toml").read_text(encoding="utf-8").splitlines()
    new = (tmp_path / "recipes" / "etch-darken.toml").read_text(encoding="utf-8").splitlines()
    changed = [(a, b) for a, b in zip(old, new, strict=False) if a != b]
    assert [b.split(" = ")[0] for _, b in changed] == ["revision", "dwell", "dwell"]
    assert new[len(old) + 1] == "[lineage]"


def test_nothing_old_is_overwritten(knife: Knife, tmp_path: Path) -> None:
    """An older revision in the shop's folder moves aside, whole, with its number."""
    shelf = _shop(tmp_path)
    _keep(shelf, knife.record)
    path = tmp_path / "recipes" / "etch-darken.toml"
    before = path.read_bytes()
    kept, moved = _keep(shelf, knife.record)
    assert kept.revision == SHIPPED + 2
    assert kept.comments
    assert moved == tmp_path / "recipes" / "revisions" / f"etch-darken-{SHIPPED + 1}.toml"
    assert moved.read_bytes() == before
    assert list(shelf.paths()) == list(RecipeFiles().paths())


def test_lost_comments_are_reported(knife: Knife, tmp_path: Path) -> None:
    """If the original file is gone, the new one says at its top that comments were lost."""
    found = revision_from(knife.record)
    table = {**found.table, "id": "gone"}
    kept = prepare(_shop(tmp_path), "gone", found.ran, table, found.lineage)
    assert not kept.comments
    assert kept.text.startswith("# Comments from the original file could not be kept:")
    read: Recipe = parse_recipe(kept.text.encode(), name="new", default_id="gone")
    assert read.revision == SHIPPED + 1


def test_real_settings_can_be_left_out(knife: Knife) -> None:
    """Without etch.target the revision has only the settings of the run."""
    found = revision_from(knife.record, leave=["etch.target"])
    assert found.lineage["changed"] == ["hang.target = 6 h 40 min (set for the run)"]


def test_a_failure_is_not_kept(tmp_path: Path) -> None:
    """A part that failed, or an unknown part, gives no revision."""
    clock = ManualClock(1_774_594_800_000)
    driver = drive(tmp_path, clock)
    name = driver.set_up(new_run(RecipeFiles(), "etch-darken", [PART]))
    driver.press(name, c.Abort("no time"))
    record = driver.record(name)
    driver.close()
    with pytest.raises(NothingToKeep, match="did not come out well"):
        revision_from(record)
    with pytest.raises(NothingToKeep, match='no part "axe"'):
        revision_from(record, "axe")


def test_a_part_has_one_history(knife: Knife) -> None:
    """Tries are numbered across two runs, with notes and hands-on time."""
    records = [knife.record, knife.record]
    life = life_of(records, "PETTY knife")
    rows: Any = life_table(life, PART)["tries"]
    assert [row["try"] for row in rows] == [1, 2, 3, 4, 5, 6]
    text = life_text(life)
    assert text.startswith("petty knife: 6 tries in 1 run\n")
    assert "try 6: accepted, rating 4 of 5" in text
    assert "photo: photos/petty-knife-left.jpg" in text


def test_one_try_cannot_be_compared(knife: Knife) -> None:
    """The page of a part with one try, or none, says so."""
    assert "nothing to compare" in tries_text_of([], PART)
    assert "What differed between 3 tries" in tries_text_of([knife.record], PART)


def test_a_spent_bath_is_a_cause(knife: Knife) -> None:
    """Age and use of the baths are compared between runs, in widths of their values."""
    tired, fresh = knife.record, knife.record
    tired.parts[0].verdict = "rejected"
    old = RecordedBath(
        station="etch", bath="etch 1", of="etchant", mix="etchant", dwell_before_s=0.0,
        age_s=4e6, parts_before=40, used_up=0.6,
    )  # fmt: skip
    tired.baths = [old]
    fresh.baths = [replace(old, bath="etch 2", age_s=9e4, parts_before=1, used_up=0.0)]
    found = compare([tries_of(r, _part(r))[-1] for r in (tired, fresh)])
    assert [d.label for d in found.differences] == [
        "bath in etch",
        "share used up, bath in etch",
        "age of the bath in etch",
        "parts before, bath in etch",
    ]
    assert all(d.separates for d in found.differences)


def test_the_manual_shows_what_is_printed(knife: Knife) -> None:
    """The comparison in the manual is the program's actual output."""
    behind = page("records").split("benchtimer compare 2026-03-27-1\n")[1].splitlines()
    block = "\n".join(takewhile(lambda line: not line or line.startswith("    "), behind))
    text = " ".join(comparison_text(compare(tries_of(knife.record, _part(knife.record)))).split())
    shown = [" ".join(piece.split()) for piece in block.split("...\n")]
    assert len(shown) == 2
    assert all(piece in text for piece in shown)
