"""The words around the lanes of a plan: question, answer, chances, help."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cache

import pytest

from benchtimer.plan.gains import Helps
from benchtimer.plan.latest import LatestStart
from benchtimer.plan.outcome import Feasible, Infeasible, Optimal, Outcome, Plan, Undecided
from benchtimer.plan.problem import ENDLESS_S
from benchtimer.plan.risk import Earlier, LateRunCause, Overrun, PastHours, Risk
from benchtimer.store.log import Stamp
from benchtimer.tui.planning import think
from benchtimer.view.draft import Draft
from benchtimer.view.plan_rows import PlanSheet, details, lead_lines, plan_rows
from benchtimer.view.space import Size
from tests.support import small_recipe

MORNING = Stamp(5000, None, 0, 1_770_019_200_000, 0)
"""2026-02-02 08:00 UTC, a Monday."""

SIZE = Size(117, 40)
RISK = Risk(
    trials=200, spread=0.2, any_overrun=0.125,
    dwells=(Overrun("bolster", 0, "dip", "tank", 0.1, 75.0),),
    ends_s=(4000, 4200, 4500),
    earlier=Earlier("bolster", "look", 1, 30, 0.125, 0.04),
)  # fmt: skip


@cache
def _sheet(names: str = "bolster, ferrule") -> PlanSheet:
    """The planner's first answer for a plan of two parts."""
    found: list[PlanSheet] = []
    draft = Draft().add(small_recipe(), names)
    think(draft, MORNING, threading.Event().is_set, found.append)
    return replace(found[0], risk=None, gains=None, latest=None)


def _plan(sheet: PlanSheet) -> Plan:
    assert sheet.plan is not None
    return sheet.plan


def _lead(sheet: PlanSheet | None, draft: Draft | None = None, *, thinking: bool = False) -> str:
    return lead_lines(draft or _sheet().draft, sheet, thinking, SIZE, MORNING)


@pytest.mark.parametrize(
    ("draft", "expected"),
    [
        (Draft(), " Begins now, 08:00   1 pair of hands   no hours away"),
        (Draft(hands=3), " Begins now, 08:00   3 pairs of hands   no hours away"),
        (
            Draft().with_start("00:00", MORNING),
            " START at Tue 00:00   1 pair of hands   no hours away",
        ),
        (Draft().with_start("10:05", MORNING), " START at 10:05   1 pair of hands   no hours away"),
        (
            Draft().with_start("2026-12-05T18:30", MORNING),
            " START at Sat Dec 5 2026 18:30   1 pair of hands   no hours away",
        ),
        (
            Draft().with_hours("Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"),
            " Begins now, 08:00   1 pair of hands   hours Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00",
        ),
        (
            Draft(away=("22:00-07:00", "12:00-13:00")),
            " Begins now, 08:00   1 pair of hands   away 22:00-07:00, 12:00-13:00",
        ),
        (
            Draft(changes=("small: dip.max = 6 min",)),
            " Begins now, 08:00   1 pair of hands   no hours away   "
            "changed: small: dip.max = 6 min",
        ),
    ],
)
def test_the_question_comes_first(draft: Draft, expected: str) -> None:
    """The first line shows start, hands, hours away and changes as requested."""
    assert _lead(None, draft) == expected


@pytest.mark.parametrize(
    ("thinking", "expected"), [(True, " Planning, M stops"), (False, "")], ids=["thinking", "idle"]
)
def test_before_an_answer_only_progress_shows(thinking: bool, expected: str) -> None:
    """With no answer yet the second line is empty or says how to stop the planner."""
    assert _lead(None, thinking=thinking).partition("\n")[2] == expected


@pytest.mark.parametrize(
    ("kind", "proof"),
    [(Optimal, "no plan ends sooner"), (Feasible, "could end sooner")],
)
def test_the_plan_says_whether_its_end_is_proven(kind: type[Outcome], proof: str) -> None:
    """The end shows its time of day, its length, and whether no plan ends earlier."""
    sheet = _sheet()
    assert isinstance(sheet.outcome, Optimal)
    fields = {name: getattr(sheet.outcome, name) for name in Optimal.__dataclass_fields__}
    said = f"without repeats or delays; {proof}"
    line = _lead(replace(sheet, outcome=kind(**fields))).splitlines()[1]
    assert line == f" DONE {sheet.at(MORNING, _plan(sheet).end_s or 0)}, 2 h 29 min, {said}"
    thinking = _lead(replace(sheet, outcome=kind(**fields)), thinking=True)
    assert f"{line}   still planning, M stops" in " ".join(thinking.split("\n   "))


