"""What the board shows, as plain text, from the state and the time alone.

Pure: no screen is needed to know or to test what it will say. Widgets draw these lines
and decide nothing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from benchtimer.quantity import show_duration
from benchtimer.recipe.model import Caution
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.agenda import Action, ActionKind
from benchtimer.run.state import Bench, Part, PartPhase, Place, State
from benchtimer.store.log import Stamp
from benchtimer.tui.letters import can_draw, large, width_of
from benchtimer.tui.words import (
    clock_time,
    confirm_words,
    countdown,
    phase_words,
    short_temperature,
    span,
    verb,
    wall_clock,
    way,
    work,
)

WAIT, NOW, LATE, CALM = "wait", "now", "late", "calm"
"""How pressing something is; also the names of the style classes."""

SOON_MS = 60_000


@dataclass(frozen=True, slots=True)
class Size:
    """Columns and rows of the terminal."""

    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Lane:
    """One part's lane: a line, a line with its bar, and how pressing it is."""

    part: str
    line: str
    bar: str
    urgency: str


@dataclass(frozen=True, slots=True)
class Board:
    """The whole board as text.

    Attributes:
        caution: the caution to be read now, in full; empty if none is.
        header: run, practice mark and time of day.
        next_lines: the next action, large.
        urgency: how pressing it is.
        then_line: what comes after.
        lanes: the parts, in the order of their numbers.
        stations: one line for all stations.
        undo_line: what undo would take back.
    """

    header: str
    next_lines: tuple[str, ...]
    urgency: str
    then_line: str
    caution: tuple[str, ...]
    lanes: tuple[Lane, ...]
    stations: str
    undo_line: str


def make_board(
    state: State,
    actions: Sequence[Action],
    shown: Action | None,
    stamp: Stamp,
    size: Size,
    *,
    name: str,
    entry: str = "",
    marks: Sequence[str] = (),
    reading: bool = False,
    end_ms: int | None = None,
    advised: Mapping[str, int] | None = None,
) -> Board:
    """The board of a run.

    Args:
        state: the run.
        actions: its agenda, most pressing first.
        shown: the action to show large: the agenda's first, or that of a part picked by hand.
        stamp: the time.
        size: the terminal's size.
        name: the run's name.
        entry: what has been typed of a figure.
        marks: words for the header, such as PRACTICE.
        reading: the caution or station shown is being read now.
        end_ms: when the last part is done, by the plan.
        advised: when each part's next move should begin, by the plan.
    """
    bench = state.bench
    then = [a for a in actions if a != shown]
    return Board(
        header=header(bench, stamp, size, name, marks),
        next_lines=next_lines(bench, shown, stamp, size, entry, reading=reading),
        urgency=urgency(shown, stamp.noted_ms) if shown is not None else CALM,
        then_line=then_line(then, stamp, size, end_ms),
        caution=_caution(shown, size) if reading else (),
        lanes=tuple(
            _lane(bench, part, stamp, size, (advised or {}).get(part.name))
            for part in bench.parts.values()
        ),
        stations=stations_line(bench, stamp),
        undo_line=undo_line(state),
    )


def header(bench: Bench, stamp: Stamp, size: Size, name: str, marks: Sequence[str]) -> str:
    """Marks, run and title at the left, time of day at the right."""
    time = wall_clock(stamp)
    left = " ".join([*marks, name, bench.title, f"({bench.phase.value})"])
    room = size.width - len(time) - 3
    return f" {fill(left, room)} {time} "


def urgency(action: Action, now_ms: int) -> str:
    """How pressing an action is."""
    if action.is_late(now_ms):
        return LATE
    if action.kind in (ActionKind.START, ActionKind.COMPLETE, ActionKind.RESUME):
        return CALM
    return NOW if action.is_due(now_ms) else WAIT


def when(action: Action, now_ms: int) -> str:
    """When an action is due: a countdown, NOW, or LATE with the time since."""
    if action.latest_ms is not None and now_ms > action.latest_ms:
        return f"LATE {span(now_ms - action.latest_ms)}"
    if action.kind in (ActionKind.START, ActionKind.COMPLETE, ActionKind.RESUME):
        return ""
    if now_ms >= action.due_ms:
        return "NOW"
    return countdown(action.due_ms, now_ms)


