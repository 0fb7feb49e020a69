"""A job from the settings to the kept recipe, through the real commands and screen."""

from __future__ import annotations

from pathlib import Path

from benchtimer.recipe.recipe_files import RecipeFiles
from tests.week.checks import Checked
from tests.week.diary import late_in
from tests.week.golden import GOLDEN, as_text
from tests.week.week import Week

KEPT = RecipeFiles().find("etch-darken").revision + 1
ETCH, BLACK, NEXT = "2026-01-05-1", "2026-01-07-2", "2026-01-09-1"
WAX = "Wednesday 08:30"


def _all_of(checked: Checked) -> None:
    """Check the week against the records, the books and the files."""
    assert checked.late == list(checked.week.story.late)
    assert checked.work_before_its_hazard == []
    meant, logged = checked.presses
    assert meant == logged
    for record in checked.records:
        assert list(checked.forms_differ(record["run"])) == []
    assert checked.immersions == {n: b["immersions"] for n, b in checked.baths.items() if b["runs"]}
    assert {bath["parts"] for bath in checked.baths.values()} == {0, 1, 3}
    assert checked.restored == []
    assert checked.first_reason == checked.week.story.cause


def _what_was_kept(checked: Checked) -> None:
    kept = checked.kept
    assert (kept["revision"], kept["lineage"]["run"], kept["lineage"]["try"]) == (KEPT, ETCH, 2)
    laid_out = checked.record(NEXT)
    assert laid_out["recipes"]["etch-darken"]["revision"] == KEPT
    assert {bath["station"]: bath["bath"] for bath in laid_out["baths"]}["etch"] == "etch 2"


def _set_up(checked: Checked) -> None:
    """Before the start every bath page is read, and the bath missing from the book is mixed.

    Later one bath goes unread, and the record says so.
    """
    record = checked.record(BLACK)
    texts = [line["text"] for line in record["lines"]]
    before = texts[: texts.index("started")]
    titles = [hazard["title"] for hazard in record["recipes"]["hot-black"]["hazard"]]
    read = {text.removeprefix("hazard acknowledged: ") for text in before} & set(titles)
    assert {title.partition(":")[0] for title in read} >= {
        "Hot alkaline cleaner", "Boiling caustic salts", "Water-displacing oil"
    }  # fmt: skip
    prepared = [text for text in before if text.startswith("prepared")]
    assert [text.partition(",")[0] for text in prepared] == [
        "prepared: mix Water-displacing oil", "prepared: flash-point of Water-displacing oil"
    ]  # fmt: skip
    skipped = [d for record in checked.records for d in record["deviations"]
               if d["what"] == "no-reading"]  # fmt: skip
    assert [(d["station"], d["found"]) for d in skipped] == [("soak", "by eye")]


def _killed_in_the_middle(checked: Checked) -> None:
    lines = [line["text"] for line in checked.record(BLACK)["lines"]]
    assert any(line.startswith("reopened after 40 s") for line in lines)
    numbers = [line["press"] for line in checked.record(BLACK)["lines"] if line["press"]]
    assert sorted(set(numbers)) == list(range(1, max(numbers) + 1))


MOST_KEYS = 90
"""For three fittings through the hot salts, one of them sent back once, from ``run`` to the end of
the run, with the machine failing in the middle. Three of the keys say that the rinse boils.
"""


def _few_keys(week: Week) -> None:
    began, ended = (d for d in week.done if d.deed.at in ("Wednesday 10:40", "Thursday 07:15"))
    assert began.keys + ended.ended <= MOST_KEYS


def test_the_simulated_week_keeps_every_promise(tmp_path: Path) -> None:
    """The week matches its checked summary: on time, logged, explained, kept, carried."""
    week = Week(tmp_path).work()
    summary = as_text(week)
    checked = Checked(week)
    _all_of(checked)
    _what_was_kept(checked)
    _set_up(checked)
    _killed_in_the_middle(checked)
    _few_keys(week)
    assert summary == GOLDEN.read_text(encoding="utf-8")


def test_another_seed_is_another_week(tmp_path: Path) -> None:
    """Another seed works at another pace with other figures, and ends the same."""
    weeks = [Week(tmp_path / str(seed), seed=seed) for seed in (1, 2)]
    for week in weeks:
        week.work([deed for deed in week.story.deeds if deed.at == WAX])
    first, second = (Checked(week).records[0] for week in weeks)
    assert [x["at"] for x in first["lines"]] != [x["at"] for x in second["lines"]]
    assert [x["press"] for x in first["lines"]] == [x["press"] for x in second["lines"]]
    assert first["parts"][0]["sent_back"] == second["parts"][0]["sent_back"] == 2
    assert not late_in(first) + late_in(second)
