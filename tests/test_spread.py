"""Spread is one number in drawing, rehearsing, planning and learning."""

from __future__ import annotations

import random
from dataclasses import replace
from math import exp, log, sqrt
from statistics import fmean, median, stdev

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.cli.parser import whole_line
from benchtimer.learn.estimates import Estimates, TimeEstimate, estimate
from benchtimer.learn.observe import observed
from benchtimer.learn.posterior import TimeSums, time_posterior
from benchtimer.learn.sums import OWN, Group, add_up, change
from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.planner import solve
from benchtimer.plan.risk import assess
from benchtimer.plan.spread import (
    SPREAD,
    draw_times_s,
    spread_words,
)
from benchtimer.recipe.places import put
from benchtimer.rehearsal import START_WALL_MS, Rehearsal, rehearse
from benchtimer.store.standing import standing
from tests.support import SMALL, small_recipe, table

FILING = """
schema = 1
title = "File, stone, rub"

[[station]]
id = "rack"
title = "Rack"

[[step]]
id = "file"
title = "File"
hands = "4 min"

[[step]]
id = "stone"
title = "Stone"
hands = "5 min"

[[step]]
id = "rub"
title = "Rub"
hands = "3 min"
"""
"""One move of three steps, in which only the hands vary."""


def _run(text: str) -> NewRun:
    return NewRun("Test", {"small": table(small_recipe(text))}, [("bolster", "small")])


def _error(spread: float, free: int) -> float:
    """Four standard errors of a standard deviation, sigma / sqrt(2 n) (normal, large n)."""
    return 4 * spread / sqrt(2 * free)


def _learned(spread: float, runs: int) -> Estimates:
    """What rehearsals of a recipe teach, each with another seed."""
    sums: dict[str, Group] = {}
    for seed in range(runs):
        rehearsal = Rehearsal(_run(SMALL), seed, spread)
        rehearsal.run()
        counted = standing(rehearsal.entries)
        events = [entry.event for entry in rehearsal.entries if entry.seq in counted]
        seen = [replace(one, by="" if not one.by else "ada") for one in observed(events)]
        result = add_up(seen, START_WALL_MS, OWN)
        sums = change(sums, {}, result["small"])
    return estimate(small_recipe(), sums, START_WALL_MS, "ada")


@pytest.mark.parametrize("spread", [0.1, 0.25, 0.5])
def test_records_of_rehearsals_give_the_spread_they_were_drawn_with(spread: float) -> None:
    """Rehearsals read back give the planner's spread, within four standard errors.

    The prior, worth 4 times at 0.25, moves it a little.
    """
    learned = _learned(spread, 40)
    count = sum(step.times for step in learned.hands.values())
    free = count - len(learned.hands)
    assert count >= 200
    expected = sqrt((4 * SPREAD**2 + free * spread**2) / (4 + free))
    assert abs(learned.spread - expected) < _error(spread, free)


def test_the_median_of_rehearsed_times_is_the_recipes() -> None:
    """Each step's median is the recipe's time, within four standard errors of its log."""
    for step in _learned(0.3, 60).hands.values():
        error = 4 * 0.3 / sqrt(step.times)
        assert abs(log(step.time.median_s / step.planned_s)) < error


def test_planner_and_rehearsals_agree_on_when_a_run_ends() -> None:
    """The planner's 10, 50 and 90% ends match those of 300 rehearsed runs."""
    recipe, spread, runs = small_recipe(FILING), 0.4, 300
    problem = plan_problem(put({recipe.id: recipe}), [("bolster", recipe.id)])
    plan = solve(problem).plan
    assert plan is not None
    ends = assess(problem, plan, trials=4000, spread=spread).ends_s
    records = [rehearse(_run(FILING), seed, spread=spread) for seed in range(runs)]
    real = [record.lines[-1].elapsed_s for record in records]
    # The share of rehearsals below each end is 10, 50 and 90%, within four standard errors of
    # the difference of two shares.
    for end_s, share in zip(ends, (0.1, 0.5, 0.9), strict=True):
        below = sum(end <= end_s for end in real) / runs
        assert abs(below - share) < 4 * sqrt(share * (1 - share) * (1 / runs + 1 / 4000))


def test_drawn_times_are_log_normal_with_the_recipes_median() -> None:
    """Median and standard deviation of the logarithm match within four errors; 0 is no spread."""
    times = draw_times_s(random.Random(5), 90, 0.4, 20_000)
    logs = [log(t) for t in times]
    assert abs(log(median(times) / 90)) < 4 * 1.2533 * 0.4 / sqrt(20_000)
    assert abs(stdev(logs) - 0.4) < _error(0.4, 20_000)
    assert abs(fmean(logs) - log(90)) < 4 * 0.4 / sqrt(20_000)
    assert draw_times_s(random.Random(5), 90, 0, 3) == [90, 90, 90]


@pytest.mark.parametrize(
    ("spread", "words"),
    [
        (0, "every time exactly as planned"),
        (0.25, "two times in three between 22% shorter and 28% longer"),
        (0.3, "two times in three between 26% shorter and 35% longer"),
    ],
)
def test_spread_in_plain_words(spread: float, words: str) -> None:
    """The words for a spread match drawn times."""
    assert spread_words(spread) == words
    if spread:
        times = draw_times_s(random.Random(1), 1, spread, 20_000)
        inside = sum(exp(-spread) <= t <= exp(spread) for t in times) / 20_000
        # One standard deviation on each side of a normal distribution: 68.27% (any table).
        assert abs(inside - 0.6827) < 4 * sqrt(0.6827 * 0.3173 / 20_000)


@pytest.mark.parametrize("command", ["plan", "rehearse"])
def test_help_says_what_spread_means(command: str) -> None:
    """Both commands have one option, your own by default, and its help explains spread."""
    option = whole_line().verbs[command].options["--spread"]
    assert option.default is None
    assert option.help is not None
    assert spread_words(SPREAD) in option.help.replace("%%", "%")


@pytest.mark.parametrize("count", [5, 10, 40])
def test_chance_alone_seldom_changes_a_recipe(count: int) -> None:
    """Times drawn with the recipe's median look different in at most 1 of 10 cases.

    The limit allows four standard errors of a share of 500.
    """
    rng = random.Random(count)
    wrong = sum(_differs(draw_times_s(rng, 60, 0.25, count), 60) for _ in range(500))
    assert wrong / 500 < 0.1 + 4 * sqrt(0.1 * 0.9 / 500)


def test_a_slower_median_is_found() -> None:
    """A median half as long again, with 20 times, is found in more than 9 of 10 trials."""
    rng = random.Random(1)
    found = sum(_differs(draw_times_s(rng, 90, 0.25, 20), 60) for _ in range(200))
    assert found / 200 > 0.9


@pytest.mark.parametrize(
    ("times", "planned_s", "differs"),
    [
        ([90.0], 60, False),
        ([90.0] * 12, 60, True),
        ([63.0] * 90, 60, False),
        ([6.5] * 90, 5, False),
    ],
)
def test_too_few_or_too_close_times_count_as_planned(
    times: list[float], planned_s: int, differs: bool
) -> None:
    """One time is never enough, and a difference must exceed a tenth and 2 s."""
    assert _differs(times, planned_s) == differs


def _differs(times: list[float], planned_s: int) -> bool:
    logs = [log(time) for time in times]
    sums = TimeSums(len(logs), sum(logs), sum(value**2 for value in logs))
    return TimeEstimate(planned_s, len(logs), time_posterior(sums, planned_s)).clearly_differs
