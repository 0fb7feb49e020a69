"""A lane per part: where it is, how long still, how much slack, and its dwell as a bar."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchtimer.quantity import show_duration
from benchtimer.run.state import Bench, Part, PartPhase, RunPhase
from benchtimer.run.windows import window_of
from benchtimer.store.log import Stamp
from benchtimer.view.text import clip, fill, spread
from benchtimer.view.words import clock_time, countdown, phase_words, span

WAIT, NOW, LATE, CALM = "wait", "now", "late", "calm"
"""How pressing something is; also the names of the style classes."""

HOUR_MS = 3_600_000

MARKS = {WAIT: " ", NOW: "!", LATE: "!", CALM: " "}
"""What stands before a lane, so that its urgency needs no colour."""

NO_HURRY_MS = 12 * HOUR_MS
"""A slack longer than this is nobody's worry today."""

SLACK_COLUMNS = 12
"""The slack has its own column where the screen is wide enough for one."""


@dataclass(frozen=True, slots=True)
class Times:
    """What the planner says of each part's next move, in bench time.

    Attributes:
        begin_ms: when it should begin.
        latest_ms: up to when it can be put off with every part in its windows.
    """

    begin_ms: Mapping[str, int] = field(default_factory=dict)
    latest_ms: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Lane:
    """One part's lane: a line, its bar, and how pressing it is."""

    part: str
    line: str
    bar: str
    urgency: str


def lane(bench: Bench, part: Part, stamp: Stamp, width: int, times: Times) -> Lane:
    """The lane of a part."""
    told, urgency = time_left(bench, part, stamp, times.begin_ms.get(part.name))
    slack = slack_words(bench, part, stamp.noted_ms, times.latest_ms.get(part.name))
    attempt = bench.attempt(part) if not part.is_out else 1
    again = f" try {attempt}" if attempt > 1 else ""
    name = fill(part.label, max(10, min(24, width // 4)))
    column = SLACK_COLUMNS if width >= 76 and told else 0
    right = f"{told}  {slack:<{column}}" if slack or column else told
    words = f"{part.number} {name}{again} {phase_words(bench, part.name)}"
    line = f"{MARKS[urgency]}{spread(words, right, width - 2)} "
    below = bar(bench, part, stamp.noted_ms, width - 6) or track(bench, part, width - 6)
    return Lane(part.name, line, f"   {below}", urgency)


def slack_words(bench: Bench, part: Part, now_ms: int, put_off_ms: int | None = None) -> str:
    """How long the part's next move can still be put off before something is spoiled."""
    window = window_of(bench, part)
    max_ms = window.max_ms if window is not None else None
    ends = [t for t in (max_ms, put_off_ms) if t is not None]
    if part.is_out or part.phase is PartPhase.IN_HAND or not ends:
        return ""
    slack_ms = min(ends) - now_ms
    return f"slack {span(slack_ms)}" if 0 <= slack_ms < NO_HURRY_MS else ""


def time_left(
    bench: Bench, part: Part, stamp: Stamp, lift_ms: int | None = None
) -> tuple[str, str]:
    """Time until the pull, planned or at the target; the clock time of a long soak's pull."""
    now_ms = stamp.noted_ms
    window = window_of(bench, part)
    if part.is_out or bench.phase is RunPhase.IDLE:
        return "", CALM  # before the start nothing is due
    if part.phase is PartPhase.IN_HAND:
        return f"{span(now_ms - part.since_ms)} of {span(bench.step_of(part).hands_s * 1000)}", NOW
    if part.phase is PartPhase.WAITING and part.began_ms is None:
        return _take_words(lift_ms, now_ms), CALM
    if part.phase is PartPhase.WAITING:
        return span(now_ms - part.since_ms), NOW
    if window is None:
        return "", CALM
    target_ms = lift_ms if lift_ms is not None else window.target_ms
    max_ms = window.max_ms
    if max_ms is not None and now_ms > max_ms:
        return f"LATE {span(now_ms - max_ms)}", LATE
    if now_ms >= target_ms:
        return "NOW", NOW
    left = countdown(target_ms, now_ms)
    if target_ms - now_ms >= HOUR_MS:
        left = f"{left} → {clock_time(target_ms, stamp)}"
    return f"pull in {left}", WAIT


def _take_words(take_ms: int | None, now_ms: int) -> str:
    if take_ms is None:
        return ""
    return f"pick up in {countdown(take_ms, now_ms)}" if take_ms > now_ms else "pick up NOW"


def track(bench: Bench, part: Part, room: int) -> str:
    """How far a part is through its recipe, and what comes next."""
    if part.is_out:
        return ""
    steps = bench.recipe_of(part).step
    index = part.step if part.phase is PartPhase.IN_HAND else bench.next_index(part)
    if index is None:
        return clip(f"all {len(steps)} steps done but the last pull", room)
    word = "" if part.phase is PartPhase.IN_HAND else "next: "
    return clip(f"{word}step {index + 1} of {len(steps)}: {steps[index].title}", room)


def bar(bench: Bench, part: Part, now_ms: int, room: int) -> str:
    """The dwell as a bar: how far it is, and where min, target and max are."""
    window = window_of(bench, part)
    if window is None or not (window.target_s or window.max_s):
        return ""
    max_s = window.max_s
    words = f"min {_short(window.min_s)} target {_short(window.target_s)} "
    words += f"max {_short(max_s)}" if max_s is not None else "no limit"
    width = max(10, min(100, room - len(words) - 4))
    full_s = max(max_s if max_s is not None else window.target_s * 3 // 2, 1)
    spent_s = (now_ms - part.since_ms) / 1000
    cells = ["█" if i < spent_s / full_s * width else "·" for i in range(width)]
    for mark, seconds in (("┃", window.min_s), ("◆", window.target_s)):
        cells[min(width - 1, max(0, round(seconds / full_s * width) - 1))] = mark
    end = "┃" if max_s is not None else "…"
    return f"{''.join(cells)}{end} {words}"


def _short(seconds: int) -> str:
    return show_duration(seconds).replace(" ", "")
