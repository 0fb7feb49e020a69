"""The same problem for a general constraint solver: OR-tools CP-SAT, the strong model.

Every pair of moves has a Boolean for its order; a single no-overlap for the hands would be
much slower and flatter the planner. A slot stays taken through the second its part is pulled,
since you can't pull one part and load another within one second.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Any

from ortools.sat.python import cp_model

from benchtimer.plan.instance import Instance, entry_s, progress
from benchtimer.plan.problem import Problem


@dataclass
class Answer:
    """The reference solver's result: ``end_s`` is None if it proved that no plan exists."""

    proven: bool
    end_s: int | None
    bound_s: float
    seconds: float


def horizon_s(problem: Problem) -> int:
    """A time by which any sensible plan has ended."""
    total = problem.now_s + max([0, *(part.release_s for part in problem.parts)])
    for part in problem.parts:
        total += part.moving_s or 0
        total += sum(move.hands_s for move in part.route.moves)
        total += sum(dwell.min_s for dwell in part.route.dwells)
        total += sum(w.walk_s for w in problem.walks)
    return (
        total
        + sum(a.to_s - a.from_s for a in problem.away)
        + max((a.to_s for a in problem.away), default=0)
    )


def build(problem: Problem) -> tuple[cp_model.CpModel, dict[tuple[int, int], Any], Any]:
    """The model, the start variables by (part, move), and the end variable."""
    model = cp_model.CpModel()
    horizon = horizon_s(problem)
    instance = Instance(problem)
    starts: dict[tuple[int, int], Any] = {}
    slots: dict[str, list[Any]] = {station.name: [] for station in problem.stations}
    end = model.new_int_var(problem.now_s, 2 * horizon, "end")
    for p, part in enumerate(problem.parts):
        if not part.held and progress(part) < len(part.route.moves):
            _add_part(model, problem, instance, p, starts, slots, end, 2 * horizon)
    _add_hands(model, problem, starts)
    _add_joins(model, problem, starts)
    for station in problem.stations:
        free = instance.capacity[instance.places[station.name]]
        shut = [model.new_fixed_size_interval_var(a + 1, b - a - 1, "shut")
                for a, b in station.closed]  # fmt: skip
        demands = [1] * len(slots[station.name]) + [free] * len(shut)
        model.add_cumulative([*slots[station.name], *shut], demands, free)
    model.minimize(end)
    return model, starts, end


def _add_part(
    model: cp_model.CpModel,
    problem: Problem,
    instance: Instance,
    p: int,
    starts: dict[tuple[int, int], Any],
    slots: dict[str, list[Any]],
    end: Any,
    horizon: int,
) -> None:
    part = problem.parts[p]
    entered: Any = entry_s(problem, part)
    for i in range(progress(part), len(part.route.moves)):
        hands_s = part.route.moves[i].hands_s
        stretches = [
            [int(a), int(min(b, horizon)) - hands_s]
            for a, b in instance.gaps
            if min(b, horizon) - hands_s >= a
        ]
        start = model.new_int_var_from_domain(
            cp_model.Domain.from_intervals(stretches), f"x{p}_{i}"
        )
        starts[p, i] = start
        if i < len(part.route.dwells):  # no part leaves for a closed place
            for a, b in problem.station(part.route.dwells[i].station).closed:
                outside = [[-horizon, a - 1], [b, 8 * horizon]]
                model.add_linear_expression_in_domain(
                    start, cp_model.Domain.from_intervals(outside)
                )
        if i == 0:
            model.add(start >= part.release_s)
        else:
            dwell = part.route.dwells[i - 1]
            model.add(start >= entered + dwell.min_s)
            if dwell.max_s is not None:
                model.add(start <= entered + dwell.max_s)
            stay = model.new_int_var(0, 8 * horizon, f"d{p}_{i}")
            leave = model.new_int_var(-horizon, 4 * horizon, f"l{p}_{i}")
            model.add(leave == start + 1)
            slots[dwell.station].append(model.new_interval_var(entered, stay, leave, f"s{p}_{i}"))
        entered = start + hands_s
    model.add(end >= entered)


def _add_joins(
    model: cp_model.CpModel, problem: Problem, starts: dict[tuple[int, int], Any]
) -> None:
    """Adds: a part begins only after the parts it waits for are done."""
    index = {part.name: p for p, part in enumerate(problem.parts)}
    for p, part in enumerate(problem.parts):
        for name in part.after if (p, 0) in starts else ():
            other = problem.parts[index[name]]
            last = len(other.route.moves) - 1
            if (index[name], last) in starts:
                ends = starts[index[name], last] + other.route.moves[last].hands_s
                model.add(starts[p, 0] >= ends)
            elif other.moving_s is not None:
                model.add(starts[p, 0] >= problem.now_s + other.moving_s)


