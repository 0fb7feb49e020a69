"""The drawn board: each mark is at its time, and what needs you is always shown."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.times import DAYS
from benchtimer.view.picture.axis import (
    LABEL_COLUMNS,
    STEPS_S,
    TICKS,
    Axis,
    Demand,
    axis_row,
    make_axis,
)
from benchtimer.view.picture.lane_rows import (
    MAX,
    PULL,
    READ,
    THICK,
    THIN,
    lane_columns,
    way_row,
    window_row,
)
from benchtimer.view.picture.place_rows import hands_row, pips, trend
from benchtimer.view.picture.scene import (
    DwellTimes,
    HandsWork,
    LaneView,
    Level,
    PlaceView,
    RunLanes,
    Scene,
    Stay,
)
from benchtimer.view.picture.sheet import draw
from tests.view.picture_drawings import FOLDER, drawn
from tests.view.scenes_drawn import NOW_MS, SCENES, at, salts_busy, trouble

WALL = datetime(2026, 12, 5, 18, 32, 6, tzinfo=UTC)
seconds = st.integers(-7200, 50_000)


@st.composite
def lanes(draw_from: st.DrawFn, number: int = 1) -> LaneView:
    """A part in a dwell, with its window and its pull around now."""
    in_s = draw_from(st.integers(-7200, 0))
    least = draw_from(st.integers(0, 9000))
    target = least + draw_from(st.integers(0, 9000))
    most = draw_from(st.none() | st.integers(0, 9000).map(lambda room: target + room))
    window = DwellTimes(
        at(in_s), at(in_s + least), at(in_s + target), None if most is None else at(in_s + most)
    )
    return LaneView(
        number,
        draw_from(st.sampled_from(["bolster", "butt cap", "漆鍔", "a very long name of a part"])),
        draw_from(st.sampled_from(["SALTS", "CLEANER", "OIL"])),
        "PULL",
        "1:50",
        "by 18:41, 9:20 left",
        "9:20 left",
        draw_from(st.sampled_from(Level)),
        window=window,
        pull_ms=draw_from(st.none() | st.integers(0, 9000).map(at)),
    )


@st.composite
def scenes(draw_from: st.DrawFn) -> Scene:
    """Up to twelve parts in one or two runs."""
    count = draw_from(st.integers(0, 12))
    parts = [draw_from(lanes(number)) for number in range(1, count + 1)]
    cut = draw_from(st.integers(0, count))
    groups = tuple(
        RunLanes(f"run {n}", tuple(some), draw_from(st.sampled_from([(), (("#13 guard", ""),)])))
        for n, some in enumerate((parts[:cut], parts[cut:]))
        if some
    )
    places = tuple(
        PlaceView(
            f"TANK {n}", draw_from(st.integers(0, 3)), 3, level=draw_from(st.sampled_from(Level))
        )
        for n in range(draw_from(st.integers(0, 5)))
    )
    return Scene(NOW_MS, WALL, groups, (), places, draw_from(st.sampled_from(["", "RACK 6"])))


def axis_of(columns: int = 50, step_s: int = 30) -> Axis:
    """An axis that begins at column 30."""
    return Axis(30, columns, step_s, NOW_MS, WALL, columns // 5)


@given(st.integers(20, 160), st.sampled_from(STEPS_S), seconds)
def test_equal_distances_are_equal_times(columns: int, step_s: int, after_s: int) -> None:
    """One step later is one column to the right, anywhere on the axis."""
    axis = axis_of(columns, step_s)
    assert axis.column(at(after_s + step_s)) == axis.column(at(after_s)) + 1
    assert axis.column(NOW_MS) == axis.now


@given(st.sampled_from(STEPS_S), st.integers(0, 3600), st.integers(-3000, 3000))
def test_all_marks_move_together(step_s: int, later_s: int, mark_s: int) -> None:
    """As time passes, two marks keep their distance in columns."""
    early = axis_of(step_s=step_s)
    late = replace(
        early, now_ms=at(later_s), wall=datetime.fromtimestamp(WALL.timestamp() + later_s, UTC)
    )
    shifts = {late.column(at(s)) - early.column(at(s)) for s in (mark_s, 0, 777)}
    assert len(shifts) == 1


@given(
    st.lists(st.integers(0, 3599), max_size=6),
    st.lists(st.integers(0, 3599), min_size=1, max_size=6),
)
def test_every_window_that_closes_within_the_hour_is_on_the_axis(
    pulls: list[int], walls: list[int]
) -> None:
    """The axis is coarse enough to show the next pulls and ends of windows."""
    demand = Demand([at(s) for s in pulls], [at(s) for s in walls])
    axis = make_axis(30, 50, NOW_MS, WALL, demand)
    assert not axis.is_hours
    assert all(axis.column(at(s)) < axis.right for s in (*pulls, *walls))


@given(st.integers(40, 160), st.sampled_from([s for s in STEPS_S if s > 120]), seconds)
def test_times_of_day_run_from_end_to_end(columns: int, step_s: int, later_s: int) -> None:
    """Each full hour that is due a label and has room gets one."""
    wall = datetime.fromtimestamp(WALL.timestamp() + later_s, UTC)
    axis = replace(axis_of(columns, step_s), now_ms=at(later_s), wall=wall)
    row = axis_row(axis, axis.right).text
    minutes = next(t for t in TICKS if t * 60 >= step_s * LABEL_COLUMNS)
    midnight = wall.replace(hour=0, minute=0, second=0)
    for k in range(-240, 480, max(1, minutes // 60)):
        then = midnight + timedelta(hours=k)
        column = axis.column(axis.now_ms + round((then - wall).total_seconds() * 1000))
        if axis.left + 4 < column < axis.right - 4 and abs(column - axis.now) > 6:
            label = DAYS[then.weekday()] if then.hour == 0 else f"{then:%H:%M}"
            assert row[column - len(label) // 2 :].startswith(label)


def test_two_moves_that_are_close_get_two_columns() -> None:
    """Two moves in the next ten minutes get two columns if a finer axis separates them."""
    starts = [at(100), at(125)]
    axis = make_axis(30, 50, NOW_MS, WALL, Demand([at(100)], [at(900)], starts))
    assert axis.column(starts[1]) - axis.column(starts[0]) >= 2


def test_the_axis_keeps_its_step_while_possible() -> None:
    """A coarser step stays on the screen while it still works, to keep the picture calm."""
    demand = Demand([at(100)], [at(500)])
    free = make_axis(30, 50, NOW_MS, WALL, demand)
    kept = make_axis(30, 50, NOW_MS, WALL, demand, held_s=30)
    assert (free.step_s, kept.step_s) == (20, 30)


@given(lanes())
def test_a_window_is_drawn_at_its_time(lane: LaneView) -> None:
    """Nothing thick is drawn before min or after max, and the window's end is at max."""
    axis = axis_of()
    text = window_row(axis, replace(lane, name="x"), lane_columns(80, 9), 80, by=False).text
    window = lane.window
    assert window is not None
    for column in range(axis.left, axis.right):
        if text[column] in (THICK, "┿"):
            assert column >= axis.column(window.min_ms)
            assert window.max_ms is None or column <= axis.column(window.max_ms)
        if text[column] in (THIN, "┼"):
            assert axis.column(window.in_ms) <= column <= axis.column(window.min_ms, up=True)
        if text[column] == MAX:
            assert window.max_ms is not None
            assert column == axis.column(window.max_ms)


