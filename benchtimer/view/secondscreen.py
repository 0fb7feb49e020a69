"""What a second screen shows: the most urgent action of all runs, lanes, places, alarms."""

from __future__ import annotations

from benchtimer.bench.moment import Moment
from benchtimer.bench.open_bench import OpenBench
from benchtimer.store.log import Stamp
from benchtimer.values import dataclass
from benchtimer.view.alarm import OVERDUE, Alarm, alarms_at, message_of
from benchtimer.view.board_text import CALM, then_pieces, urgency
from benchtimer.view.picture.scene import Scene
from benchtimer.view.scene_builder import make_scene, run_views
from benchtimer.view.trouble import trouble_lines
from benchtimer.view.words import large_line, then_words, wall_clock, way, work

THEN = 4
"""How many times follow the large action, each with its actions."""

WAITS = "WAIT"
IDLE = "Nothing is on the bench."
NO_DRIVER = "BENCH CLOSED"


@dataclass(frozen=True, slots=True)
class SecondScreen:
    """What a second screen shows at a moment.

    Attributes:
        time: the time of day.
        marks: words that must not be overlooked, such as PRACTICE.
        large: the most urgent action: its verb and part number.
        at: when it is due.
        urgency: its urgency, as on the board.
        details: part, path and work, one line each.
        then: the coming actions in the board's words, one line for each time.
        scene: lanes and places.
        calls: the alarms in one message; empty if there are none.
        level: the worst level; empty if there are no alarms.
        about: the identities of the alarms, to find new ones.
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


def second_screen(watcher: OpenBench, stamp: Stamp) -> SecondScreen:
    """What a second screen shows of a bench at a moment, in agreement with the board."""
    moment = watcher.moment(stamp)
    alarms = alarms_at(moment)
    large, at, level, details = _large(moment)
    return SecondScreen(
        time=wall_clock(stamp),
        marks=_marks(watcher),
        large=large,
        at=at,
        urgency=level,
        details=details,
        then=tuple(then_pieces(moment, moment.actions[1:], moment.first)[:THEN]),
        scene=make_scene(run_views(moment), stamp, trouble_lines(moment), moment.shop.real),
        calls=message_of(alarms),
        level=_worst(alarms),
        about=tuple(sorted(f"{a.run}/{'/'.join(a.about)}/{a.level}" for a in alarms)),
    )


def _large(moment: Moment) -> tuple[str, str, str, tuple[str, ...]]:
    """The most urgent action: words, time, urgency, and more about it."""
    action = moment.first
    if action is None:
        return IDLE, "", CALM, ()
    bench = moment.bench_of(action)
    words, at = large_line(bench, action, moment.stamp)
    part = bench.parts.get(action.part or "")
    then = then_words(bench, action, moment.stamp) if words == WAITS else ""
    name = part.called if part is not None else ""
    lines = (then, name, way(bench, action), work(bench, action))
    shown_lines = tuple(line for line in lines if line)
    return words, at, urgency(action, moment.now_ms), shown_lines


def _marks(watcher: OpenBench) -> tuple[str, ...]:
    practice = f"PRACTICE {watcher.speed:g}x" if watcher.speed != 1 else ""
    return tuple(mark for mark in (practice, "" if watcher.driven else NO_DRIVER) if mark)


def _worst(alarms: list[Alarm]) -> str:
    levels = [alarm.level for alarm in alarms]
    return OVERDUE if OVERDUE in levels else next(iter(levels), "")
