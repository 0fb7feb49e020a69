"""The plan of a run that is being set up: a lane for each part, the hands, the stations.

Plain functions of the draft and the planner's answer; ``plan.draw`` draws the lanes. With
``plain`` they use only ASCII.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

from rich.cells import cell_len

from benchtimer.bench.plans import part_key
from benchtimer.bench.wallclock import no_hours_words, of_day_s
from benchtimer.plan.busy import busy_lines, busy_spans
from benchtimer.plan.draw import (
    FINE,
    PLAIN,
    Marks,
    axis,
    hands_lane,
    lane,
    legend,
    load_lane,
    scale_of,
)
from benchtimer.plan.gains import Helps
from benchtimer.plan.latest import LatestStart
from benchtimer.plan.outcome import DONE, Optimal, Outcome, Plan, Undecided
from benchtimer.plan.problem import Problem
from benchtimer.plan.risk import Risk
from benchtimer.plan.risk_words import ends_words, late_words, of_trials, risk_lines
from benchtimer.records.inert import one_line, visible
from benchtimer.run.layout import free_numbers
from benchtimer.shop.hours import hours_words
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp
from benchtimer.times import duration
from benchtimer.values import dataclass, replace
from benchtimer.view.draft import Draft, DraftPart, zero_of
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, fill, wrapped
from benchtimer.view.words import clock_time, clock_times, tick_words

MOST_HELPS = 5
LABEL_MOST = 16
LABEL_LEAST = 9
EMPTY = Shop()
ANYWAY = "SPACE sets the run up anyway; the board keeps looking for a plan"
NARROW = 72
"""On a narrower screen the plan is a list."""

ROOMY = 50
"""A screen with this many rows also shows every move below the lanes."""


@dataclass(frozen=True, slots=True)
class PlanSheet:
    """The planner's answer to a draft.

    Attributes:
        draft: the draft.
        zero: the moment the plan begins.
        problem: the problem for the planner.
        outcome: the answer.
        risk: the chances, once known.
        gains: what would end it earlier, once known.
        latest: how long the start can be put off, if there are hours away.
        learned: whose times it uses, in words; empty for the recipes' own.
    """

    draft: Draft
    zero: Stamp
    problem: Problem
    outcome: Outcome
    risk: Risk | None = None
    gains: Helps | None = None
    latest: LatestStart | None = None
    learned: str = ""

    @property
    def plan(self) -> Plan | None:
        """The plan, if one keeps every limit."""
        plan = self.outcome.plan
        return plan if plan is not None and plan.end_s is not None else None

    def at(self, now: Stamp, seconds: int) -> str:
        """A time of the plan as a time of day, with the day if it isn't today."""
        return clock_time(self.zero.noted_ms + seconds * 1000, now)


def lead_lines(
    draft: Draft,
    sheet: PlanSheet | None,
    thinking: bool,
    size: Size,
    now: Stamp,
    others: int = 0,
    last: Sequence[str] = (),
) -> str:
    """The request, the result, the chance of an overrun, and what the plan leaves out.

    Args:
        draft: the run as requested now.
        sheet: the last answer.
        thinking: whether a fuller answer is coming.
        size: columns for text, rows of the terminal.
        now: the time.
        others: runs on the bench; a new run is planned as if hands and stations were free.
        last: the last accepted try of each recipe, one line each.
    """
    runs = "the run" if others == 1 else f"the {others} runs"
    left_out = f"Not in this plan: {runs} already on the bench" if others else ""
    if sheet is not None and len(sheet.problem.parts) > len(sheet.draft.parts):
        left_out = "Planned around the runs on the bench"
    asked, answer = _asked(draft, now), _answer(sheet, thinking, now)
    said = (asked, answer, *_sentences(sheet, now))
    return "\n".join(
        line
        for text in (
            *said,
            *_chances(sheet, size),
            *_finish(sheet, size, now),
            f"Planned with {sheet.learned}" if sheet is not None and sheet.learned else "",
            *last,
            left_out,
        )
        for line in _wrapped(text, size.width)
        if text
    )


def _asked(draft: Draft, now: Stamp) -> str:
    zero = zero_of(draft, now)
    begins = clock_time(zero.noted_ms, now)
    begins = f"Begins now, {begins}" if zero == now else f"START at {begins}"
    hands = "1 pair of hands" if draft.hands == 1 else f"{draft.hands} pairs of hands"
    away = f"away {', '.join(draft.away)}" if draft.away else "no hours away"
    if draft.hours_worked.week:
        worked = f"hours {hours_words(draft.hours_worked)}"
        away = f"{worked}   {away}" if draft.away else worked
    changed = f"   changed: {'; '.join(draft.changes)}" if draft.changes else ""
    return f"{begins}   {hands}   {away}{changed}"