@given(lanes(), st.lists(st.tuples(st.integers(0, 900), st.integers(0, 300)), max_size=4))
def test_a_place_name_is_drawn_whole_or_not_at_all(
    lane: LaneView, moves: list[tuple[int, int]]
) -> None:
    """Work that covers the start of BOIL leaves no OIL, which is another place."""
    axis = axis_of()
    ends = list(accumulate(dwell for dwell, _ in moves))
    begins = [0, *ends]
    stays = tuple(
        Stay(at(start), at(end), short)
        for start, end, short in zip(begins, ends, ("BOIL", "OIL", "SINK-2", "RACK"), strict=False)
    )
    works = tuple(
        HandsWork(at(start), at(start + work), "1")
        for start, (_, work) in zip(begins, moves, strict=False)
    )
    alone = replace(lane, name="", stays=stays, works=works)
    text = way_row(axis, alone, lane_columns(80, 9), 80).text[axis.left : axis.right]
    assert set(re.findall(r"[A-Z][A-Z0-9-]*", text)) <= {"BOIL", "OIL", "SINK-2", "RACK"}
    if "OIL" in re.findall(r"[A-Z][A-Z0-9-]*", text):
        assert "OIL" in {stay.short for stay in stays}


@given(lanes())
def test_a_pull_is_never_hidden(lane: LaneView) -> None:
    """The planned pull covers every other mark in its column."""
    axis = axis_of()
    text = window_row(axis, replace(lane, name="x"), lane_columns(80, 9), 80, by=False).text
    if lane.pull_ms is not None and axis.is_inside(axis.column(lane.pull_ms)):
        assert text[axis.column(lane.pull_ms)] == PULL


