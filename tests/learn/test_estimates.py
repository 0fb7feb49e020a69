"""Estimates for a recipe from sums, and the recipe with them applied."""

from __future__ import annotations

from math import log

import pytest

from benchtimer.learn.estimates import Estimates, estimate, with_estimates
from benchtimer.learn.observe import Seen
from benchtimer.learn.sums import IMPORTED, OWN, PRACTICE, Group, add_up, change
from benchtimer.plan.spread import SPREAD
from tests.support import SMALL, small_recipe

NOW_MS = 1_790_000_000_000
DAY_MS = 86_400_000
RECIPE = small_recipe()


def _seen(key: str, value: float = 0.0, by: str = "ada", weight: float = 1.0) -> Seen:
    return Seen("small", by, key, value, weight)


def _run(prepare_s: float, *more: Seen, by: str = "ada") -> list[Seen]:
    return [_seen("run", by=by), _seen("hands/prepare", log(prepare_s), by), *more]


def _sums(*runs: list[Seen], source: str = OWN, age_days: int = 0) -> dict[str, Group]:
    sums: dict[str, Group] = {}
    for run in runs:
        result = add_up(run, NOW_MS - age_days * DAY_MS, source)
        sums = change(sums, {}, result["small"])
    return sums


def _estimate(
    sums: dict[str, Group], by: str = "ada", sources: tuple[str, ...] = (OWN,)
) -> Estimates:
    return estimate(RECIPE, sums, NOW_MS, by, sources)


def test_a_time_moves_from_the_recipes_to_your_own() -> None:
    """Four times of 120 s and a recipe of 60 s give their geometric mean; many outweigh it."""
    few = _estimate(_sums(*[_run(120)] * 4)).hands["prepare"]
    many = _estimate(_sums(*[_run(120)] * 100)).hands["prepare"]
    assert few.time.median_s == pytest.approx(60 * 2**0.5, rel=1e-3)
    assert many.time.median_s == pytest.approx(60 * 2 ** (100 / 104), rel=1e-3)
    assert (few.planned_s, few.times) == (60, 4)
    assert many.clearly_differs


def test_old_times_count_less() -> None:
    """The same runs five years later move the time less and still count."""
    runs = [_run(120)] * 10
    new, old = (_estimate(_sums(*runs, age_days=days)).hands["prepare"] for days in (0, 5 * 365))
    assert 60 < old.time.median_s < new.time.median_s
    assert old.times == new.times == 10
    (old_low, old_high), (new_low, new_high) = old.time.interval_s, new.time.interval_s
    assert old_high / old_low > new_high / new_low


def test_each_maker_has_separate_times() -> None:
    """Another maker's times don't change yours, and their runs are named."""
    sums = _sums(_run(120), _run(300, by="ben"), _run(300, by="ben"))
    ada, ben = _estimate(sums), _estimate(sums, "ben")
    assert ada.hands["prepare"].times == 1
    assert ben.hands["prepare"].times == 2
    assert (ada.others, ben.others) == ({"ben": 2}, {"ada": 1})
    assert (ada.words, ben.words) == ("from your 1 run", "from your 2 runs")


@pytest.mark.parametrize("source", [PRACTICE, IMPORTED])
def test_practice_and_imported_runs_count_by_choice(source: str) -> None:
    """Practice and imported runs teach only on request."""
    sums = _sums(_run(120), source=source)
    assert _estimate(sums).runs == 0
    assert _estimate(sums).words == ""
    assert _estimate(sums, sources=(OWN, source)).hands["prepare"].times == 1


def test_a_rate_starts_from_what_the_recipe_expects() -> None:
    """expect = 0.5 means 1 try in 3; two failures of two move it to (4/3 + 2) of 6."""
    looks = [_seen("look/look/even"), _seen("answer/look/even/no")]
    [rate] = [r for r in _estimate(_sums(_run(60, *looks, *looks))).rates if r.check == "even"]
    assert rate.expected == pytest.approx(1 / 3)
    assert (rate.answer, rate.looks, rate.hits) == ("no", 2, 2)
    assert rate.rate.value == pytest.approx((4 / 3 + 2) / 6, rel=1e-3)


