"""What the board shows, as plain text, from the state and the time alone.

Pure: no screen is needed to know or to test what it will say. Widgets draw these lines
and decide nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.cells import cell_len

from benchtimer.recipe.checks import Choice, ReadingCheck, YesNo
from benchtimer.recipe.model import Hazard
from benchtimer.records.record import words_of
from benchtimer.records.sentences import sentence
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.commands import NO_READING
from benchtimer.run.state import OVER, Bench, Part, State
from benchtimer.store.log import Stamp
from benchtimer.view.glance import glance_lines
from benchtimer.view.lanes import CALM, HOUR_MS, LATE, NOW, WAIT, Lane, Times, lane
from benchtimer.view.letters import fits, large
from benchtimer.view.space import MESSAGE_ROWS, Rooms, Size, share_out
from benchtimer.view.stations import station_rows
from benchtimer.view.text import clip, fill, spread, wrapped
from benchtimer.view.words import (
    clock_time,
    confirm_words,
    countdown,
    verb,
    wall_clock,
    way,
    when,
    work,
)

FLAT = 14
"""With fewer rows than this there is no room for large letters above the keys."""

LOW = 24
"""With fewer rows than these a hazard that is read takes the place of the large letters."""

TALL = 34
"""From so many rows on the part's name is drawn large too."""

VAST = 50
"""From so many rows on verb and time are drawn twice as large."""

FIGURE_KEYS = (*"0123456789", ".", "-", "backspace")
"""The keys a figure is written with, for touch."""

Touch = tuple[str, str]
"""A key and what stands on it."""


@dataclass(frozen=True, slots=True)
class Look:
    """How somebody looks at the board now.

    Attributes:
        name: the run's name.
        entry: what has been typed of a figure.
        marks: words for the header, such as PRACTICE.
        reading: the hazard or station shown is being read now.
        message: what needs saying.
        unread: the reason is asked for why a bath goes unread.
        more: the page being read goes on below the screen.
        picked: the part picked by hand, if one is.
        glance: the next action fills the screen.
        times: the planner's word on each part.
        end_ms: when the last part is done, by the plan.
        read_only: somebody looks on and can change nothing.
        usual: how long the work shown usually takes you.
    """

    name: str
    entry: str = ""
    marks: Sequence[str] = ()
    reading: bool = False
    message: str = ""
    unread: bool = False
    more: bool = False
    picked: str | None = None
    glance: bool = False
    times: Times = field(default_factory=Times)
    end_ms: int | None = None
    read_only: bool = False
    usual: str = ""


@dataclass(frozen=True, slots=True)
class Board:
    """The whole board as text.

    Attributes:
        header: run, practice mark and time of day.
        next_lines: the next action, large.
        urgency: how pressing it is.
        then_line: what comes after.
        hazard: the hazard to be read now, in full; empty if none is.
        lanes: the parts, in the order of their numbers.
        coming: what comes later, a line each.
        stations: the stations, a line each or packed.
        message: what needs saying, in the rows there are.
        undo_line: what undo would take back.
        answers: keys of the question shown, for touch.
        rooms: how the rows are shared out.
    """

    header: str
    next_lines: tuple[str, ...]
    urgency: str
    then_line: str
    hazard: tuple[str, ...]
    lanes: tuple[Lane, ...]
    coming: tuple[str, ...]
    stations: tuple[str, ...]
    message: tuple[str, ...]
    undo_line: str
    answers: tuple[Touch, ...]
    rooms: Rooms


def make_board(
    state: State,
    actions: Sequence[Action],
    shown: Action | None,
    stamp: Stamp,
    size: Size,
    look: Look,
) -> Board:
    """The board of a run.

    Args:
        state: the run.
        actions: its agenda, most pressing first.
        shown: the action to show large: the agenda's first, or that of a part picked by hand.
        stamp: the time.
        size: the terminal's size.
        look: what else is known of the one who looks.
    """
    bench = state.bench
    then = [a for a in actions if a != shown]
    told = _wrapped(look.message, size)
    answers = () if look.read_only else answer_keys(shown, stamp, look)
    lines = next_lines(bench, shown, stamp, size, look, bool(answers), len(told))
    hazard = _hazard(shown, size) if look.reading else ()
    # A hazard stands where the lanes and stations would, and may need every row there is.
    below = len(hazard) + 1 if hazard else len(bench.parts)
    places = 0 if hazard else len(bench.places)
    rooms = share_out(size.height, len(lines) + 2, below, places, len(told), len(answers))
    return Board(
        header=header(bench, stamp, size, look),
        next_lines=lines,
        urgency=urgency(shown, stamp.noted_ms) if shown is not None else CALM,
        then_line=then_line(then, stamp, size, look.end_ms),
        hazard=hazard,
        lanes=tuple(lane(bench, p, stamp, size.width, look.times) for p in bench.parts.values()),
        coming=_coming(bench, then, stamp, size, rooms.coming),
        stations=station_rows(bench, stamp, size.width - 2, rooms.stations),
        message=told,
        undo_line=undo_line(state, read_only=look.read_only),
        answers=answers,
        rooms=rooms,
    )


