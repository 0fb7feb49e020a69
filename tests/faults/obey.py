"""Runs by exact hands that follow the large line must not lose a feasible plan.

The hands are exact: work takes as long as the recipe says, and every press comes at the agenda's
time. The random recipes have tight windows and small tanks. Every part can wait on its rack, so a
plan that keeps every window always exists at the start; an overrun or a dwell cut short in the
record means the line lost it.
"""

from __future__ import annotations

from random import Random

from benchtimer.bench.advice import rehearsing
from benchtimer.bench.newrun import NewRun
from benchtimer.recipe.reader import build_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.rehearsal import Rehearsal
from tests.faults.row import Row
from tests.faults.tally import Tally

KEPT = "every window, where the plan at the start kept it"
NODES = 100
"""States the planner may open after each press."""
TANKS = ("clean", "etch", "salts", "boil")


def drawn_run(seed: int) -> NewRun:
    """Two recipes over the same small tanks, and a few parts of each."""
    draws = Random(seed)
    holds = {tank: draws.choice((1, 1, 2)) for tank in TANKS}
    tables = {f"r{i}": _recipe(draws, f"r{i}", holds) for i in range(2)}
    parts = [(f"part {i}", draws.choice(list(tables))) for i in range(draws.randint(3, 6))]
    used = {key for _, key in parts}
    return NewRun(
        title="drawn",
        recipes={key: table for key, table in tables.items() if key in used},
        parts=parts,
    )


def _recipe(draws: Random, name: str, holds: dict[str, int]) -> dict[str, object]:
    tanks = draws.sample(TANKS, draws.randint(2, len(TANKS)))
    stations = [{"id": "rack", "title": "Rack", "holds": 20}]
    stations += [{"id": t, "title": t.capitalize(), "holds": holds[t]} for t in sorted(tanks)]
    steps = [_step("hang", "rack", draws, rests=True)]
    steps += [_step(f"into-{tank}", tank, draws) for tank in tanks]
    steps.append(_step("off", "rack", draws, rests=True))
    data = {"schema": 1, "id": name, "title": name, "station": stations, "step": steps}
    return recipe_table(build_recipe(data, name=name))


def _step(name: str, at: str, draws: Random, *, rests: bool = False) -> dict[str, object]:
    least = 0 if rests else draws.randrange(60, 900, 15)
    dwell = {"min": f"{least} s", "target": f"{least} s"}
    if not rests:
        room = max(15, round(least * draws.choice((0.1, 0.2, 0.5))))
        dwell |= {"target": f"{least + draws.randint(0, room)} s", "max": f"{least + room} s"}
    hands = draws.randrange(15, 180, 5)
    return {"id": name, "title": name, "at": at, "hands": f"{hands} s", "dwell": dwell}


def lost(seed: int) -> str | None:
    """The losses of a run by exact hands, in words; None without a loss."""
    run = Rehearsal(drawn_run(seed), seed, 0.0, rehearsing(NODES))
    broken = [d for d in run.run().deviations if d.what in ("early", "overrun")]
    return f"seed {seed}: {broken[0]}" if broken else None


def campaign(tries: int, seed: int) -> list[Row]:
    """``tries`` random runs."""
    tally = Tally()
    for number in range(tries):
        tally.tried += 1
        wrong = lost(seed * 1_000_000 + number)
        if wrong is not None:
            tally.wrong(wrong)
    return [tally.row("runs by exact hands that obey the large line", KEPT)]
