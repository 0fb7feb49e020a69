"""Lists, searches and opened records with 10 runs in the log and with 10 000, side by side.

    .venv/bin/python -m tests.benchmarks.archive

Prints for each question the ratio of its times in the large log and in the small one. Both
are asked in turn, many times over, in one run; the middle time of each counts. ``whole
command`` is a fresh process, as somebody at a shell waits for it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

from benchtimer.bench import Driver
from benchtimer.clock import ManualClock
from benchtimer.orders import new_run
from benchtimer.recipe.shelf import Shelf
from benchtimer.records.archive import record_of
from benchtimer.records.record import local_time
from benchtimer.run import commands as c
from benchtimer.run.events import Created
from benchtimer.run.evolve import fold
from benchtimer.store.index import Query
from benchtimer.store.log import Entry, EventLog, RunLine

SMALL, LARGE = 10, 10_000
ROUNDS = 60
COMMANDS = (
    ["log", "--limit", "10"],
    ["find", "--recipe", "hot-black", "--limit", "10"],
    ["log", "last"],
)
DAY_MS = 86_400_000
START_MS = 1_500_000_000_000


def _template(folder: Path) -> list[Entry]:
    """One short real run."""
    driver = Driver(folder, ManualClock(START_MS))
    name = driver.lay_out(new_run(Shelf(), "hot-black", ["bolster"]))
    for command in (c.Start(), c.Note("slots needed a second rinse"), c.Abort("template")):
        driver.press(name, command)
    entries = driver._log.entries(name)
    driver.close()
    return entries


def _fill(folder: Path, runs: int, template: list[Entry]) -> None:
    """A log with so many runs, one a day, each with a part and a note of its own."""
    log = EventLog(folder)
    log._db.execute("PRAGMA synchronous = OFF")
    for number in range(runs):
        first, stamp = template[0].event, template[0].stamp
        assert isinstance(first, Created)
        wall_ms = START_MS + (LARGE - runs + number) * DAY_MS // 4
        created = replace(first, uid=f"{number:032x}", parts=((f"blade {number}", "hot-black"),))
        note = replace(template[2].event, text=f"note{number} slots needed a second rinse")  # type: ignore[call-arg]
        events = [created, template[1].event, note, template[3].event]
        bench = fold(events).bench
        name = f"{local_time(wall_ms, 0)[:10]}-{number % 4 + 1}"
        line = RunLine(name, bench.phase.value, bench.title, tuple(bench.parts), wall_ms, 0)
        log.append(name, events, replace(stamp, wall_ms=wall_ms), line)
    log.close()


def _questions(log: EventLog) -> dict[str, Callable[[], object]]:
    newest = log.runs(limit=1)[0]
    day = local_time(newest.created_ms, 0)[:10]
    return {
        "list the newest 10": lambda: log.runs(limit=10),
        "find one part": lambda: log.find(Query(part=newest.parts[0]), 10),
        "find by recipe, newest 10": lambda: log.find(Query(recipe="hot-black"), 10),
        "find a word of one note": lambda: log.find(
            Query(words=(f"note{newest.parts[0].split()[1]}",)), 10
        ),
        "find a word of every note, newest 10": lambda: log.find(Query(words=("rinse",)), 10),
        "find a day and a recipe": lambda: log.find(Query(date=day, recipe="hot-black"), 10),
        "open a record": lambda: record_of(log, newest.name),
        "runs that are open": lambda: log.runs(open_only=True),
    }


def _write(line: str) -> None:
    sys.stdout.write(f"{line}\n")


def _timed(question: Callable[[], object]) -> float:
    begun = time.perf_counter()
    question()
    return time.perf_counter() - begun


def _command(folder: Path, *arguments: str) -> Callable[[], object]:
    environment = {**os.environ, "BENCHTIMER_DATA": str(folder)}
    command = [sys.executable, "-m", "benchtimer", *arguments]
    return lambda: subprocess.run(command, env=environment, capture_output=True, check=True)


def _compare(small: Callable[[], object], large: Callable[[], object], rounds: int) -> float:
    times = [(_timed(small), _timed(large)) for _ in range(rounds)]
    return median(t for _, t in times) / median(t for t, _ in times)


def main() -> None:
    """Fill both logs, ask both, print the ratios."""
    with tempfile.TemporaryDirectory() as scratch:
        base = Path(scratch)
        template = _template(base / "template")
        for name, runs in (("small", SMALL), ("large", LARGE)):
            _fill(base / name, runs, template)
        logs = [EventLog(base / name, read_only=True) for name in ("small", "large")]
        small, large = (_questions(log) for log in logs)
        _write(f"time with {LARGE} runs over time with {SMALL} runs")
        for name, question in small.items():
            _write(f"  {_compare(question, large[name], ROUNDS):5.2f}  {name}")
        for arguments in COMMANDS:
            ratio = _compare(
                _command(base / "small", *arguments), _command(base / "large", *arguments), 9
            )
            _write(f"  {ratio:5.2f}  whole command: benchtimer {' '.join(arguments)}")
        for log in logs:
            log.close()


if __name__ == "__main__":
    main()
