"""What a second screen shows: the most pressing action of all runs, lanes, places, alarms."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from benchtimer.bench.watcher import Watcher
from benchtimer.run.actions import Action
from benchtimer.run.state import OVER
from benchtimer.store.log import Stamp
from benchtimer.view.alarm import OVERDUE, Alarm, alarms_of, in_order, message_of
from benchtimer.view.board import CALM, urgency
from benchtimer.view.picture.scene import Level, Scene
from benchtimer.view.scene_builder import make_scene
from benchtimer.view.scene_places import RunView
from benchtimer.view.words import (
    baths_out,
    large_line,
    late_on_hold,
    then_words,
    wall_clock,
    way,
    work,
)

THEN = 4
"""How many actions are named after the large one."""

WAITS = "WAIT"
IDLE = "Nothing is on the bench."
NO_DRIVER = "NO ONE DRIVES"


@dataclass(frozen=True, slots=True)
class SecondScreen:
    """What a second screen shows at a moment.

    Attributes:
        time: the time of day.
        marks: words that must not be overlooked, such as PRACTICE.
        large: the most pressing action: its verb and part number.
        at: when it is due.
        urgency: how pressing it is, as the board has it.
        details: part, way and work, a line each.
        then: what comes after it, a line each.
        scene: lanes and places.
        calls: what calls, one message; empty if nothing does.
        level: the worst of it; empty if nothing calls.
        about: what calls, to know whether it is news.
    """

    time: str
    marks: tuple[str, ...]
    large: str
    at: str
    urgency: str
    details: tuple[str, ...]
    then: tuple[str, ...]
    scene: Scene
    calls: str
    level: str
    about: tuple[str, ...]


def second_screen(watcher: Watcher, stamp: Stamp) -> SecondScreen:
    """What a second screen shows of a bench at a moment."""
    runs = list(_runs(watcher, stamp))
    ranked = sorted(
        ((run, action) for run in runs for action in run.actions),
        key=lambda pair: _rank(pair[1], stamp.noted_ms),
    )
    alarms = in_order(
        alarm
        for run in runs
        for alarm in alarms_of(run.name, run.bench, stamp.noted_ms, run.actions)
    )
    large, at, level, details = _large(ranked[0], stamp) if ranked else (IDLE, "", CALM, ())
    behind = ranked[0 if large == WAITS else 1 :][:THEN]  # a wait is named there
    return SecondScreen(
        time=wall_clock(stamp),
        marks=_marks(watcher),
        large=large,
        at=at,
        urgency=level,
        details=details,
        then=tuple(then_words(run.bench, action, stamp) for run, action in behind),
        scene=make_scene(runs, stamp, tuple(_trouble(runs, stamp))),
        calls=message_of(alarms),
        level=_worst(alarms),
        about=tuple(sorted(f"{a.run}/{'/'.join(a.about)}/{a.level}" for a in alarms)),
    )


def _runs(watcher: Watcher, stamp: Stamp) -> Iterator[RunView]:
    for name in watcher.names:
        bench = watcher.state(name).bench
        if bench.phase not in OVER:
            advice = watcher.plans.of(name)
            actions = watcher.agenda(name, stamp)
            moves, put_off = advice.moves_of(bench), advice.put_off_until(bench)
            yield RunView(name, bench, actions, moves, put_off)


def _rank(action: Action, now_ms: int) -> tuple[bool, bool, int]:
    """Late work first, then what is due, each in order of time."""
    late = action.is_late(now_ms)
    ends_ms = action.latest_ms if late and action.latest_ms is not None else action.due_ms
    return not late, not action.is_due(now_ms), ends_ms


def _large(pair: tuple[RunView, Action], stamp: Stamp) -> tuple[str, str, str, tuple[str, ...]]:
    run, action = pair
    words, at = large_line(run.bench, action, stamp)
    part = run.bench.parts.get(action.part or "")
    lines = (
        part.called if part is not None else "",
        way(run.bench, action),
        work(run.bench, action),
    )
    return words, at, urgency(action, stamp.noted_ms), tuple(line for line in lines if line)


def _trouble(runs: list[RunView], stamp: Stamp) -> Iterator[tuple[Level, str]]:
    for run in runs:
        for text in (*late_on_hold(run.bench, stamp.noted_ms), *baths_out(run.bench)):
            yield Level.LATE, text


def _marks(watcher: Watcher) -> tuple[str, ...]:
    practice = f"PRACTICE {watcher.speed:g}x" if watcher.speed != 1 else ""
    return tuple(mark for mark in (practice, "" if watcher.driven else NO_DRIVER) if mark)


def _worst(alarms: list[Alarm]) -> str:
    levels = [alarm.level for alarm in alarms]
    return OVERDUE if OVERDUE in levels else next(iter(levels), "")
