"""Every refusal says its full sentence, changes nothing, and names a fix that works."""

from __future__ import annotations

from typing import Any

import pytest

from benchtimer.run import refusals as r
from tests.run.scenes import bench_of, cases, command_of, play

CASES = cases("refusals")
_named = pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])


@_named
def test_a_refusal_says_what_why_and_what_to_do(case: dict[str, Any]) -> None:
    """Each refusal is one complete sentence and changes nothing."""
    hands = bench_of(case)
    before = hands.state
    with pytest.raises(r.Refused) as refused:
        hands(command_of(case["press"]))
    assert str(refused.value) == case["refused"]
    assert hands.state == before


@_named
def test_a_refusal_offers_one_way_out(case: dict[str, Any]) -> None:
    """Each fix that a refusal names works."""
    for way in case.get("ways", ()):
        hands = bench_of(case)
        play(hands, way)
        assert hands(command_of(case["press"]))
    for press in case.get("instead", ()):
        assert bench_of(case)(command_of(press))


def test_every_kind_of_refusal_has_a_case() -> None:
    """Every refusal of the engine has a sentence in the case file."""
    raised = set()
    for case in CASES:
        with pytest.raises(r.Refused) as refused:
            bench_of(case)(command_of(case["press"]))
        raised.add(type(refused.value))
    kinds = {x for x in vars(r).values() if isinstance(x, type) and issubclass(x, r.Refused)}
    assert kinds - raised == {r.Refused}
