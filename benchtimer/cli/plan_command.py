"""The plan of a run before it begins: drawn, as JSON, as calendar alarms; and the cadence."""

from __future__ import annotations

import argparse
import shutil
import sys
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import (
    LEAVE_BY,
    NO,
    USAGE,
    YES,
    Wrong,
    hours_option,
    job_options,
    json_option,
    number_of,
    put_json,
    spread_option,
    whole_number,
    write_calendar,
)
from benchtimer.cli.plan_times import Times, away_asked, hours_asked
from benchtimer.cli.shop_context import (
    data_path,
    ordered,
    shop_learned,
    shop_recipes,
    shop_settings,
)
from benchtimer.times import duration

if TYPE_CHECKING:
    from benchtimer.bench.newrun import NewRun
    from benchtimer.learn.learned import Learned
    from benchtimer.plan.outcome import Outcome, Plan
    from benchtimer.plan.problem import Problem
    from benchtimer.plan.risk import Risk
    from benchtimer.plan.search_limits import SearchLimits
    from benchtimer.recipe.model import Recipe
    from benchtimer.recipe.places import Placed
    from benchtimer.shop.shop_state import Shop
    from benchtimer.store.log import Stamp

HELP_S = 2.0
"""How long to search for changes that would end the plan earlier."""

