"""A plan as others see it: JSON, drawing, calendar."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from benchtimer.plan.cadence import cadence
from benchtimer.plan.calendar import CalendarMissingError, to_ics
from benchtimer.plan.draw import draw_plan, most_at_once
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, PlanPart, PlanStation, Problem
from tests.plan.build import CLEAN_SALTS_BOIL, equal_parts, route

ZERO = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)


def _planned(count: int) -> tuple[Problem, Plan]:
    problem = equal_parts(count)
    plan = solve(problem).plan
    assert plan is not None
    return problem, plan


def test_the_published_json_form() -> None:
    """The JSON has the documented names, in the documented order, and plain values."""
    found: Any = solve(equal_parts(2)).as_dict()
    assert json.loads(json.dumps(found)) == found
    assert list(found) == [
        "status", "makespan_s", "bound_s", "moves", "dwells", "why", "nodes", "elapsed_s",
    ]  # fmt: skip
    assert list(found["moves"][0]) == ["run", "part", "step", "from", "to", "start_s", "end_s"]
    assert list(found["dwells"][0]) == [
        "run", "part", "step", "place", "in_s", "out_s", "min_s", "target_s", "max_s",
    ]  # fmt: skip
    assert found["moves"][-1]["step"] == "done"
    assert found["makespan_s"] == max(move["end_s"] for move in found["moves"])


def test_the_published_json_form_of_a_cadence() -> None:
    """The JSON of an interval begins with status, seconds and bound."""
    found: Any = cadence(equal_parts(1).stations, CLEAN_SALTS_BOIL).as_dict()
    assert json.loads(json.dumps(found)) == found
    assert list(found)[:3] == ["status", "cadence_s", "bound_s"]


@pytest.mark.parametrize("width", [40, 80, 133])
def test_a_drawing_keeps_its_width(width: int) -> None:
    """The drawing has one lane a part, the hands and every station; no line is too long."""
    problem, plan = _planned(3)
    lines = draw_plan(problem, plan, width)
    assert all(len(line) <= width for line in lines)
    starts = [line.split()[0] for line in lines[2:9]]
    assert starts == ["ferrule"] * 3 + ["hands", "clean", "salts", "boil"]
    assert "   ".join(lines[9:]) == "█ in the hands   ─ in a station   1-9 parts in the station"


def test_a_plain_drawing_is_ascii() -> None:
    """With ``plain`` every character is ASCII, hours away included."""
    problem = Problem(equal_parts(2).stations, equal_parts(2).parts, away=(AwayTime(1000, 1500),))
    plan = solve(problem).plan
    assert plan is not None
    text = "\n".join(draw_plan(problem, plan, 90, plain=True))
    assert text.isascii()
    assert "/ away" in text


def test_a_drawing_shows_each_move_where_it_is() -> None:
    """Each part's lane is busy in the columns of its moves, and the hands' lane in all of them."""
    problem, plan = _planned(2)
    lines = draw_plan(problem, plan, 120, plain=True)
    lanes = {line[:9].strip(): line[10:] for line in lines[2:5]}
    assert lanes["hands"].count("#") >= lanes["ferrule 1"].count("#")
    for a, b, hand in zip(lanes["ferrule 1"], lanes["ferrule 2"], lanes["hands"], strict=False):
        assert ("#" in (a, b)) == (hand == "#")


@pytest.mark.parametrize("width", [40, 80, 200])
def test_a_short_stay_beside_a_long_one_is_drawn(width: int) -> None:
    """A soak of minutes in a plan of a day still gets a column in the station's lane."""
    short = route("r", [10, 10, 10], [("salts", 60, 120), ("cure", 86_400, 90_000)])
    problem = Problem((PlanStation("salts", 1), PlanStation("cure", 1)), (PlanPart("pin", short),))
    plan = solve(problem).plan
    assert plan is not None
    salts = next(line for line in draw_plan(problem, plan, width) if line.startswith("salts"))
    assert salts.split("/1")[1].count("1") == 1


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(1, 20)), max_size=6),
    st.integers(0, 50),
    st.integers(1, 20),
)
def test_the_most_at_once_agrees_with_a_count_of_every_second(
    found: list[tuple[int, int]], from_s: int, wide_s: int
) -> None:
    """The load of a span is that of its fullest second."""
    stays = [(begin, begin + long) for begin, long in found]
    seconds = range(from_s, from_s + wide_s)
    fullest = max(sum(a <= second < b for a, b in stays) for second in seconds)
    assert most_at_once(stays, from_s, from_s + wide_s) == fullest


def test_an_empty_plan_is_reported() -> None:
    """An empty plan shows a sentence instead of a drawing."""
    problem = equal_parts(0)
    assert draw_plan(problem, Plan((), ())) == ["no moves left"]


def test_a_calendar_reads_back() -> None:
    """The icalendar library reads every move back with its alarm (RFC 5545)."""
    problem, plan = _planned(2)
    text = to_ics(plan, ZERO, run="hunting knife")
    assert text.endswith("END:VCALENDAR\r\n")
    calendar = Calendar.from_ical(text)
    events = calendar.walk("VEVENT")
    assert len(events) == len(plan.moves)
    assert len({str(event["uid"]) for event in events}) == len(plan.moves)
    for event, move in zip(events, plan.moves, strict=True):
        assert event.decoded("dtstart") == ZERO + timedelta(seconds=move.start_s)
        assert event.decoded("dtend") == ZERO + timedelta(seconds=move.end_s)
        alarms = event.walk("VALARM")
        assert [alarm.decoded("trigger") for alarm in alarms] == [timedelta(minutes=-1)]
    assert problem.parts[0].name in str(events[0]["summary"])


def test_a_calendar_needs_a_time_zone() -> None:
    """A calendar time without a zone is refused, since it would ring at the wrong hour."""
    _, plan = _planned(1)
    with pytest.raises(ValueError, match="no time zone"):
        to_ics(plan, ZERO.replace(tzinfo=None))


def test_a_missing_calendar_library_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the library, the error says how to install it."""
    _, plan = _planned(1)
    monkeypatch.setitem(sys.modules, "icalendar", None)
    with pytest.raises(CalendarMissingError, match=r"benchtimer\[calendar\]"):
        to_ics(plan, ZERO)
