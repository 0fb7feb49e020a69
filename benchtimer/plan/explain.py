"""Why there is no plan, in a maker's words, and the smallest changes that free it.

The words come from proofs, not from guesses. Parts are taken away one by one as long as the
rest still has no plan; what remains is a smallest set that cannot work together. Each
change that is offered has been planned through, and the smallest that works is told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchtimer.plan import changes
from benchtimer.plan.crew import Crew
from benchtimer.plan.instance import NOWHERE, Instance, progress
from benchtimer.plan.network import Turn, hands_now
from benchtimer.plan.outcome import Change, Plan, Witness
from benchtimer.plan.problem import Part, Problem
from benchtimer.plan.search import Found, Limits, Search
from benchtimer.plan.state import Dead
from benchtimer.plan.timing import plan_turns, time_order, turns_of
from benchtimer.plan.words import listed, span

TRY_NODES = 3000
"""States opened at most for one attempt at a change."""
LONGEST_EXTRA_S = 24 * 3600
"""A dwell that would need more than a day above its limit is not offered."""


def at_once(instance: Instance) -> Witness | None:
    """What can be told without a search: a station that is shut, a limit already passed."""
    for part in instance.problem.parts:
        if not part.held and not part.is_done:
            witness = _shut(instance, part) or _overdue(instance, part)
            if witness is not None:
                return witness
    return None


def _shut(instance: Instance, part: Part) -> Witness | None:
    problem = instance.problem
    for dwell in part.route.dwells[progress(part) :]:
        station = problem.station(dwell.station)
        step = dwell.step or dwell.station
        if not station.in_service:
            words = f"{part.name} needs {station.name} for {step}, but it is out of service"
            change = Change(
                f"put {station.name} back in service", changes.in_service(problem, station.name)
            )
            return Witness((words,), (part.name,), (step,), station.name, None, (change,))
        if instance.capacity[instance.places[station.name]] < 1:
            held = [p.name for p in problem.parts if p.held and p.station == station.name]
            words = f"{part.name} needs {station.name} for {step}, but {listed(held)} held there"
            change = Change(f"carry on with {held[0]}", _released(problem, held[0]))
            return Witness((words,), (part.name, *held), (step,), station.name, None, (change,))
    return None


def _released(problem: Problem, name: str) -> Problem:
    parts = tuple(replace(p, held=False) if p.name == name else p for p in problem.parts)
    return replace(problem, parts=parts)


def _overdue(instance: Instance, part: Part) -> Witness | None:
    if part.entered_s is None or part.moving_s is not None:
        return None
    number = part.moves_made - 1
    dwell = part.route.dwells[number]
    if dwell.most_s is None:
        return None
    ready_s = _first_lift_s(instance, part, part.entered_s + dwell.least_s)
    limit_s = part.entered_s + dwell.most_s
    if ready_s <= limit_s:
        return None
    step = dwell.step or dwell.station
    most = f"(most {span(dwell.most_s)})"
    words = (
        f"{part.name} must leave {dwell.station} by {span(limit_s)} {most}, "
        f"but cannot be lifted before {span(ready_s)}"
    )
    if limit_s < 0 and instance.problem.now_s == 0:  # a bench at work: its zero is now
        words = f"{part.name} should have left {dwell.station} {span(-limit_s)} ago {most}"
    late_s = ready_s - limit_s
    change = Change(
        f"let {part.name} stay {span(late_s)} longer in {dwell.station}",
        changes.longer(instance.problem, part, number, late_s),
    )
    return Witness((words,), (part.name,), (step,), dwell.station, limit_s, (change,))


def _first_lift_s(instance: Instance, part: Part, least_over_s: int) -> int:
    place = instance.places[part.route.dwells[part.moves_made - 1].station]
    hands_s = part.route.moves[part.moves_made].hands_s
    ready = min(free + instance.walk[at][place] for free, at in hands_now(instance))
    return int(instance.first_start_s(max(ready, least_over_s), hands_s))


def has_plan(problem: Problem, limits: Limits) -> bool | None:
    """Whether a changed problem has a plan; None if the attempt ran out of its budget."""
    if limits.over():
        return None
    instance = Instance(problem)
    if not instance.has_work:
        return True
    if at_once(instance) is not None:
        return False
    turns, closed = _order(instance, limits, first_plan=True)
    if turns is not None:
        return True
    return False if closed else None


def _order(instance: Instance, limits: Limits, first_plan: bool) -> tuple[list[Turn] | None, bool]:
    """(an order that works or None, whether nothing was left open)."""
    attempt = _attempt(limits)
    if instance.problem.hands > 1:
        plan, _ = Crew(instance, attempt).run()
        limits.spent_nodes += attempt.spent_nodes
        return (None if plan is None else plan_turns(instance.problem, plan)), False
    found = Search(instance, attempt).run(first_plan=first_plan)
    limits.spent_nodes += attempt.spent_nodes
    return (None if found.path is None else turns_of(instance, found.path)), found.closed


def _attempt(limits: Limits) -> Limits:
    left = max(0.0, limits.seconds - limits.elapsed_s)
    nodes = min(TRY_NODES, limits.nodes - limits.spent_nodes)
    return Limits(left, limits.clock, limits.stop, nodes)


def explain(search: Search, found: Found) -> Witness:
    """The witness for a problem that a search has proven to have no plan."""
    problem, limits = search.instance.problem, search.limits
    core = smallest_core(problem, limits)
    names = tuple(part.name for part in core.parts)
    dead, instance = found.dead, search.instance
    if len(core.parts) < len(problem.parts):
        smaller = Instance(core)
        told_by = Search(smaller, _attempt(limits)).run(first_plan=True).dead
        if told_by is not None:
            instance, dead = smaller, told_by
    told = [f"no order of moves keeps every limit for {listed(names)}"]
    steps: tuple[str, ...] = ()
    station, at_s = None, None
    if dead is not None:
        words, steps, station, at_s = _tell(instance, dead)
        told.append(words)
    return Witness(
        tuple(told), names, steps, station, at_s, tuple(find_changes(core, problem, limits))
    )


def proven(witness: Witness, problem: Problem, limits: Limits) -> Witness:
    """The witness with only those changes that have a plan, or a wider one if none has."""
    kept = tuple(change for change in witness.changes if has_plan(change.problem, limits))
    if not kept:
        extra_s = least_extra(lambda s: changes.all_longer(problem, s), limits)
        if extra_s is not None:
            words = f"let any part stay up to {span(extra_s)} longer than its limits"
            kept = (Change(words, changes.all_longer(problem, extra_s)),)
    return replace(witness, changes=kept)


def smallest_core(problem: Problem, limits: Limits) -> Problem:
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


def _tell(instance: Instance, dead: Dead) -> tuple[str, tuple[str, ...], str | None, int | None]:
    line = instance.lines[instance.line_of[dead.move]]
    part = instance.problem.parts[line.parts[dead.part]]
    number = dead.move - line.first_m
    step = part.route.leads_to(number)
    come_s = int(dead.earliest_s)
    furthest = "in the order that gets furthest,"
    if dead.late_m == NOWHERE:
        words = f"{furthest} {part.name} moves on to {step} at {span(come_s)}, too late"
        return words, (step,), part.route.goes_to(number), come_s
    late_line = instance.lines[instance.line_of[dead.late_m]]
    late = instance.problem.parts[late_line.parts[dead.late_part]]
    dwell = late.route.dwells[dead.late_m - late_line.first_m]
    late_step = dwell.step or dwell.station
    words = f"{furthest} {part.name} moves on to {step} at {span(come_s)}"
    if late is not part:
        come_s += part.route.moves[number].hands_s
        words = f"{furthest} {part.name} has moved on to {step} by {span(come_s)}"
    words += f", too late for {late.name} in {dwell.station}"
    if dwell.most_s is not None:
        words += f" (most {span(dwell.most_s)})"
    return words, (step, late_step), dwell.station, come_s


def find_changes(core: Problem, problem: Problem, limits: Limits) -> list[Change]:
    """Changes that free the whole problem, each planned through, the gentlest first."""
    found = []
    for part in core.parts:
        change = _longer(problem, part, limits)
        if change is not None:
            found.append(change)
    found.sort(key=lambda pair: pair[0])
    told = [change for _, change in found]
    used = {d.station for p in core.parts for d in p.route.dwells[max(0, progress(p) - 1) :]}
    for name in sorted(used):
        freed = changes.with_slot(problem, name)
        if has_plan(freed, limits):
            holds = problem.station(name).holds + 1
            told.append(Change(f"give {name} one more slot ({holds})", freed))
    for part in core.parts:
        freed = changes.without(problem, {part.name})
        if not part.held and has_plan(freed, limits):
            told.append(Change(f"take {part.name} off the bench", freed))
    return told


def _longer(problem: Problem, part: Part, limits: Limits) -> tuple[int, Change] | None:
    number = progress(part) - 1
    if number < 0 or part.is_done or part.held or number >= len(part.route.dwells):
        return None
    dwell = part.route.dwells[number]
    if dwell.most_s is None:
        return None
    extra_s = least_extra(lambda s: changes.longer(problem, part, number, s), limits)
    if extra_s is None:
        return None
    words = f"let {part.name} stay {span(extra_s)} longer in {dwell.station}"
    return extra_s, Change(words, changes.longer(problem, part, number, extra_s))


def least_extra(make: Callable[[int], Problem], limits: Limits) -> int | None:
    """The least whole seconds for which ``make(seconds)`` has a plan: doubling, then halving."""
    high = 1
    while not has_plan(make(high), limits):
        high *= 4
        if high > LONGEST_EXTRA_S or limits.over():
            return None
    low = high // 4
    while high - low > 1:
        middle = (low + high) // 2
        if has_plan(make(middle), limits):
            high = middle
        else:
            low = middle
    return high


def least_bad(problem: Problem, limits: Limits) -> Plan | None:
    """A plan whose longest overstay is the shortest possible.

    Its order ends earliest among those; for that order the sum of overstays is the least.
    The dwells of the plan show the real limits, so ``overstay_s`` tells who stays too long.
    """
    extra_s = least_extra(lambda s: changes.all_longer(problem, s), limits)
    if extra_s is None:
        return None
    instance = Instance(changes.all_longer(problem, extra_s))
    turns, _ = _order(instance, limits, first_plan=False)
    if turns is None:
        return None
    most = {(p.name, i): d.most_s for p in problem.parts for i, d in enumerate(p.route.dwells)}
    plan = time_order(instance, turns, real_most=most)
    dwells = tuple(replace(d, most_s=most[d.part, d.dwell]) for d in plan.dwells)
    return replace(plan, dwells=dwells)
