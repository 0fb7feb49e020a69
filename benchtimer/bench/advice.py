"""The planner's advice for the runs on the bench.

The planner works in seconds from now and knows nothing about benches; the engine knows nothing
about plans. This module turns all open runs into one planning problem, and a plan into the bench
times at which each part's next move should begin. The planner advises and the maker decides; every
press changes the problem.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from math import inf

from benchtimer.bench.plans import (
    NO_ADVICE,
    Advice,
    MoveAhead,
    part_key,
    part_name,
    stage_of,
)
from benchtimer.bench.wallclock import ShopZone, of_day_s, real_s
from benchtimer.plan.away import between, daily
from benchtimer.plan.from_recipe import (
    dwelling_part,
    handled_part,
    heating_of,
    problem_of,
    waiting_part,
)
from benchtimer.plan.latest import latest_begins
from benchtimer.plan.outcome import DONE, Infeasible, Outcome, Plan, PlannedDwell, Undecided
from benchtimer.plan.plan_words import Say
from benchtimer.plan.planner import never, no_clock, solve
from benchtimer.plan.problem import ENDLESS_S, AwayTime, Heating, PlanPart, Problem, ProblemError
from benchtimer.plan.together import together
from benchtimer.quantity import QuantityError, parse_hours
from benchtimer.run import run_state as run_state
from benchtimer.run.actions import NO_PLAN, PlanTimes
from benchtimer.run.agenda import READ_S
from benchtimer.run.ahead import is_cold
from benchtimer.run.readiness import make_up_due_ms, ready_at_ms
from benchtimer.run.run_state import Bench, PartPhase, Place, RunPhase, window_of
from benchtimer.shop.hours import AHEAD_DAYS, ALWAYS, Hours, open_spans
from benchtimer.shop.shop_state import ALONE, Shop, alone
from benchtimer.store.log import Stamp
from benchtimer.times import duration, joined_spans, rough_duration
from benchtimer.values import replace

SECONDS = 1.0
"""How long a replan may take; the best plan so far is always available."""


def advise(
    shop: Shop,
    now_ms: int,
    away: Sequence[AwayTime] = (),
    previous: Advice | None = None,
    *,
    seconds: float = SECONDS,
    clock: Callable[[], float] = no_clock,
    stop: Callable[[], bool] = never,
    nodes: float = inf,
    say: Say = duration,
) -> Advice:
    """Plan the rest of everything on the bench.

    Args:
        shop: the runs as they are.
        now_ms: bench time.
        away: hours when you are away, in seconds from now.
        previous: the last advice; its plan is kept where possible.
        seconds: how long to search, on ``clock``.
        clock: a monotonic clock in seconds.
        stop: called now and then; True means give up.
        nodes: the limit on states opened and parts placed.
        say: writes a time of the plan, in seconds from now.
    """
    runs = planned_runs(shop)
    if not runs:
        return NO_ADVICE
    stages = {part_key(run, p.name): stage_of(p) for run in runs for p in shop.parts_of(run)}
    try:
        problem = problem_now(shop, now_ms, away)
        if previous is not None and previous.is_proven_for(problem):
            return previous.moved_to(now_ms, stages)  # as while the pages of the setup are read
        before = None
        if previous is not None and previous.plan is not None:
            before = previous.plan.moved((previous.now_ms - now_ms) // 1000)
        outcome = solve(
            problem, previous=before, rescue=True,
            seconds=seconds, clock=clock, stop=stop, nodes=nodes, say=say,
        )  # fmt: skip
    except ProblemError as error:
        return Advice(stages=stages, warnings=(f"no plan: {error}",))
    advice = Advice(now_ms=now_ms, stages=stages, warnings=_warnings(shop, outcome),
                  outcome=outcome, problem=problem)  # fmt: skip
    plan = outcome.best
    if plan is None:
        return advice
    put_off = latest_begins(problem, outcome.plan) if outcome.plan is not None else {}
    return replace(
        advice,
        latest_ms={name: now_ms + int(s) * 1000 for name, s in put_off.items() if s < inf},
        begin_ms={m.part: now_ms + m.start_s * 1000 for m in reversed(plan.moves)},  # the first
        end_ms=now_ms + plan.end_s * 1000 if plan.end_s is not None else None,
        moves=_moves_ahead(plan, now_ms),
    )


def _moves_ahead(plan: Plan, now_ms: int) -> tuple[MoveAhead, ...]:
    late = {(dwell.part, dwell.out_s) for dwell in plan.dwells if dwell.overrun_s}
    return tuple(
        MoveAhead(
            move.part,
            now_ms + move.start_s * 1000,
            now_ms + move.end_s * 1000,
            move.to_station if move.step != DONE else None,
            (move.part, move.start_s) in late,
        )
        for move in sorted(plan.moves, key=lambda move: move.start_s)
    )


def planned_runs(shop: Shop) -> list[str]:
    """The runs to plan: the started ones or, if there are none, the ones being set up."""
    started = [run for run in shop.runs if shop.bench(run).phase is not RunPhase.IDLE]
    return started or shop.runs


def away_of(shop: Shop) -> tuple[str, ...]:
    """The daily hours away of the runs being planned."""
    return tuple(dict.fromkeys(text for run in planned_runs(shop) for text in shop.bench(run).away))


def _warnings(shop: Shop, outcome: Outcome) -> tuple[str, ...]:
    """What the maker must know: no plan keeps every limit, or none was found."""
    if not isinstance(outcome, Infeasible | Undecided):
        return ()
    late = _late_dwells(outcome)
    if not late and isinstance(outcome, Undecided):
        reason = outcome.verdict.removeprefix("no plan ")
        return (f"NO PLAN {reason}: each part follows its own times.",)
    if not late:
        return tuple(_in_words(shop, line) for line in outcome.why)
    late_words = _past_max(shop, late)
    if isinstance(outcome, Undecided):
        return (f"NO PLAN FOUND without an overrun. The best one found: {late_words}.",)
    # It is proven that some limit breaks; which one, and by how much, is only the best plan found.
    return (f"NOW UNAVOIDABLE. When pulled, by the best plan: {late_words}.",)


def _late_dwells(outcome: Outcome | None) -> list[PlannedDwell]:
    """The dwells that the plan ends past their max, in the order in which they end."""
    plan = outcome.best if outcome is not None else None
    late = [dwell for dwell in (plan.dwells if plan is not None else ()) if dwell.overrun_s]
    return sorted(late, key=lambda dwell: dwell.out_s or 0)


def _past_max(shop: Shop, late: Sequence[PlannedDwell]) -> str:
    """Late dwells in words: ``#1 3 min past max, #2 1 min``."""
    over = [f"{_number(shop, d)} {rough_duration(d.overrun_s)}" for d in late]
    return ", ".join([f"{over[0]} past max", *over[1:]])


