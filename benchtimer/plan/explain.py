"""Why there is no plan, in plain words, and the smallest changes that would allow one.

The words come from proofs, not from guesses. Parts are removed one by one as long as the rest still
has no plan; what remains is a smallest set that can't work together. Causes are tested the same
way: without a closing, or with more hands, there is a plan. Each suggested change has been planned
completely, and the smallest one that works is suggested.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from benchtimer.plan import changes
from benchtimer.plan.earliest import Earliest
from benchtimer.plan.exact_search import Search
from benchtimer.plan.instance import NOWHERE, Instance, progress
from benchtimer.plan.network import hands_now
from benchtimer.plan.outcome import Plan, ProblemChange, Witness
from benchtimer.plan.plan_words import Say, listed
from benchtimer.plan.problem import ENDLESS_S, AwayTime, PlanPart, Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.search_state import Dead
from benchtimer.plan.timing import time_order
from benchtimer.times import duration
from benchtimer.values import replace

TRY_NODES = 3000
"""The limit on states opened and parts placed for one attempt at a change."""
LONGEST_EXTRA_S = 24 * 3600
"""A dwell that would need more than a day past its limit is not suggested."""
MOST_WINDOWS = 4
"""How many of the first closings are tried at other times."""


def at_once(instance: Instance, say: Say = duration) -> Witness | None:
    """Reasons known without a search: a closed place, a limit already passed."""
    for part in instance.problem.parts:
        if not part.held and not part.is_done:
            witness = _waits(instance, part) or _shut(instance, part)
            witness = witness or _overdue(instance, part, say)
            if witness is not None:
                return witness
    return None


def _waits(instance: Instance, part: PlanPart) -> Witness | None:
    problem = instance.problem
    for other in problem.parts:
        if other.name in part.after and other.held and not other.is_done and not progress(part):
            words = f"{part.name} waits for {other.name}, which is held"
            change = ProblemChange(f"resume {other.name}", changes.released(problem, other.name))
            return Witness((words,), (part.name, other.name), (), None, None, (change,))
    return None


def _shut(instance: Instance, part: PlanPart) -> Witness | None:
    problem = instance.problem
    for dwell in part.route.dwells[progress(part) :]:
        station = problem.station(dwell.station)
        step = dwell.step or dwell.station
        if not station.in_service:
            words = f"{part.name} needs {station.name} for {step}, but it is out of service"
            change = ProblemChange(
                f"put {station.name} back in service", changes.in_service(problem, station.name)
            )
            return Witness((words,), (part.name,), (step,), station.name, None, (change,))
        if instance.capacity[instance.places[station.name]] < 1:
            held = [p.name for p in problem.parts if p.held and p.station == station.name]
            words = f"{part.name} needs {station.name} for {step}, but {listed(held)} held there"
            change = ProblemChange(f"resume {held[0]}", changes.released(problem, held[0]))
            return Witness((words,), (part.name, *held), (step,), station.name, None, (change,))
    return None


def _overdue(instance: Instance, part: PlanPart, say: Say) -> Witness | None:
    if part.entered_s is None or part.moving_s is not None:
        return None
    problem, number = instance.problem, part.moves_made - 1
    dwell = part.route.dwells[number]
    if dwell.max_s is None:
        return None
    free_s = _first_lift_s(instance, part, part.entered_s + dwell.min_s, hours=False)
    ready_s = _first_lift_s(instance, part, part.entered_s + dwell.min_s)
    limit_s = part.entered_s + dwell.max_s
    if ready_s <= limit_s:
        return None
    step = dwell.step or dwell.station
    most = f"(max {duration(dwell.max_s)})"
    words = (
        f"{part.name} must leave {dwell.station} by {say(limit_s)} {most}, "
        f"but can't be pulled before {say(ready_s)}"
    )
    if limit_s < 0 and problem.now_s == 0:  # on a working bench, second 0 is now
        ago = duration(-limit_s)
        words = f"{part.name} should have left {dwell.station} {ago} ago {most}"
    elif free_s <= limit_s:
        words += f": you are away {_hours_words(_away_at(problem, free_s), say)}"
    carried = [p.name for p in problem.parts if p.moving_s is not None and not p.is_done]
    busy = carried if free_s > limit_s and len(carried) == problem.hands else []
    if busy:
        words += f": the hands are busy with {listed(busy)}"
    late_s = ready_s - limit_s
    change = ProblemChange(
        f"let {part.name} stay {duration(late_s)} longer in {dwell.station}",
        changes.longer(problem, part, number, late_s),
    )
    return Witness((words,), (part.name, *busy), (step,), dwell.station, limit_s, (change,))


def _away_at(problem: Problem, time_s: int) -> AwayTime | None:
    """The away window that a move from a time on runs into."""
    following = [away for away in problem.away if away.to_s > time_s]
    return min(following, key=lambda away: away.from_s, default=None)


def _hours_words(away: AwayTime | None, say: Say) -> str:
    if away is None:
        return "then"
    if away.to_s >= ENDLESS_S:
        return f"from {say(away.from_s)} on"
    return f"from {say(max(0, away.from_s))} to {say(away.to_s)}"


def _first_lift_s(
    instance: Instance, part: PlanPart, min_over_s: int, *, hours: bool = True
) -> int:
    place = instance.places[part.route.dwells[part.moves_made - 1].station]
    hands_s = part.route.moves[part.moves_made].hands_s
    ready = max(min(free + instance.walk[at][place] for free, at in hands_now(instance)),
                min_over_s)  # fmt: skip
    return int(instance.first_start_s(ready, hands_s)) if hours else ready


def has_plan(problem: Problem, limits: SearchLimits) -> bool | None:
    """Whether a changed problem has a plan; None if the attempt ran out of budget."""
    if limits.over():
        return None
    instance = Instance(problem)
    if not instance.has_work:
        return True
    if at_once(instance) is not None:
        return False
    best = Earliest(problem, limits.within(nodes=TRY_NODES)).run(first_plan=True)
    if best.turns is not None:
        return best.end_s < ENDLESS_S
    return False if best.is_closed else None


def explain(
    problem: Problem, dead: Dead | None, limits: SearchLimits, say: Say = duration
) -> Witness:
    """The witness for a problem that provably has no plan.

    Args:
        problem: without a plan.
        dead: where the search got stuck.
        limits: what is left of the budget.
        say: writes a time of the plan.
    """
    core = smallest_core(problem, limits)
    names = tuple(part.name for part in core.parts)
    instance = Instance(problem)
    if len(core.parts) < len(problem.parts) and problem.hands == 1:
        instance = Instance(core)
        dead = Search(instance, limits.within(nodes=TRY_NODES)).run(first_plan=True).dead
    lines = [f"no order of moves keeps every limit for {listed(names)}"]
    steps: tuple[str, ...] = ()
    station, at_s = None, None
    if dead is not None:
        words, steps, station, at_s = _tell(instance, dead, say)
        lines.append(words)
    hands, hours = _causes(core, problem, limits, say)
    lines += [words for words, _ in (*hours, *hands)]
    offers = [change for _, change in hours] + find_changes(core, problem, limits)
    offers += [change for _, change in hands if has_plan(change.problem, limits)]
    if not offers:
        offers += _wider(problem, limits)
    return Witness(tuple(lines), names, steps, station, at_s, tuple(offers))


Cause = tuple[str, ProblemChange]


def _causes(
    core: Problem, problem: Problem, limits: SearchLimits, say: Say
) -> tuple[list[Cause], list[Cause]]:
    """The role of the hands and the hours: with more of them there is a plan."""
    hands, hours = [], []
    if has_plan(changes.more_hands(core), limits):
        count = "one pair" if core.hands == 1 else f"{core.hands} pairs"
        words = f"{count} of hands can't make the moves in time; one more can"
        more = changes.more_hands(problem)
        hands.append((words, ProblemChange(f"one more pair of hands ({more.hands})", more)))
    for away in sorted(problem.away, key=lambda a: a.from_s)[:MOST_WINDOWS]:
        if has_plan(changes.without_away(core, away), limits):
            words = (
                f"you are away {_hours_words(away, say)}; if you were there, there would be a plan"
            )
            for change in _other_hours(problem, away, limits, say):
                hours.append((words, change))
    return hands, hours


def _other_hours(
    problem: Problem, away: AwayTime, limits: SearchLimits, say: Say
) -> Iterator[ProblemChange]:
    """The smallest extension of hours around one closing that allows a plan."""
    max_s = away.to_s - away.from_s
    later_s = least_extra(lambda s: changes.stays_on(problem, away, s), limits, max_s)
    if later_s is not None:
        words = f"stay {duration(later_s)} past {say(away.from_s)}"
        yield ProblemChange(words, changes.stays_on(problem, away, later_s))
    sooner_s = least_extra(lambda s: changes.begins_early(problem, away, s), limits, max_s)
    if sooner_s is not None and away.to_s < ENDLESS_S:
        words = f"be back {duration(sooner_s)} before {say(away.to_s)}"
        yield ProblemChange(words, changes.begins_early(problem, away, sooner_s))


def proven(
    witness: Witness, problem: Problem, limits: SearchLimits, say: Say = duration
) -> Witness:
    """The witness with only the changes that have a plan, or with others if none has.

    Args:
        witness: with changes that have not been planned.
        problem: without a plan.
        limits: what is left of the budget.
        say: writes a time of the plan.
    """
    kept = [change for change in witness.changes if has_plan(change.problem, limits)]
    first = _away_at(problem, witness.at_s or problem.now_s) if witness.at_s is not None else None
    if first is not None and first.from_s <= (witness.at_s or 0):
        kept += _other_hours(problem, first, limits, say)
    if not kept:
        core = changes.only(problem, {*witness.parts, *(p.name for p in problem.parts if p.held)})
        kept = find_changes(core, problem, limits)
    return replace(witness, changes=tuple(kept or _wider(problem, limits)))


def _wider(problem: Problem, limits: SearchLimits) -> list[ProblemChange]:
    """Every limit widened by just enough to allow a plan."""
    extra_s = least_extra(lambda s: changes.all_longer(problem, s), limits)
    if extra_s is None:
        return []
    words = f"let any part stay up to {duration(extra_s)} longer than its limits"
    return [ProblemChange(words, changes.all_longer(problem, extra_s))]


def smallest_core(problem: Problem, limits: SearchLimits) -> Problem:
    """A smallest set of parts that has no plan together (as far as the budget allows).

    Parts that are held stay: they take slots.
    """
    core = problem
    for part in problem.parts:
        if part.held:
            continue
        fewer = changes.without(core, {part.name})
        if has_plan(fewer, limits) is False:
            core = fewer
    return core


def _tell(
    instance: Instance, dead: Dead, say: Say
) -> tuple[str, tuple[str, ...], str | None, int | None]:
    line = instance.lines[instance.line_of[dead.move]]
    part = instance.problem.parts[line.parts[dead.part]]
    number = dead.move - line.first_m
    step = part.route.leads_to(number)
    come_s = int(dead.earliest_s)
    furthest = "in the order that gets furthest,"
    if dead.late_m == NOWHERE:
        words = f"{furthest} {part.name} moves on to {step} at {say(come_s)}, too late"
        return words, (step,), part.route.goes_to(number), come_s
    late_line = instance.lines[instance.line_of[dead.late_m]]
    late = instance.problem.parts[late_line.parts[dead.late_part]]
    dwell = late.route.dwells[dead.late_m - late_line.first_m]
    late_step = dwell.step or dwell.station
    words = f"{furthest} {part.name} moves on to {step} at {say(come_s)}"
    if late is not part:
        come_s += part.route.moves[number].hands_s
        words = f"{furthest} {part.name} has moved on to {step} by {say(come_s)}"
    words += f", too late for {late.name} in {dwell.station}"
    if dwell.max_s is not None:
        words += f" (max {duration(dwell.max_s)})"
    return words, (step, late_step), dwell.station, come_s


def find_changes(core: Problem, problem: Problem, limits: SearchLimits) -> list[ProblemChange]:
    """Changes that allow a plan for the whole problem, each planned completely, smallest first.

    Args:
        core: the parts that can't work together.
        problem: all parts.
        limits: what is left of the budget.
    """
    found = []
    for part in core.parts:
        change = _longer(problem, part, limits)
        if change is not None:
            found.append(change)
    found.sort(key=lambda pair: pair[0])
    worked = [change for _, change in found]
    used = {d.station for p in core.parts for d in p.route.dwells[max(0, progress(p) - 1) :]}
    for name in sorted(used):
        freed = changes.with_slot(problem, name)
        if has_plan(freed, limits):
            holds = problem.station(name).holds + 1
            worked.append(ProblemChange(f"give {name} one more slot ({holds})", freed))
    for part in problem.parts:
        if part.held and not part.is_done:
            freed = changes.released(problem, part.name)
            if has_plan(freed, limits):
                worked.append(ProblemChange(f"resume {part.name}", freed))
    for part in core.parts:
        freed = changes.without(problem, {part.name})
        if not part.held and has_plan(freed, limits):
            worked.append(ProblemChange(f"take {part.name} off the bench", freed))
    return worked


def _longer(
    problem: Problem, part: PlanPart, limits: SearchLimits
) -> tuple[int, ProblemChange] | None:
    number = progress(part) - 1
    if number < 0 or part.is_done or part.held or number >= len(part.route.dwells):
        return None
    dwell = part.route.dwells[number]
    if dwell.max_s is None:
        return None
    extra_s = least_extra(lambda s: changes.longer(problem, part, number, s), limits)
    if extra_s is None:
        return None
    words = f"let {part.name} stay {duration(extra_s)} longer in {dwell.station}"
    return extra_s, ProblemChange(words, changes.longer(problem, part, number, extra_s))


def least_extra(
    make: Callable[[int], Problem], limits: SearchLimits, max_s: int = LONGEST_EXTRA_S
) -> int | None:
    """The fewest whole seconds for which a changed problem has a plan, by doubling, then halving.

    Args:
        make: the problem changed by this many seconds.
        limits: what is left of the budget.
        max_s: more than this many are not tried.
    """
    high = 1
    while not has_plan(make(min(high, max_s)), limits):
        if high >= max_s or limits.over():
            return None
        high *= 4
    low, high = high // 4, min(high, max_s)
    while high - low > 1:
        middle = (low + high) // 2
        if has_plan(make(middle), limits):
            high = middle
        else:
            low = middle
    return high


def least_bad(problem: Problem, limits: SearchLimits) -> Plan | None:
    """A plan whose longest overrun is the shortest possible.

    Its order ends earliest among those, and has the smallest total overrun for that order. The
    dwells of the plan show the real limits, so ``overrun_s`` shows which part stays too long.
    """
    extra_s = least_extra(lambda s: changes.all_longer(problem, s), limits)
    if extra_s is None:
        return None
    wider = changes.all_longer(problem, extra_s)
    best = Earliest(wider, limits.within(nodes=TRY_NODES)).run()
    if best.turns is None:
        return None
    most = {(p.name, i): d.max_s for p in problem.parts for i, d in enumerate(p.route.dwells)}
    plan = time_order(Instance(wider), best.turns, best.starts, real_most=most)
    dwells = tuple(replace(d, max_s=most[d.part, d.dwell]) for d in plan.dwells)
    return replace(plan, dwells=dwells)
