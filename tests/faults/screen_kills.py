"""The whole program on a pseudo-terminal, worked by keys and killed, life after life."""

from __future__ import annotations

import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from functools import partial
from itertools import groupby
from pathlib import Path
from random import Random
from typing import NoReturn

from benchtimer.bench.open_bench import look_on
from benchtimer.clock import SystemClock
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.actions import ActionKind
from benchtimer.run.decide import Now, decide
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import RunState
from benchtimer.store.log import EventLog, LogEntry, Stamp
from benchtimer.store.place import data_folder
from benchtimer.view.board_text import undo_of
from benchtimer.view.desk import Desk
from tests.faults.tally import Tally
from tests.terminal import Terminal

SPEED = "20"
NO_STAMP = Stamp(0, None, 0, 0, 0)
RUN = ["run", "hot-black", "bolster", "ferrule", "butt cap"]
LIVES = 40
FRESH = 10
"""Every this many lives, the program starts without a fork."""

GUARD_S = 0.45
"""A second press within this time counts as accidental."""

SKIP = "e1"
"""The keys that skip a reading."""

ENDINGS = [signal.SIGKILL] * 4 + [signal.SIGTERM, signal.SIGHUP, None]
"""How a life ends; ``None``: the terminal closes."""

COMMANDS: dict[type[e.Event], Callable[[e.Event], c.Command]] = {
    e.Started: lambda _: c.Start(),
    e.Acknowledged: lambda x: c.Acknowledge(x.hazard),  # type: ignore[attr-defined]
    e.WorkBegan: lambda x: c.Begin(x.part),  # type: ignore[attr-defined]
    e.TakenOut: lambda x: c.Begin(x.part),  # type: ignore[attr-defined]
    e.WorkFinished: lambda x: c.Finish(x.part),  # type: ignore[attr-defined]
    e.Answered: lambda x: c.Answer(x.part, x.check, x.answer),  # type: ignore[attr-defined]
    e.ReadingTaken: lambda x: c.Read(x.station, x.reading),  # type: ignore[attr-defined]
    e.ReadingSkipped: lambda x: c.SkipReading(x.station, x.reason),  # type: ignore[attr-defined]
    e.Prepared: lambda x: c.Prepare(x.item, x.ready, x.said),  # type: ignore[attr-defined]
    e.Heated: lambda x: c.Heat(x.station),  # type: ignore[attr-defined]
    e.MakeUpBegan: lambda x: c.BeginMakeUp(x.station),  # type: ignore[attr-defined]
    e.MadeUp: lambda x: c.EndMakeUp(x.station),  # type: ignore[attr-defined]
    e.Noted: lambda x: c.Note(x.text, x.part),  # type: ignore[attr-defined]
    e.Undone: lambda _: c.Undo(),
    e.Redone: lambda _: c.Redo(),
    e.Retimed: lambda x: c.BackDate(x.ago_ms),  # type: ignore[attr-defined]
}
"""The presses, by the first entry each one makes."""


class Forked(Terminal):
    """The program forked from a process that has already loaded it, for a faster start."""

    def _become(self, arguments: list[str], environment: dict[str, str]) -> NoReturn:
        os.environ.clear()
        os.environ.update(environment)
        sys.argv = ["benchtimer", *arguments]
        for number, (name, mode) in enumerate((("stdin", "r"), ("stdout", "w"), ("stderr", "w"))):
            stream = os.fdopen(number, mode, encoding="utf-8", closefd=False)
            setattr(sys, name, stream)
            setattr(sys, f"__{name}__", stream)
        from benchtimer.cli import main

        code = 1
        try:
            code = main(arguments)
        finally:
            os._exit(code)


def shown_undo(text: str) -> str:
    """The undo line on the screen; empty if no board is shown."""
    lines = (line.strip() for line in text.split("\n"))
    shown = next((x for x in lines if x.startswith(("U undoes", "nothing to undo"))), "")
    return shown.removesuffix("…").rstrip()  # a long one is cut


