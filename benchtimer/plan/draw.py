"""A plan as lines of text: a lane for each part, one for the hands, and the load of each station.

Every column covers the same length of time. Nothing is shown by color alone; with ``plain`` only
ASCII is used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil

from benchtimer.plan.outcome import Plan, PlannedDwell, PlannedMove
from benchtimer.plan.problem import Problem
from benchtimer.times import rough_duration
from benchtimer.values import dataclass

LABEL_MOST = 18
DAY_S = 86_400
LEAST_WIDTH = 40
GAP = "   "
STEPS_S = (60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, DAY_S)


@dataclass(frozen=True, slots=True)
class Marks:
    """The symbols of a drawing."""

    work: str
    dwell: str
    late: str
    idle: str
    away: str
    tick: str


FINE = Marks("█", "─", "!", "·", "░", "╷")
PLAIN = Marks("#", "-", "!", ".", "/", "|")


@dataclass(frozen=True, slots=True)
class Scale:
    """Which column covers which time, in seconds."""

    from_s: int
    to_s: int
    columns: int

    def column(self, time_s: float) -> int:
        """The column of a time; times outside are placed on the edge."""
        span = self.to_s - self.from_s
        return min(self.columns - 1, max(0, int((time_s - self.from_s) * self.columns / span)))

    def span_s(self, column: int) -> tuple[float, float]:
        """When a column begins and ends."""
        wide_s = (self.to_s - self.from_s) / self.columns
        return self.from_s + column * wide_s, self.from_s + (column + 1) * wide_s


def draw_plan(
    problem: Problem,
    plan: Plan,
    width: int = 100,
    *,
    plain: bool = False,
    say: Callable[[int], str] = rough_duration,
) -> list[str]:
    """The drawing, with no line longer than ``width`` (at least 40). ``say`` writes a time.

    Args:
        problem: the planned problem.
        plan: its plan.
        width: columns.
        plain: ASCII only.
        say: writes a time, in seconds.
    """
    if plan.end_s is None:
        return ["no moves left"]
    marks = PLAIN if plain else FINE
    names = [part.name for part in problem.parts]
    loads = [f"{s.name} /{s.holds}" for s in problem.stations]
    label = min(LABEL_MOST, max(len(text) for text in ("hands", *names, *loads)))
    scale = scale_of(problem, plan, max(LEAST_WIDTH, width) - label - 1)
    lines = [" " * (label + 1) + line for line in axis(scale, say, marks)]
    lines += [_label(name, label) + lane(plan, name, scale, marks) for name in names]
    for pair in range(problem.hands):
        title = "hands" if problem.hands == 1 else f"hands {pair + 1}"
        lines.append(_label(title, label) + hands_lane(problem, plan, pair, scale, marks))
    for station, title in zip(problem.stations, loads, strict=True):
        lines.append(_label(title, label) + load_lane(problem, plan, station.name, scale, marks))
    lines += packed(legend(marks, problem, plan).split(GAP), max(LEAST_WIDTH, width))
    return [line.rstrip()[: max(LEAST_WIDTH, width)] for line in lines]


def _label(text: str, width: int) -> str:
    return text[:width].ljust(width) + " "


def scale_of(problem: Problem, plan: Plan, columns: int) -> Scale:
    """From now, or the earliest stay, to the end of the last move.

    Args:
        problem: the planned problem.
        plan: its plan.
        columns: columns of the time axis.
    """
    begin = min([problem.now_s, *(dwell.in_s for dwell in plan.dwells)])
    return Scale(begin, max(plan.end_s or 0, begin + 1), max(1, columns))


def axis(scale: Scale, say: Callable[[int], str], marks: Marks, zero_s: int = 0) -> tuple[str, str]:
    """Times above their ticks, as many as fit without touching.

    Args:
        scale: the time of each column.
        say: writes a time.
        marks: the symbols.
        zero_s: the plan's zero in clock time, in seconds, for ticks at round times.
    """
    span = scale.to_s - scale.from_s
    room = max(len(say(scale.from_s)), len(say(scale.to_s))) + 3
    min_s = room * span / scale.columns
    step = next((s for s in STEPS_S if s >= min_s), DAY_S * ceil(min_s / DAY_S))
    words, ticks = [" "] * scale.columns, [" "] * scale.columns
    time_s = -(-(scale.from_s + zero_s) // step) * step - zero_s
    while time_s <= scale.to_s:
        at = scale.column(time_s)
        text = say(time_s)
        if at + len(text) <= scale.columns:
            words[at : at + len(text)] = text
            ticks[at] = marks.tick
        time_s += step
    return "".join(words), "".join(ticks)


def lane(plan: Plan, name: str, scale: Scale, marks: Marks) -> str:
    """One part: dwells with the station's name where it fits, moves on top.

    Args:
        plan: the plan.
        name: the part.
        scale: the time axis.
        marks: the symbols.
    """
    cells = [" "] * scale.columns
    for dwell in plan.dwells:
        if dwell.part == name:
            _put_dwell(cells, dwell, scale, marks)
    _put_moves(cells, [m for m in plan.moves if m.part == name], scale, marks)
    return "".join(cells)


def _put_dwell(cells: list[str], dwell: PlannedDwell, scale: Scale, marks: Marks) -> None:
    first, last = _put(cells, scale, dwell.in_s, dwell.out_s, marks.dwell)
    if dwell.overrun_s:
        _put(cells, scale, dwell.out_s - dwell.overrun_s, dwell.out_s, marks.late)
    text = dwell.station.upper()
    if len(text) <= last - first - 2:  # print a name in full or not at all: "SAL" is not a place
        cells[first + 2 : first + 2 + len(text)] = text


def _put_moves(cells: list[str], moves: list[PlannedMove], scale: Scale, marks: Marks) -> None:
    for move in moves:
        _put(cells, scale, move.start_s, max(move.start_s, move.end_s - 1), marks.work)


def _put(cells: list[str], scale: Scale, from_s: int, to_s: int, mark: str) -> tuple[int, int]:
    """Draw a span; returns its first and its last column."""
    first, last = scale.column(from_s), scale.column(to_s)
    cells[first : last + 1] = mark * (last + 1 - first)
    return first, last


def hands_lane(problem: Problem, plan: Plan, pair: int, scale: Scale, marks: Marks) -> str:
    """One pair of hands: its moves, and the hours when you are away.

    Args:
        problem: the planned problem.
        plan: its plan.
        pair: the number of the pair of hands.
        scale: the time axis.
        marks: the symbols.
    """
    cells = [marks.idle] * scale.columns
    for away in problem.away:
        if away.from_s < scale.to_s and away.to_s > scale.from_s:
            _put(cells, scale, away.from_s, away.to_s - 1, marks.away)
    _put_moves(cells, [m for m in plan.moves if m.hands == pair], scale, marks)
    return "".join(cells)


def load_lane(problem: Problem, plan: Plan, station: str, scale: Scale, marks: Marks) -> str:
    """The most parts in the station at any time of each column.

    Args:
        problem: the planned problem.
        plan: its plan.
        station: the station.
        scale: the time axis.
        marks: the symbols.
    """
    held = sum(part.held and part.station == station for part in problem.parts)
    stays = [(d.in_s, d.out_s) for d in plan.dwells if d.station == station]
    counts = [held + most_at_once(stays, *scale.span_s(i)) for i in range(scale.columns)]
    return "".join(marks.idle if not n else str(n) if n < 10 else "+" for n in counts)


def most_at_once(stays: Sequence[tuple[int, int]], from_s: float, to_s: float) -> int:
    """The most stays at any one time in a span; a part that leaves makes room for the next.

    Args:
        stays: begin and end of each, in seconds.
        from_s: start of the span.
        to_s: end of the span.
    """
    begins = [max(from_s, a) for a, b in stays if a < to_s and b > from_s]
    return max((sum(a <= time_s < b for a, b in stays) for time_s in begins), default=0)


def legend(marks: Marks, problem: Problem, plan: Plan) -> str:
    """The meaning of the symbols.

    Args:
        marks: the symbols.
        problem: the planned problem.
        plan: its plan.
    """
    marked = [f"{marks.work} in the hands", f"{marks.dwell} in a station"]
    if any(dwell.overrun_s for dwell in plan.dwells):
        marked.append(f"{marks.late} too long")
    if problem.away:
        marked.append(f"{marks.away} away")
    return GAP.join([*marked, "1-9 parts in the station"])


def packed(entries: Sequence[str], width: int) -> list[str]:
    """Entries side by side, on as many lines as the width requires."""
    lines = [entries[0]]
    for entry in entries[1:]:
        if len(lines[-1]) + len(GAP) + len(entry) <= width:
            lines[-1] += GAP + entry
        else:
            lines.append(entry)
    return lines