def lost_by(shop: Shop, before: Advice, after: Advice) -> str:
    """What a plan loses that another one keeps, in words; empty if nothing.

    Args:
        shop: the bench.
        before: the plan that keeps more, or as much.
        after: the plan that may lose something.
    """
    known = {(d.run, d.part, d.station): d.overrun_s for d in _late_dwells(before.outcome)}
    late = [d for d in _late_dwells(after.outcome)
            if d.overrun_s > known.get((d.run, d.part, d.station), 0)]  # fmt: skip
    if late:
        return _past_max(shop, late)
    return after.warnings[0] if after.warnings and not before.warnings else ""


def _number(shop: Shop, dwell: PlannedDwell) -> str:
    """The bench number of the part in a planned dwell."""
    return f"#{shop.bench(dwell.run).parts[part_name(dwell.run, dwell.part)].number}"


def _in_words(shop: Shop, line: str) -> str:
    """A line from the planner, with the number and the name that each part has on the bench."""
    said = {part_key(run, part.name): f"#{part.number} {part.name}" for run, part in shop.parts()}
    for key in sorted(said, key=len, reverse=True):  # one part's name may begin another's
        line = line.replace(key, said[key])
    return line


def rehearsing(nodes: int = 200) -> Callable[[Bench, int], PlanTimes]:
    """Advice for simulated hands: limited by states, not by time, so that it is repeatable."""
    last: list[Advice] = []

    def ask(bench: Bench, now_ms: int) -> PlanTimes:
        if bench.phase is not RunPhase.RUNNING:
            return NO_PLAN
        away = away_windows(bench.away, Stamp(0, None, now_ms, now_ms, 0))
        advice = advise(alone(bench), now_ms, away, last[-1] if last else None, nodes=nodes)
        last[:] = [advice]
        return advice.times(ALONE, bench)

    return ask


