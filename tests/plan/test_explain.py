"""What the planner says about a bench without a plan is true: who, where, when, what frees it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.plan import changes
from benchtimer.plan.explain import LONGEST_EXTRA_S, has_plan, least_extra, smallest_core
from benchtimer.plan.outcome import Infeasible, ProblemChange
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
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.build import any_order
from tests.plan.plan_check import check_plan

SOAK = Route("soak", (Move(10), Move(20)), (DwellLimits("tank", 100, 150, step="soak"),))
NAMELESS = Route("nameless", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))
TWICE = Route("twice", (Move(10),) * 3, (DwellLimits("tank", 100, 150), DwellLimits("rack", 50)))


def _inside(name: str, entered_s: int, route: Route = SOAK, held: bool = False) -> PlanPart:
    return PlanPart(name, route, moves_made=1, entered_s=entered_s, held=held)


def _bench(
    *parts: PlanPart, now_s: int = 0, tank: int = 1, away: tuple[AwayTime, ...] = ()
) -> Problem:
    return Problem((PlanStation("tank", tank), PlanStation("rack")), parts, away=away, now_s=now_s)


SHUT = replace(_bench(PlanPart("a", SOAK)), stations=(PlanStation("tank", 1, in_service=False),))
ONE_BENCH = {
    "a station out of service": (
        SHUT,
        "a needs tank for soak, but it is out of service",
        ["put tank back in service"],
    ),
    "a station out of service, its step without a name": (
        replace(SHUT, parts=(PlanPart("a", NAMELESS),)),
        "a needs tank for tank, but it is out of service",
        ["put tank back in service"],
    ),
    "every slot held": (
        _bench(_inside("a", -50, held=True), PlanPart("b", SOAK)),
        "b needs tank for soak, but a is held there",
        ["resume a"],
    ),
    "two slots held": (
        _bench(
            _inside("a", -50, held=True), _inside("c", -60, held=True), PlanPart("b", SOAK), tank=2
        ),
        "b needs tank for soak, but a and c are held there",
        ["resume a"],
    ),
    "over its limit on a bench at work": (
        _bench(_inside("a", -200)),
        "a should have left tank 50 s ago (max 2 min 30 s)",
        ["let a stay 50 s longer in tank"],
    ),
    "over its limit on a bench with a past": (
        _bench(_inside("a", 0), now_s=200),
        "a must leave tank by 2 min 30 s (max 2 min 30 s), "
        "but can't be pulled before 3 min 20 s",
        ["let a stay 50 s longer in tank"],
    ),
    "nobody there before the limit": (
        _bench(_inside("a", 0), away=(AwayTime(40, 400),)),
        "a must leave tank by 2 min 30 s (max 2 min 30 s), "
        "but can't be pulled before 6 min 40 s: you are away from 40 s to 6 min 40 s",
        [
            "let a stay 4 min 10 s longer in tank",
            "stay 1 min 20 s past 40 s",
            "be back 4 min 10 s before 6 min 40 s",
        ],
    ),
    "its limit is this very second": (
        _bench(_inside("a", -150), away=(AwayTime(0, 50),)),
        "a must leave tank by 0 s (max 2 min 30 s), but can't be pulled before 50 s: "
        "you are away from 0 s to 50 s",
        [
            "let a stay 50 s longer in tank",
            "stay 20 s past 0 s",
            "be back 50 s before 50 s",
        ],
    ),
    "nobody there long enough to lift it": (
        _bench(_inside("a", 0), away=(AwayTime(149, 400),), now_s=130),
        "a must leave tank by 2 min 30 s (max 2 min 30 s), "
        "but can't be pulled before 6 min 40 s: you are away from 2 min 29 s to 6 min 40 s",
        [
            "let a stay 4 min 10 s longer in tank",
            "stay 1 s past 2 min 29 s",
            "be back 4 min 10 s before 6 min 40 s",
        ],
    ),
}  # fmt: skip


def _refused(problem: Problem) -> Infeasible:
    outcome = solve(problem)
    assert isinstance(outcome, Infeasible)
    return outcome


def _frees(change: ProblemChange) -> bool:
    plan = solve(change.problem).plan
    return plan is not None and check_plan(change.problem, plan) == []


@pytest.mark.parametrize("name", ONE_BENCH)
def test_a_reason_is_one_sentence_with_its_way_out(name: str) -> None:
    """The sentence names part, station and times, and each change it offers frees the bench."""
    problem, sentence, ways_out = ONE_BENCH[name]
    outcome = _refused(problem)
    assert outcome.witness.sentences == (sentence,)
    assert [change.words for change in outcome.witness.changes] == ways_out
    assert all(_frees(change) for change in outcome.witness.changes)
    assert outcome.why == (sentence, *(f"what would free it: {words}" for words in ways_out))


def test_a_limit_met_to_the_second_is_met() -> None:
    """A part pulled in the last second of its limit is on time; a second later it is late."""
    assert solve(_bench(_inside("a", -150))).status == "optimal"
    assert solve(_bench(_inside("a", -151))).status == "infeasible"


def test_the_walk_to_an_overdue_part_counts() -> None:
    """Hands too far away come too late, and the sentence includes their walk."""
    far = replace(_bench(_inside("a", -140)), walks=(Walk("rack", "tank", 11),), hands_at="rack")
    assert "(max 2 min 30 s)" in _refused(far).why[0]
    assert "but can't be pulled before 11 s" in _refused(far).why[0]
    near = replace(far, walks=(Walk("rack", "tank", 10),))
    assert solve(near).status == "optimal"


def test_a_held_or_endless_dwell_is_never_overdue() -> None:
    """A held part is never overdue, and neither is a part in a dwell without a limit."""
    endless = Route("cure", (Move(10), Move(20)), (DwellLimits("tank", 100),))
    assert solve(_bench(_inside("a", -9999, endless))).status == "optimal"
    assert solve(_bench(_inside("a", -9999, held=True), tank=2)).status == "optimal"


def test_two_overdue_dwells_offer_what_frees_both() -> None:
    """If one longer stay isn't enough, the offer widens all limits by the least that works."""
    problem = _bench(_inside("a", -200), _inside("b", -160), tank=2)
    outcome = _refused(problem)
    assert [change.words for change in outcome.witness.changes] == [
        "let any part stay up to 50 s longer than its limits"
    ]
    assert _frees(outcome.witness.changes[0])
    assert not has_plan(changes.all_longer(problem, 49), SearchLimits())


