"""Trials of a run's plan with failed checks: laws, and an independent simulation."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from math import exp

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.job.follow import Following
from benchtimer.job.luck import Assumed, Luck, draw_group
from benchtimer.job.policy import Draws
from benchtimer.job.promise import quantile
from benchtimer.job.run_trials import RunShop, assess_plan, assess_run, run_shop
from benchtimer.learn.estimates import Estimates, RateEstimate
from benchtimer.learn.learned import Learned
from benchtimer.learn.posterior import rate_posterior
from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime
from benchtimer.plan.risk import Risk
from benchtimer.plan.risk_words import ends_words, risk_lines
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.reader import parse_recipe
from tests.job.shops import shelf

HOUR, DAY = 3600, 86_400

OVERNIGHT = """\
schema = 1
title = "Overnight etch"
[[station]]
id = "tank"
title = "Tank"
[[step]]
id = "etch"
title = "Into the etch"
hands = "10 min"
at = "tank"
dwell = { min = "11 h", target = "12 h", max = "16 h" }
[[step]]
id = "look"
title = "Look"
hands = "10 min"
[[step.check]]
id = "deep"
kind = "yes-no"
ask = "Deep enough?"
send = { no = { to = "etch", limit = LIMIT, expect = EXPECT } }
"""


def _overnight(expect: float, limit: int = 20) -> Recipe:
    text = OVERNIGHT.replace("LIMIT", str(limit)).replace("EXPECT", str(expect))
    return parse_recipe(text.encode(), name="night.toml", default_id="night")


def _nights(opens: int, closes: int, days: int = 60) -> list[AwayTime]:
    """Away before ``opens`` and from ``closes`` on, in hours of each day."""
    return [AwayTime(0, opens * HOUR)] + [
        AwayTime(d * DAY + closes * HOUR, (d + 1) * DAY + opens * HOUR) for d in range(days)
    ]


def _run(
    recipe: Recipe,
    count: int,
    away: list[AwayTime],
    planned_as: Recipe | None = None,
    hands: int = 1,
) -> RunShop:
    """Equal parts with their plan.

    Args:
        recipe: the recipe the trials follow.
        count: how many parts.
        away: the hours away.
        planned_as: the recipe the plan is made for, if different.
        hands: how many people work.
    """
    parts = [(f"part {n + 1}", "it") for n in range(count)]
    problem = plan_problem(put({"it": planned_as or recipe}), parts, away=away, hands=hands)
    plan = solve(problem, nodes=300).plan
    assert plan is not None
    run = run_shop(problem, plan, put({"it": recipe}), parts)
    assert run is not None
    return run


def _expecting(recipe: Recipe, factor: float) -> Recipe:
    """The recipe with every expect multiplied."""
    steps = []
    for step in recipe.step:
        checks = [
            check.model_copy(
                update={
                    "send": {
                        answer: send.model_copy(update={"expect": send.expect * factor})
                        for answer, send in check.send.items()
                    }
                }
            )
            for check in step.check
        ]
        steps.append(step.model_copy(update={"check": tuple(checks)}))
    return recipe.model_copy(update={"step": tuple(steps)})


NAMES = ("etch-darken", "hot-black")


@settings(max_examples=12, deadline=None)
@given(
    name=st.sampled_from(NAMES),
    count=st.integers(1, 4),
    hours=st.sampled_from([(0, 24), (7, 22), (9, 18)]),
    seed=st.integers(0, 99),
    hands=st.sampled_from([1, 2]),
)
def test_a_trial_without_failures_ends_when_the_plan_does(
    name: str, count: int, hours: tuple[int, int], seed: int, hands: int
) -> None:
    """With no failed checks and hands always on time, every trial ends when the plan ends."""
    away = [] if hours == (0, 24) else _nights(*hours)
    run = _run(_expecting(shelf()[name], 0), count, away, hands=hands)
    risk = assess_run(run, spread=0, trials=20, seed=seed)
    assert risk.ends_s == (run.plan.end_s,) * 3
    assert (risk.any_overrun, risk.worst, risk.put_back, risk.stopped, risk.late) == (0,) * 5


@pytest.mark.parametrize("name", NAMES)
def test_repeats_that_were_planned_do_not_move_the_end(name: str) -> None:
    """When exactly the planned repeats happen, each part is done as planned."""
    run = _run(shelf()[name], 2, _nights(7, 22))
    play = Following(run.shop, Draws(), run.ways)
    play.run(0, float("inf"))
    ends = [max(m.end_s for m in run.plan.moves if m.part == p.name) for p in run.shop.pieces]
    assert play.played.ends == ends
    assert not any((play.off, play.overruns, play.past_s))


@settings(max_examples=15, deadline=None)
@given(low=st.floats(0, 2), more=st.floats(0, 2), night=st.booleans(), seed=st.integers(0, 10_000))
def test_more_failures_never_move_the_median_earlier(
    low: float, more: float, night: bool, seed: int
) -> None:
    """With the same luck and plan, more expected repeats never make the part done earlier."""
    away = _nights(9, 18) if night else []
    base = _overnight(0)
    few, many = (
        assess_run(_run(_overnight(expect), 1, away, base), trials=60, seed=seed, advise=False)
        for expect in (low, low + more)
    )
    assert many.ends_s[1] >= few.ends_s[1]


def _brute_force(expect: float, limit: int, spread: float, trials: int) -> list[float]:
    """Ends of an overnight etch in hours from 9 to 18, by a loop over its days.

    It goes in from 17:00 on, 16 h before the shop opens at 9. It comes out at opening, and goes
    in again that evening if the check fails.
    """
    rng = random.Random(5)
    ends = []
    for _ in range(trials):
        day, fails = 1, 0
        while True:
            end = day * DAY + 9 * HOUR + 600 * exp(rng.gauss(0, spread))
            if fails == limit or rng.random() >= expect / (1 + expect):
                break
            fails, day = fails + 1, day + 1
        ends.append(end)
    return ends


@pytest.mark.parametrize("limit", [1, 20])
def test_an_overnight_etch_beside_a_loop_over_its_days(limit: int) -> None:
    """An etch that fails one time in three ends at the same times as in a ten-line simulation."""
    run = _run(_overnight(0.5, limit), 1, _nights(9, 18), _overnight(0))
    risk = assess_run(run, trials=3000, seed=3)
    simulated = _brute_force(0.5, limit, 0.25, 20_000)
    # 0.9 is at the edge of a day, where 3,000 trials leave an error of over two minutes.
    for share, most_s, end_s in zip((0.1, 0.5, 0.9), (60, 60, 300), risk.ends_s, strict=True):
        assert abs(quantile(simulated, share) - end_s) < most_s
    planned_s = run.plan.end_s or 0
    late = sum(end > planned_s + 600 for end in simulated) / len(simulated)
    assert abs(late - 1 / 3) < 0.02
    assert abs(risk.late - late) < 0.03
    (cause,) = risk.causes
    assert cause.ask == "Deep enough?"
    assert cause.share > 0.97  # slow hands alone are rarely ten minutes late


def test_a_rate_from_few_looks_is_less_sure_than_one_from_many() -> None:
    """Learned rates come from their posterior: fewer tries give wider ends."""
    run = _run(_overnight(0.5), 1, _nights(9, 18), _overnight(0))

    def spread_of(looks: int) -> Risk:
        rate = rate_posterior(looks // 3, looks, 1 / 3)
        row = RateEstimate("look", "deep", "no", 1 / 3, looks, looks // 3, rate)
        learned = Learned({"night": Estimates("night", "", 1, rates=(row,))})
        return assess_run(run, trials=2000, learned=learned, advise=False)

    few, many = spread_of(1), spread_of(5000)
    assert few.late != many.late
    assert abs(many.late - 1 / 3) < 0.04


def test_a_stopped_part_does_not_count_as_done() -> None:
    """A part stopped by its check is left out of the times, so the run isn't done earlier."""
    recipe = _overnight(0)
    look = recipe.step[1]
    stop = (
        look.check[0]
        .send["no"]
        .model_copy(update={"to": None, "stop": "Set it aside.", "limit": None, "expect": 0.5})
    )
    check = look.check[0].model_copy(update={"send": {"no": stop}})
    steps = (recipe.step[0], look.model_copy(update={"check": (check,)}))
    keep = look.model_copy(update={"id": "keep", "check": ()})
    planned = recipe.model_copy(update={"step": (*recipe.step, keep)})
    stopping = recipe.model_copy(update={"step": (*steps, keep)})
    run = _run(stopping, 1, [], planned)
    risk = assess_run(run, trials=300, spread=0, advise=False)
    assert abs(risk.stopped - 1 / 3) < 0.1
    assert risk.ends_s == (run.plan.end_s,) * 3