def test_an_answer_without_a_send_is_rated_too() -> None:
    """A wrong reading has a rate although the recipe expects none."""
    looks = [_seen("look/hang/heat"), _seen("look/hang/heat"), _seen("answer/hang/heat/above")]
    [rate] = _estimate(_sums(_run(60, *looks))).rates
    assert (rate.answer, rate.expected) == ("above", None)
    assert rate.rate.value == pytest.approx(1.5 / 3, rel=1e-3)


def test_drift_counts_for_every_maker() -> None:
    """Drift of 3 C in 60 minutes; from the middle of 60 to 70 C it takes 100 minutes to a limit."""
    drift = [_seen("drift/tank", 1.0, "", 20.0), _seen("drift/tank", 2.0, "", 40.0)]
    found = _estimate(_sums(_run(60, *drift, by="ben"))).drifts["tank"]
    assert found.pairs == 2
    assert found.c_per_min == pytest.approx(3 / 60)
    assert found.minutes == pytest.approx(100)


def test_the_time_that_parts_stay_is_learned() -> None:
    """Dwells with and without a max are separate, and overruns and short dwells are counted."""
    seen = [_seen("dwell/hang", log(7200 * 1.5)), _seen("dwell/dip", log(300))]
    wrong = [_seen("overrun/dip"), _seen("overrun/dip"), _seen("short/dip")]
    found = _estimate(_sums(_run(60, *seen, *wrong))).dwells
    assert found["hang"].is_endless
    assert found["hang"].stay.time.median_s == pytest.approx(7200 * 1.5**0.2, rel=1e-3)
    assert not found["dip"].is_endless
    assert (found["dip"].overruns, found["dip"].short) == (2, 1)


def test_the_spread_is_that_of_all_steps() -> None:
    """Without data the spread is the default; steady times shrink it, and steps stay separate."""
    assert _estimate({}).spread == SPREAD
    steady = [_run(120, _seen("hands/dip", log(20)))] * 30
    assert _estimate(_sums(*steady)).spread == pytest.approx(
        (4 * 0.25**2 / (4 + 29 + 29)) ** 0.5, rel=0.05
    )


def test_the_recipe_with_your_own_times() -> None:
    """Hands-on times and the chance of a no become yours; windows stay."""
    looks = [_seen("look/look/even"), _seen("answer/look/even/no")] * 4
    learned = _estimate(_sums(*[_run(120, *looks)] * 4))
    mine = with_estimates(RECIPE, learned)
    assert mine.step[0].hands_s == 85
    assert mine.step[1].hands_s == RECIPE.step[1].hands_s
    assert [step.dwell for step in mine.step] == [step.dwell for step in RECIPE.step]
    check = mine.step[2].check[0]
    [rate] = [r for r in learned.rates if r.check == "even"]
    assert check.chance("no") == pytest.approx(min(rate.rate.value, 2 / 3))


def test_no_data_leaves_the_recipe_alone() -> None:
    """A recipe that was never run is planned as written."""
    assert with_estimates(RECIPE, _estimate({})) == RECIPE


def test_chances_of_several_answers_are_kept() -> None:
    """Two send-back answers keep separate rates."""
    text = SMALL.replace(
        'send = { grey = { to = "dip", limit = 1 } }',
        'send = { grey = { to = "dip", limit = 9, expect = 0.2 }, '
        'black = { to = "prepare", limit = 9, expect = 0.1 } }',
    ).replace('["black", "grey"]', '["black", "grey", "blue"]')
    recipe = small_recipe(text)
    looks = [_seen("look/judge/colour")] * 6 + [_seen("answer/judge/colour/grey")] * 2
    learned = estimate(recipe, _sums(_run(60, *looks)), NOW_MS, "ada")
    check = with_estimates(recipe, learned).step[-1].check[0]
    rates = {r.answer: r.rate.value for r in learned.rates if r.check == "colour"}
    assert {a: check.chance(a) for a in rates} == pytest.approx(rates)