def problem_now(shop: Shop, now_ms: int, away: Sequence[AwayTime] = ()) -> Problem:
    """The planning problem of everything on the bench; its zero is now.

    Parts are named by ``part_key``, stations by their real places.

    Args:
        shop: everything on the bench.
        now_ms: bench time.
        away: when you are away.

    Raises:
        ProblemError: no plan can start from this state of the bench.
    """
    return together(problems_now(shop, now_ms, away), shop.real)


def problems_now(shop: Shop, now_ms: int, away: Sequence[AwayTime] = ()) -> dict[str, Problem]:
    """The planning problem of each run alone; see ``problem_now``.

    Args:
        shop: everything on the bench.
        now_ms: bench time.
        away: when you are away.
    """
    runs = planned_runs(shop)
    inside = Counter(
        shop.real[run, part.station]
        for run in runs
        for part in shop.parts_of(run)
        if part.phase is PartPhase.DWELLING and part.station is not None
    )
    free_hands, problems = shop.hands, {}
    for run in runs:
        bench = shop.bench(run)
        parts: list[PlanPart] = []
        for part in bench.parts.values():
            if part.is_out or (bench.phase is RunPhase.HELD and part.station is None):
                continue
            in_hand = part.phase is PartPhase.IN_HAND and part.held is None
            planned = _part(bench, part, now_ms, can_handle=in_hand and free_hands > 0)
            if planned is not None and planned.moving_s is not None:
                to = planned.route.goes_to(planned.moves_made)
                real = shop.real[run, to] if to is not None else ""
                if to is not None and inside[real] >= bench.places[to].station.holds:
                    # Its slot is taken, so it waits: its move is planned after the pull that frees
                    # the slot.
                    planned = _part(bench, part, now_ms, can_handle=False)
                else:
                    inside[real] += 1
            free_hands -= in_hand
            if planned is not None:
                parts.append(planned)
        problems[run] = _of_run(bench, parts, now_ms, away, shop.hands)
    single = {real for real in _of_two_heats(shop, runs) if inside[real] <= 1}
    return {run: _one_by_one(problem, run, shop, single) for run, problem in problems.items()}


def _of_two_heats(shop: Shop, runs: Sequence[str]) -> set[str]:
    """The real places that several runs need at incompatible temperatures."""
    return {
        shop.real[run, name]
        for run in runs
        for name, place in shop.bench(run).places.items()
        if any(heat.run in runs for heat in place.other_heats)
    }


def _one_by_one(problem: Problem, run: str, shop: Shop, single: Collection[str]) -> Problem:
    """A problem in which these real places take one part, so that no two runs' parts meet there."""
    stations = (
        replace(s, holds=1) if shop.real.get((run, s.name)) in single else s
        for s in problem.stations
    )
    return replace(problem, stations=tuple(stations)) if single else problem


def _of_run(
    bench: Bench, parts: Sequence[PlanPart], now_ms: int, away: Sequence[AwayTime], hands: int
) -> Problem:
    """The problem of one run alone."""
    closed = [name for name, place in bench.places.items() if place.closed is not None]
    recipes = list(bench.recipes.values())
    heating = {
        name: at_place for name, place in bench.places.items()
        if (at_place := _heating(bench, place, now_ms)) is not None
    }  # fmt: skip
    away = joined([*away, *_gone(bench, now_ms)])
    return problem_of(
        recipes, parts, hands=hands, away=away, out_of_service=closed, heating=heating
    )