def next_lines(
    bench: Bench,
    action: Action | None,
    stamp: Stamp,
    size: Size,
    entry: str = "",
    *,
    reading: bool = False,
) -> tuple[str, ...]:
    """The next action: verb, part number and time large, the rest below."""
    if action is None:
        return ("Nothing to do now.",)
    of_part = action.part is not None and action.kind is not ActionKind.READING
    part = bench.parts[action.part or ""] if of_part else None
    number = f" {part.number}" if part is not None else ""
    at = when(action, stamp.noted_ms)
    lines = _large_line(f"{verb(action)}{number}", at, size)
    if reading and action.kind is ActionKind.CAUTION and size.height < 40:
        lines = [f"{verb(action)}{number}  {at}"]
    elif part is not None and size.height >= 34 and _fits(part.name, size.width - 4):
        lines += ["", *large(part.name)]
    lines.append("")
    lines.append(_part_line(bench, action, part, stamp))
    lines.append(work(bench, action))
    lines += _step_text(bench, action, size)
    lines.append(_last_line(bench, action, stamp, entry, reading))
    return tuple(clip(line, size.width - 4) for line in lines)


def _step_text(bench: Bench, action: Action, size: Size) -> list[str]:
    """The recipe's own words on the work, as many lines as the lanes leave."""
    works = (ActionKind.BEGIN, ActionKind.FINISH, ActionKind.ANSWER)
    room = min(6, size.height - 22 - 2 * len(bench.parts) - (6 if size.height >= 34 else 0))
    if action.kind not in works or action.part is None or action.index is None or room < 1:
        return []
    text = bench.recipe_of(bench.parts[action.part]).step[action.index].text or ""
    return textwrap.wrap(" ".join(text.split()), size.width - 4)[:room]


def _fits(text: str, room: int) -> bool:
    return can_draw(text) and width_of(text) <= room


def _large_line(words: str, at: str, size: Size) -> list[str]:
    room = size.width - 4
    text = f"{words}  {at}" if at else words
    if _fits(text, room):
        left, right = large(words), large(at) if at else [""] * 5
        return [a + b.rjust(room - len(a)) for a, b in zip(left, right, strict=True)]
    if at and _fits(at, room):
        return [words, *large(at)]
    return [words, *large(words)] if _fits(words, room) else [words, at]


def _part_line(bench: Bench, action: Action, part: Part | None, stamp: Stamp) -> str:
    pieces = []
    if part is not None:
        attempt = bench.attempt(part)
        pieces.append(part.name + (f" (attempt {attempt})" if attempt > 1 else ""))
    pieces.append(way(bench, action))
    if action.due_ms - stamp.noted_ms >= 3_600_000:
        pieces.append(f"at {clock_time(action.due_ms, stamp)}")
    return "   ".join(piece for piece in pieces if piece)


def _last_line(bench: Bench, action: Action, stamp: Stamp, entry: str, reading: bool) -> str:
    if action.blocked is not None:
        return f"WAIT: {action.blocked}"
    if entry:
        return f"{entry}_   SPACE writes it down, BACKSPACE corrects"
    if action.kind is ActionKind.BEGIN and stamp.noted_ms < action.earliest_ms:
        left = countdown(action.earliest_ms, stamp.noted_ms)
        return f"Not for another {left} (its least time)   E lifts it early all the same"
    due = action.kind is ActionKind.READING and action.is_due(stamp.noted_ms)
    return confirm_words(bench, action, reading=reading or due)


def then_line(
    actions: Sequence[Action], stamp: Stamp, size: Size, end_ms: int | None = None
) -> str:
    """What comes after, so that hands can be ready, and when all is done by the plan."""
    told = "   ".join(_then(action, stamp) for action in actions[:3])
    left = f"then  {told}" if told else ""
    right = f"all done {clock_time(end_ms, stamp)}" if end_ms is not None else ""
    room = size.width - 2 - cell_len(right)
    return f"{fill(left, room - 2)}  {right}".rstrip() if right else left


def _then(action: Action, stamp: Stamp) -> str:
    at = when(action, stamp.noted_ms)
    if action.due_ms - stamp.noted_ms >= 3_600_000:
        at = clock_time(action.due_ms, stamp)
    who = action.to_station if action.kind is ActionKind.READING else action.part
    return f"{at} {verb(action)} {who or ''}{' (waits)' if action.blocked else ''}"