def test_a_plan_that_breaks_a_limit_does_not_count() -> None:
    """Where no plan keeps every limit the lead says so, and the rows give the reasons."""
    sheet = _sheet()
    reason = "the tank holds one part and two must be in it at 09:12"
    none = replace(sheet, outcome=Infeasible(why=(reason,)))
    assert none.plan is None
    assert _lead(none).splitlines()[1] == " NO PLAN keeps every limit: see below"
    rows = plan_rows(none.draft, none, SIZE, MORNING)
    assert [row.key for row in rows] == ["part:bolster", "part:ferrule", ""]
    assert rows[-1].lines == (f" {reason}",)
    assert reason in details(none, MORNING)
    assert "EVERY MOVE" not in details(none, MORNING)


def test_a_plan_not_found_is_not_called_impossible() -> None:
    """Out of time the lead says that none is ruled out, and the rows how to find one."""
    why = ("what may find one: a longer search",)
    none = replace(_sheet(), outcome=Undecided(elapsed_s=4.02, why=why))
    assert none.plan is None
    assert _lead(none).splitlines()[1] == " NO PLAN found in 4 s, none ruled out: see below"
    text = "\n".join(
        line for row in plan_rows(none.draft, none, SIZE, MORNING) for line in row.lines
    )
    assert why[0] in text
    assert "SPACE sets the run up anyway" in text
    assert "every limit" not in _lead(none) + text + details(none, MORNING)


@pytest.mark.parametrize(
    ("risk", "expected"),
    [
        (RISK, " Chance of an overrun: 12% (25 of 200 trials), most often bolster in tank"),
        (
            replace(RISK, any_overrun=0.0, dwells=()),
            " Chance of an overrun: 0% (none of 200 trials)",
        ),
        (
            replace(RISK, any_overrun=0.995, dwells=()),
            " Chance of an overrun: over 99% (199 of 200 trials)",
        ),
        (
            replace(RISK, any_overrun=0.005, dwells=()),
            " Chance of an overrun: under 1% (1 of 200 trials)",
        ),
    ],
)
def test_the_chance_names_its_trials_and_the_part_most_at_risk(risk: Risk, expected: str) -> None:
    """A chance shows its trials; one of 200 is not 0%, and 199 are not 100%."""
    assert _lead(replace(_sheet(), risk=risk)).splitlines()[3] == expected


@pytest.mark.parametrize(
    ("others", "expected"),
    [
        (0, []),
        (1, [" Not in this plan: the run already on the bench"]),
        (2, [" Not in this plan: the 2 runs already on the bench"]),
    ],
)
def test_the_plan_says_what_it_leaves_out(others: int, expected: list[str]) -> None:
    """The page names open runs that the plan leaves out."""
    lines = lead_lines(Draft(), None, False, SIZE, MORNING, others).splitlines()
    assert lines[1:] == expected


def test_the_page_shows_when_trials_finish_and_why_they_are_late() -> None:
    """With checks drawn, the lead has 10, 50 and 90% and the check; the full page has all."""
    cause = LateRunCause("bolster", "small/look/dark", "Dark enough?", 0.75)
    risk = replace(RISK, planned_s=4000, causes=(cause,))
    sheet = replace(_sheet(), risk=risk)
    lead = _lead(sheet).splitlines()
    assert " With repeats and delays: 10% by 09:06, 50% by 09:10, 90% by 09:15" in lead
    assert ' Most often late because bolster is sent back at "Dark enough?"' in lead
    narrow = lead_lines(sheet.draft, sheet, False, Size(57, 20), MORNING)
    assert "90% by 09:15" in narrow
    text = details(sheet, MORNING)
    assert "IF HANDS ARE SLOWER OR CHECKS FAIL" in text
    assert "done 09:06 if nothing fails; 10% by 09:06, 50% by 09:10, 90% by 09:15" in text
    assert '  late because bolster is sent back at "Dark enough?": 75% of the late trials' in text


def test_the_chances_in_full() -> None:
    """The full page has spread, trials, each dwell at risk, its likely delay, and what helps."""
    text = details(replace(_sheet(), risk=RISK), MORNING).splitlines()
    at = text.index("IF HANDS ARE SLOWER OR FASTER")
    assert text[at + 1 : at + 7] == [
        "hands-on times: spread 0.2, two times in three between 18% shorter and 22% longer",
        "checks: as planned; these chances leave out a part sent back more often",
        "chance of an overrun: 12% (25 of 200 trials)",
        "  bolster, Dip in tank: 10%, by 1 min 15 s on average",
        "done by 09:10 in half of the trials, by 09:15 in 9 of 10",
        "begin bolster, Look 30 s earlier: the chance of an overrun falls from 12% to 4%",
    ]
    without = details(replace(_sheet(), risk=replace(RISK, earlier=None)), MORNING)
    assert "falls" not in without


