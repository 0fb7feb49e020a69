"""Cyclic lines: the published one, seeded ones, and the model for a constraint solver."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path

from ortools.sat.python import cp_model

from benchtimer.plan.problem import DwellLimits, Move, PlanStation, Route, Walk

CASES = Path(__file__).parent / "cases"
Line = tuple[tuple[PlanStation, ...], Route, tuple[Walk, ...]]


def phillips_unger() -> tuple[Line, int]:
    """The line published in 1976 and its published interval in seconds."""
    case = tomllib.loads((CASES / "phillips-unger.toml").read_text())
    names = ["load", *(f"tank {n}" for n in range(1, 13))]
    dwells = tuple(
        DwellLimits(name, least, most or None)
        for name, least, most in zip(names[1:], case["min_s"], case["max_s"], strict=True)
    )
    moves = [Move(seconds) for seconds in case["moves_s"]]
    moves[0] = Move(moves[0].hands_s, from_station="load")
    moves[-1] = Move(moves[-1].hands_s, to_station="load")
    walks = [
        Walk(a, b, seconds)
        for a, row in zip([*names[1:], "load"], case["empty_s"], strict=True)
        for b, seconds in zip(names, row, strict=True)
        if a != b
    ]
    stations = tuple(PlanStation(name) for name in names)
    return (stations, Route("line", tuple(moves), dwells), tuple(walks)), case["cadence_s"]


def seeded(seed: int) -> Line:
    """A line of three to six tanks along a wall, with one or two slots each."""
    rng = random.Random(f"line {seed}")
    count = rng.randint(3, 6)
    names = [f"t{n}" for n in range(count)]
    at = {name: rng.randrange(0, 12) for name in names}
    dwells = []
    for name in names:
        least = rng.randrange(20, 200)
        slack = rng.choice([0.1, 0.3, 1.0])
        dwells.append(DwellLimits(name, least, least + int(least * slack)))
    moves = tuple(Move(rng.randrange(12, 40)) for _ in range(count + 1))
    walks = tuple(Walk(a, b, abs(at[a] - at[b])) for a in names for b in names if at[a] != at[b])
    stations = tuple(PlanStation(name, rng.choice([1, 1, 2])) for name in names)
    return stations, Route("line", moves, tuple(dwells)), walks


def reference_cadence(line: Line) -> int:
    """The shortest interval by OR-tools CP-SAT: times modulo the interval, plus whole wraps."""
    stations, route, walks = line
    model = cp_model.CpModel()
    count = len(route.moves)
    hands = [move.hands_s for move in route.moves]
    longest = sum(hands) + sum(d.min_s for d in route.dwells) + 100
    seconds = {(w.from_station, w.to_station): w.walk_s for w in walks}
    way = [
        [seconds.get((route.goes_to(i) or "", route.came_from(j) or ""), 0) for j in range(count)]
        for i in range(count)
    ]
    period = model.new_int_var(1, longest, "T")
    at = [model.new_int_var(0, longest, f"t{i}") for i in range(count)]
    for i in range(count):
        model.add(at[i] < period)
        for j in range(i):
            first = model.new_bool_var(f"b{i}_{j}")
            for a, b, literal in ((i, j, first), (j, i, ~first)):
                model.add(at[b] >= at[a] + hands[a] + way[a][b]).only_enforce_if(literal)
                model.add(at[a] + period >= at[b] + hands[b] + way[b][a]).only_enforce_if(literal)
    holds = {station.name: station.holds for station in stations}
    for i, dwell in enumerate(route.dwells):
        slots = holds[dwell.station]
        wraps = [model.new_bool_var(f"w{i}_{n}") for n in range(slots + 2)]
        model.add_exactly_one(wraps)
        for n, literal in enumerate(wraps):
            stay = at[i + 1] + n * period - at[i] - hands[i]
            model.add(stay >= dwell.min_s).only_enforce_if(literal)
            if dwell.max_s is not None:
                model.add(stay <= dwell.max_s).only_enforce_if(literal)
            free = at[i + 1] + n * period + hands[i + 1] + way[i + 1][i]
            model.add(free <= at[i] + slots * period).only_enforce_if(literal)
    model.minimize(period)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL
    return round(solver.objective_value)
