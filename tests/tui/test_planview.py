"""Planning a run: the draft, the question to the planner, the timeline."""

from __future__ import annotations

import re
import threading

import pytest
from rich.cells import cell_len

from benchtimer.recipe.problems import RecipeError
from benchtimer.run.refusals import Refused
from benchtimer.store.log import Stamp
from benchtimer.tui.planning import think
from benchtimer.view.draft import Draft, held_back, order_of, problem_of_draft, zero_of
from benchtimer.view.plan_rows import NARROW, PlanSheet, details, lead_lines, plan_rows
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from tests.support import MINUTE, SMALL, TEMPERED, small_recipe

MORNING = Stamp(noted_ms=5000, boot=None, count_ms=0, wall_ms=1_770_019_200_000, offset_s=0)  # 8:00
RECIPE = small_recipe()
NAMES = "bolster, ferrule, butt cap"


def _sheets(draft: Draft, now: Stamp = MORNING) -> list[PlanSheet]:
    found: list[PlanSheet] = []
    think(draft, now, threading.Event().is_set, found.append)
    return found


def _text(rows: list[Row]) -> str:
    return "\n".join(line for row in rows for line in row.lines)


def test_parts_are_added_removed_and_reordered() -> None:
    """Names with commas become parts; each can go to the front or off the list."""
    draft = Draft().add(RECIPE, NAMES)
    assert [part.name for part in draft.parts] == ["bolster", "ferrule", "butt cap"]
    assert [p.name for p in draft.forward("butt cap").parts] == ["bolster", "butt cap", "ferrule"]
    assert [p.name for p in draft.forward("bolster").parts] == ["ferrule", "butt cap", "bolster"]
    empty = draft.drop("bolster").drop("ferrule").drop("butt cap")
    assert (empty.parts, dict(empty.recipes)) == ((), {})


def test_a_draft_refuses_impossible_entries() -> None:
    """A used name, an empty name, and two recipes with one id are refused."""
    draft = Draft().add(RECIPE, "bolster")
    with pytest.raises(Refused, match="listed twice"):
        draft.add(RECIPE, "pin, bolster")
    with pytest.raises(ValueError, match="at least one"):
        draft.add(RECIPE, " , ")
    with pytest.raises(ValueError, match="has the id small"):
        draft.add(small_recipe(SMALL.replace("Dip and look", "Other")), "pin")


def test_the_run_set_up_is_the_one_planned() -> None:
    """Parts, recipes, known figures, hours away and hands all go into the run."""
    blade = small_recipe(TEMPERED)
    draft = Draft(hands=2, away=("22:00-07:00",)).add(blade, "a.b, c", {"a.b.temper": "200 C"})
    new = order_of(draft)
    assert (list(new.parts), new.hands, new.away) == (
        [("a.b", "small"), ("c", "small")], 2, ("22:00-07:00",))  # fmt: skip
    assert new.properties == {"a.b": {"temper": "200 C"}}
    with pytest.raises(Refused, match="temper"):
        problem_of_draft(draft, MORNING)


def test_a_recipe_is_changed_for_one_run() -> None:
    """A change goes into the plan, the run's recipe and its record, also for the next part."""
    draft = Draft().add(RECIPE, "bolster").change("small", "dip.target=6 min").add(RECIPE, "pin")
    new = order_of(draft)
    assert new.adjustments == ("small: dip.target = 6 min",)
    assert new.recipes["small"]["step"][1]["dwell"]["target"] == "6 min"
    assert draft.drop("bolster").drop("pin").changes == ()
    with pytest.raises(RecipeError, match="dop"):
        draft.change("small", "dop.target=6 min")


def test_a_start_and_hours_away_are_times_of_day() -> None:
    """The plan begins at the next such time of day; moves avoid the hours away."""
    draft = Draft().add(RECIPE, "bolster").with_start("07:30", MORNING)
    zero = zero_of(draft, MORNING)
    assert zero.wall_ms - MORNING.wall_ms == (23 * 60 + 30) * MINUTE
    assert zero_of(draft.with_start("now", MORNING), MORNING) == MORNING
    away = draft.with_start("08:30", MORNING).with_away("08:00-09:00, 22:00-07:00")
    (sheet, *_) = _sheets(away)
    assert sheet.plan is not None
    assert sheet.plan.moves[0].start_s == 30 * 60
    for text in ("25:00", "soon", "2020-01-01"):
        with pytest.raises(ValueError, match=r"no such hour|not a time of day|is over"):
            draft.with_start(text, MORNING)
    with pytest.raises(ValueError, match="whole day"):
        draft.with_away("00:00-12:00, 12:00-00:00")


def test_a_held_back_part_starts_later_in_plan_and_run() -> None:
    """Steps, spans and times of day hold a part back, in the plan and on the bench."""
    draft = Draft().add(RECIPE, NAMES).later("bolster", 900)
    (sheet, *_) = _sheets(draft)
    assert sheet.plan is not None
    assert min(m.start_s for m in sheet.plan.moves if m.part == "bolster") >= 900
    assert held_back(draft, MORNING, MORNING) == {"bolster": 5000 + 15 * MINUTE}
    assert held_back(draft.later("bolster", -1800), MORNING, MORNING) == {}
    assert draft.not_before("ferrule", "10:30", MORNING).parts[1].later_s == 9000
    assert draft.not_before("ferrule", "45 min", MORNING).parts[1].later_s == 2700
    assert draft.not_before("bolster", "0", MORNING).parts[0].later_s == 0
    with pytest.raises(ValueError, match="not a time"):
        draft.not_before("ferrule", "soon", MORNING)


