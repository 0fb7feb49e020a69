"""Your own times, rates and runs reach the plan, its trials and its text."""

from __future__ import annotations

from datetime import date
from math import log
from random import Random
from statistics import fmean, pstdev

import pytest

from benchtimer.job.known import KnownChances, draw_odds, draw_paces
from benchtimer.job.outlook import Outlook, outlooks
from benchtimer.job.sessions import plan_jobs
from benchtimer.job.workload import Workload
from benchtimer.learn.estimates import Estimates, RateEstimate, TimeEstimate
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.learn.posterior import TimeSums, rate_posterior, time_posterior
from benchtimer.view.jobs import NO_RUNS, chance_sentences
from tests.job.shops import order_of, shop_of

RECIPE = "etch-darken"


def _load(learned: Learned = NOTHING) -> Workload:
    order = order_of(date(2026, 12, 18), [("blade", RECIPE, ())])
    return shop_of({"knife": order}, learned=learned)


def _taught(times: int) -> Learned:
    """A shop where sanding takes twice as long and darkening failed half the time."""
    link = _load().shop.chains[0].links[0]
    logs = log(2 * link.hands_s)
    time = time_posterior(TimeSums(times, times * logs, times * logs**2), link.hands_s)
    hands = {link.step: TimeEstimate(link.hands_s, times, time)}
    rows = []
    for key, chance in _blacks():
        step, check, answer = key.split("/")[1:]
        rate = rate_posterior(times / 2, times, chance)
        rows.append(RateEstimate(step, check, answer, chance, times, times // 2, rate))
    return Learned({RECIPE: Estimates(RECIPE, "", times, hands, rates=tuple(rows))})


def _blacks() -> list[tuple[str, float]]:
    """The answers of the first send-back check, with their chances from the recipe."""
    looks = next(link.looks for link in _load().shop.chains[0].links if link.looks)
    return [(a.key, c) for a, c in zip(looks[0].answers, looks[0].chances, strict=True)][:1]


def test_the_plan_has_your_own_times_and_rates() -> None:
    """The usual time and the estimated rate replace the recipe's."""
    plain, known = _load().shop.chains[0], _load(_taught(96)).shop.chains[0]
    assert known.links[0].hands_s == pytest.approx(2 * plain.links[0].hands_s, rel=0.05)
    ((key, chance),) = _blacks()
    (look,) = (x for link in known.links for x in link.looks if key.startswith(f"{x.key}/"))
    found = look.chances[[a.key for a in look.answers].index(key)]
    expected = (4 * chance + 48) / 100  # the recipe counts as 4 tries
    assert found == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("times", [2, 20])
def test_trials_spread_as_widely_as_the_records_allow(times: int) -> None:
    """Trials have the estimate as mean and its distribution's spread."""
    learned = _taught(times)
    known, load = KnownChances(learned), _load(learned)
    ((key, _),) = _blacks()
    links = load.shop.chains[0].links
    look = next(x for link in links for x in link.looks if key.startswith(f"{x.key}/"))
    rng, rate = Random(3), known.rates[key]
    drawn = [draw_odds(look, known, rng)[0][0] for _ in range(4000)]
    n = rate.a + rate.b
    assert fmean(drawn) == pytest.approx(rate.value, abs=0.01)
    law = (rate.value * (1 - rate.value) / (n + 1)) ** 0.5
    assert pstdev(drawn) == pytest.approx(law, rel=0.06)
    paces = [log(draw_paces(list(load.shop.chains), known, rng)[0][0]) for _ in range(4000)]
    assert pstdev(paces) == pytest.approx(known.pace_sd(links[0]), rel=0.06)


def _outlook(learned: Learned) -> Outlook:
    load = _load(learned)
    _, found = next(iter(outlooks(load, plan_jobs(load), KnownChances(load.learned), trials=100)))
    return found["knife"]


def test_the_chance_names_its_source() -> None:
    """The chance names the number of runs behind it, or the recipe's figures if there are none."""
    result = " ".join(chance_sentences(_outlook(_taught(7))))
    assert "Hands-on times and rates of checks from your 7 runs." in result
    assert NO_RUNS in chance_sentences(_outlook(NOTHING))
