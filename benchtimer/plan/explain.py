"""Why there is no plan, in plain words, and the smallest changes that would allow one.

The words come from proofs, not from guesses. Parts are removed one by one as long as the rest still
has no plan; what remains is a smallest set that can't work together. Causes are tested the same
way: without a closing, or with more hands, there is a plan. Each suggested change has been planned
completely, and the smallest one that works is suggested.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator

from benchtimer.plan import changes
from benchtimer.plan.earliest import Earliest
from benchtimer.plan.instance import Instance, progress
from benchtimer.plan.network import hands_now
from benchtimer.plan.outcome import Plan, PlannedDwell, ProblemChange, Witness
from benchtimer.plan.plan_words import Say, listed
from benchtimer.plan.problem import ENDLESS_S, AwayTime, PlanPart, Problem
from benchtimer.plan.search_limits import SearchLimits
from benchtimer.plan.targets import real_dwells
from benchtimer.plan.timing import time_order
from benchtimer.times import duration
from benchtimer.values import replace

TRY_NODES = 1000
"""The most nodes (see ``SearchLimits``) for one attempt at a change."""
LONGEST_EXTRA_S = 24 * 3600
"""A dwell that would need more than a day past its limit is not suggested."""
MOST_WINDOWS = 4
"""How many of the first closings are tried at other times."""


def at_once(instance: Instance, say: Say = duration) -> Witness | None:
    """Reasons known without a search: a closed place, a limit already passed."""
    for part in instance.problem.parts:
        if not part.held and not part.is_done:
            witness = _waits(instance.problem, part) or _shut(instance, part)
            witness = witness or _overdue(instance, part, say)
            if witness is not None:
                return witness
    return None


def _waits(problem: Problem, part: PlanPart) -> Witness | None:
    for other in problem.parts:
        if other.name in part.after and other.held and not other.is_done and not progress(part):
            words = f"{part.name} waits for {other.name}, which is held"
            return Witness((words,), (part.name, other.name), None, (_resume(problem, other),))
    return None


def _shut(instance: Instance, part: PlanPart) -> Witness | None:
    problem = instance.problem
    for number in range(progress(part), len(part.route.dwells)):
        station = problem.station(part.route.dwells[number].station)
        held: list[PlanPart] = []
        if not station.in_service:
            why = "it is out of service"
            back = f"put {station.name} back in service"
            change = ProblemChange(back, changes.in_service(problem, station.name))
        elif instance.capacity[instance.places[station.name]] < 1:
            held = [p for p in problem.parts if p.held and p.station == station.name]
            verb = "is" if len(held) == 1 else "are"
            why = f"{listed([p.name for p in held])} {verb} held there"
            change = _resume(problem, held[0])
        else:
            continue
        words = f"{part.name} needs {station.name} for {part.route.leads_to(number)}, but {why}"
        return Witness((words,), (part.name, *(p.name for p in held)), None, (change,))
    return None


def _overdue(instance: Instance, part: PlanPart, say: Say) -> Witness | None:
    if part.entered_s is None or part.moving_s is not None:
        return None
    problem, number = instance.problem, part.moves_made - 1
    dwell = part.route.dwells[number]
    if dwell.max_s is None:
        return None
    place = instance.places[dwell.station]
    there_s = min(free_s + instance.walk[at][place] for free_s, at in hands_now(instance))
    ready_s = max(there_s, part.entered_s + dwell.min_s)
    lift_s = int(instance.first_start_s(ready_s, part.route.moves[part.moves_made].hands_s))
    limit_s = part.entered_s + dwell.max_s
    if lift_s <= limit_s:
        return None
    most = f"(max {duration(dwell.max_s)})"
    words = (
        f"{part.name} must leave {dwell.station} by {say(limit_s)} {most}, "
        f"but can't be pulled before {say(lift_s)}"
    )
    if limit_s < 0 and problem.now_s == 0:  # on a working bench, second 0 is now
        ago = duration(-limit_s)
        words = f"{part.name} should have left {dwell.station} {ago} ago {most}"
    elif ready_s <= limit_s and (away := _away_at(problem, ready_s)) is not None:
        words += f": you are away {_hours_words(away, say)}"
    carried = [p.name for p in problem.parts if p.moving_s is not None and not p.is_done]
    busy = carried if ready_s > limit_s and len(carried) == problem.hands else []
    if busy:
        words += f": the hands are busy with {listed(busy)}"
    change = _stay(problem, part, number, lift_s - limit_s)
    return Witness((words,), (part.name, *busy), limit_s, (change,))


def _resume(problem: Problem, part: PlanPart) -> ProblemChange:
    return ProblemChange(f"resume {part.name}", changes.released(problem, part))


def _stay(problem: Problem, part: PlanPart, dwell: int, extra_s: int) -> ProblemChange:
    station = part.route.dwells[dwell].station
    words = f"let {part.name} stay {duration(extra_s)} longer in {station}"
    return ProblemChange(words, changes.longer(problem, part, dwell, extra_s))


def _away_at(problem: Problem, time_s: int) -> AwayTime | None:
    """The away window that a move from a time on runs into."""
    following = [away for away in problem.away if away.to_s > time_s]
    return min(following, key=lambda away: away.from_s, default=None)


def _hours_words(away: AwayTime, say: Say) -> str:
    if away.to_s >= ENDLESS_S:
        return f"from {say(away.from_s)} on"
    return f"from {say(max(0, away.from_s))} to {say(away.to_s)}"


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


def explain(problem: Problem, limits: SearchLimits, say: Say = duration) -> Witness:
    """The witness for a problem that provably has no plan.

    Args:
        problem: without a plan.
        limits: what is left of the budget.
        say: writes a time of the plan.
    """
    core = smallest_core(problem, limits)
    names = tuple(part.name for part in core.parts)
    lines = [f"no order of moves keeps every limit for {listed(names)}"]
    late = least_bad(core, limits)
    worst = max(late.dwells, key=lambda dwell: dwell.overrun_s) if late else None
    if late and worst:
        lines.append(_at_best(late, worst, say))
    more_help = has_plan(changes.more_hands(core), limits)
    offers: list[ProblemChange] = []
    for away in sorted(problem.away, key=lambda a: a.from_s)[:MOST_WINDOWS]:
        if has_plan(changes.away_less(core, away, later_s=away.to_s - away.from_s), limits):
            hours = _other_hours(problem, away, limits, say)
            offers += hours
            if hours:
                gone = f"you are away {_hours_words(away, say)}"
                lines.append(f"{gone}; if you were there, there would be a plan")
    offers += find_changes(core, problem, limits)
    if more_help:
        count = "one pair" if core.hands == 1 else f"{core.hands} pairs"
        lines.append(f"{count} of hands can't make the moves in time; one more can")
        more = changes.more_hands(problem)
        if has_plan(more, limits):
            offers.append(ProblemChange(f"one more pair of hands ({more.hands})", more))
    at_s = worst.out_s if worst else None
    return Witness(tuple(lines), names, at_s, tuple(offers or _wider(problem, limits)))


def _at_best(late: Plan, worst: PlannedDwell, say: Say) -> str:
    """What is late in the least bad plan, and what the hands do until then."""
    past_s = worst.overrun_s
    words = (
        f"at best, {worst.part} leaves {worst.station} at {say(worst.out_s)}, {duration(past_s)} "
        f"too late (max {duration(worst.out_s - worst.in_s - past_s)})"
    )
    busy = [move.part for move in late.moves if move.end_s == worst.out_s]
    return f"{words}: the hands are busy with {listed(busy)} until then" if busy else words


def _other_hours(
    problem: Problem, away: AwayTime, limits: SearchLimits, say: Say
) -> list[ProblemChange]:
    """The smallest extension of hours around one closing that allows a plan."""
    length_s = away.to_s - away.from_s
    found = _least(
        lambda s: changes.away_less(problem, away, later_s=s),
        f"stay {{}} past {say(away.from_s)}",
        limits,
        length_s,
    )
    if away.to_s < ENDLESS_S:
        found += _least(
            lambda s: changes.away_less(problem, away, sooner_s=s),
            f"be back {{}} before {say(away.to_s)}",
            limits,
            length_s,
        )
    return found


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
    if witness.at_s is not None:
        away = _away_at(problem, witness.at_s or problem.now_s)
        if away is not None and away.from_s <= witness.at_s:
            kept += _other_hours(problem, away, limits, say)
    if not kept:
        core = changes.only(problem, {*witness.parts, *(p.name for p in problem.parts if p.held)})
        kept = find_changes(core, problem, limits)
    return replace(witness, changes=tuple(kept or _wider(problem, limits)))


def _wider(problem: Problem, limits: SearchLimits) -> list[ProblemChange]:
    """Every limit widened by just enough to allow a plan."""
    return _least(
        lambda s: changes.all_longer(problem, s),
        "let any part stay up to {} longer than its limits",
        limits,
    )


def _least(
    make: Callable[[int], Problem], words: str, limits: SearchLimits, max_s: int = LONGEST_EXTRA_S
) -> list[ProblemChange]:
    """The change by the fewest seconds that allows a plan, if there is one.

    Args:
        make: the problem changed by this many seconds.
        words: what changes, with ``{}`` for how much.
        limits: what is left of the budget.
        max_s: more than this many seconds are not tried.
    """
    extra_s = least_extra(make, limits, max_s)
    return (
        [] if extra_s is None else [ProblemChange(words.format(duration(extra_s)), make(extra_s))]
    )


def smallest_core(problem: Problem, limits: SearchLimits) -> Problem:
    """A smallest set of parts that has no plan together (as far as the budget allows).

    Parts that are held stay: they take slots.
    """
    core = problem
    for part in problem.parts:
        fewer = changes.without(core, {part.name})
        if not part.held and has_plan(fewer, limits) is False:
            core = fewer
    return core


def find_changes(core: Problem, problem: Problem, limits: SearchLimits) -> list[ProblemChange]:
    """Changes that allow a plan for the whole problem, each planned completely, smallest first.

    Args:
        core: the parts that can't work together.
        problem: all parts.
        limits: what is left of the budget.
    """
    extra_s = [(s, part) for part in core.parts if (s := _extra_s(problem, part, limits))]
    extra_s.sort(key=lambda pair: pair[0])
    stays = [_stay(problem, part, progress(part) - 1, s) for s, part in extra_s]
    others = _other_changes(core, problem)
    return [*stays, *(change for change in others if has_plan(change.problem, limits))]


def _extra_s(problem: Problem, part: PlanPart, limits: SearchLimits) -> int | None:
    """How much longer a part would have to stay where it is to allow a plan."""
    number = progress(part) - 1
    if number < 0 or part.is_done or part.held or number >= len(part.route.dwells):
        return None
    if part.route.dwells[number].max_s is None:
        return None
    return least_extra(lambda s: changes.longer(problem, part, number, s), limits)


def _other_changes(core: Problem, problem: Problem) -> Iterator[ProblemChange]:
    used = {d.station for p in core.parts for d in p.route.dwells[max(0, progress(p) - 1) :]}
    for name in sorted(used):
        words = f"give {name} one more slot ({problem.station(name).holds + 1})"
        yield ProblemChange(words, changes.with_slot(problem, name))
    for part in problem.parts:
        if part.held and not part.is_done:
            yield _resume(problem, part)
    for part in core.parts:
        if not part.held:
            words = f"take {part.name} off the bench"
            yield ProblemChange(words, changes.without(problem, {part.name}))


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
    tries = range(low + 1, high)
    return low + 1 + bisect_left(tries, True, key=lambda s: has_plan(make(s), limits) is True)


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
    return real_dwells(plan, problem)
