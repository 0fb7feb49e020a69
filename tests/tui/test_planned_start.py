"""A start planned for later sounds when it comes, and shows its day until then."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from dateutil.tz import gettz
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bench.wallclock import moment_of
from benchtimer.records.export import as_text
from benchtimer.records.record import make_record
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.run_state import RunPhase
from benchtimer.run.setup import SET_UP_S, planned_start_ms
from benchtimer.shop.hours import hours_words, parse_week
from benchtimer.store.log import LogEntry, Stamp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.home_page import HomeScreen
from benchtimer.view.home_rows import home_rows
from benchtimer.view.space import Size
from benchtimer.view.telling import next_words
from benchtimer.view.words import when
from tests.support import SMALL, Hands, alarms_of, moment_at, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import press, shown

HOUR_MS = 3_600_000
HEATED = small_recipe(SMALL.replace('title = "Tank"\n', 'title = "Tank"\nheat_up = "45 min"\n'))
STAMP = Stamp(1_000_000, None, 0, 1_770_278_400_000, 0)
"""2026-02-05 08:00 UTC, a Thursday."""
START_MS = STAMP.noted_ms + 49 * HOUR_MS
"""Saturday 09:00."""


def _planned() -> Hands:
    hands = Hands(started=False, recipe=HEATED)
    hands(c.Postpone(None, START_MS))
    return hands


def test_the_planned_start_is_the_next_action() -> None:
    """The agenda, the plain view and home show START with its time, and no alarm rings yet."""
    hands = _planned()
    bench = hands.state.bench
    start, first = agenda(bench, STAMP.noted_ms)
    assert (start.kind, start.due_ms, when(start, STAMP)) == (
        ActionKind.START,
        START_MS,
        "Sat 09:00",
    )
    assert first.kind is ActionKind.HAZARD
    assert next_words(bench, start, STAMP).startswith("START")
    assert ", at Sat 09:00, " in next_words(bench, start, STAMP)
    rows = home_rows(moment_at(hands.state, STAMP), [], {}, {}, Size(77, 24))
    assert any(line.endswith("at Sat 09:00") for row in rows for line in row.lines)
    assert alarms_of("r", bench, STAMP.noted_ms) == []


def test_a_planned_start_keeps_its_minute_when_the_clocks_drift() -> None:
    """A wall clock that has lost half a second since still shows the start at 09:00."""
    (start, _) = agenda(_planned().state.bench, STAMP.noted_ms)
    drifted = replace(STAMP, wall_ms=STAMP.wall_ms - 500)
    assert when(start, drifted) == "Sat 09:00"


def test_the_record_says_when_the_start_was_planned() -> None:
    """The log in the record has the day and time, even if the clocks have drifted since."""
    drifted = replace(STAMP, wall_ms=STAMP.wall_ms - 400)
    entries = [LogEntry(n, "r", x, drifted) for n, x in enumerate(_planned().events, start=1)]
    assert "bolster: not to start before 2026-02-07T09:00:00" in as_text(make_record(entries))


def test_the_set_up_rings_in_time_and_then_the_start() -> None:
    """The setup alarm comes half an hour before the heat; the start alarm at nine."""
    hands = _planned()
    from_ms = START_MS - (SET_UP_S + 45 * 60) * 1000
    bench = hands.state.bench
    assert alarms_of("r", bench, from_ms - 1) == []
    (call,) = alarms_of("r", bench, from_ms)
    assert (call.words, call.over_ms) == ("SET UP Test", 0)
    first, start = agenda(bench, from_ms)
    assert (first.kind, start.kind) == (ActionKind.HAZARD, ActionKind.START)
    hands(c.Acknowledge("Hot tank"), from_ms - hands.now_ms)
    hands(c.Heat("tank"))
    bench = hands.state.bench
    assert alarms_of("r", bench, START_MS - 1) == []
    (start,) = agenda(bench, START_MS)
    assert when(start, Stamp(START_MS, None, 0, 0, 0)) == ""
    for late_ms in (0, HOUR_MS):
        (call,) = alarms_of("r", bench, START_MS + late_ms)
        assert (call.words, call.level) == ("START Test", "due")
    hands(c.Start(), START_MS - hands.now_ms)
    assert hands.state.bench.phase is RunPhase.RUNNING


def test_a_part_that_may_start_now_means_no_planned_start() -> None:
    """Holding back only some of the parts plans no start, and one undo cancels a planned start."""
    hands = _planned()
    assert planned_start_ms(hands.state.bench) == START_MS
    hands(c.Undo())
    assert planned_start_ms(hands.state.bench) is None
    hands(c.Postpone("bolster", START_MS))
    assert planned_start_ms(hands.state.bench) is None


async def test_the_board_shows_the_start_and_e_starts_now_instead(shop: Shop) -> None:
    """SPACE and the undo line say when it starts; E cancels the planned time."""
    shop.set_up("bolster", started=False)
    begins = moment_of("Sat 09:00", shop.driver.stamp())
    shop.press(c.Postpone(None, begins.noted_ms))
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.takes_back() == "U undoes: #1 bolster: not to start before Sat 09:00"
        await press(pilot, "space")
        assert "START at Sat 09:00. E: set up and start now instead." in board.desk.message
        await press(pilot, "h")
        assert "at Sat 09:00" in shown(app, HomeScreen).rows.text
        await press(pilot, "1 e")
        assert planned_start_ms(shop.driver.state(shop.name).bench) is None
        first = shop.driver.moment().first
        assert first is not None
        assert first.kind is ActionKind.HAZARD


@pytest.mark.parametrize(
    ("zone", "text", "utc"),
    [
        # RFC 5545, 3.3.5: a time that is skipped takes the offset before the gap (02:30 is 03:30
        # EDT), and one that comes twice means the first.
        ("America/New_York", "2007-03-11 02:30", (2007, 3, 11, 7, 30)),
        ("America/New_York", "2007-11-04 01:30", (2007, 11, 4, 5, 30)),
        ("America/New_York", "2007-11-04 03:00", (2007, 11, 4, 8, 0)),
        ("Europe/Paris", "2023-03-26 02:30", (2023, 3, 26, 1, 30)),
    ],
)
def test_a_planned_start_keeps_wall_time_through_a_clock_change(
    zone: str, text: str, utc: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Skipped and repeated times follow RFC 5545; dateutil has the zones."""
    rules = gettz(zone)

    def offset_s(wall_ms: int) -> int:
        offset = datetime.fromtimestamp(wall_ms / 1000, UTC).astimezone(rules).utcoffset()
        assert offset is not None
        return round(offset.total_seconds())

    monkeypatch.setattr("benchtimer.bench.wallclock.offset_s", offset_s)
    day_ms = int(datetime(*utc, tzinfo=UTC).timestamp()) * 1000 - 24 * HOUR_MS  # type: ignore[misc, arg-type]
    now = Stamp(0, None, 0, day_ms, offset_s(day_ms))
    assert moment_of(text, now).wall_ms - day_ms == 24 * HOUR_MS


DAY_SPANS = st.lists(st.integers(0, 48), min_size=2, max_size=6, unique=True).map(sorted)


@given(st.lists(DAY_SPANS, min_size=7, max_size=7))
def test_hours_read_back_as_written(days: list[list[int]]) -> None:
    """The words for any week read back as the same week."""
    pieces = [
        f"{name} {a // 2:02}:{a % 2 * 30:02}-{b // 2:02}:{b % 2 * 30:02}"
        for name, marks in zip(("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), days, strict=True)
        for a, b in zip(marks[::2], marks[1::2], strict=False)
    ]
    week = parse_week(", ".join(pieces))
    assert parse_week(hours_words(week)).week == week.week


def test_equal_days_in_a_row_are_joined() -> None:
    """Equal days in a row are written together, in the settings and on the screen."""
    for text in ("Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00", "Sat 22:00-02:00", ""):
        assert hours_words(parse_week(text)) == text