def test_beside_other_parts_only_hands_on_times_vary() -> None:
    """Where the policy can't follow the plan, the answer says that checks went as planned."""
    recipe, parts = _overnight(0.5), [("part 1", "it")]
    placed = put({"it": recipe})
    problem = plan_problem(placed, parts)
    plan = solve(problem).plan
    assert plan is not None
    assert run_shop(problem, plan, placed, [*parts, ("part 2", "it")]) is None
    risk = assess_plan(problem, plan, placed, [*parts, ("part 2", "it")], trials=40)
    assert risk.planned_s is None


@settings(max_examples=10, deadline=None)
@given(count=st.integers(2, 5), seed=st.integers(0, 999), hands=st.sampled_from([1, 2, 3]))
def test_no_more_hands_than_people_work_at_once(count: int, seed: int, hands: int) -> None:
    """With failed checks and hands of any speed, no more people work at once than there are."""
    run = _run(shelf()["hot-black"], count, [], hands=hands)
    group = draw_group(run.shop, Assumed(sure=True, seed=seed), 0)
    play = Following(run.shop, Luck(run.shop, group, 0.4, seed), run.ways)
    play.keeps = True
    play.run(0, float("inf"))
    acts = play.played.acts
    assert all(end < float("inf") for end in play.played.ends)
    busy = [sum(a.start_s <= act.start_s < a.end_s for a in acts) for act in acts]
    assert max(busy) <= hands
    for k in range(count):
        own = [act for act in acts if act.piece == k]
        assert all(one.end_s <= two.start_s for one, two in pairwise(own))