def test_parts_of_one_recipe_start_in_list_order() -> None:
    """Among parts of one recipe, the one at the front begins first."""
    draft = Draft().add(RECIPE, NAMES).forward("butt cap").forward("butt cap")
    (sheet, *_) = _sheets(draft)
    assert sheet.plan is not None
    assert sheet.plan.moves[0].part == "butt cap"


def test_the_answer_grows_from_plan_to_chances_to_advice() -> None:
    """First comes the plan, then the chance of a late part, then what would end it earlier."""
    sheets = _sheets(Draft().add(RECIPE, NAMES))
    assert [(s.risk is not None, s.gains is not None) for s in sheets] == [
        (False, False), (True, False), (True, True)]  # fmt: skip
    text = details(sheets[-1], MORNING)
    assert "EVERY MOVE" in text
    assert "bolster: start > tank  (Prepare, Dip)" in text
    assert "one more slot in tank (2)" in text
    assert "chance of an overrun: 0% (none of 400 trials)" in text


def test_stopping_the_planner_keeps_what_it_found() -> None:
    """A stopped planner answers once, at once, and searches no further."""
    found: list[PlanSheet] = []
    think(Draft().add(RECIPE, NAMES), MORNING, lambda: True, found.append)
    assert len(found) == 1


@pytest.fixture(scope="module", name="sheet_of_odd_names")
def _sheet_of_odd_names() -> tuple[Draft, PlanSheet]:
    """A plan of parts with long names, made once: its tests only draw it."""
    names = f"bolster, [red]{'x' * 190}, {'刃🔪' * 60}"
    draft = Draft().add(RECIPE, names).with_away("22:00-07:00")
    return draft, _sheets(draft)[-1]


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("size", [(57, 20), (77, 24), (117, 40), (197, 60)])
def test_the_timeline_has_every_lane_and_fits(
    size: tuple[int, int], plain: bool, sheet_of_odd_names: tuple[Draft, PlanSheet]
) -> None:
    """Each part, the hands and each station have a lane in every size and in ASCII."""
    draft, sheet = sheet_of_odd_names
    rows = plan_rows(draft, sheet, Size(*size), MORNING, plain=plain)
    assert all(cell_len(line) <= size[0] for row in rows for line in row.lines)
    assert [row.key for row in rows if row.key] == [f"part:{part.name}" for part in draft.parts]
    starts = [row.lines[0].split()[0] for row in rows if row.lines[0].strip()]
    if size[0] < NARROW:
        assert {"#1", "#2", "#3"} <= set(starts)
        assert sum("bolster" in row.lines[0] for row in rows) > 1
        return
    assert {"#1", "#2", "#3", "hands", "TANK", "RACK"} <= set(starts)
    lanes = "".join(row.lines[-1] for row in rows if row.key)
    assert "RACK" in lanes
    assert lanes.isascii() == plain


def test_a_sentence_says_when_you_will_be_busy() -> None:
    """A sentence above the lanes says when you are busy and when you are free."""
    draft = Draft().add(RECIPE, "bolster")
    lead = lead_lines(draft, _sheets(draft)[-1], False, Size(117, 40), MORNING)
    assert re.search(r"Busy 08:00 to \d\d:\d\d, free until \d\d:\d\d, busy until \d\d:\d\d", lead)


def test_a_start_that_waits_says_why() -> None:
    """If the first move waits for your hours, the lead says so."""
    draft = Draft().add(RECIPE, "bolster").with_away("07:00-09:00")
    lead = lead_lines(draft, _sheets(draft)[-1], False, Size(117, 40), MORNING)
    assert "Starts 09:00, when your hours begin" in lead


def test_an_impossible_plan_says_why_and_what_would_free_it() -> None:
    """Where nothing keeps every limit, reasons and remedies replace the lanes."""
    narrow = SMALL.replace('"1 h", target = "2 h"', '"1 h", target = "1 h", max = "1 h"')
    draft = Draft(away=("08:20-08:00",)).add(small_recipe(narrow), "bolster")
    sheet = _sheets(draft)[-1]
    assert sheet.plan is None
    assert "NO PLAN keeps every limit" in lead_lines(draft, sheet, False, Size(77, 24), MORNING)
    rows = plan_rows(draft, sheet, Size(57, 20), MORNING)
    assert "part:bolster" in [row.key for row in rows]
    assert sheet.outcome.why
    assert sheet.outcome.why[0].split()[0] in _text(rows)


def test_the_large_line_has_the_question_and_the_result() -> None:
    """Start, hands, hours away, the end with its proof, and the chances are above the lanes."""
    draft = Draft().add(RECIPE, "bolster").more_hands()
    text = lead_lines(draft, _sheets(draft)[-1], False, Size(77, 24), MORNING)
    for words in (
        "Begins now, 08:00",
        "2 pairs of hands",
        "DONE 10:14",
        "no plan ends",
        "Chance of",
    ):
        assert words in text
    assert "M stops" in lead_lines(draft, None, True, Size(57, 20), MORNING)
    left_out = lead_lines(draft, None, False, Size(77, 24), MORNING, others=2)
    assert "Not in this plan: the 2 runs already on the bench" in left_out
