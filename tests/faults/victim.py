"""A bench worked by a script and killed from inside, at a chosen call.

The program doesn't know. The interpreter calls a profile hook before and after every function of
the database, of files and of the operating system; at the chosen call the hook ends the process
with SIGKILL. Acknowledged presses go into a pipe; the parent checks the remains.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.decide import Now, decide
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import OVER, RunState
from tests.support import small_recipe, table

NOON = 1_770_000_000_000
NEW = NewRun("Test", {"small": table(small_recipe())}, [("bolster", "small"), ("ferrule", "small")])

WRITES = frozenset(
    {"execute", "executemany", "write", "flush", "fsync", "replace", "rename", "close", "backup",
     "mkdir", "open", "unlink", "truncate"}
)  # fmt: skip
"""The calls before and after which a process can be killed."""


@contextmanager
def killed_at(number: int) -> Iterator[None]:
    """Kill this process before or after a writing call, counted from 1; ``0``: never."""
    seen = 0

    def look(_frame: Any, event: str, called: Any) -> None:
        nonlocal seen
        if event in ("c_call", "c_return") and getattr(called, "__name__", "") in WRITES:
            seen += 1
            if seen == number:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.setprofile(look if number else None)
    try:
        yield
    finally:
        sys.setprofile(None)


def in_a_child(
    work: Callable[[Callable[[str], None]], None], after: tuple[int, float] | None = None
) -> tuple[list[str], int]:
    """Run something in a child process that may be killed.

    Args:
        work: what to run; it gets a function that acknowledges a word.
        after: kill it from outside after this many words, plus this many seconds.

    Returns:
        The words acknowledged, in order, and how the child ended (negative: by a signal).
    """
    read, write = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.close(read)
            work(lambda word: (os.write(write, f"{word}\n".encode()), None)[1])
            code = 0
        finally:
            os._exit(code)
    os.close(write)
    with os.fdopen(read, encoding="utf-8") as pipe:
        words = [pipe.readline() for _ in range(after[0])] if after else []
        if after:
            time.sleep(after[1])
            os.kill(pid, signal.SIGKILL)
        words = "".join([*words, pipe.read()]).split("\n")[:-1]
    _, status = os.waitpid(pid, 0)
    return words, os.waitstatus_to_exitcode(status)


def clock_at(t_ms: int) -> ManualClock:
    """The clock of a machine that has been on since noon."""
    clock = ManualClock(NOON, boot="victim")
    clock.advance(t_ms - NOON)
    return clock


def next_command(state: RunState, t_ms: int, draw: Random) -> c.Command:
    """The script's next press: the agenda's, or a rare one."""
    seldom: list[c.Command] = [
        c.Undo(), c.Redo(), c.BackDate(5000), c.Note(f"note {draw.randrange(10**6)}"),
        c.Hold(None), c.Resume(None), c.Abort("done for today"), c.Judge("bolster", "accepted", 4),
        c.SendBack("bolster", "prepare"), c.TakeOut("ferrule"), c.Read("tank", "65 C"),
        c.SkipReading("tank", "by eye"),
    ]  # fmt: skip
    if draw.random() < 0.35 or state.bench.phase in OVER:
        return draw.choice(seldom)
    for action in agenda(state.bench, t_ms):
        if action.kind is ActionKind.READING and action.to_station:
            return c.Read(action.to_station, "65 C")
        if action.kind is ActionKind.ANSWER and action.part and action.check:
            answers: Mapping[str, str | bool] = {
                "even": draw.random() < 0.6, "heat": "25 C", "colour": "black", "words": "well",
            }  # fmt: skip
            return c.Answer(action.part, action.check.id, answers[action.check.id])
        if action.command is not None:
            return action.command
    return draw.choice(seldom)


def script(state: RunState, t_ms: int, seed: int, presses: int) -> Iterator[tuple[int, c.Command]]:
    """Presses the engine accepts, with their times, and the states between in memory."""
    draw = Random(seed)
    while presses:
        t_ms += draw.choice((1000, 20_000, 60_000, 300_000))
        command = next_command(state, t_ms, draw)
        try:
            events = decide(state, command, Now(t_ms, "maker"))
        except Refused:
            continue
        state = fold(events, state)
        presses -= 1
        yield t_ms, command


def work_on(
    folder: Path, name: str, presses: list[tuple[int, c.Command]], number: int
) -> Callable[[Callable[[str], None]], None]:
    """Open the bench, press one after the other, and die at the chosen call."""

    def work(acknowledge: Callable[[str], None]) -> None:
        clock = clock_at(presses[0][0])
        with killed_at(number):
            driver = drive(folder, clock)
            acknowledge("open")
            for t_ms, command in presses:
                clock.advance(t_ms - clock.wall_ms)
                driver.press(name, command)
                acknowledge("press")
            driver.close()
        acknowledge("closed")

    return work
