"""What the board shows, as plain text, from the state and the time alone.

It needs no screen. Widgets draw these lines and decide nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import assert_never

from rich.cells import cell_len

from benchtimer.bench.moment import Moment
from benchtimer.recipe.answers import AskFigure, AskLine, AskOption, AskYesNo
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.commands import NO_READING
from benchtimer.run.run_state import OVER, Bench, Part, Press, RunState
from benchtimer.store.log import Stamp
from benchtimer.values import dataclass, field, replace
from benchtimer.view.beside_picture import last_entries, press_words, work_words
from benchtimer.view.glance import glance_lines
from benchtimer.view.hazard_page import WIDE, hazard_lines, hazard_page
from benchtimer.view.header import header
from benchtimer.view.letters import ROWS, can_draw, fits, half, large, with_word
from benchtimer.view.picture.scene import Scene
from benchtimer.view.picture.side_columns import COLUMNS_WIDTH
from benchtimer.view.scene_builder import make_scene, run_views
from benchtimer.view.space import LOW_ROWS, MESSAGE_ROWS, Rooms, Size, share_out
from benchtimer.view.text import clip, fill, wrapped
from benchtimer.view.trouble import Trouble
from benchtimer.view.turns import moves_behind, past_saving
from benchtimer.view.words import (
    AT_PLACE,
    action_words,
    answer_ends,
    at_time,
    confirm_words,
    countdown_to,
    digits_in_range,
    large_line,
    steps_of,
    then_words,
    time_ahead,
    time_word,
    way,
    when,
    window_read,
    work,
)

WAIT, NOW, LATE, CALM = "wait", "now", "late", "calm"
"""The levels of urgency, which are also the names of the style classes."""

FLAT = 14
"""With fewer rows than this, there is no room for large letters above the keys."""

LOW = 24
"""With fewer rows than this, nothing has a frame."""

TALL = 34
"""With at least this many rows, the part's name is large, too.

With fewer, a hazard that is being read replaces the large letters.
"""

VAST = 50
"""With at least this many rows, verb and time are twice as large."""

DONE = "done"
"""After an answer that also ends the work."""

FEW_ROWS = 6
"""The picture needs a row for each part, and this many for its axis, your hands and places."""

FAR_MS = 2**62
"""Blocked actions come after everything that has a time."""

MAX_WORD = "max "
"""Before the max of a part that won't be pulled in time."""

FEWEST = 10
"""Columns kept for the first piece of the line of coming actions."""

MOST_THEN = 9
"""How many actions the line of coming actions considers."""

FIGURE_KEYS = (*"0123456789", ".", "-", "backspace")
"""The keys for entering a figure by touch."""

Touch = tuple[str, str]
"""A key and its label."""


@dataclass(frozen=True, slots=True)
class BoardView:
    """How you are looking at the board now.

    Attributes:
        name: the run that pages are about.
        entry: the typed part of a figure.
        marks: words for the header, such as PRACTICE.
        reading: whether the hazard or station shown is being read now.
        message: the latest message.
        trouble: what is wrong, worst first.
        unread: whether the desk is asking why a bath goes unread.
        more: whether the page being read continues below the screen.
        picked: the part picked by hand, if any.
        glance: whether the next action fills the screen.
        read_only: whether this is a watcher, who can change nothing.
        usual: how long the work shown usually takes you.
        undo: the press that undo takes back, with its run, and ``bench`` that run's bench.
        also: other runs that the same press was written into.
        plain: whether the terminal shows only ASCII, so that half-size letters don't work.
        ends: whether the answer to the question shown also ends the work.
    """

    name: str
    entry: str = ""
    marks: Sequence[str] = ()
    reading: bool = False
    message: str = ""
    trouble: tuple[Trouble, ...] = ()
    unread: bool = False
    more: bool = False
    picked: tuple[str, str] | None = None
    glance: bool = False
    read_only: bool = False
    usual: str = ""
    undo: tuple[str, Press] | None = None
    also: Sequence[str] = ()
    bench: Bench = field(default_factory=Bench)
    plain: bool = False
    ends: bool = False


