"""Costs of learning: ``causes`` against reading the tries, and planning with many runs or few."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from random import Random

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.learn.causes import Causes, find_causes
from benchtimer.plan.from_recipe import plan_problem
from benchtimer.plan.planner import solve
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.counted import tries_that_count
from benchtimer.records.record import Record
from benchtimer.records.record_lookup import learned_from, records_of
from benchtimer.run import commands as c
from benchtimer.run.events import Answered, Created, Event, Judged
from benchtimer.run.evolve import fold
from benchtimer.store.entries import local_time
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog, LogEntry, RunLine
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.records.conftest import work_on_the_knife
from tests.support import start

FEW, MANY, QUICK = 10, 10_000, 300
TRIES, QUICK_TRIES = 1000, 30
START_MS, DAY_MS = 1_700_000_000_000, 86_400_000
BY = "maker"
PARTS = 4


def measure(asked: Asked) -> Iterator[Figure]:
    """Both figures."""
    yield _causes(asked)
    yield from _planning(asked)


def _causes(asked: Asked) -> Figure:
    """All that ``causes`` does with the records, against reading them."""
    tries = QUICK_TRIES if asked.quick else TRIES
    place = _knives(asked.folder, tries // 3 + 1)
    log = EventLog(place, read_only=True)
    read = partial(_read, log)
    records = read()
    found = _found(records)
    pairs = alternate(asked.rounds(5), _timed(partial(_found, records)), _timed(read))
    log.close()
    what = f"causes over {found.tries:,} tries, {found.looked_at} facts"
    return Figure(what, "reading them", pairs, "ms", aim=5, note="causes itself reads them, too")


def _read(log: EventLog) -> list[Record]:
    return list(records_of(log, Query(recipe="etch-darken"), 10_000))


def _found(records: list[Record]) -> Causes:
    return find_causes(tries_that_count(records, "etch-darken"))


def _planning(asked: Asked) -> Iterator[Figure]:
    """A plan with learned times, from a log with many runs against one with few."""
    runs = QUICK if asked.quick else MANY
    logs = [EventLog(_short_runs(asked.folder, n), read_only=True) for n in (FEW, runs)]
    recipe = RecipeFiles().find("hot-black")
    for name, ask in (("reading what was learned", _learn), ("a plan with it", _plan)):
        few, many = (_timed(partial(ask, log, recipe)) for log in logs)
        pairs = alternate(asked.rounds(40, 4), many, few)
        yield Figure(f"{name}, {runs:,} runs", f"{FEW} runs", pairs, "ms", aim=1.5)
    for log in logs:
        log.close()


def _learn(log: EventLog, recipe: Recipe) -> Recipe:
    learned = learned_from(log, {recipe.id: recipe}, START_MS + 20_000 * DAY_MS // 4, BY)
    assert learned.estimates[recipe.id].runs
    return learned.applied({recipe.id: recipe})[recipe.id]


def _plan(log: EventLog, recipe: Recipe) -> None:
    placed = put({recipe.id: _learn(log, recipe)})
    parts = [(f"part {n}", recipe.id) for n in range(PARTS)]
    solve(plan_problem(placed, parts), nodes=2000)


def _timed(question: Callable[[], object]) -> Callable[[], float]:
    """Milliseconds until the answer."""

    def ask() -> float:
        begun = time.perf_counter()
        question()
        return 1000 * (time.perf_counter() - begun)

    return ask


def _knives(folder: Path, runs: int) -> Path:
    """A log with ``runs`` runs of three tries each, with varying answers; made once."""
    place = folder / f"knives-{runs}"
    if place.exists():
        return place
    knife = work_on_the_knife(folder / "knife-template")
    template = knife.driver._log.entries(knife.name)
    knife.driver.close()
    rng = Random(1)
    _write(place, runs, template, partial(_varied, rng))
    return place


def _varied(rng: Random, event: Event) -> Event:
    if isinstance(event, Answered) and event.check in ("strength", "warmth"):
        unit = str(event.answer).split()[1]
        return replace(event, answer=f"{rng.randrange(140, 160) / 10} {unit}")
    if isinstance(event, Answered) and event.check == "cleaner":
        return replace(event, answer=rng.choice(["dish soap", "alkaline cleaner", "another"]))
    if isinstance(event, Judged):
        return replace(event, verdict=rng.choice(["accepted", "rejected"]))
    return event


def _short_runs(folder: Path, runs: int) -> Path:
    """A log with ``runs`` short closed runs, each of which taught a time; made once."""
    place = folder / f"taught-{runs}"
    if place.exists():
        return place
    table = recipe_table(RecipeFiles().find("hot-black"))
    clock = ManualClock(START_MS)
    driver = drive(folder / f"taught-template-{runs}", clock, by=BY)
    name = driver.set_up(NewRun("taught", {"hot-black": table}, [("bolster", "hot-black")]))
    _one_step(driver, clock, name)
    template = driver._log.entries(name)
    driver.close()
    _write(place, runs, template, lambda event: event)
    return place


def _one_step(driver: OpenBench, clock: ManualClock, name: str) -> None:
    start(driver, name)
    driver.press(name, c.Begin("bolster"))
    clock.advance(200_000)
    bench = driver.state(name).bench
    for check in bench.open_checks(bench.parts["bolster"]):
        driver.press(name, c.Answer("bolster", check.id, True))
    driver.press(name, c.Finish("bolster"))
    driver.press(name, c.Abort("template"))


def _write(
    place: Path, runs: int, template: list[LogEntry], change: Callable[[Event], Event]
) -> None:
    """Write ``runs`` copies of a run, four a day."""
    log = EventLog(place)
    log._db.execute("PRAGMA synchronous = OFF")
    for number in range(runs):
        wall_ms = START_MS + number * DAY_MS // 4
        events = [change(entry.event) for entry in template]
        first = events[0]
        assert isinstance(first, Created)
        events[0] = replace(first, uid=f"{number:032x}")
        bench = fold(events).bench
        name = f"{local_time(wall_ms, 0)[:10]}-{number % 4 + 1}"
        line = RunLine(name, bench.phase.value, bench.title, tuple(bench.parts), wall_ms, 0)
        log.append(name, events, replace(template[0].stamp, wall_ms=wall_ms), line)
    log.close()


if __name__ == "__main__":
    sys.exit(alone(__file__))