def test_a_conflict_of_two_names_both_and_what_each_could_do() -> None:
    """For two pulls due in one second, both parts are named, and each offer is the smallest."""
    problem = _bench(_inside("a", -150), _inside("b", -150), tank=2)
    outcome = _refused(problem)
    assert outcome.witness.sentences == (
        "no order of moves keeps every limit for a and b",
        "at best, b leaves tank at 20 s, 20 s too late (max 2 min 30 s): "
        "the hands are busy with a until then",
        "one pair of hands can't make the moves in time; one more can",
    )
    assert [change.words for change in outcome.witness.changes] == [
        "let a stay 20 s longer in tank",
        "let b stay 20 s longer in tank",
        "take a off the bench",
        "take b off the bench",
        "one more pair of hands (2)",
    ]
    assert outcome.witness.parts == ("a", "b")
    assert outcome.witness.at_s == 20


def test_hours_away_are_blamed_once_with_both_ways_out() -> None:
    """The sentence about your hours is printed once, also if staying or coming back would help."""
    limits = (DwellLimits("tank", 100, 150), DwellLimits("rack", 50, 60))
    route = Route("tight", (Move(10),) * 3, limits)
    outcome = _refused(_bench(_inside("a", -50, route), away=(AwayTime(100, 1000),)))
    assert outcome.witness.sentences[2:] == (
        "you are away from 1 min 40 s to 16 min 40 s; if you were there, there would be a plan",
    )
    assert [change.words for change in outcome.witness.changes[:2]] == [
        "stay 20 s past 1 min 40 s",
        "be back 14 min before 16 min 40 s",
    ]


