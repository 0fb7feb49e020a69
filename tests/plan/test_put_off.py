"""How long moves can wait, several pairs of hands, and reuse of earlier plans."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from math import inf

import pytest

from benchtimer.plan.earliest import Earliest
from benchtimer.plan.gains import Helps, what_helps
from benchtimer.plan.latest import latest_begins, latest_start
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
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import equal_parts
from tests.plan.generate import KINDS
from tests.plan.plan_check import check_plan

SOAK = Route("soak", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))


def _planned(problem: Problem) -> tuple[Problem, Plan]:
    plan = solve(problem, nodes=2000).plan
    assert plan is not None
    return problem, plan


@cache
def _solved(kind: str, seed: int) -> tuple[Problem, Plan]:
    """A generated problem with moves to make, and its best plan."""
    for again in range(20):
        problem = KINDS[kind](random.Random(f"put off {kind}{seed}.{again}"))
        plan = solve(problem, nodes=2000).plan
        if plan is not None and plan.moves:
            return problem, plan
    raise AssertionError(f"no plan for twenty problems like {kind} {seed}")


CASES = [(kind, seed) for kind in KINDS for seed in range(2)]
any_case = pytest.mark.parametrize("case", CASES, ids=str)


def _not_before(problem: Problem, name: str, start_s: int) -> Problem:
    """The same bench with one part's next move not before a given time."""

    def put_off(part: PlanPart) -> PlanPart:
        if part.name != name:
            return part
        if part.entered_s is None:
            return replace(part, release_s=start_s)
        dwells = list(part.route.dwells)
        now = part.moves_made - 1
        min_s = max(dwells[now].min_s, start_s - part.entered_s)
        dwells[now] = replace(dwells[now], min_s=min_s, target_s=None)
        return replace(part, route=replace(part.route, dwells=tuple(dwells)))

    return replace(problem, parts=tuple(put_off(part) for part in problem.parts))


@any_case
def test_put_off_to_the_latest_start_there_is_still_a_plan(case: tuple[str, int]) -> None:
    """A part begun as late as allowed still keeps every limit."""
    problem, plan = _solved(*case)
    moving = {part.name for part in problem.parts if part.moving_s is not None}
    for name, latest_s in latest_begins(problem, plan).items():
        first = next(move for move in plan.moves if move.part == name)
        assert latest_s >= first.start_s
        if name not in moving and latest_s < inf:
            later = solve(_not_before(problem, name, int(latest_s)), previous=plan, rescue=True)
            assert later.status in ("optimal", "feasible"), name


@pytest.mark.parametrize(
    ("part", "away", "latest_s"),
    [
        (PlanPart("a", SOAK, moves_made=1, entered_s=-60), (), 90),
        (PlanPart("a", SOAK), (), inf),
        (PlanPart("a", SOAK), (AwayTime(500, 900),), 370),
        (PlanPart("a", SOAK, moves_made=1, entered_s=-60), (AwayTime(60, 100),), 40),
    ],
)
def test_the_spare_time_of_one_part_is_what_its_limit_leaves(
    part: PlanPart, away: tuple[AwayTime, ...], latest_s: float
) -> None:
    """Alone, a part may wait to the end of its window, or until the hours away leave no time."""
    problem, plan = _planned(Problem((PlanStation("tank"),), (part,), away=away))
    assert latest_begins(problem, plan)["a"] == latest_s


def test_work_under_way_has_no_latest_start() -> None:
    """A part in your hands can't wait; its next move can."""
    problem, plan = _planned(
        Problem((PlanStation("tank"),), (PlanPart("a", SOAK, moving_s=5), PlanPart("b", SOAK)))
    )
    found = latest_begins(problem, plan)
    assert found["a"] == 5 + 150
    assert found["b"] == inf


@pytest.mark.parametrize("seed", [0, 1])
def test_each_latest_start_really_works(seed: int) -> None:
    """Starting at each of the latest times still gives the day it promises."""
    problem, plan = _solved("away", seed)
    latest = latest_start(problem, plan)

    def ends_at(start_s: int) -> int | None:
        parts = tuple(replace(p, release_s=max(p.release_s, start_s)) for p in problem.parts)
        later = solve(replace(problem, parts=parts), nodes=4000).plan
        return None if later is None else later.end_s

    if latest.keeps_end_s is not None:
        assert ends_at(latest.keeps_end_s) == plan.end_s
    if latest.before_away_s is not None:
        end_s = ends_at(latest.before_away_s)
        assert end_s is not None
        assert end_s <= problem.away[0].from_s
    if latest.at_all_s is not None:
        assert ends_at(latest.at_all_s) is not None
        assert latest.at_all_s < problem.away[0].from_s
    if latest.before_away_s is not None and latest.at_all_s is not None:
        assert latest.before_away_s <= latest.at_all_s