MOST_SECONDS = 3600.0
"""The longest search you can ask for."""


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... and the limits of the plan."""
    job_options(parser)
    parser.add_argument(
        "--start",
        metavar="TIME",
        help='start at: 08:30, "Sat 09:00", "tomorrow 6:30" or 2026-12-05T18:30',
    )
    hours_option(parser)
    parser.add_argument(
        "--break",
        dest="breaks",
        action="append",
        default=[],
        metavar="FROM-TO",
        help="a break on the day of the start, like 19:00-19:30; may be repeated",
    )
    parser.add_argument("--leave-by", metavar="TIME", help=LEAVE_BY)
    parser.add_argument(
        "--hurry", action="store_true", help="let dwells end at their min, to finish earlier"
    )
    parser.add_argument(
        "--seconds",
        type=number_of("a number of seconds", 0.01, MOST_SECONDS),
        default=10.0,
        metavar="S",
        help="how long to search (10); ESC or CTRL-C keeps the best plan so far",
    )
    parser.add_argument(
        "--cadence", action="store_true", help="the shortest steady interval between starts"
    )
    parser.add_argument(
        "--trials",
        type=whole_number(1_000_000, "trials"),
        default=0,
        metavar="N",
        help="try the plan N times with varied hands-on times and failed checks; prints when it "
        "will be done and the chances of an overrun and of work past your hours",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same trials")
    spread_option(parser)
    parser.add_argument(
        "--chance-under",
        type=number_of("a chance", 0, 1),
        metavar="X",
        help="how many such parts you can run with the chances of an overrun and of work past your "
        "hours at X or less, such as 0.05",
    )
    parser.add_argument("--ics", metavar="FILE", help="write the moves as calendar alarms")
    parser.add_argument("--plain", action="store_true", help="draw with ASCII only")
    json_option(parser)


def plan_run(arguments: argparse.Namespace) -> int:
    """Plan and print; exit 1 if there is no plan."""
    from benchtimer.cli.bath_command import looking
    from benchtimer.plan.problem import ProblemError
    from benchtimer.recipe.places import place_recipes
    from benchtimer.recipe.reader import build_recipe
    from benchtimer.run.layout import check_counts, check_entries, check_layout

    new = ordered(arguments, shop_recipes())
    shop = shop_settings().places
    if arguments.chance_under is not None and len({key for _, key in new.parts}) > 1:
        raise Wrong("--chance-under counts parts of one recipe; leave it out for several", USAGE)
    recipes = {key: build_recipe(dict(table), name=key) for key, table in new.recipes.items()}
    with looking(arguments) as (book, now_ms):
        baths = book.tie(recipes, new.baths, now_ms)[0] if book is not None else {}
    at = check_layout(new.recipes, list(new.parts), new.properties, baths, shop)
    enters = check_entries(new.recipes, new.parts, new.enters)
    check_counts(new.parts, new.counts)
    learned = shop_learned(arguments, new)
    if arguments.spread is None:
        arguments.spread = learned.spread
    recipes = learned.applied(recipes)
    try:
        if arguments.cadence:
            return _cadence(arguments, next(iter(recipes.values())))
        placed = place_recipes(recipes, at, shop)
        return _plan(arguments, placed, new, enters, learned, baths)
    except ProblemError as error:
        raise Wrong(str(error), NO) from None


def _plan(
    arguments: argparse.Namespace,
    placed: Placed,
    new: NewRun,
    enters: Mapping[str, int],
    learned: Learned,
    baths: Mapping[str, str],
) -> int:
    from benchtimer.bench.advice import away_of, away_windows
    from benchtimer.bench.beside import beside
    from benchtimer.cli.stop_key import StopKey
    from benchtimer.plan.from_recipe import plan_problem
    from benchtimer.plan.planner import solve
    from benchtimer.run.hazards import clash_line

    times, parts = Times.beginning(arguments.start), list(new.parts)
    found, releases = _under_way(arguments), dict[str, int]()
    if found is not None:
        stamp = found[1]
        start = times.start if arguments.start else stamp
        ahead_s = max(0, start.wall_ms - stamp.wall_ms) // 1000
        times, releases = Times(stamp, stamp, start), {name: ahead_s for name, _ in parts}
    away = away_asked(arguments, times)
    problem = plan_problem(placed, parts, releases, hands=arguments.hands, away=away, enters=enters)
    if found is not None:
        there = away_windows(away_of(found[0]), times.zero, hours_asked(arguments, times))
        places = shop_settings().places
        problem = beside(found[0], new, problem, times.zero.noted_ms, there, baths, places)
    first = placed.recipes[parts[0][1]]
    with StopKey(arguments.seconds) as stop:
        outcome = solve(
            problem,
            seconds=arguments.seconds,
            clock=time.monotonic,
            stop=stop,
            hurry=arguments.hurry,
            say=times.at,
        )
    if stop.pressed:
        print("benchtimer: stopped early; this is the best found so far", file=sys.stderr)
    plan = outcome.plan
    if arguments.ics and plan is not None:
        from benchtimer.plan.calendar import to_ics

        zero = datetime.fromtimestamp(times.zero.wall_ms // 1000, UTC)
        write_calendar(Path(arguments.ics), lambda: to_ics(plan, zero, run=first.title))
    risk = None
    if arguments.trials and plan is not None:
        assess = _assess(arguments, learned)
        risk = assess(problem, plan, placed, parts, enters, trials=arguments.trials)
    if arguments.json:
        table = outcome.as_dict() | ({"risk": risk.as_dict()} if risk is not None else {})
        table |= {"learned": learned.as_dict()} if learned else {}
        put_json(table)
    else:
        if found is not None:
            ahead_s = next(iter(releases.values()))
            begins = f"the new parts start at {times.at(ahead_s)}" if ahead_s else "starting now"
            print(f"Planned around the runs on the bench, {begins}.")
        danger = clash_line(placed.recipes)
        if danger:
            print(danger)
        print("\n".join(_text(arguments, problem, outcome, times, 0.0 if stop.pressed else HELP_S)))
        if learned:
            print(f"\nPlanned with {learned.words}; --recipe-times ignores them.")
        if risk is not None:
            from benchtimer.plan.risk_words import risk_lines

            print("\n".join(["", *risk_lines(risk, times.at)]))
    if arguments.chance_under is not None:
        _largest(arguments, first, times, learned)
    return YES if plan is not None else NO


def _under_way(arguments: argparse.Namespace) -> tuple[Shop, Stamp] | None:
    """What is on the bench and its time; None if nothing is in progress."""
    from benchtimer.bench.beside import is_busy
    from benchtimer.bench.open_bench import look_on
    from benchtimer.clock import SystemClock
    from benchtimer.store.log import FILE_NAME, is_there

    folder = data_path(arguments)
    if not is_there(folder / FILE_NAME):
        return None
    watcher = look_on(folder, SystemClock(), speed=arguments.speed or 1)
    try:
        stamp = watcher.stamp()
        shop = watcher.shop(stamp)
    finally:
        watcher.close()
    return (shop, stamp) if is_busy(shop) else None


def _text(
    arguments: argparse.Namespace,
    problem: Problem,
    outcome: Outcome,
    times: Times,
    help_s: float,
) -> list[str]:
    from benchtimer.bench.wallclock import no_hours_words
    from benchtimer.plan.busy import busy_lines
    from benchtimer.plan.draw import draw_plan
    from benchtimer.plan.gains import what_helps
    from benchtimer.plan.outcome import Undecided
    from benchtimer.plan.search_limits import SearchLimits
    from benchtimer.view.words import tick_words

    plan = outcome.plan
    if plan is None or plan.end_s is None:
        lines = [f"{outcome.status}: {outcome.verdict}", *(f"  {why}" for why in outcome.why)]
        closed = no_hours_words(hours_asked(arguments, times), times.zero)
        lines += [f"  {closed}"] if closed else []
        longer_s = min(MOST_SECONDS, max(10, 6 * arguments.seconds))
        if isinstance(outcome, Undecided) and longer_s > arguments.seconds:
            lines.append(f"  to search longer, add --seconds {longer_s:g}")
        return lines
    since = "after the start" if times.zero == times.start else "from now"
    ends = f"done {times.at(plan.end_s)}, {duration(plan.end_s)} {since}"
    lines = [f"{outcome.status}: {ends}, {outcome.verdict}"]
    lines += [f"  {why}" for why in outcome.why]
    if problem.away and help_s:
        lines += _latest_lines(problem, plan, times, SearchLimits(help_s, time.monotonic))
    limits = SearchLimits(help_s, time.monotonic)
    helps = what_helps(problem, outcome, limits, hurry=arguments.hurry)
    lines += [f"  would end it earlier: {gain.words}" for gain in helps.gains[:3]]
    lines += ["", *busy_lines(plan.moves, times.minutes)]
    width = min(200, shutil.get_terminal_size((100, 24)).columns)
    plain = arguments.plain or not can_draw()
    say = tick_words(times.zero, 0, plan.end_s)
    drawn = draw_plan(problem, plan, width, plain=plain, say=say)
    moves = [f"{times.at(move.start_s)}  {move.words()}" for move in plan.moves]
    return [*lines, "", *drawn, "", *moves]


def _latest_lines(problem: Problem, plan: Plan, times: Times, limits: SearchLimits) -> list[str]:
    from benchtimer.plan.latest import latest_start

    latest = latest_start(problem, plan, limits)
    lines = [f"  start {line}" for line in latest.lines(times.at)]
    if latest.at_all_s is not None:
        lines.append(f"  latest start before the next hours away: {times.at(latest.at_all_s)}")
    return lines


def _cadence(arguments: argparse.Namespace, recipe: Recipe) -> int:
    from benchtimer.plan.cadence import cadence
    from benchtimer.plan.from_recipe import problem_of, route_of
    from benchtimer.plan.search_limits import SearchLimits

    problem = problem_of([recipe], [])
    limits = SearchLimits(arguments.seconds, time.monotonic)
    found = cadence(problem.stations, route_of(recipe), problem.walks, limits)
    if arguments.json:
        put_json(found.as_dict())
    elif found.cadence_s is None:
        print(f"{found.status}: no steady interval", *(f"  {why}" for why in found.why), sep="\n")
    else:
        proof = "proven the shortest" if found.status == "optimal" else (
            f"none is shorter than {duration(found.bound_s or 0)}"
        )  # fmt: skip
        print(f"{found.status}: start a part every {duration(found.cadence_s)}, {proof}")
        print(f"  one pair of hands handles {found.parts_at_once} parts at once that way")
        print(f"  and is busy {found.hands_busy:.0%} of the time")
    return YES if found.cadence_s is not None else NO


def _assess(arguments: argparse.Namespace, learned: Learned) -> Callable[..., Risk]:
    """``assess_plan`` with the options of the trials."""
    from benchtimer.job.run_trials import assess_plan

    return partial(assess_plan, seed=arguments.seed, spread=arguments.spread, learned=learned)


def _largest(arguments: argparse.Namespace, recipe: Recipe, times: Times, learned: Learned) -> None:
    """The largest number of identical parts that stays within the limit."""
    from benchtimer.plan.from_recipe import plan_problem
    from benchtimer.plan.planner import solve
    from benchtimer.plan.risk import largest_batch
    from benchtimer.plan.risk_words import batch_lines
    from benchtimer.recipe.places import place_recipes

    placed, assess = place_recipes({recipe.id: recipe}, {}), _assess(arguments, learned)

    def parts_of(count: int) -> list[tuple[str, str]]:
        return [(f"part {n + 1}", recipe.id) for n in range(count)]

    def plan_for(count: int) -> tuple[Problem, Outcome]:
        parts = parts_of(count)
        away = away_asked(arguments, times)
        problem = plan_problem(placed, parts, hands=arguments.hands, away=away)
        seconds, hurry = arguments.seconds / 4, arguments.hurry
        return problem, solve(problem, seconds=seconds, clock=time.monotonic, hurry=hurry)

    def judge(problem: Problem, plan: Plan) -> Risk:
        parts, trials = parts_of(len(problem.parts)), arguments.trials or 1000
        return assess(problem, plan, placed, parts, trials=trials, advise=False)

    limit = arguments.chance_under
    found = largest_batch(24, limit, plan_for, judge)
    out = sys.stderr if arguments.json else sys.stdout
    print("\n".join(["", *batch_lines(found, limit)]), file=out)


def can_draw() -> bool:
    """Whether the output can show line-drawing characters."""
    try:
        "█─·░╷".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