@dataclass(frozen=True, slots=True)
class Board:
    """The whole board as text.

    Attributes:
        header: run, practice mark and time of day.
        next_lines: the next action, large.
        urgency: its urgency.
        then_line: what comes after.
        hazard: the hazard to read now, in full; empty if there is none.
        scene: lanes, hands and places to draw.
        message: the latest message, in the available rows.
        undo_line: what undo would take back.
        answers: keys of the question shown, for touch.
        rooms: how the rows are divided.
    """

    header: str
    next_lines: tuple[str, ...]
    urgency: str
    then_line: str
    hazard: tuple[str, ...]
    scene: Scene
    message: tuple[str, ...]
    undo_line: str
    answers: tuple[Touch, ...]
    rooms: Rooms


def make_board(moment: Moment, shown: Action | None, size: Size, look: BoardView) -> Board:
    """The board of everything on the bench.

    Args:
        moment: the bench now.
        shown: the action to show large: the agenda's first, or that of a part picked by hand.
        size: the terminal's size.
        look: how you are looking at the board.
    """
    stamp = moment.stamp
    then = [a for a in moment.actions if a != shown]
    hazard = _hazard(shown, size, look) if look.reading else ()
    hidden = bool(hazard) or look.glance  # else the picture has its own trouble lines
    ends = shown is not None and answer_ends(moment.bench_of(shown), shown, stamp.noted_ms)
    # a page that must be read needs the space
    look = replace(look, glance=look.glance and not hazard, ends=ends)
    marked = [f"{level.trouble_mark} {text}" for level, text in look.trouble]
    message = _wrapped("\n".join([*(marked if hidden else ()), look.message]), size)
    answers = () if look.read_only else answer_keys(shown, stamp, look)
    lines = next_lines(moment, shown, size, look, bool(answers), len(message))
    runs = run_views(moment, look.picked)
    # A hazard takes the picture's rows and may need all of them.
    parts = sum(len(run.bench.parts) for run in runs) + (len(runs) if len(runs) > 1 else 0)
    below = len(hazard) + 1 if hazard else parts + FEW_ROWS
    scene = make_scene(runs, stamp, look.trouble, moment.shop.real)
    if has_columns(size):
        shown_bench = moment.bench_of(shown) if shown is not None else Bench()
        scene = replace(scene, work=work_words(shown_bench, shown), entries=last_entries(moment))
    next_rows = len(lines) + frame_rows(size, reads_hazard=bool(hazard))
    rooms = share_out(size.height, next_rows, below, len(message), len(answers))
    return Board(
        header=header(moment, size.width, look.name, look.marks),
        next_lines=lines,
        urgency=urgency(shown, stamp.noted_ms) if shown is not None else CALM,
        then_line=then_line(moment, then, size, shown),
        hazard=hazard,
        scene=scene,
        message=message,
        undo_line=undo_line(moment, look, size.width - 1),
        answers=_whole(answers, size.width, rooms.answers),
        rooms=rooms,
    )


BUTTON_GAP = 3
"""Columns around the words of an answer you can touch."""


def _whole(answers: tuple[Touch, ...], width: int, rows: int) -> tuple[Touch, ...]:
    """Answers with their words if all fit, otherwise by digit, with their words above."""
    if not answers:
        return answers
    words = [text for _, text in answers]
    if rows <= 1:
        fit = sum(cell_len(text) + BUTTON_GAP for text in words) <= width
    else:
        room = width // len(answers) - BUTTON_GAP
        fit = all(len(wrapped(text, room)) <= rows for text in words)
    return answers if fit else tuple((key, text.split()[0]) for key, text in answers)


def has_columns(size: Size) -> bool:
    """Whether the screen is large enough for the recipe's text below the picture."""
    return size.width >= COLUMNS_WIDTH and size.height >= VAST


def _wrapped(text: str, size: Size) -> tuple[str, ...]:
    lines = [row for line in text.split("\n") if line for row in wrapped(line, size.width - 2)]
    most = (
        LOW_ROWS if size.height < LOW else MESSAGE_ROWS if size.height < TALL else 2 * MESSAGE_ROWS
    )
    if len(lines) > most:
        lines = [*lines[: most - 1], clip(lines[most - 1] + "…", size.width - 2)]
    return tuple(clip(line, size.width - 2) for line in lines)


