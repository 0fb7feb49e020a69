"""``keep`` takes clear differences inside the limits from a run that worked."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.recipe.model import Recipe
from benchtimer.recipe.reader import build_recipe
from benchtimer.records.facts import facts_of
from benchtimer.records.kept_settings import NothingToKeep, Revision, revision_from
from benchtimer.records.record import Record, make_record
from benchtimer.records.tries import tries_of
from benchtimer.run import commands as c
from benchtimer.times import rounded_s
from tests.records.golden import entries_of
from tests.run.scenes import TRIES
from tests.support import MINUTE, Hands, small_recipe, table

AIM = ('max = "70 C"', 'target = "65 C", max = "70 C"')
AIMED = small_recipe(TRIES.replace(*AIM))

with (Path(__file__).parent / "kept.toml").open("rb") as _file:
    CASES: list[dict[str, Any]] = tomllib.load(_file)["case"]


def worked(
    recipe: Recipe = AIMED, dip_s: int = 300, hang_s: int = 7200, tank: Sequence[str] = ("65 C",)
) -> Hands:
    """A bolster that came out well, with its real dwells and readings.

    Readings may be out of range or rise quickly: the maker works by eye.
    """
    hands = Hands(names=("bolster", "ferrule"), recipe=recipe, reads=False)
    for reading in tank:
        hands(c.Read("tank", reading))
    hands(c.SkipReading("tank", "by eye"))
    hands.to_tank()
    hands(c.Begin("bolster"), dip_s * 1000)
    hands(c.Answer("bolster", "even", True))
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands(c.Begin("bolster"), hang_s * 1000)
    hands(c.Answer("bolster", "colour", "black"))
    hands(c.Answer("bolster", "words", "even"))
    return hands


def _record(hands: Hands) -> Record:
    return make_record(entries_of(hands))


def _kept(found: Revision) -> Recipe:
    return build_recipe(dict(found.table), name="kept")


def test_a_part_scrapped_after_acceptance_is_not_kept() -> None:
    """If a part is scrapped after it was accepted, another good part of the run is kept."""
    hands = worked()
    hands(c.Judge("ferrule", "accepted", 5))
    hands(c.Scrap("ferrule", "dropped"))
    assert revision_from(_record(hands)).lineage["part"] == "bolster"
    with pytest.raises(NothingToKeep, match=r"scrapped after it was accepted\); --part NAME names"):
        revision_from(_record(hands), "ferrule")


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_clear_differences_inside_the_limits_are_kept(case: dict[str, Any]) -> None:
    """A real time or temperature becomes the target if it was inside its limits and clearly off."""
    result = {k: v for k, v in case.items() if k not in ("name", "changes")}
    found = revision_from(_record(worked(**result)), take=SHORTER)
    assert found.lineage.get("changed", []) == case["changes"]
    assert (_kept(found) == AIMED) == (not case["changes"])


@pytest.mark.parametrize(("dip_s", "left"), [(272, True), (326, False)])
def test_a_dwell_cut_short_moves_no_target(dip_s: int, left: bool) -> None:
    """Only a longer dwell is kept by itself, since the plan may have cut a shorter one."""
    found = revision_from(_record(worked(dip_s=dip_s)))
    assert [change.name for change in found.left] == (["dip.target"] if left else [])
    assert (_kept(found) == AIMED) == left


SHORTER = ("dip.target", "hang.target")
"""Dwells kept although they were shorter."""

_REAL = {
    "dip_s": st.integers(200, 520),
    "hang_s": st.integers(3600, 40_000),
    "tank": st.lists(st.integers(560, 740).map(lambda n: f"{n / 10} C"), min_size=1, max_size=3),
}


@given(st.fixed_dictionaries(_REAL))
def test_the_kept_recipe_is_what_was_run(real: dict[str, Any]) -> None:
    """The kept recipe is valid, has the same limits, and run again has nothing to add."""
    found = revision_from(_record(worked(**real)), take=SHORTER)
    kept = _kept(found)
    for old, new in zip(AIMED.step, kept.step, strict=True):
        assert new.model_copy(update={"dwell": old.dwell}) == old
        if old.dwell is not None and new.dwell is not None:
            assert (new.dwell.min_s, new.dwell.max_s) == (old.dwell.min_s, old.dwell.max_s)
    again = revision_from(_record(worked(kept, **real)), take=SHORTER)
    assert _kept(again) == kept
    assert "changed" not in again.lineage


def test_parameters_left_alone_stay_as_they_were() -> None:
    """A setting you exclude keeps its target and is not listed as a change."""
    record = _record(worked(dip_s=420, tank=["68 C"]))
    found = revision_from(record, leave=["dip.target"])
    assert found.lineage["changed"] == ["tank.target: 65 C -> 68 C (as it actually was)"]
    assert _kept(found).step == AIMED.step


def test_only_readings_of_the_successful_try_count() -> None:
    """A cooler tank in an earlier try does not set the target."""
    hands = Hands(names=("bolster",), recipe=AIMED)
    hands(c.Read("tank", "61 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    hands(c.Read("tank", "68 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Judge("bolster", "accepted"))
    found = revision_from(_record(hands))
    assert found.lineage["changed"] == ["tank.target: 65 C -> 68 C (as it actually was)"]
    assert found.lineage["try"] == 2


def test_each_recipe_keeps_the_readings_of_its_own_tank() -> None:
    """If two recipes each have a "tank", each keeps the reading of its own."""
    oil = small_recipe(TRIES.replace('title = "Tank"', 'title = "Oil"').replace(*AIM))
    hands = Hands(names=("bolster",), recipe=AIMED)
    hands(c.AddPart("guard", "oil", table(oil)))
    assert hands.state.bench.at["oil.tank"] == "oil-tank"
    hands(c.Read("tank", "61 C"))
    hands(c.Read("oil-tank", "68 C"))
    for name in ("bolster", "guard"):
        hands.to_tank(name)
        hands(c.Judge(name, "accepted"))
    record = _record(hands)
    result = {part: revision_from(record, part).lineage["changed"] for part in ("bolster", "guard")}
    assert result == {
        "bolster": ["tank.target: 65 C -> 61 C (as it actually was)"],
        "guard": ["tank.target: 65 C -> 68 C (as it actually was)"],
    }
    facts = {part.name: facts_of(tries_of(record, part)[-1]) for part in record.parts}
    read = {part: fact["reading", "tank"] for part, fact in facts.items()}
    assert {part: fact.shown for part, fact in read.items()} == {"bolster": "61 C", "guard": "68 C"}


def test_the_lineage_names_the_origin() -> None:
    """The lineage has run, part, try, verdict and all answers."""
    hands = worked(dip_s=420)
    hands(c.Judge("bolster", "accepted", 5))
    assert revision_from(_record(hands)).lineage == {
        "run": "2026-02-02-1",
        "uid": "0" * 32,
        "made_from": "small, revision 1",
        "part": "bolster",
        "try": 1,
        "verdict": "accepted",
        "rating": 5,
        "changed": ["dip.target: 5 min -> 7 min (as it actually was)"],
        "worked": [
            "hang: How warm is it? 25 C", "judge: Which colour? black", "judge: Anything else? even"
        ],
    }  # fmt: skip


JUDGED = [
    ({"bolster": ("accepted", 3), "ferrule": ("accepted", 5)}, "ferrule"),
    ({"bolster": ("accepted", 4), "ferrule": ("accepted", 4)}, "bolster"),
    ({"bolster": ("rework", 5), "ferrule": ("accepted", None)}, "ferrule"),
    ({}, "bolster"),
]


@pytest.mark.parametrize(("judged", "best"), JUDGED)
def test_the_best_part_is_kept(judged: dict[str, tuple[str, int | None]], best: str) -> None:
    """Accepted parts come first, then by rating, then parts that are done, then by number."""
    hands = worked()
    for part, (verdict, rating) in judged.items():
        hands(c.Judge(part, verdict, rating))
    assert revision_from(_record(hands)).lineage["part"] == best


def test_a_part_can_be_named() -> None:
    """You can keep another good part than the best."""
    hands = worked()
    hands(c.Judge("ferrule", "accepted", 1))
    assert revision_from(_record(hands), "bolster").lineage["part"] == "bolster"
    with pytest.raises(NothingToKeep, match='no part "axe"; its parts: bolster, ferrule'):
        revision_from(_record(hands), "axe")


def test_an_unjudged_part_says_how_to_judge_it() -> None:
    """A rejected part is not kept, and the message names the command for a new verdict."""
    hands = worked()
    hands(c.Judge("bolster", "rejected"))
    way = (
        "nothing to keep from run 2026-02-02-1: bolster did not come out well [(]rejected[)]; "
        "benchtimer judge 2026-02-02-1 PART --verdict accepted, if it did"
    )
    with pytest.raises(NothingToKeep, match=way):
        revision_from(_record(hands), "bolster")


@settings(deadline=None)
@given(st.floats(0, 400_000))
def test_times_are_written_as_a_person_would(seconds: float) -> None:
    """A kept time is within a fortieth of the actual time, or a few seconds."""
    rounded = rounded_s(seconds)
    assert abs(rounded - seconds) <= max(2.5, seconds / 40)
    assert rounded % 5 == 0 or 1 <= rounded < 20