def test_work_past_the_hours_names_the_closing_time() -> None:
    """With away hours, the lead and the full page show the chance of work past them."""
    closings = (PastHours(52_200, 0.65, 720.0),)
    risk = replace(RISK, past_hours=0.65, closings=closings)
    sheet = replace(_sheet(), risk=risk)
    assert "Chance of work past your hours: 65% (130 of 200 trials)" in " ".join(
        _lead(sheet).split()
    )
    text = details(sheet, MORNING).splitlines()
    at = text.index("chance of work past the hours: 65% (130 of 200 trials)")
    assert text[at + 1] == "  past 22:30: 65%, by 12 min on average"
    none = replace(sheet, risk=replace(RISK, past_hours=0.0))
    assert "Chance of work past your hours: 0% (none of 200 trials)" in " ".join(
        _lead(none).split()
    )
    assert "past the hours" not in details(replace(sheet, risk=RISK), MORNING)


def test_an_end_past_the_horizon_gets_no_date() -> None:
    """A trial that no known opening can finish is reported as such, without a date."""
    risk = replace(RISK, ends_s=(4000, 4200, ENDLESS_S + 90))
    found = (
        "done by 09:10 in half of the trials, the rest run past the days the planner looks ahead"
    )
    assert found in details(replace(_sheet(), risk=risk), MORNING)


def test_every_move_is_listed_in_order() -> None:
    """Each move has its time of day, part, way and the recipe's words, in order."""
    sheet = _sheet()
    text = details(sheet, MORNING).splitlines()
    text = text[text.index("EVERY MOVE") :]
    moves = _plan(sheet).moves
    assert len([line for line in text if " > " in line]) == len(moves)
    assert (
        text[1]
        == f"  {sheet.at(MORNING, moves[0].start_s)}  {moves[0].part}: start > tank  (Prepare, Dip)"
    )
    assert "rack > done" in text[len(moves)]


@pytest.mark.parametrize(
    ("gains", "expected"),
    [
        (Helps((), True), ["  neither one more slot nor one more pair of hands"]),
        (Helps((), False), ["  nothing found; more slots and hands are not ruled out"]),
        (None, []),
    ],
)
def test_the_plan_lists_what_would_end_it_earlier(gains: Helps | None, expected: list[str]) -> None:
    """Once it has looked, the planner says what helps or that nothing does; before, nothing."""
    text = details(replace(_sheet(), gains=gains), MORNING).splitlines()
    assert ("WHAT WOULD END IT EARLIER" in text) == (gains is not None)
    assert all(line in text for line in expected)


@pytest.mark.parametrize(
    ("latest", "expected"),
    [
        (LatestStart(None, None, None), []),
        (
            LatestStart(600, None, None),
            ["LATEST START", "  by 08:10 to end at the same time"],
        ),
        (
            LatestStart(600, 7200, None),
            [
                "LATEST START",
                "  by 08:10 to end at the same time",
                "  by 10:00 to end before the next hours away",
            ],
        ),
        (
            LatestStart(None, 86_400, None),
            ["LATEST START", "  by Tue 08:00 to end before the next hours away"],
        ),
    ],
)
def test_the_plan_shows_how_long_the_start_can_wait(
    latest: LatestStart, expected: list[str]
) -> None:
    """With hours away, the latest starts show their times of day."""
    text = details(replace(_sheet(), latest=latest), MORNING).splitlines()
    at = text.index("LATEST START") if expected else len(text)
    assert text[at:] == expected


def test_a_part_held_back_says_for_how_long() -> None:
    """The row of a part has its recipe, its start and end, and how long it is held back."""
    sheet = _sheet()
    rows = plan_rows(sheet.draft.later("ferrule", 900), sheet, SIZE, MORNING)
    found = {row.key: row.lines[0] for row in rows if row.key}
    moves = [move for move in _plan(sheet).moves if move.part == "bolster"]
    times = f"{sheet.at(MORNING, moves[0].start_s)} to {sheet.at(MORNING, moves[-1].end_s)}"
    assert found["part:bolster"].startswith(" #1 bolster ")
    assert found["part:bolster"].endswith(f"  small   {times}")
    assert found["part:ferrule"].endswith("   held back 15 min")


def test_an_empty_plan_says_how_to_begin() -> None:
    """With no part yet, one row names the key that adds parts."""
    (row,) = plan_rows(Draft(), None, SIZE, MORNING)
    assert row.key == "add"
    assert "A chooses a recipe" in row.lines[0]


@pytest.mark.parametrize(("height", "moves"), [(49, False), (50, True)])
def test_a_tall_screen_shows_every_move_below_the_lanes(height: int, moves: bool) -> None:
    """From fifty rows the moves are below the lanes; on a smaller screen a key shows them."""
    rows = plan_rows(_sheet().draft, _sheet(), Size(117, height), MORNING)
    assert any(" EVERY MOVE" in row.lines for row in rows) == moves
