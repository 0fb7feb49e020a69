"""The whole picture: how many rows each piece gets, and what is dropped when rows run out.

Dropped in this order: the blank row after each lane, the line of empty places, the second row of
each lane, places that hold nothing and were neither heated nor read, calm places, the titles of
runs, the lines of parts not begun, and calm lanes with the latest pulls, which share one line. The
axis, the lanes that need you, your hands and places in trouble always stay.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from benchtimer.values import dataclass, replace
from benchtimer.view.picture.axis import Axis, Demand, axis_row, make_axis
from benchtimer.view.picture.cells import PictureRow, words_row
from benchtimer.view.picture.lane_rows import (
    BY_COLUMNS,
    INKS,
    MARGIN,
    READ,
    lane_columns,
    name_row,
    way_row,
    window_row,
)
from benchtimer.view.picture.place_rows import hands_row, place_row
from benchtimer.view.picture.scene import LaneView, Level, PlaceView, RunLanes, Scene
from benchtimer.view.picture.side_columns import side_columns
from benchtimer.view.text import clip, wrapped

FAR_MS = 10**15

WIDE = 80
"""On a narrower screen each lane has one row."""

LOW_LINES = 2
"""Rows of a line of trouble on such a screen."""


@dataclass(frozen=True, slots=True)
class PictureSheet:
    """The finished picture.

    Attributes:
        rows: its rows.
        axis: the axis it was drawn on.
    """

    rows: tuple[PictureRow, ...]
    axis: Axis


@dataclass(frozen=True, slots=True)
class _Shares:
    """The pieces to draw."""

    gaps: bool = True
    empty: bool = True
    ways: bool = True
    places: int = 2
    titles: bool = True
    waiting: bool = True
    lanes: int = 10**6

    def counted(self, scene: Scene, width: int) -> int:
        """The number of rows they take."""
        lanes = min(self.lanes, len(scene.lanes))
        folded = lanes < len(scene.lanes)
        rows = 2 + len(_trouble_rows(scene, width)) + lanes * (1 + self.ways + self.gaps) + folded
        rows += len(_places(scene, self.places)) + (self.empty and bool(scene.empty))
        rows += self.titles * _titles(scene)
        return rows + self.waiting * sum(bool(group.not_begun) for group in scene.groups)


def _trouble_rows(scene: Scene, width: int) -> list[PictureRow]:
    """The lines of trouble, each with the rows it needs, or two if rows are few."""
    rows = []
    for level, text in scene.trouble:
        lines = wrapped(text, width - 4)
        if width < WIDE and len(lines) > LOW_LINES:
            lines = [*lines[: LOW_LINES - 1], clip(" ".join(lines[LOW_LINES - 1 :]), width - 4)]
        marks = [level.trouble_mark, *["  "] * (len(lines) - 1)]
        rows += [
            words_row(f"{mark} {line}", width, INKS[level])
            for mark, line in zip(marks, lines, strict=True)
        ]
    return rows


def _titles(scene: Scene) -> int:
    return len(scene.groups) if len(scene.groups) > 1 else 0


def _places(scene: Scene, share: int) -> list[PlaceView]:
    """The places to draw: all, those with a part, a heat or a reading, or those in trouble."""
    if share == 2:
        return list(scene.places)
    if share == 1:
        return [
            p
            for p in scene.places
            if p.inside or p.closed or p.reading or p.level is not Level.CALM
        ]
    return [p for p in scene.places if p.level is not Level.CALM]


def _in_room(scene: Scene, share: int, room: int) -> list[PlaceView]:
    """The places of a share, and as many more in use as there are rows, the next read first."""
    shown = _places(scene, share)
    used = [place for place in _places(scene, 1) if place not in shown]
    used.sort(key=lambda place: place.read_ms if place.read_ms is not None else FAR_MS)
    shown += used[: max(0, room - len(shown))]
    return [place for place in scene.places if place in shown]


def draw(scene: Scene, width: int, height: int, held_s: int = 0) -> PictureSheet:
    """The picture in this many columns and rows.

    Args:
        scene: the content.
        width: columns.
        height: rows.
        held_s: the axis step in use, kept if it still works; see ``make_axis``.
    """
    shares = _shared_out(scene, width, height)
    highest = max((lane.number for lane in scene.lanes), default=1)
    columns = lane_columns(width, highest)
    by_right = BY_COLUMNS if not shares.ways else MARGIN
    axis = make_axis(
        columns.width, width - columns.width - by_right, scene.now_ms, scene.wall,
        _demand(scene), held_s,
    )  # fmt: skip
    rows = _trouble_rows(scene, width)
    rows.append(axis_row(axis, width))
    kept = _kept_lanes(scene, shares.lanes)
    for group in scene.groups:
        if shares.titles and _titles(scene):
            rows.append(name_row(group.title, width))
        for lane in group.lanes:
            if lane.number not in kept:
                continue
            rows.append(window_row(axis, lane, columns, width, by=not shares.ways))
            if shares.ways:
                rows.append(way_row(axis, lane, columns, width))
            if shares.gaps:
                rows.append(words_row("", width))
        if shares.waiting and group.not_begun:
            rows.append(words_row(f" not started: {_waiting(group, width - 15)}", width))
    if len(kept) < len(scene.lanes):
        rows.append(words_row(f" also: {_folded(scene, kept, width - 8)}", width))
    rows.append(hands_row(axis, scene.hands, width))
    places = _in_room(scene, shares.places, height - len(rows))
    rows += [place_row(axis, place, width) for place in places]
    if shares.empty and scene.empty and len(rows) < height:
        rows.append(words_row(f" empty: {scene.empty}", width))
    rows += side_columns(scene.work, scene.entries, width, height - len(rows))
    return PictureSheet(tuple(rows[:height]), axis)


def _shared_out(scene: Scene, width: int, height: int) -> _Shares:
    """Drop one piece after another until the rest fits."""
    shares = _Shares(ways=width >= WIDE)
    steps: Sequence[dict[str, bool | int]] = (
        {"gaps": False}, {"empty": False}, {"ways": False}, {"places": 1}, {"places": 0},
        {"titles": False}, {"waiting": False},
    )  # fmt: skip
    for step in steps:
        if shares.counted(scene, width) <= height:
            return _given_back(shares, scene, width, height)
        shares = replace(shares, **step)  # type: ignore[arg-type]
    over = shares.counted(scene, width) - height
    if over > 0:
        flagged = sum(lane.level is not Level.CALM for lane in scene.lanes)
        shares = replace(shares, lanes=max(flagged, len(scene.lanes) - over - 1))
    return shares


def _given_back(shares: _Shares, scene: Scene, width: int, height: int) -> _Shares:
    """Restore a dropped piece if a later one made room for it."""
    wanted: Sequence[dict[str, bool | int]] = (
        {"ways": width >= WIDE}, {"places": 1}, {"places": 2}, {"empty": True}, {"gaps": True},
    )  # fmt: skip
    for more in wanted:
        if shares.places < 2 and ("empty" in more or "gaps" in more):
            continue  # a place in use comes first
        richer = replace(shares, **more)  # type: ignore[arg-type]
        if richer.counted(scene, width) <= height and richer.places >= shares.places:
            shares = richer
    return shares


def _kept_lanes(scene: Scene, count: int) -> set[int]:
    """The lanes that stay: those that need you, then those with the earliest pulls."""
    order = sorted(scene.lanes, key=_pressing)
    return {lane.number for lane in order[:count]}


def _pressing(lane: LaneView) -> tuple[int, int, int]:
    rank = {Level.LATE: 0, Level.NOW: 1, Level.CALM: 2}[lane.level]
    return rank, lane.pull_ms if lane.pull_ms is not None else FAR_MS, lane.number


def _folded(scene: Scene, kept: set[int], room: int) -> str:
    """Lanes without rows in one line, the earliest first; in a narrow room without their places."""
    rest = sorted((lane for lane in scene.lanes if lane.number not in kept), key=_pressing)
    whole = [f"#{lane.number} {lane.place} {lane.left}".rstrip() for lane in rest]
    short = [f"#{lane.number} {lane.left}".rstrip() for lane in rest]
    return _fitting(whole, short, room)


def _waiting(group: RunLanes, room: int) -> str:
    """Parts not begun, by number; in a narrow room without their names."""
    numbers = [f"{label.split()[0]} {when}".rstrip() for label, when in group.waiting]
    if cell_len(group.not_begun) <= room:
        return group.not_begun
    return _fitting(numbers, numbers, room)


def _fitting(whole: Sequence[str], short: Sequence[str], room: int) -> str:
    """All pieces if they fit, else short ones, and the number of those that don't fit."""
    for pieces in (whole, short):
        if cell_len(text := ", ".join(pieces)) <= room:
            return text
    for count in range(len(short) - 1, 0, -1):
        text = ", ".join(short[:count]) + f" and {len(short) - count} more"
        if cell_len(text) <= room:
            return text
    return f"{len(short)} parts"


def _demand(scene: Scene) -> Demand:
    lanes = scene.lanes
    return Demand(
        pulls_ms=[lane.pull_ms for lane in lanes if lane.pull_ms is not None],
        walls_ms=[
            lane.window.max_ms
            for lane in lanes
            if lane.window is not None and lane.window.max_ms is not None
        ],
        starts_ms=[work.start_ms for work in scene.hands if work.label != READ],
    )