def test_with_nothing_left_to_start_no_start_is_named() -> None:
    """With all parts begun there is no latest start."""
    inside = PlanPart("a", SOAK, moves_made=1, entered_s=-10)
    problem, plan = _planned(Problem((PlanStation("tank"),), (inside,), away=(AwayTime(900, 999),)))
    latest = latest_start(problem, plan)
    assert (latest.keeps_end_s, latest.before_away_s, latest.at_all_s) == (None, None, None)


def test_without_a_budget_no_start_is_promised() -> None:
    """Without a search budget, the latest start comes from the plan alone."""
    problem = replace(equal_parts(1), away=(AwayTime(4000, 5000),))
    latest = latest_start(*_planned(problem), limits=SearchLimits(stop=lambda: True))
    assert latest.keeps_end_s is not None
    assert (latest.before_away_s, latest.at_all_s) == (None, None)


@any_case
def test_an_earlier_plan_keeps_its_own_times(case: tuple[str, int]) -> None:
    """Planned again with no change, an unbeaten plan comes back unchanged."""
    problem, plan = _solved(*case)
    again = Earliest(problem, SearchLimits())
    assert again.take_plan(plan)
    assert again.end_s == plan.end_s
    best = again.best()
    assert best.starts == [move.start_s for move in plan.moves]


def test_an_order_that_overfills_a_tank_is_not_kept() -> None:
    """An earlier order that overfills a tank is refused, and so is half a plan."""
    problem = Problem((PlanStation("tank"),), (PlanPart("a", SOAK), PlanPart("b", SOAK)))
    _, plan = _planned(problem)
    first, lift, second, last = plan.moves
    for moves in ((first, second, lift, last), plan.moves[:3]):
        again = Earliest(problem, SearchLimits())
        overfull = [replace(m, start_s=30 * n, end_s=0) for n, m in enumerate(moves)]
        assert not again.take_plan(replace(plan, moves=tuple(overfull)))
        assert again.end_s == inf
    alien = replace(first, part="z")
    assert Earliest(problem, SearchLimits()).take_plan(replace(plan, moves=(alien, *plan.moves)))


@pytest.mark.parametrize("kind", ["walks", "midrun", "away", "releases"])
@pytest.mark.parametrize("hands", [2, 3])
def test_several_pairs_of_hands_keep_every_rule_on_any_bench(kind: str, hands: int) -> None:
    """With walks, nights, late parts and a bench in mid-run, plans for more hands are clean."""
    problem = replace(KINDS[kind](random.Random(f"hands {kind}")), hands=hands)
    outcome = solve(problem, nodes=150)
    assert outcome.plan is not None
    assert check_plan(problem, outcome.plan) == []
    assert (outcome.bound_s or 0) <= (outcome.plan.end_s or problem.now_s)
    assert {move.hands for move in outcome.plan.moves} <= set(range(hands))


def test_two_pairs_of_hands_halve_work_that_only_waits_for_hands() -> None:
    """Two pairs of hands share filing at the bench evenly, and the end is proved."""
    jobs = tuple(PlanPart(f"p{n}", Route("file", (Move(60),), ())) for n in range(5))
    for hands, end_s in ((1, 300), (2, 180), (3, 120), (5, 60)):
        outcome = solve(Problem((), jobs, hands=hands))
        assert outcome.status == "optimal"
        assert outcome.as_dict()["makespan_s"] == outcome.bound_s == end_s


def test_two_parts_in_hand_need_two_pairs_of_hands() -> None:
    """With two parts between stations, two pairs are planned, each free at its own time."""
    parts = (PlanPart("a", SOAK, moving_s=5), PlanPart("b", SOAK, moving_s=9))
    problem = Problem((PlanStation("tank", 2),), parts, hands=2)
    plan = solve(problem).plan
    assert plan is not None
    assert sorted(move.start_s for move in plan.moves) == [105, 109]
    assert check_plan(problem, plan) == []


@pytest.mark.parametrize("seed", [0, 1, 3])
def test_each_gain_offered_is_real_and_the_largest_comes_first(seed: int) -> None:
    """Planned again, each change saves the seconds it promised."""
    problem, plan = _solved("tight", seed)
    gains = what_helps(problem, solve(problem)).gains
    assert [g.saves_s for g in gains] == sorted((g.saves_s for g in gains), reverse=True)
    for gain in gains:
        better = solve(gain.change.problem, nodes=3000).plan
        assert better is not None
        assert (plan.end_s or 0) - (better.end_s or 0) == gain.saves_s > 0
        assert check_plan(gain.change.problem, better) == []
        assert gain.words.startswith(gain.change.words + ": ")


def test_without_time_or_plan_no_gain_is_reported() -> None:
    """Stopped at once, or with nothing planned, the planner offers no gains."""
    problem, _ = _solved("tight", 0)
    outcome = solve(problem)
    assert what_helps(problem, outcome, SearchLimits(stop=lambda: True)) == Helps()
    assert what_helps(problem, outcome, SearchLimits(0)) == Helps()
    overdue = PlanPart("a", SOAK, moves_made=1, entered_s=-999)
    none = Problem((PlanStation("tank"),), (overdue,))
    assert what_helps(none, solve(none)) == Helps()