def _answer(sheet: PlanSheet | None, thinking: bool, now: Stamp) -> str:
    more = "   still planning, M stops" if thinking else ""
    if sheet is None:
        return "Planning, M stops" if thinking else ""
    if sheet.plan is None:
        reason = sheet.outcome.verdict.removeprefix("no plan ")
        return f"NO PLAN {reason}: see below{more}"
    names = {part.name for part in sheet.draft.parts}
    end_s = max((m.end_s for m in sheet.plan.moves if m.part in names), default=0)
    takes = _about(end_s)
    if sheet.draft.start_wall_ms is not None:
        ahead_ms = zero_of(sheet.draft, now).noted_ms - sheet.zero.noted_ms
        takes = f"{_about(end_s - max(0, ahead_ms // 1000))} after the start"
    return f"DONE {sheet.at(now, end_s)}, {takes}, {_proof(sheet.outcome)}{more}"


def _proof(outcome: Outcome) -> str:
    """What is proven about the end, which assumes no repeats and no delays."""
    sooner = "no plan ends sooner" if isinstance(outcome, Optimal) else "could end sooner"
    return f"without repeats or delays; {sooner}"


MOST_SPANS = 2
"""How many stretches of work the sentence above the lanes names; I shows them all."""


def _sentences(sheet: PlanSheet | None, now: Stamp) -> Iterator[str]:
    """When you are busy and when free, and why the start is when it is."""
    if sheet is None or sheet.plan is None:
        return
    spans = busy_spans(sheet.plan.moves)
    said = [f"Busy {_to(sheet, now)(*spans[0])}"] if spans else []
    for (_, before_s), (start_s, end_s) in itertools.pairwise(spans[:MOST_SPANS]):
        free = _to(sheet, now)(before_s, start_s).rpartition(" to ")[2]
        till = _to(sheet, now)(start_s, end_s).rpartition(" to ")[2]
        said.append(f"free until {free}, busy until {till}")
    left = len(spans) - MOST_SPANS
    said += (
        [f"then busy {left} more times" if left > 1 else "then busy once more"] if left > 0 else []
    )
    yield ", ".join(said)
    yield _starts(sheet, sheet.plan, now)


def _starts(sheet: PlanSheet, plan: Plan, now: Stamp) -> str:
    """Why the first move does not start at once; empty if it does."""
    first = min((move.start_s for move in plan.moves), default=0)
    if first <= sheet.problem.now_s:
        return ""
    at = sheet.at(now, first)
    heats = [c for c in plan.closings if c.why == "heats up" and c.to_s == first]
    if heats:
        return f"Starts {at}, when {heats[0].place} is hot"
    if any(
        away.from_s <= sheet.problem.now_s and away.to_s == first for away in sheet.problem.away
    ):
        return f"Starts {at}, when your hours begin"
    return f"Starts {at}: an earlier start would not end sooner"


