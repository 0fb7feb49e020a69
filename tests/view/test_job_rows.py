"""The words and drawings of jobs: calendar, sessions, tonight."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime

import pytest
from rich.cells import cell_len

from benchtimer.job.evening import evening_of
from benchtimer.job.job_progress import progress_of
from benchtimer.job.job_state import Job
from benchtimer.job.order import Order, OrderPart
from benchtimer.job.sessions import JobsPlan, SessionWork, WorkSession, plan_jobs
from benchtimer.job.shop_work import Heating
from benchtimer.view.jobrows import home_job_rows
from benchtimer.view.jobs import calendar_lines, evening_lines, list_lines, session_lines
from benchtimer.view.space import Size
from tests.job.orders import petty_knife
from tests.job.shops import knives, order_of, shop_of

DUE = date(2026, 12, 11)
SATURDAY = datetime(2026, 11, 28, 8, tzinfo=UTC)
LONG_DAYS = "Mon-Sun 08:00-20:00"


def _polish(*parts: str) -> Order:
    return order_of(DUE, [(part, "fittings-polish", ()) for part in parts])


def test_lanes_start_in_the_same_column_under_wide_names() -> None:
    """Characters that take two columns don't push a lane of the calendar to the right."""
    load = shop_of({"ナイフ": _polish("a"), "pen": _polish("b")}, hours=LONG_DAYS, start=SATURDAY)
    _, *lanes = calendar_lines(plan_jobs(load), 80)
    assert len(lanes) == 2
    assert len({cell_len(lane) for lane in lanes}) == 1


def test_a_calendar_with_a_long_name_fits_the_screen() -> None:
    """The longest name of a job is cut, and the calendar keeps room for the hours."""
    load = shop_of({"x" * 60: _polish("a")}, hours=LONG_DAYS, start=SATURDAY)
    lines = list(calendar_lines(plan_jobs(load), 60))
    assert max(map(cell_len, lines)) <= 60


def test_the_plan_of_one_job_heats_only_what_its_work_goes_into() -> None:
    """A heating between two works is for the job whose part goes there next."""

    def work(name: str, start_s: float, place: str) -> SessionWork:
        end_s = start_s + 60
        return SessionWork(
            start_s, end_s, name, "hot-black", ("x",), ("X",), False, places=(place,)
        )

    works = [work("pen/cap", 0, "drip"), work("box/lid", 60, "salts")]
    session = WorkSession(0, 120, works, [Heating(30, "salts", False)])
    load = knives(1)
    plan = JobsPlan(load, plan_jobs(load).played, [session])
    assert [one.heats for one in plan.sessions_of("pen")] == [[]]
    assert [one.heats for one in plan.sessions_of("box")] == [session.heats]


@pytest.mark.parametrize(("place", "danger"), [("etch", True), ("oil", False)])
def test_a_session_with_acid_and_salts_says_so(place: str, danger: bool) -> None:
    """A session that takes parts to the etch and the salts has the danger under its heading."""
    load = shop_of({"k": petty_knife()}, hours=LONG_DAYS, start=SATURDAY)
    works = [
        SessionWork(0, 60, "k/a", name, ("x",), ("X",), False, places=(at,))
        for name, at in (("etch-darken", place), ("hot-black", "salts"))
    ]
    lines = list(session_lines([WorkSession(0, 120, works, [])], load))
    assert lines[1].startswith("  DANGER: acid with alkali") is danger


def test_a_bath_that_was_hot_too_long_is_made_up() -> None:
    """The salts are heated once in a day's hours; after that they need a make-up."""
    load = shop_of({"k": _black("a", "b", "c", "d")}, hours=LONG_DAYS, start=SATURDAY)
    lines = [line[9:] for line in session_lines(plan_jobs(load).sessions[:1], load)]
    salts = [line for line in lines if "Blacking salts" in line]
    assert salts[0] == "heat Blacking salts"
    assert set(salts[1:]) == {"heat off, make up Blacking salts, heat again"}


def _black(*parts: str) -> Order:
    chain = ("fittings-polish", "hot-black")
    return Order(DUE, tuple(OrderPart(part, chain) for part in parts))


def test_tonight_has_one_heading() -> None:
    """A pause in today's work starts no new heading: each line has its time."""
    load = shop_of({"knife": petty_knife()}, hours=LONG_DAYS, start=SATURDAY)
    evening = evening_of(load)
    assert len(evening.sessions) > 1
    lines = list(evening_lines(evening, short=True))
    assert [line for line in lines if not line.startswith("  ")] == ["Until 20:00"]


def test_home_says_whose_parts_tonight_begins_with() -> None:
    """Two bolsters of two jobs are told apart, and none of their names is cut."""
    jobs = {"second pen of the set": _polish("bolster", "cap"), "pen": _polish("bolster", "end")}
    lines = _home(jobs, Size(60, 24))
    whole = " ".join(" ".join(lines).split())
    assert "bolster, cap of second pen of the set" in whole
    assert "bolster, end of pen" in whole
    assert max(map(cell_len, lines)) <= 60


def test_home_shows_more_of_tonight_on_a_taller_screen() -> None:
    """Forty rows have room for more of tonight's work than 24."""
    jobs = {"k": petty_knife()}
    assert len(_home(jobs, Size(80, 40))) > len(_home(jobs, Size(80, 24)))


def test_the_due_dates_of_a_list_are_in_one_column() -> None:
    """Names of different widths leave the due dates in line, and one part is no parts."""
    jobs = [Job("ナイフ", 0, _polish("a")), Job("petty knife", 0, _polish("a", "b"))]
    progress = {job.name: progress_of(job, []) for job in jobs}
    lines = list(list_lines(jobs, progress, DUE))
    assert len({cell_len(line.partition("due")[0]) for line in lines}) == 1
    assert [line.rpartition("  ")[2] for line in lines] == [
        "0 of 1 part done",
        "0 of 2 parts done",
    ]


@pytest.mark.parametrize(
    ("today", "says"),
    [
        (9, "Dec 11, 2 d left"),
        (10, "Dec 11, tomorrow"),
        (11, "Dec 11, today"),
        (12, "Dec 11, OVER"),
    ],
)
def test_a_due_date_says_how_near_it_is(today: int, says: str) -> None:
    """Days left, then tomorrow, today, and overdue."""
    (line,) = list_lines([Job("pen", 0, _polish("a"))], {}, date(2026, 12, today))
    assert says in line


def test_home_names_the_parts_that_can_not_be_planned() -> None:
    """Hours too short for a step don't hide its part from home."""
    lines = _home({"k": _polish("cap")}, Size(80, 24), hours="Mon-Sun 08:00-08:10")
    assert " Can't be planned: cap. SPACE on the job says why." in lines


def _home(jobs: Mapping[str, Order], size: Size, hours: str = LONG_DAYS) -> list[str]:
    """The lines of tonight and the jobs at the top of home."""
    evening = evening_of(shop_of(jobs, hours=hours, start=SATURDAY))
    opened = [(Job(name, 0, order), ()) for name, order in jobs.items()]
    rows = home_job_rows(evening, opened, DUE, size)
    return [line for row in rows for line in row.lines]