def frame_rows(size: Size, *, reads_hazard: bool = False) -> int:
    """Rows of the frame around the next action; none if a hazard or a low screen needs them."""
    return 0 if size.height < (TALL if reads_hazard else LOW) else 2


def urgency(action: Action, now_ms: int) -> str:
    """The urgency of an action."""
    if action.is_late(now_ms):
        return LATE
    if action.kind in (ActionKind.START, ActionKind.COMPLETE, ActionKind.RESUME):
        return CALM
    return NOW if action.is_due(now_ms) else WAIT


def next_lines(
    moment: Moment,
    action: Action | None,
    size: Size,
    look: BoardView,
    asks: bool = False,
    message_rows: int = 0,
) -> tuple[str, ...]:
    """The next action: verb, part number and time large, the rest below.

    Args:
        moment: the bench now.
        action: the action of the large line; None if there is none.
        size: the terminal's size.
        look: how you are looking at the board.
        asks: whether there are answer keys below it.
        message_rows: rows of the message.
    """
    if action is None:
        over = "The run is over. L: record   H: home   Q: leave"
        return (over if not _is_at_work(moment) else "Nothing to do now.",)
    bench, stamp = moment.bench_of(action), moment.stamp
    of_part = action.part is not None and action.kind not in AT_PLACE
    part = bench.parts[action.part or ""] if of_part else None
    words, at = large_line(bench, action, stamp)
    texts = [work(bench, action), look.usual]
    where = _part_line(bench, action, part, short=size.width < WIDE)
    below = [where, "   ".join(w for w in texts if w)]
    if words == "WAIT":
        then = then_words(bench, action, stamp)
        joined = f"{then}   {where}"
        below[:1] = [joined] if cell_len(joined) <= size.width - 4 else [then, where]
    last = _key_lines(_last_line(bench, action, stamp, look), size.width - 4)
    if look.glance:
        room = Size(size.width - 4, size.height - 5 - (3 if asks else 0) - message_rows)
        return glance_lines(bench, action, stamp, room, (*below, *last))
    tall = size.height >= TALL
    twice = size.height >= VAST and fits(f"{words}  {time_word(at)[1]}", size.width - 4, 2)
    reads_hazard = look.reading and action.kind is ActionKind.HAZARD
    if size.height < (TALL if reads_hazard else FLAT):
        lines = [f"{words}  {at}".rstrip()]  # the hazard and the keys come first
    else:
        lines, beside = _large_line(words, at, size, 2 if twice else 1, plain=look.plain)
        if at and not beside:
            below[0] = f"{at}   {below[0]}".rstrip()
    if reads_hazard and size.height < TALL and size.width >= WIDE and not look.plain:
        below = []  # the page begins with it
    below = [line for line in below if line]
    if len(steps_of(bench, action)) > 1 or action.kind is ActionKind.MIX:  # in full, always
        below = [row for line in below for row in wrapped(line, size.width - 4)]
    if len(lines) < ROWS:
        pass
    elif part is not None and tall and not reads_hazard and fits(part.called, size.width - 4):
        lines += ["", *large(part.called)]
    texts = [*below, *_step_text(moment, action, size), *last]
    if part is not None and len(lines) == ROWS and not (tall or look.plain or reads_hazard):
        name = part.label if words == "WAIT" else part.called
        texts = _with_name(part, name, where, texts, size.width - 4)
    lines += [*([""] if tall else []), *texts]
    return tuple(clip(line, size.width - 4) for line in lines)


def _is_at_work(moment: Moment) -> bool:
    """Whether any run on the bench is not over."""
    return any(moment.shop.bench(run).phase not in OVER for run in moment.shop.runs)


def _step_text(moment: Moment, action: Action, size: Size) -> list[str]:
    """The recipe's text for the work, as many lines as the lanes leave."""
    works = (ActionKind.BEGIN, ActionKind.FINISH, ActionKind.ANSWER)
    bench, lanes = moment.bench_of(action), len(list(moment.shop.parts()))
    if has_columns(size):
        return []
    room = min(6, size.height - 26 - 2 * lanes - (6 if size.height >= TALL else 0))
    if action.kind not in works or action.part is None or action.index is None or room < 1:
        return []
    text = " ".join(step.text or "" for step in steps_of(bench, action))
    return wrapped(" ".join(text.split()), size.width - 4)[:room] if text.strip() else []