def _wrapped(text: str, size: Size) -> tuple[str, ...]:
    lines = [row for line in text.split("\n") if line for row in wrapped(line, size.width - 2)]
    most = MESSAGE_ROWS if size.height < TALL else 2 * MESSAGE_ROWS
    if len(lines) > most:
        lines = [*lines[: most - 1], clip(lines[most - 1] + "…", size.width - 2)]
    return tuple(clip(line, size.width - 2) for line in lines)


def header(bench: Bench, stamp: Stamp, size: Size, look: Look) -> str:
    """Marks, run and title at the left, time of day at the right."""
    time = wall_clock(stamp)
    left = " ".join([*look.marks, look.name, bench.title, f"({bench.phase.value})"])
    room = size.width - len(time) - 3
    return f" {fill(left, room)} {time} "


def band(message: str, width: int) -> str:
    """A row that no one overlooks: what calls, among marks that need no colour."""
    words = f"!!! {clip(message, width - 8)} " if message else ""
    return words + "!" * (width - cell_len(words))


def urgency(action: Action, now_ms: int) -> str:
    """How pressing an action is."""
    if action.is_late(now_ms):
        return LATE
    if action.kind in (ActionKind.START, ActionKind.COMPLETE, ActionKind.RESUME):
        return CALM
    return NOW if action.is_due(now_ms) else WAIT


def next_lines(
    bench: Bench,
    action: Action | None,
    stamp: Stamp,
    size: Size,
    look: Look,
    asks: bool = False,
    message_rows: int = 0,
) -> tuple[str, ...]:
    """The next action: verb, part number and time large, the rest below."""
    if action is None:
        over = "The run is over. L its record, H home, Q leave"
        return (over if bench.phase in OVER else "Nothing to do now.",)
    of_part = action.part is not None and action.kind is not ActionKind.READING
    part = bench.parts[action.part or ""] if of_part else None
    words = [work(bench, action), look.usual]
    below = [_part_line(bench, action, part, stamp), "   ".join(w for w in words if w)]
    last = _key_lines(action, _last_line(bench, action, stamp, look), size.width - 4)
    if look.glance:
        room = Size(size.width - 4, size.height - 5 - (3 if asks else 0) - message_rows)
        return glance_lines(bench, action, stamp, room, (*below, *last))
    number = f" {part.number}" if part is not None else ""
    at = when(action, stamp)
    tall = size.height >= TALL
    twice = size.height >= VAST and fits(f"{verb(action)}{number}  {at}", size.width - 4, 2)
    lines = _large_line(f"{verb(action)}{number}", at, size, 2 if twice else 1)
    reads_hazard = look.reading and action.kind is ActionKind.HAZARD
    if size.height < (LOW if reads_hazard else FLAT):
        lines = [f"{verb(action)}{number}  {at}"]  # the hazard and the keys come first
    elif part is not None and tall and not reads_hazard and fits(part.name, size.width - 4):
        lines += ["", *large(part.name)]
    lines += [""] if tall else []
    lines += [*below, *_step_text(bench, action, size), *last]
    return tuple(clip(line, size.width - 4) for line in lines)


def _step_text(bench: Bench, action: Action, size: Size) -> list[str]:
    """The recipe's own words on the work, as many lines as the lanes leave."""
    works = (ActionKind.BEGIN, ActionKind.FINISH, ActionKind.ANSWER)
    room = min(6, size.height - 26 - 2 * len(bench.parts) - (6 if size.height >= TALL else 0))
    if action.kind not in works or action.part is None or action.index is None or room < 1:
        return []
    text = bench.recipe_of(bench.parts[action.part]).step[action.index].text
    return wrapped(" ".join(text.split()), size.width - 4)[:room] if text else []


def _large_line(words: str, at: str, size: Size, scale: int = 1) -> list[str]:
    room = size.width - 4
    text = f"{words}  {at}" if at else words
    if fits(text, room, scale):
        left = large(words, scale)
        right = large(at, scale) if at else [""] * len(left)
        return [a + b.rjust(room - len(a)) for a, b in zip(left, right, strict=True)]
    if at and fits(at, room):
        return [words, *large(at)]
    return [words, *large(words)] if fits(words, room) else [words, at]


def _part_line(bench: Bench, action: Action, part: Part | None, stamp: Stamp) -> str:
    pieces = []
    if part is not None:
        attempt = bench.attempt(part)
        pieces.append(part.name + (f" (try {attempt})" if attempt > 1 else ""))
    pieces.append(way(bench, action))
    if action.due_ms - stamp.noted_ms >= HOUR_MS:
        pieces.append(f"at {clock_time(action.due_ms, stamp)}")
    return "   ".join(piece for piece in pieces if piece)


