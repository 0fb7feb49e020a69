"""A part's lane: its time, its limit and its bar, to the second."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.run import commands as c
from benchtimer.view.lanes import Lane, Times, bar, by_words, lane, time_left, track
from tests.support import MINUTE, SMALL, Hands, small_recipe
from tests.tui.benches import HOUR, dwelling, hung_up, stamp_at

SECOND = 1000
ROOM = 74


def _lane(hands: Hands, after_ms: int = 0, width: int = 80, times: Times | None = None) -> Lane:
    part = hands.part(hands.names[0])
    stamp = stamp_at(hands.now_ms + after_ms)
    return lane(hands.state.bench, part, stamp, width, times or Times())


def _in_tank(recipe: str) -> Hands:
    hands = Hands(names=("bolster",), recipe=small_recipe(recipe))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    return hands


@pytest.mark.parametrize(
    ("after_ms", "time", "urgency", "left"),
    [
        (0, "pull in 5:00", "wait", "8:00 left"),
        (1, "pull in 5:00", "wait", "7:59 left"),
        (MINUTE, "pull in 4:00", "wait", "7:00 left"),
        (5 * MINUTE - 1, "pull in 0:01", "wait", "3:00 left"),
        (5 * MINUTE, "NOW", "now", "3:00 left"),
        (8 * MINUTE - 1, "NOW", "now", "0:00 left"),
        (8 * MINUTE, "NOW", "now", "0:00 left"),
        (8 * MINUTE + 1, "LATE 0:00", "late", ""),
        (8 * MINUTE + SECOND, "LATE 0:01", "late", ""),
        (68 * MINUTE, "LATE 1:00:00", "late", ""),
    ],
)
def test_a_dwell_by_the_second(after_ms: int, time: str, urgency: str, left: str) -> None:
    """Countdown to the target, NOW to the end of the window, then LATE; time left rounds down."""
    hands = dwelling()
    bench, part = hands.state.bench, hands.part()
    at_ms = part.since_ms + after_ms
    assert time_left(bench, part, stamp_at(at_ms)) == (time, urgency)
    assert by_words(bench, part, stamp_at(at_ms)).partition(", ")[2] == left


@pytest.mark.parametrize(
    ("after_ms", "time"),
    [
        (0, "pull in 2:00:00 → 14:00"),
        (1, "pull in 2:00:00 → 13:59"),
        (HOUR, "pull in 1:00:00 → 13:00"),
        (HOUR + 1, "pull in 1:00:00"),
        (HOUR + SECOND, "pull in 59:59"),
        (2 * HOUR, "NOW"),
        (24 * HOUR, "NOW"),
    ],
)
def test_a_long_soak_tells_its_time_of_day_up_to_its_last_hour(after_ms: int, time: str) -> None:
    """With an hour or more to go the pull has a time of day; with no limit it is never late."""
    hands = hung_up()
    part = hands.part()
    stamp = stamp_at(part.since_ms + after_ms)
    assert time_left(hands.state.bench, part, stamp)[0] == time
    assert by_words(hands.state.bench, part, stamp) == ""


@pytest.mark.parametrize(
    ("max_h", "full", "brief"),
    [
        (1, "by 13:00, 1 h left", "by 13:00"),
        (11, "by 23:00, 11 h left", "by 23:00"),
        (70, "by Thu 10:00, 2 d 22 h left", "by Thu 10:00"),
    ],
)
def test_a_far_limit_has_its_day_and_a_duration(max_h: int, full: str, brief: str) -> None:
    """From an hour on the time left is a duration, and the first thing that a narrow lane drops."""
    hands = _in_tank(SMALL.replace('max = "8 min"', f'max = "{max_h} h"'))
    bench, part = hands.state.bench, hands.part()
    stamp = stamp_at(part.since_ms)
    assert by_words(bench, part, stamp) == full
    assert by_words(bench, part, stamp, brief=True) == brief


def test_a_narrow_lane_counts_down_the_last_ten_minutes() -> None:
    """With under ten minutes left the time left says more than the time of day."""
    hands = dwelling()
    bench, part = hands.state.bench, hands.part()
    stamp = stamp_at(part.since_ms)
    assert by_words(bench, part, stamp, brief=True) == "8:00 left"
    assert by_words(bench, part, stamp) == "by 12:08, 8:00 left"


def test_the_time_of_a_part_in_hand_is_told_beside_that_of_the_recipe() -> None:
    """In hand a lane says how long already, of how long, and has no limit."""
    hands = Hands(names=("bolster",))
    hands(c.Begin("bolster"))
    told = _lane(hands, 42_000, times=Times(latest_ms={"bolster": hands.now_ms + HOUR}))
    assert "in hand: Prepare" in told.line
    assert told.line.rstrip().endswith("0:42 of 1:00")
    assert told.bar == "   step 1 of 5: Prepare"
    assert told.urgency == "now"


def test_between_two_works_a_part_in_the_air_counts_up() -> None:
    """Taken out and not put anywhere, a part's lane counts the time it has been in the air."""
    hands = dwelling()
    hands(c.TakeOut("bolster"), MINUTE)
    told = _lane(hands, 75_000)
    assert "in the air, next: Look" in told.line
    assert "1:15" in told.line
    assert told.urgency == "now"


