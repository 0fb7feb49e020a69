"""Benches left alone too long: every change offered does what its words say."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from functools import cache

import pytest

from benchtimer.plan import changes
from benchtimer.plan.explain import has_plan
from benchtimer.plan.outcome import Infeasible
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.quantity import parse_duration
from tests.plan import families
from tests.plan.generate import KINDS, cut_at


@cache
def _broken() -> list[tuple[Problem, Infeasible]]:
    """Eight tight benches left alone until they have no plan."""
    found: list[tuple[Problem, Infeasible]] = []
    seed = 0
    while len(found) < 8:
        rng = random.Random(f"explain {seed}")
        seed += 1
        problem = KINDS["tight"](rng)
        plan = solve(problem).plan
        if plan is None or plan.end_s is None:
            continue
        late = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([20, 45, 90]))
        outcome = solve(late, previous=plan, rescue=True)
        if isinstance(outcome, Infeasible):
            found.append((late, outcome))
    return found


LONGER = re.compile(r"let (\w+) stay (.+) longer in (\w+)$")
SLOT = re.compile(r"give (\w+) one more slot \((\d+)\)$")
OFF = re.compile(r"take (\w+) off the bench$")
LEAST_BAD = re.compile(r"least bad: (\w+) stays (.+) too long in (\w+)$")
HANDS = "one more pair of hands (2)"
ANY = re.compile(r"let any part stay up to (.+) longer than its limits$")


def _as_said(problem: Problem, words: str, less_s: int = 0) -> Problem:
    """The problem changed as the words say, independently of the planner."""
    if (match := LONGER.match(words)) is not None:
        part = next(p for p in problem.parts if p.name == match[1])
        dwell = part.moves_made - (part.moving_s is None)
        assert part.route.dwells[dwell].station == match[3]
        return changes.longer(problem, part, dwell, parse_duration(match[2]) - less_s)
    if (match := SLOT.match(words)) is not None:
        assert problem.station(match[1]).holds + 1 == int(match[2])
        return changes.with_slot(problem, match[1])
    if (match := OFF.match(words)) is not None:
        return changes.without(problem, {match[1]})
    if words == HANDS:
        return replace(problem, hands=2, hands_at=None)
    match = ANY.match(words)
    assert match is not None, words
    return changes.all_longer(problem, parse_duration(match[1]) - less_s)


@pytest.mark.parametrize("number", range(8))
def test_every_way_out_does_what_its_words_say(number: int) -> None:
    """Changed as the words say, the bench has a plan and equals the planner's own change."""
    problem, outcome = _broken()[number]
    for change in outcome.witness.changes:
        assert _as_said(problem, change.words) == change.problem
        assert has_plan(change.problem, SearchLimits()) is True, change.words


@pytest.mark.parametrize("number", range(8))
def test_an_offered_longer_stay_is_the_shortest_that_helps(number: int) -> None:
    """With one second less, the bench still has no plan."""
    problem, outcome = _broken()[number]
    for change in outcome.witness.changes:
        if LONGER.match(change.words) or ANY.match(change.words):
            assert has_plan(_as_said(problem, change.words, less_s=1), SearchLimits()) is False


@pytest.mark.parametrize("number", range(8))
def test_the_least_bad_plan_overruns_by_what_it_states(number: int) -> None:
    """The overruns reported are exactly the plan's, to the second."""
    _, outcome = _broken()[number]
    assert outcome.least_bad is not None
    result = [LEAST_BAD.match(line) for line in outcome.why if line.startswith("least bad: ")]
    late = [dwell for dwell in outcome.least_bad.dwells if dwell.overrun_s]
    assert [(m[1], parse_duration(m[2]), m[3]) for m in result if m is not None] == [
        (dwell.part, dwell.overrun_s, dwell.station) for dwell in late
    ]


def _left_alone(seed: int) -> Problem | None:
    """A bench left alone for up to 20 minutes: breaks, held parts, two people; None: no plan."""
    rng = random.Random(f"left alone {seed}")
    hands = rng.choice((1, 1, 2))
    problem = families.breaks(rng.randint(3, 5), rng.randint(1, 3), rng.randrange(10**6), hands)
    plan = solve(problem, nodes=300).plan
    if plan is None or plan.end_s is None:
        return None
    late = cut_at(problem, plan, rng.randrange(1, plan.end_s), rng.choice([90, 300, 600, 1200]))
    inside = [part for part in late.parts if part.station]
    held = rng.choice(inside).name if inside and rng.random() < 0.4 else ""
    return replace(late, parts=tuple(replace(p, held=p.name == held) for p in late.parts))


def _single_changes(problem: Problem) -> list[Problem]:
    """The problem with one change of each kind you can make."""
    parts = [part for part in problem.parts if not part.is_done]
    return [
        *(changes.with_slot(problem, station.name) for station in problem.stations),
        *(changes.away_less(problem, away, away.to_s - away.from_s) for away in problem.away),
        *(changes.released(problem, part) for part in parts if part.held),
        *(changes.without(problem, {part.name}) for part in parts if not part.held),
        changes.all_longer(problem, 24 * 3600),
        changes.more_hands(problem),
    ]


def _begun_later(problem: Problem, later_s: int) -> Problem:
    """The problem with the parts that have not begun starting later."""
    parts = (
        replace(part, release_s=problem.now_s + later_s) if not part.moves_made else part
        for part in problem.parts
    )
    return replace(problem, parts=tuple(parts))


def test_a_way_out_is_offered_whenever_one_change_is_enough() -> None:
    """If slot, hours, held part, fewer parts, longer max or more hands frees it, one is offered.

    A later start is never offered: plans already delay parts that have not begun.
    """
    result = 0
    for seed in range(60):
        problem = _left_alone(seed)
        outcome = None if problem is None else solve(problem, rescue=True, nodes=6000)
        if problem is None or not isinstance(outcome, Infeasible):
            continue
        offered = outcome.witness.changes
        assert all(has_plan(change.problem, SearchLimits()) for change in offered), seed
        frees = any(has_plan(p, SearchLimits(nodes=4000)) for p in _single_changes(problem))
        assert bool(offered) == frees, seed
        assert not has_plan(_begun_later(problem, 3600), SearchLimits(nodes=4000)), seed
        result += 1
    assert result > 10
