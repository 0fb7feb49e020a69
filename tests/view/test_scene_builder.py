"""What the board says of parts and places, as data."""

from __future__ import annotations

import pytest
from hypothesis import given

from benchtimer.bench.plans import MoveAhead
from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.view.picture.scene import LaneView, Level, PlaceView, Scene
from benchtimer.view.picture.sheet import draw
from benchtimer.view.scene_builder import make_scene
from benchtimer.view.scene_places import RunView
from tests.support import MINUTE, Hands, small_recipe
from tests.tui.benches import FEW, HOUR, STRAIGHT_OVER, benches, dwelling, hung_up, stamp_at


def _scene(hands: Hands, after_ms: int = 0, moves: tuple[MoveAhead, ...] = ()) -> Scene:
    now_ms = hands.now_ms + after_ms
    bench = hands.state.bench
    run = RunView("2026-02-02-1", bench, agenda(bench, now_ms), moves)
    return make_scene([run], stamp_at(now_ms))


def _lane(hands: Hands, after_ms: int = 0) -> LaneView:
    return _scene(hands, after_ms).lanes[0]


def _tank(hands: Hands, after_ms: int = 0) -> PlaceView:
    return next(p for p in _scene(hands, after_ms).places if p.short == "TANK")


@pytest.mark.parametrize(
    ("minutes", "left", "by", "brief", "level"),
    [
        (1, "in 4:00", "max 12:07, 7 min left", "max in 7 min", Level.CALM),
        (5, "NOW", "max 12:03, 3 min left", "max in 3 min", Level.NOW),
        (8, "NOW", "max 12:00, 0 s left", "max in 0 s", Level.NOW),
        (9, "LATE", "1:00 past max", "max +1:00", Level.LATE),
    ],
)
def test_a_dwell_counts_down_to_its_pull_and_past_its_max(
    minutes: int, left: str, by: str, brief: str, level: Level
) -> None:
    """A lane says when to pull, until when that can wait, and how far past max it is."""
    hands = dwelling()
    lane = _lane(hands, hands.part().since_ms + minutes * MINUTE - hands.now_ms)
    assert (lane.left, lane.by, lane.by_short, lane.level) == (left, by, brief, level)


@pytest.mark.parametrize(
    ("minutes", "verb", "left"),
    [(0, "PULL", "in 5:00"), (5, "", "READ OIL"), (9, "PULL", "LATE")],
)
def test_a_lane_is_about_its_own_part(minutes: int, verb: str, left: str) -> None:
    """A lane counts down to its part's pull; a reading that comes first names its bath."""
    hands = dwelling(recipe=small_recipe(STRAIGHT_OVER))
    start_ms = hands.now_ms + 5 * MINUTE
    moves = (MoveAhead("bolster", start_ms, start_ms + MINUTE, "oil"),)
    lane = _scene(hands, minutes * MINUTE, moves).lanes[0]
    assert (lane.verb, lane.left, lane.place) == (verb, left, "TANK")


def test_a_long_soak_names_the_day() -> None:
    """Hours ahead, a countdown has hours, and a dwell without max has no limit."""
    lane = _lane(hung_up())
    assert lane.left.count(":") == 2
    assert lane.by == ""
    assert lane.window is not None
    assert lane.window.max_ms is None


def test_the_window_is_that_of_the_dwell() -> None:
    """Min, target and max of the tank are 4, 5 and 8 minutes after the part went in."""
    hands = dwelling()
    window = _lane(hands).window
    assert window is not None
    since = hands.part().since_ms
    assert (window.in_ms, window.min_ms, window.target_ms, window.max_ms) == tuple(
        since + m * MINUTE for m in (0, 4, 5, 8)
    )


def test_a_held_part_says_why() -> None:
    """A part held outside a bath shows its reason, and nothing is due."""
    hands = hung_up()
    hands(c.Hold("bolster", "telephone"))
    lane = _lane(hands)
    assert (lane.left, lane.by, lane.level) == ("HELD", "held: telephone", Level.CALM)