def test_a_failed_check_sends_a_part_back_for_two_people_too() -> None:
    """With an etch that fails one time in three, two people are late as often as one.

    Each of two parts etches alone, overnight, so a second person makes no difference.
    """
    risks = [
        assess_run(
            _run(_overnight(0.5), 1, _nights(9, 18), _overnight(0), hands), trials=600, seed=3
        )
        for hands in (1, 2)
    ]
    assert abs(risks[0].late - 1 / 3) < 0.05
    assert risks[1].late == risks[0].late
    assert risks[1].ends_s == risks[0].ends_s


def test_the_risk_in_words() -> None:
    """The text has the plan's end, the ends in 10, 50 and 90%, and the check to blame."""
    run = _run(_overnight(0.5), 1, _nights(9, 18), _overnight(0))
    risk = assess_run(run, trials=400, seed=1)

    def at(seconds: int) -> str:
        return f"d{timedelta(seconds=seconds).days}"

    assert ends_words(risk, at) == "done d1 if nothing fails; 10% by d1, 50% by d1, 90% by d3"
    lines = risk_lines(replace(risk, put_back=0.1, stopped=0.2), at)
    late = [line for line in lines if line.startswith("  late because ")]
    assert len(late) == 1
    assert late[0].startswith('  late because part 1 is sent back at "Deep enough?"')
    assert any("a check stops a part for good: 20%" in line for line in lines)
    assert any("its pull was missed or fell outside your hours: 10%" in line for line in lines)