@pytest.mark.parametrize(
    ("ahead_ms", "told"),
    [
        (9 * MINUTE, "pick up in 9:00"),
        (1, "pick up in 0:01"),
        (0, "pick up NOW"),
        (-MINUTE, "pick up NOW"),
    ],
)
def test_a_part_not_begun_tells_when_the_plan_wants_it(ahead_ms: int, told: str) -> None:
    """Before its first work a lane says when to take the part, by the plan; unplanned, nothing."""
    hands = Hands(names=("bolster",))
    times = Times({"bolster": hands.now_ms + ahead_ms})
    assert time_left(hands.state.bench, hands.part(), stamp_at(hands.now_ms)) == ("", "calm")
    line = _lane(hands, times=times).line
    assert "not begun" in line
    assert told in line


def test_the_plan_moves_a_lift_and_brings_the_limit_nearer() -> None:
    """The planner's times go before the recipe's aim; a later limit of its own changes nothing."""
    hands = dwelling()
    since = hands.part().since_ms
    early = _lane(hands, times=Times({"bolster": since + 4 * MINUTE}, {"bolster": since + MINUTE}))
    assert "pull in 4:00  by 12:01, 1:00 left" in early.line
    late = _lane(hands, times=Times({"bolster": since + 6 * MINUTE}, {"bolster": since + HOUR}))
    assert "pull in 6:00  by 12:08, 8:00 left" in late.line


def test_a_part_that_is_through_has_no_time_no_limit_and_no_bar() -> None:
    """Scrapped or done, a lane says just that, without attempt, time or bar."""
    hands = dwelling()
    hands(c.SendBack("bolster", "dip"), MINUTE)
    assert " try 2 " in _lane(hands).line
    hands(c.Scrap("bolster", "cracked"))
    told = _lane(hands, times=Times({"bolster": 0}, {"bolster": hands.now_ms + MINUTE}))
    assert told.line.split() == ["#1", "bolster", "scrapped"]
    assert (told.bar.strip(), told.urgency) == ("", "calm")


@pytest.mark.parametrize("width", [60, 75, 76, 80, 120, 200])
def test_times_stand_in_one_column(width: int) -> None:
    """Every lane is as wide as the screen, and times with and without a limit end alike."""
    hands = dwelling(("bolster", "ferrule"))
    bench, stamp = hands.state.bench, stamp_at(hands.now_ms)
    times = Times({"ferrule": hands.now_ms + MINUTE})
    rows = [lane(bench, part, stamp, width, times).line for part in bench.parts.values()]
    assert {cell_len(row) for row in rows} == {width}
    ends = {row.find("pull in 5:00") + len("pull in 5:00") for row in rows[:1]}
    ends |= {row.find("pick up in 1:00") + len("pick up in 1:00") for row in rows[1:]}
    assert len(ends) == (1 if width >= 76 else 2)


