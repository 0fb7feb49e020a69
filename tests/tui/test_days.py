"""Days are named from today, across midnight and clock changes."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from benchtimer.clock import offset_s
from benchtimer.store.log import Stamp
from benchtimer.tui.planning import think
from benchtimer.view.draft import Draft
from benchtimer.view.plan_rows import PlanSheet, details, lead_lines, plan_rows
from benchtimer.view.space import Size
from benchtimer.view.words import clock_time, clock_times, tick_words
from tests.support import SMALL, small_recipe

EVENING = Stamp(5000, None, 0, 1_770_062_400_000, 0)
"""2026-02-02 20:00 UTC, a Monday."""
HOUR_MS = 3_600_000
SIZE = Size(77, 24)
LONG = small_recipe(SMALL.replace('"1 h", target = "2 h"', '"30 h", target = "30 h"'))


def _sheet(start: str, now: Stamp = EVENING) -> PlanSheet:
    found: list[PlanSheet] = []
    draft = Draft().add(LONG, "bolster").with_start(start, now)
    think(draft, now, threading.Event().is_set, found.append)
    return found[0]


def _later(stamp: Stamp, ms: int) -> Stamp:
    return Stamp(stamp.noted_ms + ms, None, 0, stamp.wall_ms + ms, stamp.offset_s)


def test_a_plan_that_begins_tomorrow_names_the_day() -> None:
    """A plan begun tomorrow at 8:30 that takes 31 hours is done the day after tomorrow."""
    sheet = _sheet("08:30")
    lead = lead_lines(sheet.draft, sheet, False, SIZE, EVENING)
    assert "START at Tue 08:30" in lead
    assert "DONE Wed 14:44, 1 d 6 h 15 min after the start" in lead
    moves = details(sheet, EVENING).splitlines()
    assert moves[1].startswith("  Tue 08:30  bolster")
    assert any(line.startswith("  Wed 14:") for line in moves)
    (row, *_) = [row for row in plan_rows(sheet.draft, sheet, SIZE, EVENING) if row.key]
    assert row.lines[0].endswith("Tue 08:30 to Wed 14:44")


def test_a_page_left_open_past_midnight_renames_its_days() -> None:
    """Five hours later the same plan begins today and ends tomorrow."""
    sheet = _sheet("08:30")
    night = _later(EVENING, 5 * HOUR_MS)
    lead = lead_lines(sheet.draft, sheet, False, SIZE, night)
    assert "START at 08:30" in lead
    assert "DONE Wed 14:44" in lead
    assert details(sheet, night).splitlines()[1].startswith("  08:30  bolster")


def test_a_plan_for_this_evening_names_no_day() -> None:
    """A plan begun today has no day at its first times, and ends tomorrow or later."""
    sheet = _sheet("21:00")
    lead = lead_lines(sheet.draft, sheet, False, SIZE, EVENING)
    assert "START at 21:00" in lead
    assert "DONE Wed 03:14" in lead


@pytest.mark.parametrize(
    ("from_h", "to_h", "expected"),
    [
        (1, 2, "21:00 to 22:00"),
        (1, 5, "21:00 to Tue 01:00"),
        (5, 6, "Tue 01:00 to 02:00"),
        (5, 30, "Tue 01:00 to Wed 02:00"),
    ],
)
def test_a_day_is_named_once(from_h: int, to_h: int, expected: str) -> None:
    """The second of two times has its day only if it differs from the first."""
    zero = EVENING.noted_ms
    assert clock_times(zero + from_h * HOUR_MS, zero + to_h * HOUR_MS, EVENING) == expected


class TestChangesOfTheClock:
    """In New York, where the clock changes on 8 March and 1 November 2026 (tz database)."""

    EASTERN = ZoneInfo("America/New_York")

    @pytest.fixture(autouse=True)
    def _in_the_eastern_time_zone(self, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
        monkeypatch.setenv("TZ", "EST5EDT,M3.2.0,M11.1.0")
        time.tzset()
        yield
        monkeypatch.undo()
        time.tzset()

    def _noon(self, month: int, day: int) -> Stamp:
        noon = datetime(2026, month, day, 12, tzinfo=self.EASTERN)
        wall_ms = round(noon.timestamp() * 1000)
        return Stamp(wall_ms, None, 0, wall_ms, offset_s(wall_ms))

    @pytest.mark.parametrize(
        ("month", "day", "hours", "expected"),
        [
            (10, 31, 36, "Sun 23:00"),  # 36 h after noon; one hour came twice
            (10, 31, 37, "Mon 00:00"),
            (10, 31, 12, "Sun 00:00"),
            (3, 7, 35, "Mon 00:00"),  # one hour was skipped
            (3, 7, 34, "Sun 23:00"),
            (3, 7, 14, "Sun 03:00"),
        ],
    )
    def test_a_day_is_a_calendar_day(self, month: int, day: int, hours: int, expected: str) -> None:
        """Tomorrow ends at its own midnight, whether it has 23 or 25 hours."""
        noon = self._noon(month, day)
        assert clock_time(noon.noted_ms + hours * HOUR_MS, noon) == expected

    def test_a_plan_begins_at_the_time_of_day_you_entered(self) -> None:
        """8:30 tomorrow is 8:30 by the changed clock, in the lead and in every move."""
        noon = self._noon(10, 31)
        sheet = _sheet("08:30", noon)
        assert (sheet.zero.wall_ms - noon.wall_ms) / HOUR_MS == 21.5
        assert "START at Sun 08:30" in lead_lines(sheet.draft, sheet, False, SIZE, noon)
        assert details(sheet, noon).splitlines()[1].startswith("  Sun 08:30  bolster")

    def test_ticks_follow_the_changed_clock(self) -> None:
        """The times above the lanes follow the wall clock and show the day when there are two."""
        say = tick_words(self._noon(10, 31), 0, 36 * 3600)
        assert (say(0), say(13 * 3600), say(24 * 3600)) == ("Sat 12:00", "Sun 01:00", "Sun 11:00")
        assert tick_words(self._noon(10, 31), 0, 3600)(3600) == "13:00"
