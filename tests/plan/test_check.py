"""The checker finds the faults in plans that were spoiled on purpose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from benchtimer.plan.outcome import Plan, PlannedMove
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
    Walk,
)
from tests.plan.plan_check import check_plan

ROUTE = Route("r", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))
PROBLEM = Problem((PlanStation("tank"),), (PlanPart("a", ROUTE), PlanPart("b", ROUTE, release_s=5)))
_solved = solve(PROBLEM).plan
assert _solved is not None
PLAN: Plan = _solved


def _moved(number: int, by_s: int) -> Plan:
    """The plan with one move shifted and its dwells updated to match."""
    moves = list(PLAN.moves)
    moves[number] = replace(
        moves[number], start_s=moves[number].start_s + by_s, end_s=moves[number].end_s + by_s
    )
    return _retold(moves)


def _retold(moves: list[PlannedMove]) -> Plan:
    ends = {(m.part, m.move): m.end_s for m in moves}
    starts = {(m.part, m.move): m.start_s for m in moves}
    dwells = tuple(
        replace(d, in_s=ends[d.part, d.dwell], out_s=starts[d.part, d.dwell + 1])
        for d in PLAN.dwells
    )
    return Plan(tuple(moves), dwells)


def test_the_plan_itself_is_clean() -> None:
    """The checker finds no fault in an unspoiled plan."""
    assert check_plan(PROBLEM, PLAN) == []


@pytest.mark.parametrize(
    ("spoil", "fault"),
    [
        (lambda: _moved(1, -1), "least is 100 s"),
        (lambda: _moved(3, 51), "most is 150 s"),
        (lambda: _moved(2, -1), "before the hands are there"),
        (lambda: _moved(0, -1), "begins in the past"),
        (lambda: Plan(PLAN.moves[:-1], PLAN.dwells), "b makes moves [0], not [0, 1]"),
        (lambda: Plan(PLAN.moves, PLAN.dwells[:-1]), "dwells of b are not listed"),
        (lambda: Plan((*PLAN.moves, replace(PLAN.moves[0], part="z")), ()), "not in the problem"),
        (
            lambda: Plan((replace(PLAN.moves[0], to_station="sea"), *PLAN.moves[1:]), PLAN.dwells),
            "names start and sea",
        ),
        (
            lambda: Plan((replace(PLAN.moves[0], hands=1), *PLAN.moves[1:]), PLAN.dwells),
            "pair 1 of 1",
        ),
    ],
)  # fmt: skip
def test_a_broken_plan_is_found_out(spoil: Callable[[], Plan], fault: str) -> None:
    """The checker reports each kind of fault in a sentence that names it."""
    assert any(fault in found for found in check_plan(PROBLEM, spoil()))


def test_lowering_into_a_full_tank_is_found_out() -> None:
    """The checker refuses a load in the same second another pair of hands begins the pull."""
    two = replace(PROBLEM, hands=2)
    moves = [
        PLAN.moves[0],
        PLAN.moves[1],
        replace(PLAN.moves[2], start_s=100, end_s=110, hands=1),
        replace(PLAN.moves[3], start_s=210, end_s=230),
    ]
    assert any("which holds a" in found for found in check_plan(two, _retold(moves)))
    moves[2] = replace(moves[2], start_s=101, end_s=111)
    moves[3] = replace(moves[3], start_s=211, end_s=231)
    assert check_plan(two, _retold(moves)) == []


def test_other_rules_of_the_problem_are_found_out() -> None:
    """The checker also enforces walks, hours away, shut stations and releases."""
    walk = replace(PROBLEM, stations=(PlanStation("tank"), PlanStation("door")), hands_at="door")
    far = replace(
        walk,
        walks=(Walk("door", "tank", 9),),
        parts=(PlanPart("a", ROUTE, moves_made=1, entered_s=-100),),
    )
    plan = solve(far).plan
    assert plan is not None
    assert plan.moves[0].start_s == 9
    early = Plan(
        (replace(plan.moves[0], start_s=0, end_s=20),), (replace(plan.dwells[0], out_s=0),)
    )
    assert any("before the hands" in found for found in check_plan(far, early))
    away = replace(PROBLEM, away=(AwayTime(115, 120),))
    assert any("time away" in found for found in check_plan(away, PLAN))
    shut = replace(PROBLEM, stations=(PlanStation("tank", 1, in_service=False),))
    assert any("out of service" in found for found in check_plan(shut, PLAN))
    later = replace(PROBLEM, parts=(PlanPart("a", ROUTE, 1), PlanPart("b", ROUTE, 5)))
    assert any("before the part is there" in found for found in check_plan(later, PLAN))


def test_moves_in_the_same_second_follow_their_order() -> None:
    """With zero-length moves in one second, the pull must come before the load."""
    route = Route("dip", (Move(0), Move(0)), (DwellLimits("tank", 10, 20),))
    problem = Problem((PlanStation("tank"),), (PlanPart("a", route), PlanPart("b", route)))
    plan = solve(problem).plan
    assert plan is not None
    assert [m.start_s for m in plan.moves] == [0, 10, 11, 21]  # the planner leaves a second
    first, then = (tuple(move for move in plan.moves if move.part == part) for part in "ab")
    then = tuple(replace(m, start_s=m.start_s - 1, end_s=m.end_s - 1) for m in then)
    soaks = tuple(replace(d, in_s=d.in_s - (d.part == "b"), out_s=d.out_s - (d.part == "b"))
                  for d in plan.dwells)  # fmt: skip
    plan = replace(plan, moves=(*first, *then), dwells=soaks)
    assert check_plan(problem, plan) == []
    swapped = replace(plan, moves=tuple(plan.moves[n] for n in (0, 2, 1, 3)))
    assert check_plan(problem, swapped) == [
        "b's move to tank at 10 s goes into tank, which holds a"
    ]
    assert check_plan(replace(problem, stations=(PlanStation("tank", 2),)), swapped) == []


WHOLE = {
    (1, -1): ["a's move to done at 109 s ends a dwell of 99 s, least is 100 s"],
    (3, 51): ["b's move to done at 291 s ends a dwell of 151 s, most is 150 s"],
    (2, -1): ["b's move to tank at 129 s begins before the hands are there (130 + 0 s)"],
    (1, 60): [
        "a's move to done at 170 s ends a dwell of 160 s, most is 150 s",
        "b's move to tank at 130 s begins before the hands are there (190 + 0 s)",
        "b's move to tank at 130 s goes into tank, which holds a",
    ],
    (0, -1): [
        "a's move to tank at -1 s begins before the part is there (0 s)",
        "a's move to tank at -1 s begins in the past",
        "a's move to tank at -1 s begins before the hands are there (0 + 0 s)",
    ],
}


@pytest.mark.parametrize("moved", WHOLE)
def test_each_fault_is_reported_once_in_a_full_sentence(moved: tuple[int, int]) -> None:
    """One shifted move is reported once: part, step, second, what is wrong and by how much."""
    assert check_plan(PROBLEM, _moved(*moved)) == WHOLE[moved]
