"""Drawings match the plan column by column, and calendars match it entry by entry."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from benchtimer.plan.calendar import to_ics
from benchtimer.plan.draw import (
    FINE,
    PLAIN,
    Scale,
    axis,
    draw_plan,
    hands_lane,
    lane,
    packed,
    scale_of,
)
from benchtimer.plan.outcome import Plan, PlannedMove
from benchtimer.plan.problem import AwayTime, Problem
from tests.plan import drawings
from tests.plan.build import equal_parts
from tests.plan.generate import KINDS


@pytest.mark.parametrize("name", [f"{name}.txt" for name in drawings.CASES])
def test_a_drawing_matches_the_saved_one(name: str) -> None:
    """Lanes, hands, loads, axis and legend match the stored drawings at several widths."""
    assert drawings.drawings()[name] == (drawings.FOLDER / name).read_text("utf-8")


@cache
def _drawn(kind: str, seed: int) -> tuple[Problem, Plan]:
    return drawings.planned(KINDS[kind](random.Random(f"drawn {kind}{seed}")))


CASES = [(kind, seed) for kind in ("equal", "away", "walks", "midrun") for seed in (1, 2)]
any_case = pytest.mark.parametrize("case", CASES, ids=str)


@any_case
@pytest.mark.parametrize("columns", [20, 61, 150])
def test_a_lane_is_busy_where_its_part_is_in_the_hands(case: tuple[str, int], columns: int) -> None:
    """A column of a part's lane shows work exactly when one of the part's moves touches it."""
    problem, plan = _drawn(*case)
    assert plan.moves
    scale = scale_of(problem, plan, columns)
    for part in problem.parts:
        drawn = lane(plan, part.name, scale, PLAIN)
        touched = {
            column
            for move in plan.moves
            if move.part == part.name
            for second in range(move.start_s, max(move.start_s + 1, move.end_s))
            for column in [scale.column(second)]
        }
        assert len(drawn) == columns
        assert {n for n, sign in enumerate(drawn) if sign == PLAIN.work} == touched


@any_case
def test_the_hands_lane_is_idle_while_you_are_away(case: tuple[str, int]) -> None:
    """Each second of the hands' lane shows work, away or idle, as in the plan."""
    problem, plan = _drawn(*case)
    assert plan.moves
    whole = scale_of(problem, plan, 1)
    scale = Scale(whole.from_s, whole.to_s, whole.to_s - whole.from_s)
    drawn = hands_lane(problem, plan, 0, scale, PLAIN)
    for second, sign in enumerate(drawn, scale.from_s):
        busy = any(m.start_s <= second < max(m.end_s, m.start_s + 1) for m in plan.moves)
        away = any(a.from_s <= second < a.to_s for a in problem.away)
        assert sign == (PLAIN.work if busy else PLAIN.away if away else PLAIN.idle)


@pytest.mark.parametrize(
    ("away", "drawn"),
    [
        (AwayTime(100, 200), "....."),
        (AwayTime(-50, 0), "....."),
        (AwayTime(99, 200), "..../"),
        (AwayTime(-5, 1), "/...."),
    ],
)
def test_away_hours_outside_the_drawing_are_left_out(away: AwayTime, drawn: str) -> None:
    """Hours away that begin at the plan's end, or end at its beginning, fill no column."""
    problem = Problem((), (), away=(away,))
    assert hands_lane(problem, Plan((), ()), 0, Scale(0, 100, 5), PLAIN) == drawn


@given(st.integers(-10_000, 10_000), st.integers(1, 200_000), st.integers(1, 200), st.data())
def test_a_time_falls_in_the_column_that_covers_it(
    from_s: int, long_s: int, columns: int, data: st.DataObject
) -> None:
    """Columns are adjacent, and every second of the drawing falls into exactly one."""
    scale = Scale(from_s, from_s + long_s, columns)
    second = data.draw(st.integers(from_s, from_s + long_s - 1))
    begin, end = scale.span_s(scale.column(second))
    assert begin - 1e-6 <= second < end + 1e-6
    assert scale.column(from_s - 5) == 0
    assert scale.column(from_s + long_s + 5) == columns - 1
    assert scale.span_s(0)[0] == from_s
    assert scale.span_s(columns - 1)[1] == pytest.approx(from_s + long_s)


@given(st.integers(-50_000, 50_000), st.integers(60, 400_000), st.integers(20, 200), st.data())
@example(0, 60, 20, None)
@example(0, 288_002, 20, None)
def test_times_on_the_axis_are_above_their_ticks(
    from_s: int, long_s: int, columns: int, data: st.DataObject | None
) -> None:
    """Axis times are round, evenly spaced and apart, and each begins at its tick's column."""
    zero_s = 0 if data is None else data.draw(st.integers(0, 86_399))
    scale = Scale(from_s, from_s + long_s, columns)
    words, ticks = axis(scale, lambda s: hours(s + zero_s), FINE, zero_s)
    assert len(words) == len(ticks) == columns
    at = [n for n, sign in enumerate(ticks) if sign == FINE.tick]
    words_shown = words.split()
    assert len(words_shown) == len(at)
    assert [words[n] == text[0] for n, text in zip(at, words_shown, strict=True)] == [True] * len(
        at
    )
    seconds = [_seconds(text) for text in words_shown]
    steps = {b - a for a, b in pairwise(seconds)}
    assert len(steps) <= 1
    assert all(second % step == 0 for second in seconds for step in steps)
    assert all(86_400 % step == 0 or step % 86_400 == 0 for step in steps)