@given(scenes(), st.sampled_from([60, 80, 120, 200]), st.integers(4, 60))
def test_rows_that_need_you_stay(scene: Scene, width: int, height: int) -> None:
    """Rows fit the screen, and what needs you is drawn while there is a row for it."""
    sheet = draw(scene, width, height)
    assert len(sheet.rows) <= height
    assert all(cell_len(row.text) == width for row in sheet.rows)
    flagged = [lane for lane in scene.lanes if lane.level is not Level.CALM]
    pressing = [place for place in scene.places if place.level is not Level.CALM]
    texts = [row.text for row in sheet.rows]
    if 3 + len(flagged) + len(pressing) <= height:
        for lane in flagged:
            assert any(row.part == lane.number for row in sheet.rows)
        for place in pressing:
            assert any(text[1:].startswith(place.short) for text in texts)
        assert any("HANDS" in text for text in texts)
    named = {row.part for row in sheet.rows} | {
        int(word[1:])
        for text in texts
        if " also:" in text
        for word in text.replace(",", " ").split()
        if word[1:].isdigit()
    }
    if height >= 4 + len(flagged) + len(pressing) and width >= 120:
        assert {lane.number for lane in scene.lanes} <= named


@given(scenes(), st.sampled_from([60, 80, 120, 200]), st.integers(4, 60))
def test_a_place_in_use_comes_before_blank_rows(scene: Scene, width: int, height: int) -> None:
    """While a place with a part in it has no row, no row is blank or names empty places."""
    texts = [row.text for row in draw(scene, width, height).rows]
    hidden = [p for p in scene.places if p.inside and not any(p.short in text for text in texts)]
    if hidden:
        assert len(texts) == height
        assert all(text.strip() and " empty:" not in text for text in texts)


@given(scenes(), st.sampled_from([60, 80, 120]))
def test_lanes_keep_their_order(scene: Scene, width: int) -> None:
    """A lane keeps its place at any urgency."""
    numbers = [row.part for row in draw(scene, width, 40).rows if row.part is not None]
    assert numbers == sorted(numbers)


@pytest.mark.parametrize("name", SCENES)
def test_the_drawings_match_the_saved_ones(name: str) -> None:
    """Each scene matches its checked drawing."""
    assert drawn(name) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def test_now_keeps_its_column() -> None:
    """The now line has the same column in every row and at every moment."""
    columns = set()
    for scene in (salts_busy(), trouble()):
        sheet = draw(scene, 120, 30)
        columns.add(sheet.axis.now)
        label = next(row.text for row in sheet.rows if "now" in row.text and "minutes" in row.text)
        assert label.rindex(" now ") + 2 == sheet.axis.now
    assert len(columns) == 1


def test_days_are_named_at_midnight() -> None:
    """An axis of hours names each day where it begins."""
    axis = make_axis(
        30, 90, NOW_MS, datetime(2026, 12, 5, 22, 10, tzinfo=UTC), Demand([at(32_000)])
    )
    row = axis_row(axis, 120).text
    assert row.index("Sun") + 1 == axis.column(at(110 * 60))


def test_fill_marks_and_trend_are_drawn() -> None:
    """Slots are pips, or figures when there are many; readings out of range point outward."""
    assert pips(PlaceView("SALTS", 1, 2)) == "●○"
    assert pips(PlaceView("RACK", 3, 12)) == "3/12"
    assert trend((0.0, 0.5, 1.0, 1.2, -0.1), 8) == "▁▅█▲▼"
    assert trend((0.0, 0.5), 1) == "▅"


@pytest.mark.parametrize(
    ("works", "drawn"),
    [
        ((HandsWork(at(60), at(70), "1"), HandsWork(at(70), at(80), "3")), "1█"),
        ((HandsWork(at(60), at(90), "1"), HandsWork(at(90), at(110), "3")), "1██3█"),
        ((HandsWork(at(60), at(70), "13"), HandsWork(at(70), at(110), "2")), "13███"),
        ((HandsWork(at(60), at(70), "4"), HandsWork(at(70), at(80), "R")), "4█"),
    ],
)
def test_two_part_numbers_never_read_as_one(works: tuple[HandsWork, ...], drawn: str) -> None:
    """Part 1 and then part 3, one column each, do not read as 13."""
    axis = Axis(20, 55, 10, NOW_MS, WALL, 11)
    assert drawn in hands_row(axis, works, 80).text.replace(" ", "")
    assert "13" not in hands_row(axis, works, 80).text or works[0].label == "13"


def in_a_row(*works: tuple[int, int, str]) -> str:
    """Hands busy with one task after another: start and end in columns of 10 s, and a label."""
    axis = Axis(20, 55, 10, NOW_MS, WALL, 11)
    drawn_for = tuple(HandsWork(at(10 * a), at(10 * b), label) for a, b, label in works)
    return hands_row(axis, drawn_for, 80).text[20 + 11 :]