def _large_line(
    words: str, at: str, size: Size, scale: int, *, plain: bool
) -> tuple[list[str], bool]:
    """Words and time in large letters, and whether the time is among them.

    Side by side, the ``IN`` or ``LATE`` before a time is as large as there is room for; if the time
    has no room there, it goes below, large on a tall screen, else in the text. If the words alone
    don't fit, only the verb is large and the text names the place.

    Args:
        words: the verb with its part or place.
        at: the time.
        size: the terminal's size.
        scale: how large the letters are.
        plain: whether half-size letters don't work.
    """
    room = size.width - 4
    both = side_by_side(words, at, room, scale, plain=plain)
    if both:
        return both, True
    if not fits(words, room):
        words = words.partition(":")[0] if ":" in words else words.partition(" ")[0]
    if not fits(words, room):
        return [f"{words}  {at}"], True
    if size.height >= TALL and fits(at, room):
        return [*large(words), "", *large(at)], True
    return large(words), False


def side_by_side(words: str, at: str, room: int, scale: int = 1, *, plain: bool) -> list[str]:
    """Words at the left and their time at the right in large letters; empty if they don't fit.

    Args:
        words: the verb with its part or place.
        at: the time; the word before it is as large as there is room for.
        room: columns for both.
        scale: how large the letters are, if that fits.
        plain: whether half-size letters don't work.
    """
    word, bare = time_word(at)
    both = f"{words}  {bare}".rstrip()
    if not fits(both, room):
        return []
    scale = scale if fits(both, room, scale) else 1
    left = large(words, scale)
    right = large(bare, scale) if bare else [""] * len(left)
    if word:
        right = with_word(word, right, room - len(left[0]) - 1, plain=plain)
    return [a + b.rjust(room - len(a)) for a, b in zip(left, right, strict=True)]


def _with_name(part: Part, name: str, where: str, texts: list[str], room: int) -> list[str]:
    """The part's name in half-size letters, left of the words, if nothing else has to go for it.

    Args:
        part: the part.
        name: its name, or its number and name.
        where: the words that begin with its name, which is then not repeated.
        texts: the words, row by row.
        room: columns for both.
    """
    if not can_draw(name):
        return texts
    rest = where.removeprefix(part.called).strip()
    rows = [f"{text.removesuffix(where)}{rest}" for text in texts if text.endswith(where)][:1]
    rows = [row for row in (*rows, *(t for t in texts if not t.endswith(where))) if row]
    drawn = half(name)
    wide = len(drawn[0]) + 2
    if any(cell_len(row) > room - wide for row in rows):
        return texts
    blank = max(0, len(rows) - len(drawn))
    pairs = zip_longest([*drawn, *[""] * blank], rows, fillvalue="")
    return [f"{letters:<{wide}}{row}".rstrip() for letters, row in pairs]


def _part_line(bench: Bench, action: Action, part: Part | None, *, short: bool) -> str:
    pieces = []
    if part is not None:
        number = bench.try_number(part)
        pieces.append(part.called + (f" (try {number})" if number > 1 else ""))
    pieces.append(way(bench, action, short=short))
    return "   ".join(piece for piece in pieces if piece)


def _last_line(bench: Bench, action: Action, stamp: Stamp, look: BoardView) -> str:
    if look.more:
        return "MORE BELOW: SPACE shows it"
    if action.blocked is not None and not look.unread:
        return f"WAIT: {action.blocked}"
    if look.read_only:
        return "Watching only: use the terminal that runs the bench"
    if look.unread:
        return "Why no reading?   " + "   ".join(
            f"{i} {reason}" for i, reason in enumerate(NO_READING, 1)
        )
    if look.entry:
        waits = len(look.entry) == digits_in_range(window_read(bench, action))
        out = " is out of range:" if waits else "  "
        return f"{look.entry}_{out} SPACE saves it, BACKSPACE corrects"
    if action.kind is ActionKind.BEGIN and stamp.noted_ms < action.earliest_ms:
        left = countdown_to(action.earliest_ms, stamp.noted_ms)
        return f"{left} short of minimum. E: pull it anyway"
    due = action.kind is ActionKind.READING and action.is_due(stamp.noted_ms)
    words = confirm_words(bench, action, reading=look.reading or due)
    if not look.ends:
        return words
    if isinstance(action.form, AskYesNo):
        return words.replace("yes", f"yes, {DONE}", 1)
    return words.replace("saves it", f"saves it, {DONE}") if action.form else words


