"""The plan of a run before it begins: drawn, as JSON, as calendar alarms; and the cadence."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import time
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtimer.cli.common import NO, USAGE, YES, Wrong, job_options, whole_number
from benchtimer.cli.shop import ordered, shop_shelf

if TYPE_CHECKING:
    from benchtimer.plan.outcome import Outcome, Plan
    from benchtimer.plan.problem import Problem
    from benchtimer.plan.risk import Risk
    from benchtimer.recipe.model import Recipe

HELP_S = 2.0
"""How long to look for what would end the plan earlier."""


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... and what the plan must heed."""
    job_options(parser)
    parser.add_argument("--start", metavar="TIME", help="begin at this time of day, like 08:30")
    parser.add_argument(
        "--seconds", type=_seconds, default=10.0, metavar="S", help="how long to think (10)"
    )
    parser.add_argument(
        "--cadence", action="store_true", help="the smallest steady interval for such parts"
    )
    parser.add_argument(
        "--draws", type=_count, default=0, metavar="N", help="the odds of overstays over N draws"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same draws")
    parser.add_argument(
        "--spread", type=_spread, default=0.25, metavar="X", help="of the hands-on times (0.25)"
    )
    parser.add_argument(
        "--odds-under",
        type=_spread,
        metavar="X",
        help="the largest number of such parts with odds of any overstay under X, like 0.05",
    )
    parser.add_argument("--ics", metavar="FILE", help="write the moves as calendar alarms")
    parser.add_argument("--plain", action="store_true", help="draw with ASCII only")
    parser.add_argument("--json", action="store_true", help="for programs")


def plan_run(arguments: argparse.Namespace) -> int:
    """Plan and print; exit 1 if there is no plan."""
    from benchtimer.plan.problem import ProblemError
    from benchtimer.recipe.reader import build_recipe
    from benchtimer.run.layout import check_layout

    new = ordered(arguments, shop_shelf())
    check_layout(new.recipes, list(new.parts), new.properties)
    if arguments.odds_under is not None and len({key for _, key in new.parts}) > 1:
        raise Wrong("--odds-under counts parts of one recipe; leave it out for several", USAGE)
    recipes = {key: build_recipe(dict(table), name=key) for key, table in new.recipes.items()}
    try:
        if arguments.cadence:
            return _cadence(arguments, next(iter(recipes.values())))
        return _plan(arguments, [(name, recipes[key]) for name, key in new.parts])
    except ProblemError as error:
        raise Wrong(str(error), NO) from None


def _plan(arguments: argparse.Namespace, parts: list[tuple[str, Recipe]]) -> int:
    from benchtimer.plan.from_recipe import plan_problem
    from benchtimer.plan.planner import solve

    zero = _zero(arguments.start)
    problem = plan_problem(parts, hands=arguments.hands, away=_away(arguments.away, zero))
    outcome = solve(problem, seconds=arguments.seconds, clock=time.monotonic)
    plan = outcome.plan if outcome.status in ("optimal", "feasible") else None
    if arguments.ics and plan is not None:
        _write_calendar(Path(arguments.ics), plan, zero, parts[0][1].title)
    risk = _risk(arguments, problem, plan)
    if arguments.json:
        table = outcome.as_dict() | ({"risk": risk.as_dict()} if risk is not None else {})
        print(json.dumps(table, ensure_ascii=False, indent=2))
    else:
        print("\n".join(_text(arguments, problem, outcome, plan, zero)))
        if risk is not None:
            print("\n".join(_risk_lines(risk)))
    if arguments.odds_under is not None:
        _largest(arguments, parts[0][1], zero)
    return YES if plan is not None else NO


def _text(
    arguments: argparse.Namespace,
    problem: Problem,
    outcome: Outcome,
    plan: Plan | None,
    zero: datetime,
) -> list[str]:
    from benchtimer.plan.draw import draw_plan
    from benchtimer.plan.gains import what_helps

    if plan is None or plan.end_s is None:
        return [f"{outcome.status}: no plan keeps every limit", *(f"  {w}" for w in outcome.why)]
    proof = "proven the earliest" if outcome.status == "optimal" else "not proven the earliest"
    lines = [f"{outcome.status}: done in {_span(plan.end_s)}, {_day(zero, plan.end_s)}, {proof}"]
    lines += [f"  {why}" for why in outcome.why]
    lines += _latest_lines(problem, plan, zero) if problem.away else []
    helps = what_helps(problem, outcome, seconds=HELP_S, clock=time.monotonic)
    lines += [f"  would end it earlier: {gain.words}" for gain in helps[:3]]
    width = min(200, shutil.get_terminal_size((100, 24)).columns)
    plain = arguments.plain or not _can_draw()
    drawn = draw_plan(problem, plan, width, plain=plain, say=lambda s: _clock(zero, s))
    return [*lines, "", *drawn, "", *_move_lines(plan, zero)]


def _move_lines(plan: Plan, zero: datetime) -> list[str]:
    """Each move: when, which part, from where to where, and into which step."""
    return [
        f"{_day(zero, m.start_s)}  {m.part}: {m.from_station} > {m.to_station}"
        f"  ({', '.join(m.steps) or m.step})"
        for m in plan.moves
    ]


def _latest_lines(problem: Problem, plan: Plan, zero: datetime) -> list[str]:
    from benchtimer.plan.latest import latest_start

    told = latest_start(problem, plan)
    lines = []
    if told.keeps_end_s is not None:
        lines.append(f"  start by {_day(zero, told.keeps_end_s)} to end at the same time")
    if told.before_away_s is not None:
        lines.append(
            f"  start by {_day(zero, told.before_away_s)} to end before the next away hours"
        )
    if told.at_all_s is not None:
        lines.append(f"  latest start today: {_day(zero, told.at_all_s)}")
    return lines


def _cadence(arguments: argparse.Namespace, recipe: Recipe) -> int:
    from benchtimer.plan.cadence import cadence
    from benchtimer.plan.from_recipe import problem_of, route_of

    problem = problem_of([recipe], [])
    found = cadence(
        problem.stations,
        route_of(recipe),
        problem.walks,
        seconds=arguments.seconds,
        clock=time.monotonic,
    )
    if arguments.json:
        print(json.dumps(found.as_dict(), ensure_ascii=False, indent=2))
    elif found.cadence_s is None:
        print(f"{found.status}: no steady rhythm", *(f"  {why}" for why in found.why), sep="\n")
    else:
        proof = "proven the smallest" if found.status == "optimal" else (
            f"none is shorter than {_span(found.bound_s or 0)}"
        )  # fmt: skip
        print(f"{found.status}: start a part every {_span(found.cadence_s)}, {proof}")
        print(f"  one pair of hands carries {found.parts_at_once} parts at once that way")
        print(f"  and is busy {found.hands_busy:.0%} of the time")
    return YES if found.cadence_s is not None else NO


def _risk(arguments: argparse.Namespace, problem: Problem, plan: Plan | None) -> Risk | None:
    from benchtimer.plan.risk import assess

    if not arguments.draws or plan is None:
        return None
    draws, spread = arguments.draws, arguments.spread
    return assess(problem, plan, seed=arguments.seed, draws=draws, spread=spread)


def _risk_lines(risk: Risk) -> list[str]:
    lines = ["", f"odds of any overstay: {risk.any_overstay:.1%} of {risk.draws} draws"]
    for odds in [o for o in risk.dwells if o.odds > 0][:10]:
        by = _span(round(odds.mean_overstay_s))
        lines.append(f"  {odds.part}, {odds.step} in {odds.station}: {odds.odds:.1%}, by {by}")
    tip = risk.earlier
    if tip is not None:
        lines.append(
            f"  begin {tip.part}, {tip.step} {_span(tip.by_s)} earlier: "
            f"{tip.odds_before:.1%} becomes {tip.odds_after:.1%}"
        )
    return lines


def _largest(arguments: argparse.Namespace, recipe: Recipe, zero: datetime) -> None:
    """The largest number of equal parts whose odds stay under the limit."""
    from benchtimer.plan.from_recipe import plan_problem
    from benchtimer.plan.planner import solve
    from benchtimer.plan.risk import largest_batch

    def plan_for(count: int) -> tuple[Problem, Plan] | None:
        parts = [(f"part {n + 1}", recipe) for n in range(count)]
        away = _away(arguments.away, zero)
        problem = plan_problem(parts, hands=arguments.hands, away=away)
        outcome = solve(problem, seconds=arguments.seconds / 4, clock=time.monotonic)
        found = outcome.plan if outcome.status in ("optimal", "feasible") else None
        return (problem, found) if found is not None else None

    draws = arguments.draws or 1000
    limit, spread = arguments.odds_under, arguments.spread
    best, _ = largest_batch(24, limit, plan_for, seed=arguments.seed, draws=draws, spread=spread)
    out = sys.stderr if arguments.json else sys.stdout
    print(f"\n{best} parts at most with odds of any overstay under {limit:.0%}", file=out)


def _write_calendar(path: Path, plan: Plan, zero: datetime, run: str) -> None:
    from benchtimer.plan.calendar import CalendarMissingError, to_ics

    try:
        path.write_text(to_ics(plan, zero, run=run), encoding="utf-8", newline="")
    except CalendarMissingError as missing:
        raise Wrong(str(missing), NO) from None
    except OSError as error:
        raise Wrong(f"{path}: {error.strerror or 'it cannot be written'}", NO) from None


def _zero(start: str | None) -> datetime:
    """The time the plan begins: now, or the next time of day asked for."""
    now = datetime.now(UTC).astimezone()
    if start is None:
        return now.replace(second=0, microsecond=0) + timedelta(minutes=1)
    try:
        asked = datetime.strptime(start, "%H:%M")  # noqa: DTZ007  only hour and minute are read
    except ValueError:
        raise Wrong(f'--start "{start}" is no time of day; write it like 08:30', USAGE) from None
    then = now.replace(hour=asked.hour, minute=asked.minute, second=0, microsecond=0)
    return then if then >= now else then + timedelta(days=1)


def _away(hours: list[str], zero: datetime) -> list[Any]:
    from benchtimer.bench.advice import away_windows
    from benchtimer.store.log import Stamp

    offset = zero.utcoffset() or timedelta()
    wall_ms = round(zero.timestamp() * 1000)
    return away_windows(hours, Stamp(0, None, 0, wall_ms, round(offset.total_seconds())))


def _clock(zero: datetime, seconds: int) -> str:
    return _at(zero, seconds).strftime("%H:%M")


def _day(zero: datetime, seconds: int) -> str:
    """A time of the plan, with the day if it isn't the first one's."""
    then = _at(zero, seconds)
    return then.strftime("%H:%M:%S" if then.date() == zero.date() else "%a %H:%M:%S")


def _at(zero: datetime, seconds: int) -> datetime:
    """A time of the plan in the zone of its beginning."""
    zone = timezone(zero.utcoffset() or timedelta())
    return (zero + timedelta(seconds=seconds)).astimezone(zone)


def _span(seconds: int) -> str:
    from benchtimer.plan.words import span

    return span(seconds)


def _can_draw() -> bool:
    """Whether the output takes line-drawing characters."""
    try:
        "█─·░╷".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _seconds(text: str) -> float:
    return _number(text, 0.01, 3600, "a number of seconds")


def _spread(text: str) -> float:
    return _number(text, 0, 2, "a number")


def _number(text: str, low: float, high: float, what: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not low <= number <= high:
        raise argparse.ArgumentTypeError(f"{text!r} is no {what} from {low:g} to {high:g}")
    return number


def _count(text: str) -> int:
    return whole_number(text, 1_000_000, "draws")
