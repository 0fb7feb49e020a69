"""Three runs by hands that follow one large line: short form of ``tests.faults shop_hands``."""

from __future__ import annotations

from typing import Any

import pytest

from benchtimer.bench.advice import advise
from benchtimer.bench.plans import NO_ADVICE, Advice
from benchtimer.shop.shop_state import Shop, shop_of
from tests.faults import shop_hands
from tests.faults.shop_hands import drawn_day, lost, tight_day

TIGHT = range(1, 7)


@pytest.mark.parametrize("seed", TIGHT)
def test_no_window_is_lost_over_three_runs(seed: int) -> None:
    """With small tanks shared by three runs and tight windows, every part moves in time."""
    assert lost(tight_day(seed)) is None


def test_a_day_with_three_recipes_keeps_every_window() -> None:
    """One agenda works a knife in the oven, a blade in the soak and two fittings in the salts."""
    day = drawn_day(5)
    assert lost(day) is None
    assert day.together >= 2  # parts of several runs were in their windows at once
    assert len(day.states) == 3


def _without_plan(*_: Any, **__: Any) -> Advice:
    return NO_ADVICE


def _run_by_run(shop: Shop, now_ms: int, away: Any, _before: Any, nodes: int) -> Advice:
    """Each run planned as if it were alone."""
    found = [
        advise(shop_of({run: state}), now_ms, away, nodes=nodes)
        for run, state in shop.states.items()
    ]
    return Advice(
        begin_ms={key: t for each in found for key, t in each.begin_ms.items()},
        latest_ms={key: t for each in found for key, t in each.latest_ms.items()},
        stages={key: stage for each in found for key, stage in each.stages.items()},
    )


@pytest.mark.parametrize("instead", [_without_plan, _run_by_run])
def test_hands_without_one_plan_are_found_out(
    monkeypatch: pytest.MonkeyPatch, instead: Any
) -> None:
    """Without a plan, or with a separate plan for each run, the same hands lose windows."""
    monkeypatch.setattr(shop_hands, "advise", instead)
    assert any(lost(tight_day(seed)) for seed in TIGHT)


def test_a_reading_for_another_run_waits_for_the_last_second_of_a_window() -> None:
    """A pull whose window ends now comes before an oven reading for a knife that can wait."""
    assert lost(drawn_day(3847233248000081)) is None


def test_a_part_leaves_for_a_bath_that_is_made_up_only_when_that_is_known_to_be_hot() -> None:
    """No part enters the cleaner too early for salts still heating when its window closes."""
    assert lost(drawn_day(2454618777000045)) is None


def test_a_make_up_begins_after_a_pull_that_it_would_make_late() -> None:
    """A make-up of the salts waits for a pull from the etch whose window would close meanwhile."""
    assert lost(drawn_day(3876826244000028)) is None