def _key_lines(text: str, room: int) -> list[str]:
    """What the keys do; answers that don't fit side by side are stacked in full."""
    if cell_len(text) <= room:
        return [text]
    lines: list[str] = []
    for piece in text.split("   "):
        if lines and cell_len(f"{lines[-1]}   {piece}") <= room:
            lines[-1] += f"   {piece}"
        else:
            lines.append(piece)
    return lines


def answer_keys(action: Action | None, stamp: Stamp, look: BoardView) -> tuple[Touch, ...]:
    """The keys that answer the current question, so that you can touch them.

    Args:
        action: the action shown.
        stamp: both clocks now.
        look: how you look at the board.
    """
    if look.unread:
        return tuple((str(i), f"{i} {reason}") for i, reason in enumerate(NO_READING, 1))
    if action is None or action.blocked is not None:
        return ()
    figure = tuple((key, "DEL" if key == "backspace" else key) for key in FIGURE_KEYS)
    match action.form:
        case None:
            due = action.kind is ActionKind.READING and action.is_due(stamp.noted_ms)
            reads = action.kind is ActionKind.READING and look.reading
            return figure if due or reads else ()
        case AskYesNo():
            return (("y", f"1  YES, {DONE}" if look.ends else "1  YES"), ("n", "2  NO"))
        case AskOption(options):
            return tuple((str(i), f"{i} {option}") for i, option in enumerate(options, 1))
        case AskFigure():
            return figure
        case AskLine():
            return ()
        case form:
            assert_never(form)


def then_line(
    moment: Moment, actions: Sequence[Action], size: Size, shown: Action | None = None
) -> str:
    """The coming actions, in the agenda's order, and when all is done by the plan.

    Due actions come first and take the room they need. Parts that won't be pulled by their max are
    always named. As much of the rest as fits follows.

    Args:
        moment: the bench now.
        actions: the coming actions.
        size: the terminal's size.
        shown: the action of the large line.
    """
    stamp, end_ms = moment.stamp, moment.advice.end_ms
    right = f"all done {at_time(end_ms, stamp)}" if end_ms is not None else ""
    pieces = then_pieces(moment, actions, shown)
    if not pieces:
        return right.rjust(size.width - 2) if right else ""
    room = size.width - 2 - (cell_len(right) + 2 if right else 0)
    urgent = not pieces[0].startswith(("in ", "at "))
    named = sum(cell_len(f"   {piece}") for piece in pieces[1:] if piece.startswith(MAX_WORD))
    if right and cell_len(f"then  {pieces[0]}") + named > room and (urgent or named):
        right, room = "", size.width - 2
    left = f"then  {clip(pieces[0], max(FEWEST, room - 6 - named))}"
    for piece in pieces[1:]:
        if cell_len(f"{left}   {piece}") > room:
            break
        left += f"   {piece}"
    return f"{fill(left, room)}  {right}" if right else left


def then_pieces(
    moment: Moment, actions: Sequence[Action], shown: Action | None = None
) -> list[str]:
    """Times with their actions: ``NOW PULL #2, READ SALTS``, ``in 5:00 PULL #1``.

    Args:
        moment: the bench now.
        actions: what comes next, in order.
        shown: the action on the large line; left out.
    """
    groups: list[tuple[str, list[str]]] = []
    for at, words in _coming(moment, actions, shown):
        if groups and groups[-1][0] == at:
            groups[-1][1].append(words)
        else:
            groups.append((at, [words]))
    return [f"{at} {', '.join(words)}".strip() for at, words in groups]