def test_a_held_part_in_a_bath_counts_down() -> None:
    """The lane of a part held in a bath still counts down to its pull."""
    hands = dwelling()
    hands(c.Hold("bolster", "telephone"))
    lane = _lane(hands, MINUTE)
    assert (lane.left, lane.by) == ("in 3:59", "held: telephone")
    late = _lane(hands, 6 * MINUTE)
    assert (late.left, late.level) == ("NOW", Level.NOW)


def test_a_part_sent_back_is_in_its_next_try() -> None:
    """The second pass through a step is try 2."""
    hands = dwelling()
    hands(c.SendBack("bolster", "dip"), MINUTE)
    assert _lane(hands).tries == 2


def test_a_part_between_stations_counts_up() -> None:
    """A part taken out and not loaded counts the time since, and is due."""
    hands = dwelling()
    hands(c.TakeOut("bolster"), MINUTE)
    lane = _lane(hands, 75_000)
    assert (lane.place, lane.left, lane.level) == ("in hand", "waits 1:15", Level.NOW)


def _out(*before: c.Command) -> Hands:
    """The bolster is out of the tank and would go straight into the oil."""
    hands = dwelling(recipe=small_recipe(STRAIGHT_OVER))
    hands.reads = False
    for command in before:
        hands(command)
    hands.now_ms += 5 * MINUTE
    hands(c.TakeOut("bolster"))
    return hands


@pytest.mark.parametrize(
    ("before", "why"),
    [
        ((), "READ OIL first"),
        ((c.CloseStation("oil", "spilled"),), "OIL out of service"),
        ((c.Read("oil", "90 C"),), "READ OIL first"),
    ],
)
def test_a_part_with_no_next_bath_is_in_hand(before: tuple[c.Command, ...], why: str) -> None:
    """A pulled part whose next place is unread, closed or too hot shows where it is."""
    hands = _out(*before)
    assert hands.part().station is None
    lane = _lane(hands, 65_000)
    assert lane.place == "in hand"
    assert why in lane.by
    assert lane.left.startswith("waits 1:0")
    rows = draw(_scene(hands, 65_000), 80, 14).rows
    assert any("in hand" in row.text for row in rows if row.part == lane.number)


def test_a_part_in_hand_shows_how_long_it_may_be_out() -> None:
    """The plan says until when the part's next move keeps every window."""
    hands = _out()
    now_ms, bench = hands.now_ms, hands.state.bench
    run = RunView("r", bench, agenda(bench, now_ms), (), {"bolster": now_ms + 5 * MINUTE})
    (lane,) = make_scene([run], stamp_at(now_ms)).lanes
    assert lane.by.startswith("latest 12:05")
    assert lane.by_short == "latest in 5 min"


def test_a_part_being_worked_on_is_in_no_place() -> None:
    """With its next place open, the part is work in hand."""
    hands = dwelling()
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert _lane(hands).place == ""


def test_parts_not_started_share_a_line() -> None:
    """A part has no lane before its first work or after it is done or scrapped."""
    hands = dwelling(("bolster", "ferrule", "butt cap"))
    hands(c.Scrap("butt cap", "cracked"))
    (group,) = _scene(hands).groups
    assert [lane.name for lane in group.lanes] == ["bolster"]
    assert group.not_begun.startswith("#2 ferrule")
    assert "butt cap" not in group.not_begun


