"""A petty knife from order to delivery: the sessions planned match the record."""

from __future__ import annotations

import json
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest

from benchtimer.bench.joblook import sessions_worked
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.shop.hours import parse_week
from tests.job.month import DROPPED, JOB, NEAR_S, Month
from tests.job.shops import EVENINGS


@pytest.fixture(scope="module", name="month")
def _month(tmp_path_factory: pytest.TempPathFactory) -> Month:
    return Month(tmp_path_factory.mktemp("month")).work()


def _missing(month: Month, moves: list[dict[str, object]]) -> list[dict[str, object]]:
    """The planned moves missing from the record at their time."""
    worked = month.worked()
    missing = []
    for move in moves:
        start, end = (
            datetime.fromisoformat(str(move[key])).timestamp() for key in ("start", "end")
        )
        steps = [str(step) for step in move["steps"]]  # type: ignore[attr-defined]
        first, last = (
            worked.get((str(move["part"]), str(move["recipe"]), step), ())
            for step in (steps[0], steps[-1])
        )
        began = any(abs(one[0] - start) <= NEAR_S for one in first)
        ended = any(abs(one[1] - end) <= NEAR_S for one in last)
        if not (began and ended):
            missing.append(move)
    return missing


def test_each_evening_is_worked_as_tonight_named_it(month: Month) -> None:
    """On evenings that go to plan, the record has every named move at its time."""
    as_planned = [evening for evening in month.evenings if evening.as_planned]
    assert len(as_planned) >= 6
    for evening in as_planned:
        assert _missing(month, list(evening.planned)) == []


@pytest.mark.parametrize(("plan", "surprise"), [("first plan", 0), ("last plan", -1)])
def test_the_plan_of_the_job_is_kept_until_something_fails(
    month: Month, plan: str, surprise: int
) -> None:
    """The record follows the first plan up to the first surprise, and the last plan to the end."""
    data = json.loads(month.said[plan].out)
    until_s = month.surprises_ms[0] / 1000 if surprise == 0 else float("inf")
    moves = [
        move for session in data["sessions"] for move in session["moves"]
        if datetime.fromisoformat(move["start"]).timestamp() < until_s
    ]  # fmt: skip
    assert len(moves) > 20
    assert _missing(month, moves) == []


def test_what_went_wrong_is_listed(month: Month) -> None:
    """An early delivery is refused, the scrapped part shows up, and its new blank starts over."""
    assert month.said["early delivery"].code == 1
    assert "not done yet: blade" in month.said["early delivery"].err
    assert "scrapped: fell into the drain. What replaces it?" in month.said["scrapped"].out
    assert "ready for fittings-polish again: new steel, blank 2" in month.said["replaced"].out
    with closing(month.driver()) as driver:
        found = sessions_worked(driver.job_look(RecipeFiles(), parse_week(EVENINGS)))
    assert found.lost == 1


def test_the_card_shows_the_time_it_took(month: Month) -> None:
    """The card of the delivered job has three darkening tries, two ferrules, and all hours."""
    data = month.json("job", "show", JOB)
    assert data["status"] == "delivered"
    took = {(one["part"], one["recipe"]): one for one in data["took"]["parts"]}
    assert len(month.worked()["blade", "etch-darken", "hang"]) == 3
    assert took["blade", "etch-darken"]["tries"] >= 3
    assert took[DROPPED, "fittings-polish"]["tries"] == 2
    hands_s = sum(end - start for spans in month.worked().values() for start, end in spans)
    assert data["took"]["hands_s"] == pytest.approx(hands_s, abs=60)


def test_the_month_really_lasts_a_month(month: Month, tmp_path: Path) -> None:
    """The job takes more than two weeks from order to delivery."""
    del tmp_path
    assert month.shop.clock.count_ms > 14 * 86_400_000
