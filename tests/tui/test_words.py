"""The screen's words for each kind of action, time and station."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.quantity import parse
from benchtimer.run import commands as c
from benchtimer.run.actions import Action
from benchtimer.run.agenda import agenda
from benchtimer.store.log import Stamp
from benchtimer.view import words
from benchtimer.view.telling import next_words
from tests.support import MINUTE, SMALL, TEMPERED, Hands, small_recipe
from tests.tui.benches import FEW, HOUR, benches, dwelling, hung_up, stamp_at

STORY = tomllib.loads((Path(__file__).parent / "cases" / "story.toml").read_text("utf-8"))


def _answer(hands: Hands, part: str, said: str) -> c.Command:
    check = hands.state.bench.open_checks(hands.part(part))[0].id
    return c.Answer(part, check, True if said == "yes" else said)


PRESSES: dict[str, Callable[[Hands, str, str], c.Command]] = {
    "start": lambda _h, _p, _w: c.Start(),
    "gear": lambda _h, _p, told: c.Acknowledge(told),
    "read": lambda _h, _p, told: c.Read("tank", told),
    "begin": lambda _h, part, _w: c.Begin(part),
    "finish": lambda _h, part, _w: c.Finish(part),
    "answer": _answer,
    "hold": lambda _h, part, told: (
        c.Hold(None, "the telephone") if told == "the run" else c.Hold(part, told)
    ),
    "resume": lambda _h, part, told: c.Resume(None if told else part),
    "scrap": lambda _h, part, _w: c.Scrap(part),
}


def _moments() -> Iterator[tuple[dict[str, Any], Hands, Action]]:
    """The story, moment by moment: its words, and the bench and action they describe."""
    hands = Hands(names=("bolster", "ferrule"), started=False)
    for moment in STORY["moment"]:
        pressed, shown = moment.get("of", "bolster"), moment.get("part", "bolster")
        name, _, found = moment["press"].partition(" ")
        if name in PRESSES:
            hands.now_ms += moment.get("wait_s", 0) * 1000
            hands(PRESSES[name](hands, pressed, found), after_ms=0)
        actions = agenda(hands.state.bench, hands.now_ms)
        yield moment, hands, next((a for a in actions if a.part in (shown, None)), actions[0])


def test_a_whole_run_word_by_word() -> None:
    """At each moment of the story the screen shows its verb, way, work, time and key."""
    for moment, hands, action in _moments():
        bench, stamp = hands.state.bench, stamp_at(hands.now_ms)
        found = {
            "verb": words.verb(action),
            "way": words.way(bench, action),
            "work": words.work(bench, action),
            "when": words.when(action, stamp),
            "confirm": words.confirm_words(bench, action),
        }
        wanted = {name: moment.get(name, "") for name in found}
        assert found == wanted, moment["press"]
        shut = words.confirm_words(bench, action, reading=False)
        assert shut == moment.get("before", moment["confirm"])


def test_a_whole_run_in_spoken_lines() -> None:
    """In the plain view each moment is one line with the same words, its time and no arrow."""
    for moment, hands, action in _moments():
        line = next_words(hands.state.bench, action, stamp_at(hands.now_ms))
        assert line.startswith(moment["verb"])
        assert moment["work"] in line
        assert line.endswith(moment["confirm"])
        assert "→" not in line
        assert "  ," not in line
        if moment.get("when", "")[:1].isdecimal():
            assert f", in {moment['when']}, " in line
            assert ", at 1" in line


@given(benches())
@FEW
def test_every_action_has_words(hands: Hands) -> None:
    """Each kind of action has a verb and something that SPACE or digits do."""
    bench = hands.state.bench
    for action in agenda(bench, hands.now_ms):
        assert words.verb(action).isupper()
        assert words.confirm_words(bench, action)
        assert words.work(bench, action)
        line = next_words(bench, action, stamp_at(hands.now_ms))
        assert not line.startswith(",")
        assert ", , " not in line


@given(st.integers(-(10**6), 10**7), st.integers(0, 10**6))
def test_a_countdown_never_shows_less_than_is_left(due_ms: int, now_ms: int) -> None:
    """A countdown is never under the time left, and less than a second over."""
    left = max(0, due_ms - now_ms)
    rounded = -(-left // 1000) * 1000
    assert words.countdown_to(due_ms, now_ms) == words.elapsed(0, rounded)
    assert rounded - left < 1000


@pytest.mark.parametrize(
    ("ahead_min", "expected"),
    [(-1, "23:58"), (0, "23:59"), (1, "Tue 00:00"), (1440, "Tue 23:59"),
     (1441, "Wed 00:00"), (-1440, "Sun Feb 1 23:59")],
)  # fmt: skip
def test_the_day_changes_at_midnight_to_the_minute(ahead_min: int, expected: str) -> None:
    """One minute turns today into tomorrow; other days have a name and date."""
    stamp = Stamp(0, "b", 0, 1_770_076_740_000, 0)  # Monday 2026-02-02 23:59 UTC
    assert words.clock_time(ahead_min * MINUTE, stamp) == expected


@pytest.mark.parametrize(
    ("offset_s", "expected"),
    [(0, "12:00:00"), (3600, "13:00:00"), (-16_200, "07:30:00"), (20_700, "17:45:00")],
)
def test_times_of_day_are_in_the_shops_zone(offset_s: int, expected: str) -> None:
    """Zones east and west, with whole and broken hours, show the shop's wall clock."""
    assert words.wall_clock(stamp_at(0, offset_s)) == expected
    assert words.clock_time(0, stamp_at(0, offset_s)) == expected[:5]