def test_every_time_is_written_as_the_caller_asks() -> None:
    """Sentence and ways out write times of the plan alike, if hours away are in the way."""
    problem = _bench(_inside("a", -50), away=(AwayTime(40, 1000),))
    assert solve(problem, say=lambda s: f"12:{s:02}").why == (
        "a must leave tank by 12:100 (max 2 min 30 s), but can't be pulled before 12:1000: "
        "you are away from 12:40 to 12:1000",
        "what would free it: let a stay 15 min longer in tank",
        "what would free it: stay 30 s past 12:40",
        "what would free it: be back 15 min before 12:1000",
    )


def test_the_witness_leaves_out_uninvolved_parts() -> None:
    """The conflict leaves out a part with plenty of time and a held part that takes no slot."""
    calm = PlanPart(
        "calm", Route("cure", (Move(10), Move(10)), (DwellLimits("rack", 5),)), release_s=900
    )
    problem = _bench(_inside("a", -150), calm, _inside("b", -150), tank=2)
    core = smallest_core(problem, SearchLimits())
    assert [part.name for part in core.parts] == ["a", "b"]
    assert _refused(problem).witness.parts == ("a", "b")


def test_the_mildest_way_out_comes_first_and_a_held_part_is_left_alone() -> None:
    """The shorter stay comes before the longer, and no offer takes off a held part."""
    slow = Route("slow", (Move(10), Move(40)), SOAK.dwells)
    held = _inside("c", -50, held=True)
    problem = _bench(_inside("a", -150), _inside("b", -150, slow), held, tank=3)
    assert [change.words for change in _refused(problem).witness.changes] == [
        "let b stay 20 s longer in tank",
        "let a stay 40 s longer in tank",
        "take a off the bench",
        "take b off the bench",
        "one more pair of hands (2)",
    ]


def test_pulls_in_the_same_second_need_as_many_hands() -> None:
    """Three pulls due in one second are too many for two pairs of hands, by the windows alone."""
    three = _bench(*(_inside(name, -150) for name in "abc"), tank=3)
    assert has_plan(replace(three, hands=2), SearchLimits()) is False
    assert has_plan(replace(three, hands=3), SearchLimits()) is True
    assert has_plan(three, SearchLimits()) is False


@pytest.mark.parametrize("nodes", [1, 3, 10])
def test_an_attempt_keeps_to_what_is_left_of_the_budget(nodes: int) -> None:
    """The search never opens more states than the caller allows in all.

    Placing every part once is always allowed: it takes milliseconds and usually suffices.
    """
    problem = any_order(9, 5, slack=0.3)
    limits = SearchLimits(nodes=nodes)
    assert has_plan(problem, limits) in (None, True)
    assert has_plan(problem, limits) in (None, True)
    assert limits.spent_nodes <= nodes + 4 * len(problem.parts)


@pytest.mark.parametrize("need_s", [1, 2, 3, 4, 5, 63, 64, 65, 1000, LONGEST_EXTRA_S // 8])
def test_the_smallest_extra_time_is_found_to_the_second(need_s: int) -> None:
    """The search for the least extra time returns it to the second."""
    problem = _bench(_inside("a", -150 - need_s))
    part = problem.parts[0]
    assert least_extra(lambda s: changes.longer(problem, part, 0, s), SearchLimits()) == need_s


def test_more_than_a_day_too_long_is_not_offered() -> None:
    """A part forgotten for two days is not offered a longer stay."""
    problem = _bench(_inside("a", -150 - 2 * LONGEST_EXTRA_S))
    part = problem.parts[0]
    assert least_extra(lambda s: changes.longer(problem, part, 0, s), SearchLimits()) is None


def test_without_time_left_nothing_is_claimed() -> None:
    """With its budget spent, the planner claims neither a plan nor that none exists."""
    over = SearchLimits(stop=lambda: True)
    assert has_plan(_bench(PlanPart("a", SOAK)), over) is None
    assert has_plan(_bench(_inside("a", -200)), over) is None
    assert has_plan(_bench(), SearchLimits()) is True