def _add_hands(
    model: cp_model.CpModel,
    problem: Problem,
    starts: dict[tuple[int, int], Any],
) -> None:
    if problem.hands > 1:
        _add_crew(model, problem, starts)
        return
    walks = {(w.from_station, w.to_station): w.walk_s for w in problem.walks}
    free_s, at = problem.now_s, problem.hands_at
    for part in problem.parts:
        if part.moving_s is not None and not part.is_done:
            free_s, at = problem.now_s + part.moving_s, part.route.goes_to(part.moves_made)

    def walk(a: str | None, b: str | None) -> int:
        return walks.get((a or "", b or ""), 0)

    for (p, i), start in starts.items():
        model.add(start >= free_s + walk(at, problem.parts[p].route.came_from(i)))
    for (p, i), (q, j) in combinations(starts, 2):
        if p == q:
            continue
        one, two = problem.parts[p].route, problem.parts[q].route
        first = model.new_bool_var(f"b{p}_{i}_{q}_{j}")
        way = one.moves[i].hands_s + walk(one.goes_to(i), two.came_from(j))
        back = two.moves[j].hands_s + walk(two.goes_to(j), one.came_from(i))
        model.add(starts[q, j] >= starts[p, i] + way).only_enforce_if(first)
        model.add(starts[p, i] >= starts[q, j] + back).only_enforce_if(~first)


def _add_crew(
    model: cp_model.CpModel, problem: Problem, starts: dict[tuple[int, int], Any]
) -> None:
    """Adds several pairs of hands as one resource, for problems without walks."""
    assert not problem.walks
    moves = [
        model.new_fixed_size_interval_var(problem.now_s, part.moving_s, "busy")
        for part in problem.parts
        if part.moving_s and not part.is_done
    ]
    for (p, i), start in starts.items():
        hands_s = problem.parts[p].route.moves[i].hands_s
        model.add(start >= problem.now_s)
        moves.append(model.new_fixed_size_interval_var(start, hands_s, f"m{p}_{i}"))
    model.add_cumulative(moves, [1] * len(moves), problem.hands)


def _add_queues(
    model: cp_model.CpModel, problem: Problem, starts: dict[tuple[int, int], Any]
) -> None:
    """Adds: identical parts keep their order, which speeds up the solver and changes no optimum.

    So a part goes into a station of c slots only after the part c places ahead has left it. Two
    people can move identical parts at the same time; one pair of hands moves one after the other.
    """
    alone = problem.hands == 1
    alike: dict[Any, list[int]] = {}
    slots = {station.name: station.holds for station in problem.stations}
    for p, part in enumerate(problem.parts):
        key = (part.route, part.release_s, part.moves_made, part.entered_s, part.moving_s)
        ahead = alike.setdefault(key, [])
        moves, dwells = part.route.moves, part.route.dwells
        for i in range(len(moves)):
            if ahead and (p, i) in starts:
                after = moves[i].hands_s if alone else 0
                model.add(starts[p, i] >= starts[ahead[-1], i] + after)
            places = slots[dwells[i].station] if i < len(dwells) else len(ahead) + 1
            if places <= len(ahead) and (p, i) in starts:
                out = starts[ahead[-places], i + 1]
                if alone:
                    model.add(starts[p, i] >= out + moves[i + 1].hands_s)
                else:
                    model.add(starts[p, i] + moves[i].hands_s > out)
        ahead.append(p)


def solve_reference(
    problem: Problem,
    seconds: float = 60.0,
    workers: int = 2,
    queues: bool = False,
    first_plan: bool = False,
) -> Answer:
    """The earliest end by CP-SAT.

    Args:
        problem: the problem.
        seconds: the time limit.
        workers: threads of the solver.
        queues: whether identical parts keep their order.
        first_plan: stop at the first plan.
    """
    model, starts, _ = build(problem)
    if queues:
        _add_queues(model, problem, starts)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.stop_after_first_solution = first_plan
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Answer(True, None, 0.0, solver.wall_time)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return Answer(
        status == cp_model.OPTIMAL,
        round(solver.objective_value) if found else None,
        solver.best_objective_bound,
        solver.wall_time,
    )