class Bench:
    """One data folder through many lives of the program."""

    def __init__(self, kind: type[Terminal]) -> None:
        self.home = Path(tempfile.mkdtemp(prefix="benchtimer-screen-"))
        self.folder = data_folder(self.home / "data", float(SPEED))
        self.kind = kind
        self.lives = 0
        self.model = RunState()
        self.name = ""

    def open(self) -> Terminal:
        """Start the program; the board must show the model's state."""
        self.lives += 1
        kind = Terminal if self.lives % FRESH == 0 else self.kind
        job = [] if self.name else RUN
        options = ["--speed", SPEED, "--data", str(self.home / "data")]
        terminal = kind([*job, *options], self.home)
        wanted = undo_of(self.model, NO_STAMP) if self.name else "nothing to undo"
        terminal.wait(lambda text: bool(seen := shown_undo(text)) and wanted.startswith(seen), 20)
        return terminal

    def entries(self) -> list[LogEntry]:
        """The entries on the disk."""
        with closing(EventLog(self.folder, read_only=True)) as log:
            self.name = self.name or log.runs()[0].name
            return log.entries(self.name)

    def check(self, seen: list[str], sent: int) -> str:
        """The faults after a life in which the screen showed the effects ``seen``."""
        entries = self.entries()
        if not self.model.presses and not self.model.bench.parts:
            self.model = fold([entries[0].event])
        new = [entry for entry in entries if entry.event.press > self.model.presses]
        lines = []
        for _, group in groupby(new, key=lambda entry: entry.event.press):
            wrong = self._follow([entry.event for entry in group])
            if wrong:
                return wrong
            lines.append(undo_of(self.model, NO_STAMP))
        if not len(seen) <= len(lines) <= sent:
            return f"{len(seen)} effects were seen, {sent} keys sent, {len(lines)} in the log"
        if not _in_order(seen, lines):
            return f"the screen showed {seen}, the log has {lines}"
        return self._timers(entries) or self._differs(entries)

    def _follow(self, events: list[e.Event]) -> str:
        """Repeat the presses in memory: they must give the same entries."""
        first = events[0]
        command = COMMANDS[type(first)](first)
        wanted = decide(self.model, command, Now(first.t_ms, first.by))
        self.model = fold(wanted, self.model)
        return "" if wanted == events else f"{command} gave other entries than in memory"

    def _differs(self, entries: list[LogEntry]) -> str:
        found = fold(entry.event for entry in entries)
        result, wanted = ((s.bench, s.past, s.future) for s in (found, self.model))
        return "" if result == wanted else "the state is not that of the same presses in memory"

    @staticmethod
    def _timers(entries: list[LogEntry]) -> str:
        """Bench time is the machine's count through all lives."""
        zeros = {entry.stamp.noted_ms - entry.stamp.count_ms for entry in entries}
        return f"timers moved by {max(zeros) - min(zeros)} ms" if len(zeros) > 1 else ""

    def next_keys(self, draw: Random, number: int) -> Iterator[str]:
        """The next keys of someone who reads the screen, in pieces sent one by one."""
        if draw.random() < 0.3:
            yield from ("t", f"note {number}\r")
        elif draw.random() < 0.3:
            yield draw.choice("uursb")
        else:
            yield from self._answer(draw)

    def _answer(self, draw: Random) -> Iterator[str]:
        with closing(look_on(self.folder, SystemClock(), speed=float(SPEED))) as watcher:
            desk = Desk(watcher, watcher.names[0])
            action = desk.shown(watcher.moment())
        if action is not None and action.kind is ActionKind.ANSWER and action.check is not None:
            yield {"yes-no": "y", "choice": "1", "reading": "20 "}.get(action.check.kind, "y")
        elif action is not None and action.kind is ActionKind.READING:
            heat = {"cleaner": "185 ", "salts": "290 "}.get(action.to_station or "", "150 ")
            yield heat if draw.random() < 0.7 else SKIP
        elif action is not None and action.kind is ActionKind.BEGIN:
            yield "e"
        else:
            yield " "


def _has_changed(before: str, text: str) -> bool:
    return shown_undo(text) not in ("", before)


def _in_order(seen: list[str], lines: list[str]) -> bool:
    rest = iter(lines)
    return all(any(line.startswith(text) for line in rest) for text in seen)


def kill_programs(tries: int, seed: int, kind: type[Terminal] = Forked) -> Tally:
    """Kill the program ``tries`` times; it keeps the same folder for ``LIVES`` lives."""
    draw, tally = Random(seed), Tally()
    bench = Bench(kind)
    while tally.tried < tries and not tally.lost:
        if tally.tried and tally.tried % LIVES == 0:
            shutil.rmtree(bench.home)
            bench = Bench(kind)
        tally.tried += 1
        try:
            wrong = _one_life(bench, draw, tally.tried)
        except AssertionError as error:
            wrong = str(error)
        if wrong:
            tally.wrong(f"seed {seed}, kill {tally.tried}: {wrong}")
    shutil.rmtree(bench.home)
    return tally


def _one_life(bench: Bench, draw: Random, number: int) -> str:
    terminal = bench.open()
    if not bench.name:
        bench.check([], 0)
    seen: list[str] = []
    sent = 0
    pressed_at = 0.0
    for press in range(draw.choice((0, 1, 1, 1, 2, 3))):
        time.sleep(max(0.0, pressed_at + GUARD_S - time.monotonic()))
        pressed_at = time.monotonic()
        before = shown_undo(terminal.settle())  # a half-drawn line would look like a new one later
        sent += 1
        for keys in bench.next_keys(draw, number * 10 + press):
            terminal.send(keys)
            sent += keys == SKIP  # if the reading has lapsed by then, these are two presses
            if keys == "t":
                terminal.wait("ENTER save", 5)
        if draw.random() < 0.35:
            break  # killed before the effect was shown
        with suppress(AssertionError):
            terminal.wait(partial(_has_changed, before), 1.0)
            seen.append(shown_undo(terminal.settle()))
    time.sleep(draw.choice((0, 0, 0.001, 0.005, 0.02, 0.1)))
    ending = draw.choice(ENDINGS)
    terminal.hang_up() if ending is None else terminal.kill(ending)
    return bench.check(seen, sent)