def _about(seconds: int) -> str:
    """A length of time; from an hour on, without seconds."""
    return duration(-(-seconds // 60) * 60 if seconds >= 3600 else seconds)


def _chances(sheet: PlanSheet | None, size: Size) -> Iterator[str]:
    if sheet is None or sheet.risk is None:
        return
    risk = sheet.risk
    if size.width < NARROW:
        late = f", work past hours {risk.past_hours:.0%}" if risk.past_hours is not None else ""
        yield f"Chance: overrun {risk.any_overrun:.0%}{late}"
        return
    worst = next(iter(risk.dwells), None)
    where = f", most often {clip(worst.part, 16)} in {worst.station}" if worst is not None else ""
    yield f"Chance of an overrun: {of_trials(risk, risk.any_overrun)}{where}"
    if risk.past_hours is not None:
        yield f"Chance of work past your hours: {of_trials(risk, risk.past_hours)}"


def _finish(sheet: PlanSheet | None, size: Size, now: Stamp) -> Iterator[str]:
    """When the trials are done, and the check that most often makes them late."""
    if sheet is None or sheet.risk is None or sheet.risk.planned_s is None:
        return
    at, risk = partial(sheet.at, now), sheet.risk
    yield f"With repeats and delays: {ends_words(replace(risk, planned_s=0), at)}"
    if size.width >= NARROW and risk.causes:
        late = late_words(risk)
        yield late[:1].upper() + late[1:]


Numbers = Mapping[str, int]
"""The numbers of the parts on the bench and, after them, of the new ones, by their names in the
problem.
"""


def plan_rows(
    draft: Draft,
    sheet: PlanSheet | None,
    size: Size,
    now: Stamp,
    shop: Shop = EMPTY,
    *,
    plain: bool = False,
) -> list[Row]:
    """The timeline; each part is a row that can be chosen.

    Args:
        draft: the run as requested now.
        sheet: the planner's last answer, perhaps to an older draft.
        size: columns for text, rows of the terminal.
        now: the time.
        shop: what is on the bench.
        plain: whether to draw with ASCII only.
    """
    free = free_numbers(shop.numbers, len(draft.parts))
    numbers = {part_key(run, part.name): part.number for run, part in shop.parts()}
    numbers |= {part.name: number for part, number in zip(draft.parts, free, strict=True)}
    if not draft.parts:
        return [Row((" No part yet. A chooses a recipe and names the parts.",), "plain", "add")]
    if sheet is None or sheet.plan is None:
        rows = [_part_row(numbers, part, None, "", size) for part in draft.parts]
        return [*rows, *_why(sheet, size)]
    if size.width < NARROW:
        return [*_listed(draft, sheet, sheet.plan, size, now, numbers), *_why(sheet, size)]
    return _drawn(draft, sheet, sheet.plan, size, now, numbers, PLAIN if plain else FINE)


def _why(sheet: PlanSheet | None, size: Size) -> Iterator[Row]:
    if sheet is None:
        return
    anyway = (ANYWAY,) if isinstance(sheet.outcome, Undecided) else ()
    closed = no_hours_words(sheet.draft.hours_worked, sheet.zero)
    for why in (*sheet.outcome.why, *((closed,) if closed else ()), *anyway):
        yield Row(tuple(_wrapped(why, size.width)))


def _drawn(
    draft: Draft,
    sheet: PlanSheet,
    plan: Plan,
    size: Size,
    now: Stamp,
    numbers: Numbers,
    marks: Marks,
) -> list[Row]:
    problem = sheet.problem
    used = [s for s in problem.stations if any(d.station == s.name for d in plan.dwells)]
    loads = [f" {s.name.upper()} {s.holds}" for s in used]
    new = {part.name for part in draft.parts}
    there = {p.name: f" {_called(p.name, numbers)}" for p in problem.parts if p.name not in new}
    widths = [cell_len(text) for text in (*loads, *there.values())]
    label = min(LABEL_MOST, max(LABEL_LEAST, *widths), size.width // 4)
    scale = scale_of(problem, plan, size.width - label - 1)
    ticks = axis(
        scale, tick_words(sheet.zero, scale.from_s, scale.to_s), marks, of_day_s(sheet.zero)
    )
    lines = _wrapped(legend(marks, problem, plan), size.width)
    rows = [Row(tuple(lines), "muted"), Row(tuple(" " * (label + 1) + line for line in ticks))]
    for part in draft.parts:
        cells = f"{' ' * label} {lane(plan, part.name, scale, marks)}".rstrip()
        rows.append(_part_row(numbers, part, _times(sheet, plan, part, now), cells, size))
    for other, title in there.items():
        rows.append(_lane_row(title, lane(plan, other, scale, marks), label))
    for pair in range(problem.hands):
        title = " hands" if problem.hands == 1 else f" hands {pair + 1}"
        rows.append(_lane_row(title, hands_lane(problem, plan, pair, scale, marks), label))
    for station, title in zip(used, loads, strict=True):
        rows.append(_lane_row(title, load_lane(problem, plan, station.name, scale, marks), label))
    rows += _why(sheet, size)
    if size.height < ROOMY:
        return rows
    words = details(sheet, now).splitlines()
    return [*rows, Row(("",)), *(Row((clip(f" {line}", size.width),)) for line in words)]


def _listed(
    draft: Draft, sheet: PlanSheet, plan: Plan, size: Size, now: Stamp, numbers: Numbers
) -> Iterator[Row]:
    """On a narrow screen: the parts, then every move with its time and length."""
    for part in draft.parts:
        yield _part_row(numbers, part, _times(sheet, plan, part, now), "", size)
    new = {part.name for part in draft.parts}
    for move in sorted(plan.moves, key=lambda move: move.start_s):
        takes = duration(move.end_s - move.start_s)
        to = f" to {move.to_station.upper()}" if move.to_station != DONE else ", done"
        who = _called(move.part, numbers) + ("" if move.part in new else ", bench")
        words = f"{who}, {takes}{to}"
        yield Row((clip(one_line(f" {sheet.at(now, move.start_s)}  {words}"), size.width),))


def _called(name: str, numbers: Numbers) -> str:
    """The number and name of a part; the problem calls one on the bench ``RUN:PART``."""
    number = f"#{numbers[name]} " if name in numbers else ""
    return number + (name.partition(":")[2] or name)


def _lane_row(title: str, cells: str, label: int) -> Row:
    return Row((f"{fill(one_line(title), label)} {cells}".rstrip(),))


def _part_row(numbers: Numbers, part: DraftPart, times: str | None, cells: str, size: Size) -> Row:
    """A part on two lines: its words, and its lane."""
    texts = [part.recipe, *([times] if times else [])]
    if part.enters is not None:
        texts.append(f"from {part.enters.step}")
    if part.later_s:
        texts.append(f"held back {duration(part.later_s)}")
    right = "   ".join(texts)
    room = max(12, size.width - cell_len(right) - 2)
    many = f" x{part.count}" if part.count > 1 else ""
    name = one_line(f" {_called(part.name, numbers)}{many}")
    words = clip(f"{fill(name, room)}  {one_line(right)}", size.width)
    return Row((words, cells) if cells else (words,), "plain", f"part:{part.name}")


def _times(sheet: PlanSheet, plan: Plan, part: DraftPart, now: Stamp) -> str | None:
    """Start and end of the work on a part; None for a part added after the plan."""
    moves = [move for move in plan.moves if move.part == part.name]
    if not moves:
        return None
    zero_ms = sheet.zero.noted_ms
    return clock_times(zero_ms + moves[0].start_s * 1000, zero_ms + moves[-1].end_s * 1000, now)


def details(sheet: PlanSheet, now: Stamp) -> str:
    """Every move with its time, the chances, what would help, how long the start can wait."""
    at, plan, lines = partial(sheet.at, now), sheet.plan, list[str]()
    step = partial(_title, sheet)
    if plan is not None:
        moves = (f"  {at(move.start_s)}  {move.words(step)}" for move in plan.moves)
        busy = (f"  {line}" for line in busy_lines(plan.moves, _to(sheet, now)))
        lines += ["EVERY MOVE", *moves, "", "WHEN YOU ARE BUSY", *busy, ""]
    lines += [*sheet.outcome.why, ""] if sheet.outcome.why else []
    if sheet.risk is not None:
        chances = risk_lines(sheet.risk, at, step)
        drawn = sheet.risk.planned_s is not None
        title = "IF HANDS ARE SLOWER OR CHECKS FAIL" if drawn else "IF HANDS ARE SLOWER OR FASTER"
        lines += [title, *chances, ""]
    lines += _help_lines(sheet.gains) if sheet.gains is not None and plan is not None else []
    return visible("\n".join([*lines, *_latest(sheet, at)]))


def _to(sheet: PlanSheet, now: Stamp) -> Callable[[int, int], str]:
    """Write two times of the plan as ``A to B``, with the day of B only if it differs."""
    zero_ms = sheet.zero.noted_ms
    return lambda a, b: clock_times(zero_ms + a * 1000, zero_ms + b * 1000, now)


def _title(sheet: PlanSheet, part: str, step: str) -> str:
    """The recipe's title for a step of the plan."""
    recipes = {p.name: sheet.draft.recipes[p.recipe] for p in sheet.draft.parts}
    if part not in recipes:
        return step  # a part that is on the bench
    return next((s.title for s in recipes[part].step if s.id == step), step)


def _help_lines(helps: Helps) -> list[str]:
    return ["WHAT WOULD END IT EARLIER", *(f"  {line}" for line in helps.words[:MOST_HELPS]), ""]


def _latest(sheet: PlanSheet, at: Callable[[int], str]) -> list[str]:
    """How long the start can be put off, if there are hours away."""
    lines = sheet.latest.lines(at) if sheet.latest is not None else []
    return ["LATEST START", *(f"  {line}" for line in lines)] if lines else []


def _wrapped(text: str, width: int) -> list[str]:
    """A text in lines, with those after the first indented a little."""
    lines = wrapped(one_line(text), width - 3)
    return [f"{'   ' if i else ' '}{line}" for i, line in enumerate(lines)]