def _last_line(bench: Bench, action: Action, stamp: Stamp, look: Look) -> str:
    if look.more:
        return "MORE BELOW: SPACE shows it"
    if action.blocked is not None and not look.unread:
        return f"WAIT: {action.blocked}"
    if look.read_only:
        return "Looking on: whoever drives the bench does this"
    if look.unread:
        return "Why no reading?   " + "   ".join(
            f"{i} {reason}" for i, reason in enumerate(NO_READING, 1)
        )
    if look.entry:
        return f"{look.entry}_   SPACE saves it, BACKSPACE corrects"
    if action.kind is ActionKind.BEGIN and stamp.noted_ms < action.earliest_ms:
        left = countdown(action.earliest_ms, stamp.noted_ms)
        return f"{left} short of minimum. E: pull it anyway"
    due = action.kind is ActionKind.READING and action.is_due(stamp.noted_ms)
    return confirm_words(bench, action, reading=look.reading or due)


def _key_lines(action: Action, text: str, room: int) -> list[str]:
    """What the keys do; answers that find no room side by side stand below each other, whole."""
    asks = isinstance(action.check, Choice) or text.startswith("Why")
    if not asks or cell_len(text) <= room:
        return [text]
    lines: list[str] = []
    for piece in text.split("   "):
        if lines and cell_len(f"{lines[-1]}   {piece}") <= room:
            lines[-1] += f"   {piece}"
        else:
            lines.append(piece)
    return lines


def answer_keys(action: Action | None, stamp: Stamp, look: Look) -> tuple[Touch, ...]:
    """The keys that answer what is asked now, so that a finger can answer too."""
    if look.unread:
        return tuple((str(i), f"{i} {reason}") for i, reason in enumerate(NO_READING, 1))
    if action is None or action.blocked is not None:
        return ()
    if isinstance(action.check, YesNo):
        return (("y", "1  YES"), ("n", "2  NO"))
    if isinstance(action.check, Choice):
        return tuple((str(i), f"{i} {told}") for i, told in enumerate(action.check.options, 1))
    due = action.kind is ActionKind.READING and (look.reading or action.is_due(stamp.noted_ms))
    if due or isinstance(action.check, ReadingCheck):
        return tuple((key, "DEL" if key == "backspace" else key) for key in FIGURE_KEYS)
    return ()


def then_line(
    actions: Sequence[Action], stamp: Stamp, size: Size, end_ms: int | None = None
) -> str:
    """What comes after, so that hands can be ready, and when all is done by the plan."""
    told = "   ".join(f"{_at(action, stamp)} {_what(action)}" for action in actions[:3])
    left = f"then  {told}" if told else ""
    right = f"all done {clock_time(end_ms, stamp)}" if end_ms is not None else ""
    room = size.width - 2 - cell_len(right)
    return f"{fill(left, room - 2)}  {right}".rstrip() if right else clip(left, size.width - 2)


def _at(action: Action, stamp: Stamp) -> str:
    if action.due_ms - stamp.noted_ms >= HOUR_MS:
        return clock_time(action.due_ms, stamp)
    return when(action, stamp)


def _what(action: Action) -> str:
    at_place = action.kind is ActionKind.READING or action.part is None
    who = action.to_station if at_place else action.part
    return f"{verb(action)} {who or ''}{' (waits)' if action.blocked else ''}"


def _coming(
    bench: Bench, actions: Sequence[Action], stamp: Stamp, size: Size, rows: int
) -> tuple[str, ...]:
    """A line for each thing that comes later, as many as there are rows for."""
    room = min(60, size.width - 2 - 17)
    lines = []
    for action in actions[:rows]:
        at = fill(_at(action, stamp), 16)
        words = f"{_what(action)}   {way(bench, action)}"
        lines.append(f"{at} {spread(words, clock_time(action.due_ms, stamp), room)}")
    return tuple(lines)


def undo_line(state: State, *, read_only: bool = False) -> str:
    """What undo would take back; for one who looks on, what was done last."""
    if not state.past:
        return "nothing done yet" if read_only else "nothing to undo"
    words = words_of(state.bench)
    before = "last done" if read_only else "U takes back"
    return f"{before}: {sentence(state.past[-1].events[-1], words)}"


def _hazard(action: Action | None, size: Size) -> tuple[str, ...]:
    if action is None or action.kind is not ActionKind.HAZARD or action.hazard is None:
        return ()
    return hazard_lines(action.hazard, max(20, size.width - 3))


def hazard_lines(hazard: Hazard, width: int) -> tuple[str, ...]:
    """A hazard in full; gear and first aid first, so that no small screen hides them."""
    pieces = [f"WEAR: {', '.join(hazard.wear)}"] if hazard.wear else []
    pieces += [f"FIRST AID: {hazard.first_aid}"] if hazard.first_aid else []
    pieces.append(hazard.text)
    pieces += [f"NEVER: {never}" for never in hazard.never]
    pieces.append("The supplier's data sheet and local rules go before this page.")
    return tuple(line for piece in pieces for line in wrapped(piece, width))