def _lane(bench: Bench, part: Part, stamp: Stamp, size: Size, lift_ms: int | None) -> Lane:
    now_ms = stamp.noted_ms
    attempt = bench.attempt(part) if not part.is_out else 1
    again = f" #{attempt}" if attempt > 1 else ""
    left, urgent = _time_left(bench, part, stamp, lift_ms)
    room = size.width - len(left) - 4
    name_room = max(10, min(24, size.width // 4))
    words = f"{part.number} {fill(part.name, name_room)}{again} "
    line = f" {fill(words + phase_words(bench, part.name), room)} {left} "
    return Lane(part.name, line, f"   {_bar(bench, part, now_ms, size.width - 6)}", urgent)


def _time_left(
    bench: Bench, part: Part, stamp: Stamp, lift_ms: int | None = None
) -> tuple[str, str]:
    """Time until the lift, planned or at the aim; the clock time of a long soak's pull."""
    now_ms = stamp.noted_ms
    step = bench.step_of(part)
    if part.is_out:
        return "", CALM
    if part.phase is PartPhase.IN_HAND:
        return f"{span(now_ms - part.since_ms)} of {span(step.hands_s * 1000)}", NOW
    if part.phase is PartPhase.WAITING and part.began_ms is None:
        return (f"take in {countdown(lift_ms, now_ms)}" if lift_ms is not None else ""), CALM
    if part.phase is PartPhase.WAITING:
        return span(now_ms - part.since_ms), NOW
    if step.dwell is None:
        return "", CALM
    aim_ms = lift_ms if lift_ms is not None else part.since_ms + step.dwell.aim_s * 1000
    most_ms = part.since_ms + step.dwell.most_s * 1000 if step.dwell.most_s is not None else None
    if most_ms is not None and now_ms > most_ms:
        return f"LATE {span(now_ms - most_ms)}", LATE
    if now_ms >= aim_ms:
        spare = f", {span(most_ms - now_ms)} spare" if most_ms is not None else ""
        return f"NOW{spare}", NOW
    left = countdown(aim_ms, now_ms)
    if aim_ms - now_ms >= 3_600_000:
        left = f"{left} → {clock_time(aim_ms, stamp)}"
    return f"lift in {left}", WAIT


def _bar(bench: Bench, part: Part, now_ms: int, room: int) -> str:
    """The dwell as a bar: how far it is, and where least, aim and most stand."""
    step = bench.step_of(part)
    dwell = step.dwell
    if part.phase is not PartPhase.DWELLING or dwell is None:
        return ""
    most_s = dwell.most_s
    words = f"least {_short(dwell.least_s)} aim {_short(dwell.aim_s)} "
    words += f"most {_short(most_s)}" if most_s is not None else "no limit"
    width = max(10, min(60, room - len(words) - 4))
    full_s = most_s if most_s is not None else max(dwell.aim_s * 3 // 2, 1)
    full_s = max(full_s, 1)
    spent_s = (now_ms - part.since_ms) / 1000
    cells = ["█" if i < spent_s / full_s * width else "·" for i in range(width)]
    for mark, seconds in (("┃", dwell.least_s), ("◆", dwell.aim_s)):
        cells[min(width - 1, max(0, round(seconds / full_s * width) - 1))] = mark
    end = "┃" if most_s is not None else "…"
    return f"{''.join(cells)}{end} {words}"


def _short(seconds: int) -> str:
    return show_duration(seconds).replace(" ", "")


def stations_line(bench: Bench, stamp: Stamp) -> str:
    """Each station: how full, what it read and when."""
    return "   ".join(_station(bench, place, stamp) for place in bench.places.values())


def _station(bench: Bench, place: Place, stamp: Stamp) -> str:
    station = place.station
    text = f"{station.id} {len(bench.inside(station.id))}/{station.holds}"
    if place.closed is not None:
        text += " OUT OF SERVICE"
    if place.reading is not None:
        wrong = {"low": " LOW", "high": " HIGH", "above-ceiling": " TOO HOT"}
        age = span(stamp.noted_ms - place.reading.t_ms)
        text += f" {short_temperature(str(place.reading.quantity))} {age} ago"
        text += wrong.get(place.reading.verdict, "")
    return text


def undo_line(state: State) -> str:
    """What undo would take back."""
    if not state.past:
        return "nothing to undo"
    words = words_of(state.bench)
    return f"U takes back: {sentence(state.past[-1].events[-1], words)}"


def _caution(action: Action | None, size: Size) -> tuple[str, ...]:
    if action is None or action.kind is not ActionKind.CAUTION or action.caution is None:
        return ()
    return caution_lines(action.caution, max(20, size.width - 3))


def caution_lines(caution: Caution, width: int) -> tuple[str, ...]:
    """A caution in full; gear and first aid first, so that no small screen hides them."""
    pieces = [f"WEAR: {', '.join(caution.wear)}"] if caution.wear else []
    pieces += [f"FIRST AID: {caution.first_aid}"] if caution.first_aid else []
    pieces.append(caution.text)
    pieces += [f"NEVER: {never}" for never in caution.never]
    pieces.append("The supplier's data sheet and local rules go before this page.")
    return tuple(line for piece in pieces for line in textwrap.wrap(piece, width))


def clip(text: str, room: int) -> str:
    """A text in a limited room; what doesn't fit ends in an ellipsis."""
    return text if cell_len(text) <= room else set_cell_size(text, max(0, room - 1)) + "…"


def fill(text: str, room: int) -> str:
    """A text clipped or padded to just this many columns; wide characters take two."""
    return set_cell_size(clip(text, room), max(0, room))
