"""The plan of a run that is being laid out: a lane for each part, the hands, the stations.

Plain functions of the draft and the planner's answer; the lanes themselves are those of
``plan.draw``. With ``plain`` only ASCII is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from benchtimer.plan.draw import (
    FINE,
    PLAIN,
    Marks,
    Scale,
    axis,
    hands_lane,
    lane,
    legend,
    load_lane,
    scale_of,
)
from benchtimer.plan.gains import Gain
from benchtimer.plan.latest import LatestStart
from benchtimer.plan.outcome import Infeasible, Optimal, Outcome, Plan, PlannedMove
from benchtimer.plan.problem import Problem
from benchtimer.plan.risk import Risk
from benchtimer.plan.words import span
from benchtimer.records.inert import visible
from benchtimer.store.log import Stamp
from benchtimer.view.draft import Draft, DraftPart, moment, of_day_s
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, fill, wrapped
from benchtimer.view.words import clock_time

LABEL_MOST = 16
LABEL_LEAST = 9
ROOMY = 50
"""A screen of so many rows shows every move below the lanes as well."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The planner's answer to a draft.

    Attributes:
        draft: what it was asked about.
        zero: the moment the plan begins.
        problem: the question.
        outcome: the answer.
        risk: the odds, once they are known.
        gains: what would end it earlier, once that is known.
        latest: how long the start can be put off, where there are hours away.
    """

    draft: Draft
    zero: Stamp
    problem: Problem
    outcome: Outcome
    risk: Risk | None = None
    gains: tuple[Gain, ...] | None = None
    latest: LatestStart | None = None

    @property
    def plan(self) -> Plan | None:
        """The plan, if there is one that keeps every limit."""
        plan = None if isinstance(self.outcome, Infeasible) else self.outcome.plan
        return plan if plan is not None and plan.end_s is not None else None

    def at(self, seconds: int) -> str:
        """A time of the plan as a time of day, with the day if it isn't the first one's."""
        return clock_time(self.zero.noted_ms + seconds * 1000, self.zero)


def lead_lines(
    draft: Draft, sheet: Sheet | None, thinking: bool, size: Size, now: Stamp, others: int = 0
) -> str:
    """What is asked for, what came of it, the odds, and what the plan leaves out.

    Args:
        draft: the run as it is wanted now.
        sheet: the last answer.
        thinking: whether a fuller one is on its way.
        size: columns for text, rows of the terminal.
        now: the time.
        others: runs on the bench; a new run is planned as if hands and stations were free.
    """
    runs = "the run" if others == 1 else f"the {others} runs"
    left_out = f"Not in this plan: {runs} already on the bench" if others else ""
    return "\n".join(
        line
        for text in (_asked(draft, now), _answer(sheet, thinking), _odds(sheet), left_out)
        for line in _wrapped(text, size.width)
        if text
    )


def _asked(draft: Draft, now: Stamp) -> str:
    start = draft.start_min
    begins = (
        f"{start // 60:02}:{start % 60:02}"
        if start is not None
        else "now, " + clock_time(now.noted_ms, now)
    )
    hands = "1 pair of hands" if draft.hands == 1 else f"{draft.hands} pairs of hands"
    away = f"away {', '.join(draft.away)}" if draft.away else "nobody away"
    changed = f"   changed: {'; '.join(draft.changes)}" if draft.changes else ""
    return f"Begins {begins}   {hands}   {away}{changed}"


def _answer(sheet: Sheet | None, thinking: bool) -> str:
    more = "   thinking on, X stops" if thinking else ""
    if sheet is None:
        return "Thinking, X stops" if thinking else ""
    if sheet.plan is None:
        told = (
            "NO PLAN KEEPS EVERY LIMIT"
            if isinstance(sheet.outcome, Infeasible)
            else "NO PLAN FOUND YET"
        )
        return f"{told}: see below{more}"
    end_s = sheet.plan.end_s or 0
    proof = (
        "proven the earliest" if isinstance(sheet.outcome, Optimal) else "not proven the earliest"
    )
    return f"DONE {sheet.at(end_s)}, {_about(end_s)}, {proof}{more}"


def _about(seconds: int) -> str:
    """A length; from an hour on, seconds don't matter."""
    return span(-(-seconds // 60) * 60 if seconds >= 3600 else seconds)


def _odds(sheet: Sheet | None) -> str:
    if sheet is None or sheet.risk is None:
        return ""
    risk = sheet.risk
    told = f"Odds of a late part {risk.any_overstay:.0%}"
    worst = next((odds for odds in risk.dwells if odds.odds > 0), None)
    return told + (
        f", first {clip(worst.part, 16)} in {worst.station}" if worst is not None else ""
    )


def plan_rows(draft: Draft, sheet: Sheet | None, size: Size, *, plain: bool = False) -> list[Row]:
    """The timeline; each part is a row that can be chosen.

    Args:
        draft: the run as it is wanted now.
        sheet: the last answer of the planner; that to an older draft still shows what it can.
        size: columns for text, rows of the terminal.
        plain: draw with ASCII only.
    """
    if not draft.parts:
        return [Row((" No part yet. A chooses a recipe and names the parts.",), "plain", "add")]
    if sheet is None or sheet.plan is None:
        rows = [
            _part_row(n, part, None, None, size, FINE, 0) for n, part in enumerate(draft.parts, 1)
        ]
        return [*rows, *_why(sheet, size)]
    return _drawn(draft, sheet, sheet.plan, size, PLAIN if plain else FINE)


def _why(sheet: Sheet | None, size: Size) -> Iterator[Row]:
    for why in sheet.outcome.why if sheet is not None else ():
        yield Row(tuple(_wrapped(why, size.width)))


def _drawn(draft: Draft, sheet: Sheet, plan: Plan, size: Size, marks: Marks) -> list[Row]:
    problem = sheet.problem
    loads = [f" {s.name} /{s.holds}" for s in problem.stations]
    label = min(LABEL_MOST, max(LABEL_LEAST, *(cell_len(text) for text in loads)), size.width // 4)
    scale = scale_of(problem, plan, size.width - label - 1)
    ticks = axis(scale, _tick_words(sheet, scale), marks, of_day_s(sheet.zero))
    rows = [Row(tuple(" " * (label + 1) + line for line in ticks))]
    for number, part in enumerate(draft.parts, start=1):
        rows.append(_part_row(number, part, sheet, scale, size, marks, label))
    for pair in range(problem.hands):
        title = " hands" if problem.hands == 1 else f" hands {pair + 1}"
        rows.append(_lane_row(title, hands_lane(problem, plan, pair, scale, marks), label))
    for station, title in zip(problem.stations, loads, strict=True):
        rows.append(_lane_row(title, load_lane(problem, plan, station.name, scale, marks), label))
    rows.append(Row(tuple(_wrapped(legend(marks, problem, plan), size.width)), "muted"))
    if size.height < ROOMY:
        return rows
    words = details(sheet).splitlines()
    return [*rows, Row(("",)), *(Row((clip(f" {line}", size.width),)) for line in words)]


def _tick_words(sheet: Sheet, scale: Scale) -> Callable[[int], str]:
    """How the times above the lanes are written: with the day where there are several."""
    first, last = (moment(sheet.zero, s) for s in (scale.from_s, scale.to_s))
    form = "%H:%M" if first.date() == last.date() else "%a %H:%M"
    return lambda seconds: moment(sheet.zero, seconds).strftime(form)


def _lane_row(title: str, cells: str, label: int) -> Row:
    return Row((f"{fill(_safe(title), label)} {cells}".rstrip(),))


def _part_row(
    number: int,
    part: DraftPart,
    sheet: Sheet | None,
    scale: Scale | None,
    size: Size,
    marks: Marks,
    label: int,
) -> Row:
    """A part on two lines: its words, and its lane."""
    plan = sheet.plan if sheet is not None else None
    moves = [move for move in plan.moves if move.part == part.name] if plan is not None else []
    told = [part.recipe]
    if sheet is not None and moves:
        told.append(f"{sheet.at(moves[0].start_s)} to {sheet.at(moves[-1].end_s)}")
    if part.later_s:
        told.append(f"held back {span(part.later_s)}")
    right = "   ".join(told)
    room = max(12, size.width - cell_len(right) - 2)
    words = clip(f"{fill(_safe(f' {number} {part.name}'), room)}  {_safe(right)}", size.width)
    cells = lane(plan, part.name, scale, marks) if plan is not None and scale is not None else ""
    return Row((words, f"{' ' * label} {cells}".rstrip()), "plain", f"part:{part.name}")


def details(sheet: Sheet) -> str:
    """Every move with its time, the odds, what would help, how long the start can wait."""
    lines: list[str] = []
    if sheet.plan is not None:
        lines += ["EVERY MOVE", *(_move(sheet, move) for move in sheet.plan.moves), ""]
    lines += [*sheet.outcome.why, ""] if sheet.outcome.why else []
    lines += [*_odds_lines(sheet, sheet.risk), ""] if sheet.risk is not None else []
    lines += _help_lines(sheet.gains) if sheet.gains is not None and sheet.plan is not None else []
    return visible("\n".join([*lines, *_latest(sheet)]))


def _move(sheet: Sheet, move: PlannedMove) -> str:
    way = f"{move.from_station} > {move.to_station}"
    steps = ", ".join(_title(sheet, move.part, step) for step in move.steps or (move.step,))
    return f"  {sheet.at(move.start_s)}  {move.part}: {way}  ({steps})"


def _title(sheet: Sheet, part: str, step: str) -> str:
    """What a part's recipe calls a step of the plan."""
    recipes = {p.name: sheet.draft.recipes[p.recipe] for p in sheet.draft.parts}
    return next((s.title for s in recipes[part].step if s.id == step), step)


def _odds_lines(sheet: Sheet, risk: Risk) -> list[str]:
    lines = [
        "THE ODDS",
        f"hands slower or faster than planned, {risk.draws} draws, spread {risk.spread:.0%}:",
        f"any part too long in a station: {risk.any_overstay:.1%}",
    ]
    for odds in [o for o in risk.dwells if o.odds > 0][:10]:
        by = span(round(odds.mean_overstay_s))
        step = _title(sheet, odds.part, odds.step)
        lines.append(f"  {odds.part}, {step} in {odds.station}: {odds.odds:.1%}, by {by}")
    tip = risk.earlier
    if tip is not None:
        after = f"{tip.odds_before:.1%} becomes {tip.odds_after:.1%}"
        step = _title(sheet, tip.part, tip.step)
        lines.append(f"  begin {tip.part}, {step} {span(tip.by_s)} earlier: {after}")
    return lines


def _help_lines(gains: Sequence[Gain]) -> list[str]:
    told = [f"  {gain.words}" for gain in gains] or ["  no further slot and no further hands"]
    return ["WHAT WOULD END IT EARLIER", *told, ""]


def _latest(sheet: Sheet) -> list[str]:
    """How long the start can be put off, where there are hours away."""
    told = sheet.latest
    if told is None:
        return []
    lines = []
    if told.keeps_end_s is not None:
        lines.append(f"  by {sheet.at(told.keeps_end_s)} to end at the same time")
    if told.before_away_s is not None:
        lines.append(f"  by {sheet.at(told.before_away_s)} to end before the next hours away")
    return ["BEGIN AT THE LATEST", *lines] if lines else []


def _wrapped(text: str, width: int) -> list[str]:
    """A text in lines, those behind the first set in a little."""
    lines = wrapped(_safe(text), width - 3)
    return [f"{'   ' if i else ' '}{line}" for i, line in enumerate(lines)]


def _safe(text: str) -> str:
    return visible(text, keep="")
