"""Lists, searches and records with 10 runs in the log and with 10,000, side by side.

    python -m tests.benchmarks.archive

Both logs are queried in turn, many times. "benchtimer ..." is a fresh process, timed as you
wait for it at a shell.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

from benchtimer.records.record_lookup import record_of
from benchtimer.store.entries import local_time
from benchtimer.store.index import Query
from benchtimer.store.log import EventLog
from tests.benchmarks.__main__ import alone
from tests.benchmarks.figure import Asked, Figure, alternate
from tests.benchmarks.logs import many_runs

FEW, QUICK, MANY = 10, 200, 10_000
AIM = 1.5
"""A difference you won't notice."""

COMMANDS = (
    ["record", "--limit", "10"],
    ["record", "--recipe", "hot-black", "--limit", "10"],
    ["record", "last"],
)


def measure(asked: Asked) -> Iterator[Figure]:
    """Each query, run on both logs."""
    runs = QUICK if asked.quick else MANY
    places = [many_runs(asked.folder, number) for number in (FEW, runs)]
    logs = [EventLog(place, read_only=True) for place in places]
    few, many = (_questions(log) for log in logs)
    beside = f"{FEW} runs"
    for name, question in few.items():
        pairs = alternate(asked.rounds(60, 5), _timed(many[name]), _timed(question))
        yield Figure(f"{name}, {runs:,} runs", beside, pairs, "ms", aim=AIM)
    for log in logs:
        log.close()
    for arguments in COMMANDS:
        small, large = (_timed(partial(_command, place, arguments)) for place in places)
        what = f"benchtimer {' '.join(arguments)}, {runs:,} runs"
        yield Figure(what, beside, alternate(asked.rounds(9), large, small), "ms", aim=AIM)


def _questions(log: EventLog) -> dict[str, Callable[[], object]]:
    newest = log.runs(limit=1)[0]
    day = local_time(newest.created_ms, 0)[:10]
    word = f"note{newest.parts[0].split()[1]}"
    return {
        "list the newest 10": lambda: log.runs(limit=10),
        "find one part": lambda: log.find(Query(part=newest.parts[0]), 10),
        "find by recipe": lambda: log.find(Query(recipe="hot-black"), 10),
        "find a word of one note": lambda: log.find(Query(words=(word,)), 10),
        "find a word of every note": lambda: log.find(Query(words=("rinse",)), 10),
        "find a day and a recipe": lambda: log.find(Query(date=day, recipe="hot-black"), 10),
        "open a record": lambda: record_of(log, newest.name),
        "runs that are open": lambda: log.runs(open_only=True),
    }


def _timed(question: Callable[[], object]) -> Callable[[], float]:
    """Milliseconds until the answer."""

    def ask() -> float:
        begun = time.perf_counter()
        question()
        return 1000 * (time.perf_counter() - begun)

    return ask


def _command(place: Path, arguments: list[str]) -> None:
    environment = {**os.environ, "BENCHTIMER_DATA": str(place)}
    command = [sys.executable, "-m", "benchtimer", *arguments]
    subprocess.run(command, env=environment, capture_output=True, check=True)


if __name__ == "__main__":
    sys.exit(alone(__file__))