def _coming(
    moment: Moment, actions: Sequence[Action], shown: Action | None
) -> list[tuple[str, str]]:
    """Coming actions in order: the agenda, then moves that wait for one of its pages or readings.

    Parts that won't be pulled in time follow the due actions, by their max.
    """
    lost = past_saving(moment, shown)
    now_ms, stamp = moment.now_ms, moment.stamp
    coming: list[tuple[int, str, str]] = []
    for action in actions:
        if action.kind is ActionKind.BEGIN and (action.run, action.part) in lost:
            continue
        late = action.is_late(now_ms)
        at = "LATE" if late else _at(action, stamp)  # the part's own lane shows how late it is
        due_ms = now_ms if late or action.is_due(now_ms) else max(now_ms, action.due_ms)
        far = action.blocked is not None and not late
        words = action_words(moment.bench_of(action), action)
        coming.append((FAR_MS if far else due_ms, at, words))
    first = [entry for entry in coming if entry[0] <= now_ms]
    later = [entry for entry in coming if entry[0] > now_ms]
    named = [
        (t_ms, f"{MAX_WORD}{time_ahead(t_ms, stamp)}",
         f"PULL #{moment.shop.bench(run).parts[part].number}")
        for (run, part), t_ms in lost.items()
    ]  # fmt: skip
    behind = [each for each in moves_behind(moment) if each[1] not in [n[2] for n in named]]
    later += [(t_ms, time_ahead(t_ms, stamp), words) for t_ms, words in behind]
    order = [sorted(some, key=lambda entry: entry[0]) for some in (named, later)]
    coming = [*first[:MOST_THEN], *order[0], *order[1][:MOST_THEN]]
    return [(at, words) for _, at, words in coming]


def _at(action: Action, stamp: Stamp) -> str:
    """NOW, or when it comes."""
    at = when(action, stamp)
    if action.kind is ActionKind.START and at:
        return at_time(action.due_ms, stamp)
    return time_ahead(action.due_ms, stamp) if at[:1].isdigit() else at


def undo_line(moment: Moment, look: BoardView, width: int) -> str:
    """What undo would take back, and in which run; for a watcher, the last press.

    The run always shows, however long the words are.

    Args:
        moment: the bench now.
        look: how you look at the board.
        width: columns.
    """
    if look.undo is None:
        return "nothing done yet" if look.read_only else "nothing to undo"
    run, press = look.undo
    words = undo_words(press, look.bench, moment.stamp, read_only=look.read_only)
    only = list(moment.shop.runs) == [run]  # a run that has ended is named, too
    run_words = "" if only else in_runs(run, look.also)
    return clip(words, max(width // 2, width - cell_len(run_words))) + run_words


def in_runs(run: str, also: Sequence[str] = ()) -> str:
    """The run of a press in words, or how many runs have it."""
    if len(also) > 1:
        return f" ({len(also) + 1} runs)"
    return f" (runs {run} and {also[0]})" if also else f" (run {run})"


def undo_of(state: RunState, stamp: Stamp) -> str:
    """What undo would take back on a page about one run."""
    return undo_words(state.past[-1], state.bench, stamp) if state.past else "nothing to undo"


def undo_words(press: Press, bench: Bench, stamp: Stamp, *, read_only: bool = False) -> str:
    """A press that undo would take back, in words.

    Args:
        press: the press.
        bench: the bench of its run.
        stamp: now, for times of day.
        read_only: whether this process can't take anything back.
    """
    before = "last done" if read_only else "U undoes"
    return f"{before}: {press_words(press, bench, stamp)}"


HAZARD_FRAME = 5
"""Rows of header, action, key, undo and keys around a hazard on a low screen."""


def _hazard(action: Action | None, size: Size, look: BoardView) -> tuple[str, ...]:
    """The hazard to read; the large view draws its whole head in large letters."""
    if action is None or action.kind is not ActionKind.HAZARD or action.hazard is None:
        return ()
    around = HAZARD_FRAME if size.height < TALL else HAZARD_FRAME + ROWS + 4
    rows = size.height - around
    if look.plain or size.width < WIDE:
        return hazard_lines(action.hazard, max(20, size.width - 3))
    return hazard_page(action.hazard, size.width - 3, rows, largest=look.glance)