@pytest.mark.parametrize(
    ("width", "room"), [(60, 15), (80, 20), (96, 24), (120, 24), (40, 10), (20, 10)]
)
def test_a_name_has_a_quarter_of_the_lane(width: int, room: int) -> None:
    """Names have a quarter of the screen, ten columns at least and twenty-four at most."""
    hands = Hands(names=("x" * 60,))
    line = _lane(hands, width=width).line
    assert line.startswith(f" #1 {'x' * (room - 1)}…"[:width - 2])  # fmt: skip


def test_the_bar_has_its_marks_where_least_aim_and_most_are() -> None:
    """The bar of a dwell of 4, 5 and 8 minutes, ten columns a quarter, from empty to full."""
    hands = dwelling()
    bench, part = hands.state.bench, hands.part()
    words = "min 4min target 5min max 8min"
    room = 40 + len(words) + 4
    told = [bar(bench, part, part.since_ms + m * MINUTE, room) for m in (0, 2, 4, 6, 8, 20)]
    assert [row.removesuffix(f" {words}") for row in told] == [
        "···················┃····◆···············┃",
        "██████████·········┃····◆···············┃",
        "███████████████████┃····◆···············┃",
        "███████████████████┃████◆█████··········┃",
        "███████████████████┃████◆███████████████┃",
        "███████████████████┃████◆███████████████┃",
    ]


def test_a_dwell_without_a_limit_ends_open() -> None:
    """Where there is no most the bar goes half the aim further, and its end is open."""
    hands = hung_up()
    bench, part = hands.state.bench, hands.part()
    words = "min 1h target 2h no limit"
    told = bar(bench, part, part.since_ms + 2 * HOUR, 30 + len(words) + 4)
    assert told == f"█████████┃█████████◆··········… {words}"


@given(st.lists(st.integers(0, 15 * MINUTE), min_size=2, max_size=6), st.integers(40, 200))
def test_a_bar_never_shrinks(times: list[int], room: int) -> None:
    """As time goes by a bar only grows; its marks and its length never move."""
    hands = dwelling()
    bench, part = hands.state.bench, hands.part()
    told = [bar(bench, part, part.since_ms + ms, room) for ms in sorted(times)]
    full = [row.count("█") for row in told]
    assert full == sorted(full)
    assert len({(len(row), row.find("┃"), row.find("◆")) for row in told}) == 1
    assert all(cell_len(row) <= max(room, 45) for row in told)


@pytest.mark.parametrize(("room", "cells"), [(20, 10), (47, 14), (133, 100), (500, 100)])
def test_a_bar_is_never_too_short_and_never_needlessly_long(room: int, cells: int) -> None:
    """A bar has ten cells at least and a hundred at most."""
    hands = dwelling()
    told = bar(hands.state.bench, hands.part(), hands.now_ms, room)
    assert told.index(" ") - 1 == cells


def test_a_place_to_wait_has_no_bar() -> None:
    """A dwell of no length and no limit is a place to wait: its lane names the next step."""
    hands = _in_tank(SMALL.replace('min = "4 min", target = "5 min", max = "8 min"',
                                   'min = "0 s", target = "0 s"'))  # fmt: skip
    assert bar(hands.state.bench, hands.part(), hands.now_ms, ROOM) == ""
    assert _lane(hands).bar == "   next: step 3 of 5: Look"


def test_only_a_part_in_its_station_has_a_bar() -> None:
    """Lifted out, a part has no bar any more."""
    hands = dwelling()
    assert "◆" in _lane(hands).bar
    hands(c.TakeOut("bolster"))
    assert "◆" not in _lane(hands).bar


def test_the_last_lift_has_no_further_step() -> None:
    """In the last dwell of its recipe a part's track says that all but the last pull is done."""
    hands = _in_tank(SMALL.split("[[step]]\nid = \"look\"")[0])  # fmt: skip
    told = track(hands.state.bench, hands.part(), ROOM)
    assert told == "all 2 steps done but the last pull"
    assert cell_len(track(hands.state.bench, hands.part(), 12)) == 12
