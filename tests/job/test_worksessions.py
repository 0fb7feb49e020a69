"""Sessions planned against sessions worked: only those in which a job had work."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from benchtimer.bench.joblook import known_of, sessions_worked
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.job import job_decide as d
from benchtimer.job.known import Sessions
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.shop.hours import parse_week
from tests.job.shops import EVENINGS, order_of
from tests.support import GEARED, small_recipe, table

MONDAY = datetime(2026, 11, 23, 12, tzinfo=UTC)
SATURDAY = datetime(2026, 11, 28, 9, 20, tzinfo=UTC)
DUE = date(2026, 12, 18)


def _ms(when: datetime) -> int:
    return round(1000 * when.timestamp())


def _worked(tmp_path: Path, recipe: str, *, dropped: bool = False) -> Sessions:
    """A job of one part from Monday noon; its first press is on Saturday at 9:20."""
    clock, shelf = ManualClock(_ms(MONDAY)), RecipeFiles()
    with closing(drive(tmp_path, clock)) as driver:
        order = order_of(DUE, [("blade", recipe, ())])
        driver.write_job("knife", d.OpenJob(order), list(shelf.paths()))
        if dropped:
            driver.write_job("knife", d.DropJob("no more"), [])
        clock.advance(_ms(SATURDAY) - _ms(MONDAY))
        new = NewRun("Test", {"small": table(small_recipe())}, [("other", "small")])
        driver.press(driver.set_up(new), GEARED[0])
        return sessions_worked(driver.job_look(shelf, parse_week(EVENINGS)))


def test_an_evening_without_work_is_not_lost(tmp_path: Path) -> None:
    """For an etch too long for any evening, only Saturday counts, begun 20 minutes late."""
    found = _worked(tmp_path, "etch-darken")
    assert (found.planned, found.lost) == (1, 0)
    assert list(found.late_s) == [pytest.approx(1200, abs=2)]


def test_an_evening_that_had_work_is_lost(tmp_path: Path) -> None:
    """Five evenings without polishing count as lost, since fittings can be polished any evening."""
    found = _worked(tmp_path, "fittings-polish")
    assert (found.planned, found.lost) == (6, 5)


def test_a_dropped_job_asks_for_nothing(tmp_path: Path) -> None:
    """The evenings of a dropped job are not lost."""
    found = _worked(tmp_path, "fittings-polish", dropped=True)
    assert (found.planned, found.lost) == (1, 0)


def test_what_is_known_comes_with_the_plan(tmp_path: Path) -> None:
    """A shop without jobs or runs has nothing learned."""
    with closing(drive(tmp_path, ManualClock(_ms(MONDAY)))) as driver:
        look = driver.job_look(RecipeFiles(), parse_week(EVENINGS))
        known = known_of(look, look.workload())
    assert known.sessions == Sessions()
    assert not known.learned
