"""The trouble lines of the board: what is wrong, its limit, what to do first; worst first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.bench.moment import Moment
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.readiness import out_of_window
from benchtimer.run.run_state import Bench, Place
from benchtimer.view.bathtrouble import limits_ahead
from benchtimer.view.picture.scene import Level
from benchtimer.view.words import (
    clock_time,
    first_orders,
    late_on_hold,
    left_words,
    remedy,
    short_temperature,
)

MOST = 3
"""More lines than this can't be read at a glance."""

TIGHT_MS = 600_000
"""If two deadlines collide later than this, the plan still has time to separate them."""

Trouble = tuple[Level, str]


def trouble_lines(moment: Moment, probes: Sequence[str] = ()) -> tuple[Trouble, ...]:
    """What is wrong now, worst first, each thing once.

    Args:
        moment: the bench now.
        probes: what you must know about the probes.
    """
    warnings = [*dict.fromkeys(_dangers(moment)), *_tight(moment)]
    warnings += [(Level.LATE, text) for text in moment.advice.warnings]
    warnings += [(Level.NOW, text) for text in dict.fromkeys(_limits_soon(moment))]
    warnings += [(Level.NOW, text) for text in probes]
    return tuple(sorted(warnings, key=lambda line: line[0] is not Level.LATE)[:MOST])


def _dangers(moment: Moment) -> Iterator[Trouble]:
    """Baths out of range, each shared one once, and held parts that are late, in every run."""
    for run in moment.shop.runs:
        bench, firsts = moment.shop.bench(run), moment.shop.firsts(run)
        for name, place in bench.places.items():
            if name in firsts and out_of_window(place) is not None:
                yield _bath_out(bench, name, place)
        for text in late_on_hold(bench, moment.now_ms):
            yield Level.LATE, text


def _bath_out(bench: Bench, name: str, place: Place) -> Trouble:
    """A bath out of range: its reading, the limit it broke, and the first two orders."""
    station, reading = place.station, place.reading
    window = station.temperature
    words = station.short_name or station.title
    inside = bench.occupants(name)
    if reading is not None and window is not None:
        low = reading.verdict == "low"
        limit = short_temperature(str(window.min if low else window.max))
        read = short_temperature(str(reading.quantity))
        words += f" {read}, too {'cool, min' if low else 'hot, max'} {limit}"
    words += f", {', '.join(inside)} in it" if inside else ""
    level = Level.LATE if inside else Level.NOW
    return level, f"{words}. {first_orders(remedy(place))}".strip()


def _tight(moment: Moment) -> Iterator[Trouble]:
    """Two pulls so close together that the first one's move takes the second past its max."""
    pulls = [action for action in moment.actions if _must_leave(action, moment.now_ms)]
    pulls.sort(key=_last_ms)
    for early, late in zip(pulls, pulls[moment.shop.hands :], strict=False):
        if _last_ms(late) - _last_ms(early) >= early.move_s * 1000:
            continue
        first, second = (early, late) if _start_by(early, late) >= _start_by(late, early) else (
            late, early)  # fmt: skip
        spare_ms = _start_by(first, second) - moment.now_ms
        both = ", ".join(
            f"{_number(moment, a)} max {clock_time(_last_ms(a), moment.stamp, seconds=True)}"
            for a in (early, late)
        )
        one, two = _number(moment, first), _number(moment, second)
        if spare_ms > 0:
            order = f"Pull {one} first: {left_words(spare_ms)} to spare"
            yield Level.NOW, f"TIGHT: {both}. {order}."
        else:
            yield Level.LATE, f"TIGHT: {both}. Pull {one} now; {two} goes past max."


def _last_ms(action: Action) -> int:
    """The end of a pull's window."""
    return action.latest_ms or 0


def _start_by(first: Action, second: Action) -> int:
    """When the first of two pulls must begin to leave time for the second."""
    return min(_last_ms(first), _last_ms(second) - first.move_s * 1000)


def _number(moment: Moment, action: Action) -> str:
    return f"#{moment.bench_of(action).parts[action.part or ''].number}"


def _must_leave(action: Action, now_ms: int) -> bool:
    """A pull whose max is near and has not passed."""
    pull = action.kind is ActionKind.BEGIN and action.from_station is not None
    soon = action.latest_ms is not None and now_ms <= action.latest_ms <= now_ms + TIGHT_MS
    return pull and soon and action.part is not None


def _limits_soon(moment: Moment) -> Iterator[str]:
    """Every bath that will soon reach a limit."""
    for run in moment.shop.runs:
        yield from limits_ahead(moment.shop.bench(run), moment.now_ms)
