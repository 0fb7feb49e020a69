"""Logs for measuring: many runs, one long run, dwelling parts."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock, SystemClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.record import local_time
from benchtimer.run import commands as c
from benchtimer.run.events import Created, Event
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import PartPhase
from benchtimer.run.setup import setup_pages
from benchtimer.store.log import EventLog, LogEntry, RunLine, Stamp
from tests.support import READY, SMALL, Hands, small_recipe
from tests.tui.scenes import FITTINGS, Maker

DAY_MS = 86_400_000
START_MS = 1_500_000_000_000
MOST_RUNS = 10_000

AT_ONCE = 20_000
"""Events per write: each write with a correction rebuilds the run's part of the index."""


def many_runs(folder: Path, runs: int) -> Path:
    """A log with ``runs`` closed runs; made once in a folder."""
    place = folder / f"runs-{runs}"
    if not place.exists():
        _fill(place, runs, _template(folder / f"template-{runs}"))
    return place


def _template(folder: Path) -> list[LogEntry]:
    """One short real run: its first page is read, then it is aborted."""
    driver = drive(folder, ManualClock(START_MS))
    name = driver.set_up(new_run(RecipeFiles(), "hot-black", ["bolster"]))
    page = next(setup_pages(driver.state(name).bench))
    words = (c.Note("slots needed a second rinse"), c.Abort("template"))
    for command in (c.Acknowledge(page.title), *words):
        driver.press(name, command)
    entries = driver._log.entries(name)
    driver.close()
    return entries


def _fill(folder: Path, runs: int, template: list[LogEntry]) -> None:
    """Write ``runs`` runs, four a day, each with its own part and note."""
    log = EventLog(folder)
    log._db.execute("PRAGMA synchronous = OFF")
    for number in range(runs):
        first, stamp = template[0].event, template[0].stamp
        assert isinstance(first, Created)
        wall_ms = START_MS + (MOST_RUNS - runs + number) * DAY_MS // 4
        created = replace(first, uid=f"{number:032x}", parts=((f"blade {number}", "hot-black"),))
        note = replace(template[2].event, text=f"note{number} slots needed a second rinse")  # type: ignore[call-arg]
        events = [created, template[1].event, note, template[3].event]
        bench = fold(events).bench
        name = f"{local_time(wall_ms, 0)[:10]}-{number % 4 + 1}"
        line = RunLine(name, bench.phase.value, bench.title, tuple(bench.parts), wall_ms, 0)
        log.append(name, events, replace(stamp, wall_ms=wall_ms), line)
    log.close()


QUIET = 'min = "3 h", target = "4 h", max = "6 h"'
OVERDUE = 'min = "1 s", target = "2 s", max = "3 s"'


def dwelling(folder: Path, runs: int = 0, dwell: str = QUIET) -> Path:
    """Eight parts in a tank that holds them all, none due for hours; other runs are closed.

    Args:
        folder: where the log's folder is made.
        runs: how many other runs there are.
        dwell: the window of the dwell, ``QUIET`` or ``OVERDUE``.
    """
    place = folder / f"dwelling-{runs}{'' if dwell == QUIET else '-overdue'}"
    if place.exists():
        return place
    if runs:
        shutil.copytree(many_runs(folder, runs), place)
    text = SMALL.replace("holds = 1", "holds = 8").replace(
        'min = "4 min", target = "5 min", max = "8 min"', dwell
    )
    table = recipe_table(small_recipe(text.replace(', every = "10 min"', "")))
    driver = drive(place, SystemClock())
    name = driver.set_up(NewRun("idle", {"small": table}, [(p, "small") for p in FITTINGS]))
    presses: list[c.Command] = list(READY)
    for part in FITTINGS:
        presses += [c.Begin(part), c.Finish(part), c.Finish(part)]
    for command in presses:
        driver.press(name, command)
    driver.close()
    return place


def at_work(folder: Path, parts: int) -> Path:
    """``parts`` parts of a shipped recipe, a third done, the rest at every stage."""
    place = folder / f"at-work-{parts}"
    names = [f"{FITTINGS[n % len(FITTINGS)]} {n + 1}" for n in range(parts)]
    clock = ManualClock(SystemClock().read().wall_ms)
    driver = drive(place, clock)
    maker = Maker(new_run(RecipeFiles(), "hot-black", names), 1, clock=clock, driver=driver)
    maker.work(
        lambda bench: sum(p.phase is PartPhase.DONE for p in bench.parts.values()) >= parts // 3
    )
    driver.close()
    return place


def long_run(events: int) -> list[Event]:
    """A run of ``events`` events: work, readings, notes, corrections, repeated.

    Twelve parts repeat the recipe endlessly; after the verdict you send each back to the beginning.
    """
    names = tuple(f"part {number}" for number in range(1, 13))
    recipe = small_recipe(SMALL.replace("holds = 4", "holds = 12"))
    hands, number = Hands(names, recipe=recipe), 0
    while len(hands.events) < events:
        _round(hands, names[number % len(names)], number)
        number += 1
    return hands.events[:events]


def _round(hands: Hands, part: str, number: int) -> None:
    """One part from its beginning to its verdict, with other entries in between."""
    hands(c.Read("tank", f"{62 + number % 7} C"))
    hands.to_tank(part)
    hands(c.Note(f"bubbles at {number}", part), 60_000)
    for command in (c.Begin(part), c.Undo(), c.Redo()):
        hands(command, 90_000)
    hands(c.Answer(part, "even", True), 30_000)
    hands(c.BackDate(5_000))
    hands(c.Answer(part, "heat", "25 C"), 10_000)
    hands(c.Finish(part), 10_000)
    hands(c.Begin(part), 2 * 3_600_000)
    hands(c.SendBack(part, "prepare", "again"), 30_000)


def write_run(folder: Path, events: list[Event]) -> str:
    """A log with one run of these events; returns the run's name."""
    log, name = EventLog(folder), "2026-01-05-1"
    log._db.execute("PRAGMA synchronous = OFF")
    bench = fold(events[:1]).bench
    line = RunLine(name, "running", bench.title, tuple(bench.parts), START_MS, 0)
    for begin in range(0, len(events), AT_ONCE):
        some = events[begin : begin + AT_ONCE]
        wall_ms = START_MS + some[-1].t_ms
        stamp = Stamp(some[-1].t_ms, None, some[-1].t_ms, wall_ms, 0)
        log.append(name, some, stamp, line)
    log.close()
    return name
