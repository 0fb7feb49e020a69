"""What the home page says, from the bench and the time alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from benchtimer.bench.moment import Moment
from benchtimer.records.inert import one_line
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.run_state import Bench, RunPhase, window_of
from benchtimer.store.entries import local_time
from benchtimer.store.log import RunLine, Stamp
from benchtimer.times import rough_duration
from benchtimer.view.board_text import side_by_side, urgency
from benchtimer.view.hazard_page import WIDE
from benchtimer.view.letters import fits, large
from benchtimer.view.picture.scene import Level
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, fill, wrapped
from benchtimer.view.words import (
    LATE_WORD,
    at_time,
    clock_time,
    large_line,
    left_words,
    place_of,
    time_ahead,
    verb,
    way,
    when,
)

TALL = 34
"""A screen with this many rows has room for large letters."""

MARGIN = 3
"""Columns left of the large line."""

LONG_MS = 3_600_000
"""A dwell of at least this length is listed as waiting."""

NEW, KEPT, TONIGHT = "new", "kept", "tonight"
"""Keys of rows that are not a run, a record or a recipe."""

LATE_MARK = Level.LATE.mark
"""Before a run with a late part, as on its lane."""


def home_rows(
    moment: Moment,
    recent: Sequence[RunLine],
    verdicts: Mapping[str, Sequence[str]],
    recipes: Mapping[str, str],
    size: Size,
    *,
    read_only: bool = False,
) -> list[Row]:
    """The rows of the home page: open runs, waiting parts, newest runs, recipes.

    Args:
        moment: the bench now.
        recent: the newest finished runs.
        verdicts: how the parts of each came out, by run.
        recipes: the recipes: name and title.
        size: columns for text, rows of the terminal.
        read_only: whether nothing can be changed here.

    Returns:
        Rows; their keys are ``run:NAME``, ``wait:NUMBER:NAME``, ``record:NAME``, ``recipe:NAME`` or
        ``new``.
    """
    runs, stamp = moment.shop.runs, moment.stamp
    rows = [Row((" RUNNING",), "head")] if runs else [_empty(read_only)]
    rows += [_running(n, name, moment, size) for n, name in enumerate(runs, start=1)]
    waits = [w for name in runs for w in _waits(name, moment.shop.bench(name), stamp, size)]
    rows += _headed("WAITING", waits)
    over = [_was(len(runs) + n, line, verdicts.get(line.name, ()), size)
            for n, line in enumerate(recent, start=1)]  # fmt: skip
    rows += _headed("RECENT", over)
    recipe_files = [_recipe(name, title, size, read_only) for name, title in recipes.items()]
    return rows + _headed("RECIPES", recipe_files)


def kept_rows(parts: Sequence[str], recipes: Sequence[str], size: Size) -> list[Row]:
    """The plan you left, if there is one.

    Args:
        parts: names of its parts; none if no plan is kept.
        recipes: the recipes they follow.
        size: columns for text, rows of the terminal.
    """
    if not parts:
        return []
    lines = _below(f"{', '.join(recipes)}: {', '.join(parts)}", size)
    count = "1 part" if len(parts) == 1 else f"{len(parts)} parts"
    return [Row((clip(f" SAVED PLAN, {count}. 0 continues it", size.width), *lines), "plain", KEPT)]


def numbered(rows: Sequence[Row]) -> list[str]:
    """Keys of the rows for the digits 1 to 9: runs on the bench, then finished ones."""
    return [
        row.key
        for row in rows
        if row.key.startswith(("run:", "record:")) and row.lines[0][1:2].isdecimal()
    ][:9]


def lead_rows(moment: Moment, size: Size, *, plain: bool = False) -> list[str]:
    """The most urgent action of the shop in large letters, where the screen is tall enough.

    A late part and its lateness are large on every screen.

    Args:
        moment: the bench now.
        size: columns for text, rows of the terminal.
        plain: whether half-size letters don't work.
    """
    action = moment.first
    if action is None:
        return []
    late = late_rows(moment, size, plain=plain)
    if size.height < TALL or late:
        return ["", *late, ""] if late and size.height >= TALL else late
    words, at = large_line(moment.bench_of(action), action, moment.stamp)
    both = f" {words}  {at}".rstrip()
    if fits(both, size.width):
        return ["", *large(both), ""]
    return ["", *large(f" {words}"), f" {at}", ""] if fits(f" {words}", size.width) else []


def late_rows(moment: Moment, size: Size, *, plain: bool = False) -> list[str]:
    """The late part and how late it is, large, with its name below; empty if none is late.

    Args:
        moment: the bench now.
        size: columns for text, rows of the terminal.
        plain: whether half-size letters don't work.
    """
    action = moment.first
    if action is None or not action.is_late(moment.now_ms):
        return []
    bench = moment.bench_of(action)
    words, at = large_line(bench, action, moment.stamp)
    over = f"+{at.removeprefix(LATE_WORD)}"
    number = words.rpartition(" ")[2]  # in a narrow room drop the verb, then the seconds
    forms = (f"{number}  {over}", f"{number} {over.rpartition(':')[0]}", number)
    drawn = side_by_side(words, at, size.width - MARGIN, plain=plain)
    if not drawn:
        drawn = large(next((form for form in forms if fits(form, size.width - MARGIN)), ""))
    name = bench.parts[action.part].called if action.part is not None else ""
    route = way(bench, action, short=size.width < WIDE)
    below = "   ".join(text for text in (f"{words}  {at}", name, route) if text)
    return [*(" " * MARGIN + row for row in drawn), f" {clip(below, size.width - 1)}"]


def first_pick(moment: Moment) -> str:
    """The row marked at first: the run with the most urgent action; or empty."""
    return f"run:{moment.first.run}" if moment.first is not None else ""


def is_pressing(moment: Moment) -> bool:
    """Whether something is due on the bench, so that no other row should be marked first."""
    action = moment.first
    return action is not None and urgency(action, moment.now_ms) in ("now", "late")


def _headed(title: str, rows: list[Row]) -> list[Row]:
    return [Row(("", f" {title}"), "head"), *rows] if rows else []


def _empty(read_only: bool) -> Row:
    if read_only:
        return Row(("No runs on this bench.",), "head")
    lines = (" The bench is empty.", "   SPACE plans a run: recipe, parts, timeline")
    return Row(lines, "plain", NEW)


def _running(number: int, name: str, moment: Moment, size: Size) -> Row:
    bench = moment.shop.bench(name)
    at, what, look = _next(bench, moment.first_of(name), moment.stamp)
    mark = LATE_MARK if look == "late" else " "
    left = f"{mark}{_digit(number)} {what}"
    parts = _parts([part.called for part in bench.parts.values()])
    line = f"run {name} ({bench.phase.value}): {bench.title}, {parts}"
    return Row((_both(left, at, size), *_below(line, size)), look, f"run:{name}")


def _next(bench: Bench, action: Action | None, stamp: Stamp) -> tuple[str, str, str]:
    """When the next action of a run is due, what it is, and its look."""
    if action is None:
        return "", "nothing to do now", "plain"
    who = ""
    place = place_of(bench, action) if action.kind in (ActionKind.READING, ActionKind.MIX) else None
    if place is not None:
        who = f" {place.station.title}"
    elif action.part is not None:
        who = f" {bench.parts[action.part].label}"
    at, left_ms = when(action, stamp), action.due_ms - stamp.noted_ms
    if action.kind is ActionKind.START:
        at = at_time(action.due_ms, stamp) if at else ""
    elif left_ms >= LONG_MS:
        at = f"in {left_words(left_ms)}, {at_time(action.due_ms, stamp)}"
    elif at[:1].isdigit():
        at = time_ahead(action.due_ms, stamp)
    words = {"late": "late", "now": "now"}
    route = way(bench, action) if bench.phase is RunPhase.RUNNING else ""
    return (
        at,
        f"{verb(action)}{who}   {route}".rstrip(),
        words.get(urgency(action, stamp.noted_ms), "plain"),
    )


def _waits(name: str, bench: Bench, stamp: Stamp, size: Size) -> Iterator[Row]:
    """The long dwells of a run, the next to end first."""
    found = [
        (window.target_ms, part)
        for part in bench.parts.values()
        if (window := window_of(bench, part)) is not None
    ]
    for end, part in sorted(found, key=lambda pair: (pair[0], pair[1].number)):
        if end - stamp.noted_ms >= LONG_MS:
            what = f" {part.label}: {bench.step_of(part).title}"
            at = f"ends {clock_time(end, stamp)}"
            where = bench.places[part.station].station.title if part.station else ""
            left = rough_duration((end - stamp.noted_ms) / 1000)
            text = f"   in {where}, {left} to go   {bench.title}"
            yield Row(
                (_both(what, at, size), clip(one_line(text), size.width)),
                "plain",
                f"wait:{part.number}:{name}",
            )


def _was(number: int, line: RunLine, verdicts: Sequence[str], size: Size) -> Row:
    return Row(
        run_lines(f" {_digit(number)} ", line, verdicts, size), "plain", f"record:{line.name}"
    )


def run_lines(left: str, line: RunLine, verdicts: Sequence[str], size: Size) -> tuple[str, ...]:
    """A run in the register: what it was and how it came out; below, when and with which parts.

    Args:
        left: the start of its first line.
        line: the run's line in the register.
        verdicts: how its parts came out.
        size: columns and rows of the screen.
    """
    end = ", ".join(verdicts) if verdicts else outcome(line.phase)
    day = local_time(line.created_ms, line.offset_s)[:16].replace("T", " ")
    phase = f"{line.phase}, " if verdicts else ""
    text = f"{day}   {phase}{_parts(line.parts)}"
    return _both(f"{left}{line.title}   {line.name}", end, size), *_below(text, size)


def outcome(phase: str) -> str:
    """The words for a run without a judged part."""
    return "complete, not judged" if phase == "complete" else phase


def _recipe(name: str, title: str, size: Size, read_only: bool) -> Row:
    lines = (clip(one_line(f" {name}"), size.width), clip(one_line(f"   {title}"), size.width))
    return Row(lines, "plain", "" if read_only else f"recipe:{name}")


def _both(left: str, right: str, size: Size) -> str:
    """Words on the left, cut to the room that those on the right leave."""
    room = size.width - len(right) - 2
    return f"{fill(one_line(left), room)}  {right}" if right else clip(one_line(left), size.width)


def _below(text: str, size: Size) -> tuple[str, ...]:
    """The words below the first line, on up to two lines; longer text is cut."""
    room = size.width - 3
    lines = wrapped(one_line(text), room)
    rest = [" ".join(lines[1:])] if len(lines) > 1 else []
    return tuple(f"   {clip(line, room)}" for line in [*lines[:1], *rest])


def _parts(names: Sequence[str]) -> str:
    count = "1 part" if len(names) == 1 else f"{len(names)} parts"
    return f"{count}: {', '.join(names)}"


def _digit(number: int) -> str:
    return str(number) if number <= 9 else " "
