"""The latest time to start, checked by planning from the next second."""

from __future__ import annotations

from dataclasses import replace

from benchtimer.plan.latest import latest_start
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from tests.plan.build import equal_parts

SOAK = Route("soak", (Move(600), Move(600)), (DwellLimits("tray", 8 * 3600, 9 * 3600),))
DAY = Problem(
    (PlanStation("tray", 4),),
    tuple(PlanPart(f"blade {n}", SOAK) for n in range(3)),
    away=(AwayTime(14 * 3600, 23 * 3600),),
)


def _plan(problem: Problem) -> Plan:
    plan = solve(problem).plan
    assert plan is not None
    return plan


def _from(problem: Problem, start_s: int) -> Problem:
    return replace(problem, parts=tuple(replace(p, release_s=start_s) for p in problem.parts))


def test_the_day_ends_before_the_night() -> None:
    """Three soaks of eight hours and their moves just fit between the start and the night."""
    answer = latest_start(DAY, _plan(DAY))
    # The last pull ends 8 h 40 min after the start: three moves in, eight hours, one out.
    assert answer.before_away_s == 14 * 3600 - (8 * 3600 + 4 * 600)
    assert _plan(_from(DAY, answer.before_away_s)).end_s == 14 * 3600
    assert (_plan(_from(DAY, answer.before_away_s + 1)).end_s or 0) > 14 * 3600


def test_the_last_moment_leaves_a_plan() -> None:
    """Started at the last possible moment, one part goes in and comes out in the morning."""
    answer = latest_start(DAY, _plan(DAY))
    assert answer.at_all_s == 14 * 3600 - 600


def test_putting_off_the_start_keeps_the_end() -> None:
    """Starting at the latest time keeps the end; a second later does not."""
    late = replace(equal_parts(1), now_s=0)
    waits = replace(late, away=(AwayTime(500, 5000),))
    plan = _plan(waits)
    answer = latest_start(waits, plan)
    assert answer.keeps_end_s is not None
    assert _plan(_from(waits, answer.keeps_end_s)).end_s == plan.end_s
    assert (_plan(_from(waits, answer.keeps_end_s + 1)).end_s or 0) > (plan.end_s or 0)


def test_without_away_hours_only_the_end_counts() -> None:
    """With no hours away ahead, only the end limits the start."""
    problem = equal_parts(2)
    answer = latest_start(problem, _plan(problem))
    assert (answer.before_away_s, answer.at_all_s) == (None, None)
    assert answer.keeps_end_s == 0


def test_a_part_on_the_bench_does_not_put_off_the_first_move_of_another() -> None:
    """With a part in its tank since before, a new one must still be in its own before you go."""
    soak = (DwellLimits("a", 100),), (DwellLimits("b", 100),)
    inside = PlanPart("x", Route("x", (Move(10),) * 2, soak[0]), moves_made=1, entered_s=0)
    later = PlanPart("y", Route("y", (Move(10),) * 2, soak[1]))
    bench = (PlanStation("a"), PlanStation("b"))
    problem = Problem(bench, (inside, later), away=(AwayTime(1000, 2000),))
    assert latest_start(problem, _plan(problem)).at_all_s == 990