def test_planned_moves_become_work_and_stays() -> None:
    """Planned moves are blocks of your work, with the part in its places between them."""
    hands = dwelling()
    now = hands.now_ms
    moves = (
        MoveAhead("bolster", now + 5 * MINUTE, now + 6 * MINUTE, "rack"),
        MoveAhead("bolster", now + HOUR, now + HOUR + MINUTE, None, is_late=True),
    )
    scene = _scene(hands, moves=moves)
    lane = scene.lanes[0]
    assert [(w.start_ms - now, w.end_ms - now, w.level) for w in lane.works] == [
        (5 * MINUTE, 6 * MINUTE, Level.CALM),
        (HOUR, HOUR + MINUTE, Level.LATE),
    ]
    assert [(s.short, s.end_ms) for s in lane.stays] == [
        ("TANK", now + 5 * MINUTE),
        ("RACK", now + HOUR),
    ]
    rack = next(place for place in scene.places if place.short == "RACK")
    assert [(u.start_ms, u.end_ms, u.full) for u in rack.uses] == [
        (now + 6 * MINUTE, now + HOUR, False)
    ]


def test_a_place_shows_fill_reading_trend_and_next_reading() -> None:
    """A bath has its count, last reading, readings as shares of the range, and the next time."""
    hands = dwelling()
    for reading in ("60 C", "65 C", "70 C"):
        hands(c.Read("tank", reading), MINUTE)
    tank = _tank(hands)
    assert (tank.inside, tank.holds) == (1, 1)
    assert tank.trend[-3:] == pytest.approx((0.0, 0.5, 1.0))
    assert tank.read_ms is not None
    assert [use.full for use in tank.uses] == [True]


def test_an_age_that_is_too_long_is_said_in_hours() -> None:
    """In few columns the age of a reading loses its minutes before it loses its "ago"."""
    hands = dwelling()
    hands(c.Read("tank", "65 C"))
    assert _tank(hands, 72 * MINUTE).age == ("1 h 12 min ago", "2 h ago", "1 h 12 min", "2 h")


@pytest.mark.parametrize(
    ("reading", "level", "limit"),
    [("65 C", Level.CALM, ""), ("75 C", Level.LATE, "max 70"), ("50 C", Level.LATE, "min 60")],
)
def test_a_bath_out_of_range_names_the_limit(reading: str, level: Level, limit: str) -> None:
    """With a part in it, a bath out of range is critical and names the limit it passed."""
    hands = dwelling()
    hands(c.Read("tank", reading))
    tank = _tank(hands)
    assert tank.level is level
    assert tank.limit.strip() == limit


def test_a_drifting_bath_says_when_it_reaches_its_limit() -> None:
    """With a part in it, a climb of 1 C in 5 min shows the limit and the time left."""
    hands = dwelling()
    for reading in ("66 C", "67 C", "68 C"):
        hands(c.Read("tank", reading), 5 * MINUTE)
    tank = _tank(hands)
    assert (tank.limit, tank.limit_left) == ("max 70", "in 11 min")  # the first ones were slower
    assert tank.limit_ms is not None
    assert 10 * MINUTE < tank.limit_ms - hands.now_ms < 12 * MINUTE


def test_a_bath_that_no_part_needs_has_no_limit_ahead() -> None:
    """The drift of a bath that no part needs is left out, since its heat may be off."""
    hands = Hands(("bolster",))
    for reading in ("66 C", "67 C", "68 C"):
        hands(c.Read("tank", reading), 5 * MINUTE)
    hands(c.Scrap("bolster", "cracked"))
    assert (_tank(hands).limit, _tank(hands).limit_ms) == ("", None)


def test_a_place_out_of_service_says_so() -> None:
    """A closed place says so in place of its reading."""
    hands = dwelling()
    hands(c.CloseStation("tank", "it leaks"))
    assert _tank(hands).closed == "OUT"


@given(benches())
@FEW
def test_every_part_is_shown_once(hands: Hands) -> None:
    """Each part still in the run has a lane or is listed as not begun, never both."""
    bench = hands.state.bench
    (group,) = _scene(hands).groups
    lanes = [lane.number for lane in group.lanes]
    waiting = [p.number for p in bench.parts.values() if f"#{p.number} " in f"{group.not_begun} "]
    rest = [p.number for p in bench.parts.values() if not p.is_out and p.number not in lanes]
    assert lanes == sorted(lanes)
    assert set(rest) <= set(waiting)
