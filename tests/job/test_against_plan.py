"""The policy against the order of its own plan, with the same luck, in three shops."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from functools import partial
from math import sqrt
from statistics import fmean, stdev

import pytest

from benchtimer.job.luck import Assumed
from benchtimer.job.order import Order, OrderPart
from benchtimer.job.policy import Draws, play
from benchtimer.job.promise import Trials
from benchtimer.job.shop_work import ShopWork
from benchtimer.job.workload import Workload
from tests.job.shops import knives, shop_of

TRIALS = 200


def in_planned_order(shop: ShopWork) -> ShopWork:
    """The shop in which parts always go in the order of their planned starts."""
    planned: dict[tuple[int, int], float] = {}
    for act in play(shop, Draws(), acts=True).acts:
        planned.setdefault((act.piece, act.first), act.start_s)
    pieces = [
        replace(piece, latest={i: planned.get((k, i), at) for i, at in piece.latest.items()})
        for k, piece in enumerate(shop.pieces)
    ]
    return replace(shop, pieces=pieces)


def _fittings_and_blades() -> Workload:
    black = ("fittings-polish", "hot-black")
    names = ("bolster", "ferrule", "butt cap")
    fittings = Order(date(2026, 12, 4), tuple(OrderPart(name, black) for name in names))
    etch = ("temper-cycles", "etch-darken", "hot-wax")
    blades = tuple(OrderPart(f"blade {n}", etch) for n in (1, 2, 3))
    return shop_of({"fittings": fittings, "blades": Order(date(2026, 12, 13), blades)})


def _ready(shop: ShopWork, due_s: dict[str, float]) -> list[float]:
    """For each trial, the share of its jobs ready on time."""
    trials = Trials(shop, Assumed(sure=True, seed=3))
    trials.more(TRIALS)
    rows = zip(*(trials.finishes[job] for job in due_s), strict=True)
    return [fmean(f <= due for f, due in zip(row, due_s.values(), strict=True)) for row in rows]


@pytest.mark.parametrize(
    "make",
    [partial(knives, 1), partial(knives, 3), _fittings_and_blades],
    ids=["a knife", "three knives", "fittings and blades"],
)
def test_the_policy_does_no_worse_than_the_plans_order(
    make: Callable[[], Workload],
) -> None:
    """Within two paired errors, the policy has no fewer jobs ready than the planned order."""
    load = make()
    policy = _ready(load.shop, load.due_s)
    plan = _ready(in_planned_order(load.shop), load.due_s)
    gains = [one - other for one, other in zip(policy, plan, strict=True)]
    assert fmean(gains) >= -2 * stdev(gains) / sqrt(TRIALS)