def hours(seconds: int) -> str:
    """A time in hours and minutes, without seconds."""
    minutes = int(seconds / 60)
    return f"{'-' if minutes < 0 else ''}{abs(minutes) // 60}:{abs(minutes) % 60:02}"


def _seconds(text: str) -> int:
    """The seconds of a text from ``hours``."""
    hour, minute = text.lstrip("-").split(":")
    return (-1 if text.startswith("-") else 1) * (3600 * int(hour) + 60 * int(minute))


@given(st.lists(st.text(alphabet="ab", min_size=1, max_size=30), min_size=1), st.integers(40, 80))
def test_the_legend_is_never_cut(entries: list[str], width: int) -> None:
    """Every legend entry is complete, in order, on a line that fits."""
    lines = packed(entries, width)
    assert [entry for line in lines for entry in line.split("   ")] == entries
    assert all(len(line) <= width for line in lines)


def test_a_drawing_can_show_times_of_day() -> None:
    """The caller chooses how the times above the lanes are written."""
    problem, plan = drawings.planned(equal_parts(1))
    lines = draw_plan(problem, plan, 60, say=lambda s: f"{8 + s // 3600}h{s % 3600 // 60:02}")
    assert lines[0].split()[:2] == ["8h00", "8h05"]


ZERO = datetime(2026, 3, 28, 20, 0, tzinfo=ZoneInfo("Europe/Vienna"))
PIN = PlannedMove("pin", 0, "salts", ("rinse", "salts"), "start", "salts", 60, 90)


def _events(plan: Plan, run: str = "bench") -> list[Event]:
    text = to_ics(plan, ZERO, run=run)
    return [event for event in Calendar.from_ical(text).walk("VEVENT") if isinstance(event, Event)]


def _one(move: PlannedMove, run: str = "bench") -> Event:
    (event,) = _events(Plan((move,), ()), run)
    return event


names = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40)


@given(names, names)
def test_two_parts_never_share_a_calendar_entry(one: str, two: str) -> None:
    """Entries of different parts have different permanent names in plain characters."""
    uids = [str(_one(replace(PIN, part=name))["uid"]) for name in (one, two)]
    assert (uids[0] == uids[1]) == (one == two)
    assert all(uid.isascii() and not set(uid) & set(" ,;:\\\r\n") for uid in uids)


@given(st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=90))
@example("blade, 2; \\ the long one " * 4)
def test_any_name_survives_and_lines_stay_short(name: str) -> None:
    """RFC 5545, 3.1: no line exceeds 75 octets, and the summary reads back unchanged."""
    text = to_ics(Plan((replace(PIN, part=name),), ()), ZERO)
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert str(_one(replace(PIN, part=name))["summary"]) == f"{name}: salts"


@pytest.mark.parametrize(
    ("change", "summary", "description"),
    [
        ({}, "pin: salts", "rinse, salts"),
        ({"step": "black"}, "pin: black (salts)", "rinse, salts"),
        ({"step": "done", "to_station": "done"}, "pin: out of start, done", "rinse, salts"),
        ({"steps": ()}, "pin: salts", None),
    ],
)
def test_an_entry_says_what_to_do(
    change: dict[str, object], summary: str, description: str | None
) -> None:
    """A calendar entry has part, step and station as title, the place, and the work below."""
    event = _one(replace(PIN, **change))  # type: ignore[arg-type]
    assert str(event["summary"]) == summary
    assert str(event["location"]) == "start"
    found = event.get("description")
    assert (None if found is None else str(found)) == description
    (alarm,) = event.walk("VALARM")
    assert str(alarm["description"]) == summary
    assert str(alarm["action"]) == "DISPLAY"


def test_calendar_entries_keep_real_time_through_a_clock_change() -> None:
    """On the night clocks go forward, a move ten hours later is ten actual hours later."""
    event = _one(replace(PIN, start_s=36_000, end_s=36_060))
    assert event.decoded("dtstart") == datetime(2026, 3, 29, 5, 0, tzinfo=UTC)
    assert event.decoded("dtend") - event.decoded("dtstart") == timedelta(seconds=60)


def test_a_move_of_no_time_has_no_end() -> None:
    """RFC 5545, 3.6.1: an entry without an end is a moment."""
    event = _one(replace(PIN, end_s=60))
    assert "dtend" not in event


def test_a_later_plan_of_the_run_replaces_its_entries() -> None:
    """A later plan keeps the name for the same run, part and move."""
    before = _one(PIN, run="2026-03-28-1")
    after = _one(replace(PIN, start_s=120, end_s=150), run="2026-03-28-1")
    other = _one(PIN, run="2026-03-28-2")
    assert before["uid"] == after["uid"] != other["uid"]
    assert before.decoded("dtstamp") == ZERO