@pytest.mark.parametrize("wall_ms", [10**18, -(10**18)])
def test_a_clock_outside_the_calendar_has_no_time_of_day(wall_ms: int) -> None:
    """With the clock outside the calendar, a mark replaces the time of day."""
    stamp = Stamp(0, "b", 0, wall_ms, 0)
    assert words.wall_clock(stamp) == words.clock_time(0, stamp) == words.NO_TIME
    assert words.clock_time(10**18, stamp_at(0)) == words.NO_TIME


@pytest.mark.parametrize(
    ("text", "expected"),
    [("290 F", "290 F"), ("143.04 C", "143 C"), ("65.5 C", "65.5 C"), ("warm", "warm"), ("", ""),
     ("-5 C", "-5 C")],
)  # fmt: skip
def test_a_temperature_in_short(text: str, expected: str) -> None:
    """A reading on the board has no extra space and at most one decimal."""
    assert words.short_temperature(text) == expected


@pytest.mark.parametrize("held", [None, "bolster"])
@pytest.mark.parametrize(
    ("over_ms", "expected"),
    [(0, []), (1, ["0:00"]), (61_000, ["1:01"])],
)
def test_chemistry_goes_on_while_something_is_on_hold(
    held: str | None, over_ms: int, expected: list[str]
) -> None:
    """Past its max, a held part or run shows the time to the second; before, it does not."""
    hands = dwelling()
    ends_ms = hands.part().since_ms + 8 * MINUTE
    assert words.late_on_hold(hands.state.bench, ends_ms + over_ms) == []
    hands(c.Hold(held, "the telephone"))
    late = words.late_on_hold(hands.state.bench, ends_ms + over_ms)
    assert late == [f"ON HOLD BUT LATE {time}: bolster in Tank" for time in expected]


def test_a_held_part_without_a_limit_is_never_late() -> None:
    """A held part on the rack is never late."""
    hands = hung_up()
    hands(c.Hold("bolster", "a stain"))
    assert words.late_on_hold(hands.state.bench, hands.now_ms + 99 * HOUR) == []


def test_a_ceiling_that_depends_on_the_part_is_shown_as_a_number() -> None:
    """Where the temper sets the limit, the question shows the figure for this part."""
    check = small_recipe(TEMPERED).step[3].check[0]
    assert words.answer_words(check, {}) == "Type it (C), SPACE saves it"
    known = {"temper": parse("200 C", "temperature")}
    assert words.answer_words(check, known).startswith("never above 175 C   Type it (C)")


def test_the_last_pull_says_so() -> None:
    """If no step follows a dwell, its pull is the last one."""
    hands = Hands(("bolster",), small_recipe(SMALL.partition('[[step]]\nid = "look"')[0]))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    lift = agenda(hands.state.bench, hands.now_ms)[0]
    assert words.work(hands.state.bench, lift) == "The last pull; then the part is done"
    assert words.way(hands.state.bench, lift) == "from Tank"


CLAMPED = """
schema = 1
title = "Glue"
[[station]]
id = "clamp"
title = "Assembly clamp"
[[step]]
id = "cure"
title = "Into the clamp"
at = "clamp"
hands = "1 min"
dwell = { min = "1 h", target = "1 h" }
[[step]]
id = "smear"
title = "Still clamped: test the smear"
at = "clamp"
hands = "1 min"
[[step.check]]
id = "hard"
kind = "yes-no"
ask = "Hard?"
[[step]]
id = "open"
title = "Unclamp"
hands = "1 min"
"""


def test_work_in_place_does_not_mention_a_pull() -> None:
    """Work on a joint in its clamp is TEND, because a PULL would open the clamp."""
    hands = Hands(names=("knife",), recipe=small_recipe(CLAMPED))
    hands(c.Begin("knife"))
    hands(c.Finish("knife"), MINUTE)
    hands.now_ms += HOUR
    (action,) = (a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "knife")
    assert words.verb(action) == "TEND"
    assert "pull" not in words.confirm_words(hands.state.bench, action)
    assert words.way(hands.state.bench, action) == "in Assembly clamp"