@pytest.mark.parametrize(
    ("works", "drawn"),
    [
        (((5, 6, "1"), (6, 8, "1"), (8, 9, "1")), "1███ "),
        (
            ((5, 6, "1"), (6, 7, "2"), (7, 8, "1"), (8, 9, "3"), (9, 11, "1"), (11, 12, "2")),
            "1██3██2 ",
        ),
        (((5, 6, "2"), (7, 9, "3"), (10, 12, "2")), "2████2█ "),
        (((5, 6, "2"), (8, 9, "3")), "2  3"),
        (((5, 6, "13"), (9, 10, "2")), "13  2"),
        (((5, 7, "13"), (6, 7, "2")), "13 "),
    ],
)
def test_a_session_is_one_block_and_numbers_stay_separate(
    works: tuple[tuple[int, int, str], ...], drawn: str
) -> None:
    """Moves with at most a column between them are one block, and no two numbers touch."""
    assert in_a_row(*works)[5:].startswith(drawn)


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(1, 4), st.integers(1, 24)), max_size=12))
def test_a_number_in_the_hands_lane_belongs_to_a_move_there(
    moves: list[tuple[int, int, int]],
) -> None:
    """Each number in your hands belongs to a part that they hold in that column."""
    works, column = [], 1
    for gap, columns, number in moves:
        works.append((column + gap, column + gap + columns, str(number)))
        column += gap + columns
    row = in_a_row(*works)
    for found in re.finditer(r"\d+", row):
        assert any(label == found[0] and start == found.start() for start, _, label in works)


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("left", ["in 10:00", "READ OIL", "DO 2nd"])
def test_a_lane_has_room_for_its_place_and_its_next_action(left: str, width: int) -> None:
    """The place and what comes next are whole at every width."""
    lane = replace(salts_busy().lanes[0], place="CLEANER", left=left)
    columns = lane_columns(width, 9)
    axis = replace(axis_of(), left=columns.width)
    text = window_row(axis, lane, columns, width, by=False).text[: columns.width]
    assert text.split("CLEANER")[1].strip() == left


@given(st.sampled_from(sorted(SCENES)), st.sampled_from([(60, 12), (80, 14), (80, 24), (120, 26)]))
def test_nothing_touches_the_right_edge(name: str, size: tuple[int, int]) -> None:
    """The last column of every row is empty."""
    assert all(row.text[-1:] in (" ", "") for row in draw(SCENES[name](), *size).rows)


def test_a_reading_beside_a_pull_does_not_shrink_the_axis() -> None:
    """A reading right before a pull does not refine the axis, since it takes only seconds."""
    scene = salts_busy()
    beside = (HandsWork(at(95), at(110), READ), *scene.hands)
    assert draw(replace(scene, hands=beside), 80, 14).axis == draw(scene, 80, 14).axis


def test_more_moves_than_columns_stay_on_the_axis() -> None:
    """A number at the edge of the axis does not run into the times at its right."""
    axis = Axis(20, 30, 10, NOW_MS, WALL, 6)
    works = (HandsWork(at(230), at(240), "13"),)
    assert hands_row(axis, works, 80).text[axis.right :].strip() == ""


@pytest.mark.parametrize(
    ("width", "words"),
    [(60, "291 F 6 min "), (80, "291 F 6 min ago "), (120, "291 F 6 min ago ")],
)
def test_a_reading_has_its_age(width: int, words: str) -> None:
    """The age of the last reading is next to it, left of now, and limits are at every width."""
    scene = salts_busy()
    sheet = draw(scene, width, 24)
    row = next(row.text for row in sheet.rows if row.text.startswith(" SALTS"))
    assert words in row[: sheet.axis.now]
    assert ("285-295 F" in row) is (width == 120)  # at its limit there is no room for both
    cleaner = next(r.text for r in sheet.rows if r.text.startswith(" CLEANER"))
    assert "180-200 F" in cleaner
    closed = replace(scene, places=(replace(scene.places[0], closed="HEATING"),))
    assert not any("min ago" in row.text for row in draw(closed, width, 24).rows)


def test_a_part_not_begun_has_its_own_words() -> None:
    """Each part not begun says itself whether it starts now, later, or waits."""
    waiting = (("#2 a", "START NOW"), ("#3 b", "START at 18:40"), ("#4 c", "waits"))
    group = replace(salts_busy().groups[0], waiting=waiting)
    scene = replace(salts_busy(), groups=(group,))
    rows = [row.text for row in draw(scene, 80, 24).rows]
    assert any("not started: #2 a START NOW, #3 b START at 18:40, #4 c waits" in r for r in rows)