def _gone(bench: Bench, now_ms: int) -> Iterator[AwayTime]:
    """When you said you'd be away, in seconds from now."""
    if bench.gone is not None and bench.gone[1] > now_ms:
        begin_ms, end_ms = bench.gone
        yield AwayTime(max(0, (begin_ms - now_ms) // 1000), -(-(end_ms - now_ms) // 1000))


def _heating(bench: Bench, place: Place, now_ms: int) -> Heating | None:
    """When a place will be hot, in seconds from now; None if it is simply cold.

    It is read before the first part leaves for it.
    """
    heating = heating_of(place.station)
    read_s = READ_S if place.station.temperature is not None else 0
    if heating is None or is_cold(bench, place, now_ms):
        return heating
    ready_ms = ready_at_ms(place)
    ready_ms = now_ms if ready_ms is None else ready_ms + read_s * 1000
    due_ms, due_s = make_up_due_ms(place), None
    if due_ms is not None:
        stays = [window.target_ms for part in bench.inside(place.station.id)
                 if (window := window_of(bench, part)) is not None]  # fmt: skip
        due_s = -(-(max(due_ms, now_ms, *stays) - now_ms) // 1000)
    return replace(heating, ready_s=max(0, -(-(ready_ms - now_ms) // 1000)), due_s=due_s)


def _part(bench: Bench, part: run_state.Part, now_ms: int, *, can_handle: bool) -> PlanPart | None:
    """One part as the planner sees it; None if it is set aside and in nothing's way."""
    recipe = bench.recipe_of(part)
    since_s = (part.since_ms - now_ms) // 1000
    held = part.held is not None or bench.phase is RunPhase.HELD
    if part.phase is PartPhase.DWELLING:
        target_s = part.target_s
        return dwelling_part(
            part.name, recipe, part.step, since_s, held=held, made=part.sent, target_s=target_s
        )
    if held:
        return None
    if can_handle:
        return handled_part(part.name, recipe, part.step, -since_s, made=part.sent)
    held_back_ms = max(0, (part.not_before_ms or 0) - now_ms) if part.began_ms is None else 0
    release_s = -(-held_back_ms // 1000)
    return waiting_part(part.name, recipe, part.step, release_s=release_s, made=part.sent)


def away_windows(hours: Sequence[str], stamp: Stamp, work: Hours = ALWAYS) -> list[AwayTime]:
    """When you are away, as windows in seconds from now, for as long as hours look ahead.

    They are wall-clock hours, even across daylight saving changes.

    Args:
        hours: hours away every day, such as "22:00-07:00".
        stamp: now.
        work: the hours you work by weekday, less the days you are closed.

    Raises:
        ValueError: the text is not a pair of times of day.
    """
    spans = open_spans(work, ShopZone(stamp), stamp.wall_ms // 1000)
    windows = list(between(spans))
    if not spans and not work.is_always:
        windows = [AwayTime(0, ENDLESS_S)]
    for text in hours:
        begin, end = times_of_day(text)
        for window in daily(begin * 60, end * 60, of_day_s(stamp), AHEAD_DAYS):
            from_s, to_s = max(0, real_s(window.from_s, stamp)), real_s(window.to_s, stamp)
            # An hour that daylight saving skips has no length.
            windows += [AwayTime(from_s, to_s)] if to_s > from_s else []
    away = joined(windows)
    # Nothing is planned after the last day of known hours, because no one may be there.
    return [*away[:-1], AwayTime(away[-1].from_s, ENDLESS_S)] if away else []


def check_away(hours: Sequence[str]) -> None:
    """Refuse hours away that are invalid or leave no time in the day.

    Raises:
        ValueError: with the invalid text, or what they cover together.
    """
    taken: set[int] = set()
    for text in hours:
        begin, end = times_of_day(text)
        end += 24 * 60 if end <= begin else 0
        taken |= {minute % (24 * 60) for minute in range(begin, end)}
    if len(taken) == 24 * 60:
        raise ValueError(
            f"the away hours {', '.join(hours)} cover the whole day; leave some time to work"
        )


def times_of_day(text: str) -> tuple[int, int]:
    """Minutes of the day of "22:00-07:00".

    Raises:
        ValueError: it is not a pair of times of day.
    """
    try:
        return parse_hours(text)
    except QuantityError as error:
        raise ValueError(f'"{error.text}": {error.reason}; {error.allowed}') from None


def joined(windows: list[AwayTime]) -> list[AwayTime]:
    """Windows in order; ones that touch are merged."""
    return [AwayTime(*span) for span in joined_spans((w.from_s, w.to_s) for w in windows)]
