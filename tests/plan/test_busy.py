"""Busy and free times: one sentence for each stretch of work in a plan."""

from __future__ import annotations

import re
from argparse import Namespace
from datetime import UTC

import pytest

from benchtimer.bench.advice import away_windows
from benchtimer.plan.busy import FREE_S, busy_lines, busy_spans
from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.outcome import Infeasible, PlannedMove
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import ENDLESS_S, AwayTime
from benchtimer.recipe.places import put
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.shop.hours import open_spans, parse_week
from benchtimer.store.log import Stamp
from benchtimer.view.words import clock_times

SATURDAY = Stamp(0, None, 0, 1_770_454_800_000, 0)
"""2026-02-07 09:00 UTC."""
HOURS = "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"
SENTENCE = re.compile(
    r"(\w{3} (\w{3} \d+ )?)?\d\d:\d\d to (\w{3} (\w{3} \d+ )?)?\d\d:\d\d busy, "
    r"(free until (\w{3} (\w{3} \d+ )?)?\d\d:\d\d|then done)"
)


def _to(from_s: int, to_s: int) -> str:
    return clock_times(from_s * 1000, to_s * 1000, SATURDAY)


@pytest.mark.parametrize("count", [1, 3])
@pytest.mark.parametrize("name", list(RecipeFiles().paths()))
def test_every_shipped_recipe_fits_evenings_and_weekends(name: str, count: int) -> None:
    """One part or three of each recipe fit evenings and weekends, with a sentence per stretch."""
    week = parse_week(HOURS)
    recipe = RecipeFiles().find(name)
    placed = put({recipe.id: recipe})
    parts = [(f"part {number}", recipe.id) for number in range(count)]
    problem = plan_problem(placed, parts, away=away_windows((), SATURDAY, week))
    plan = solve(problem, seconds=1e9, nodes=300).plan
    assert plan is not None
    lines = busy_lines(plan.moves, _to)
    assert lines
    assert all(SENTENCE.fullmatch(line) for line in lines), lines
    assert [line.endswith("then done") for line in lines] == [False] * (len(lines) - 1) + [True]
    spans = busy_spans(plan.moves)
    assert all(sum(a <= m.start_s <= m.end_s <= b for a, b in spans) == 1 for m in plan.moves)
    opened = open_spans(week, UTC, SATURDAY.wall_ms // 1000)
    for move in plan.moves:
        assert any(a <= move.start_s <= move.end_s <= b for a, b in opened), move


def _move(start_s: int, end_s: int) -> PlannedMove:
    return Namespace(start_s=start_s, end_s=end_s)  # type: ignore[return-value]  # only its times are looked at


def test_short_waits_are_part_of_the_work() -> None:
    """A gap under half an hour counts as work; from half an hour on you are free."""
    moves = [_move(0, 60), _move(60 + FREE_S - 1, 2000), _move(2000 + FREE_S, 4000)]
    lines = busy_lines(moves, _to)
    assert lines == ["09:00 to 09:33 busy, free until 10:03", "10:03 to 10:06 busy, then done"]


def test_hours_too_short_name_the_steps_that_go_together() -> None:
    """If hours are too short, the text names the longest work stretch and the longest hours."""
    recipe = RecipeFiles().find("hot-black")
    placed = put({recipe.id: recipe})

    def why(hours: str, *, closed: bool = False) -> str:
        week = parse_week(hours)
        away = away_windows((), SATURDAY, week)
        if closed:
            away = [AwayTime(0, ENDLESS_S)]
        problem = plan_problem(placed, [("part", recipe.id)], away=away)
        outcome = solve(problem, seconds=1e9, nodes=20_000)
        assert isinstance(outcome, Infeasible)
        return " ".join(outcome.why)

    assert "min 40 s without a break, and your longest hours are 30 min" in why(
        "Mon-Fri 18:30-19:00"
    )
    assert "you have no working hours in the days the planner looks ahead" in why("", closed=True)
