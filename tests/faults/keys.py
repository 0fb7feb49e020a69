"""Sends the whole program bursts of keys, mouse events, pastes and window sizes.

Every life of the program gets ``INPUTS`` inputs on a pseudo-terminal. A seed fixes the inputs
and the pauses between them. The program's progress in those pauses varies, so a seed repeats the
input and often the fault.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import ClassVar, NoReturn

from tests.faults.row import Row
from tests.faults.tally import Tally
from tests.terminal import Terminal

SPEED = "50"
RUN = ["run", "hot-black", "bolster", "ferrule", "butt cap"]
LIVES = 12
"""Lives after which the bench is replaced."""

INPUTS = 1000
"""Inputs in one life."""

ANSWER_S = 60
"""The program must draw a new size within this time after the last burst."""

ENOUGH = 20
"""Losses after which a campaign stops."""

READS_KEYS = b"\x1b[?2004h"
"""The request for bracketed pastes, the program's last output before its first screen."""

LEAVES = b"\x1b[?1049l"
"""The return to the terminal's own screen, where the program's last words go."""

SOME_BYTES = 200
"""A full redraw prints more than this; a ticking clock prints less."""

SPECIAL = (
    "\r", "\x1b", "\t", "\x7f", "\x1b[A", "\x1b[B", "\x1b[C", "\x1b[D", "\x1b[H", "\x1b[F",
    "\x1b[5~", "\x1b[6~", "\x1bOP", "\x1b[Z", "\x03", "\x11", "\x00", "\x1b[I", "\x1b[O",
)  # fmt: skip
"""ENTER, ESC, TAB, arrows and their like; CTRL+Q; focus in and out."""

PRINTED = " yneurbsgxmftacijkdlwhvpq?/zo0123456789.-"
OPENING = "mtpfhlkjacwido?"
"""Keys that open a page on the board."""

JUNK = "\x00\x1b[;?<0123456789mMHJKABCRtu~abcq \r\n\x07\x11\x1b]P\\é…"


@dataclass(slots=True)
class Burst:
    """Bytes sent at once.

    Attributes:
        data: the bytes; empty where ``size`` is set.
        inputs: keys, mouse events, pastes and sizes in it.
        size: new columns and rows of the window.
    """

    data: bytes = b""
    inputs: int = 1
    size: tuple[int, int] | None = None


def _keys(draw: Random) -> Burst:
    keys = [draw.choice(draw.choice((PRINTED, SPECIAL))) for _ in range(draw.randint(1, 20))]
    return Burst("".join(keys).encode(), len(keys))


def _again(draw: Random) -> Burst:
    """Opens a page and answers it several times at once."""
    opening = draw.choice(OPENING) * draw.choice((1, 1, 2, 4))
    answer = draw.choice(("\r", "1", "2", "\x1b", " ", "y", "9", "ab\r")) * draw.randint(2, 6)
    return Burst((opening + answer).encode(), len(opening) + len(answer))


def _back(draw: Random) -> Burst:
    """Returns to the bottom page, so the burst reaches every page."""
    number = draw.randint(2, 6)
    return Burst(b"\x1b[27u" * number, number)


def _held(draw: Random) -> Burst:
    number = draw.randint(10, 40)
    return Burst(draw.choice((*SPECIAL, *PRINTED)).encode() * number, number)


def _touches(draw: Random) -> Burst:
    """A tap, several at one spot; a drag; the wheel."""
    column, row = draw.randint(1, 130), draw.randint(1, 45)
    at = f"{column};{row}"
    number = draw.choice((1, 2, 3, 8))
    to = f"{draw.randint(1, 130)};{draw.randint(1, 45)}"
    found = draw.choice(
        (
            f"\x1b[<0;{at}M\x1b[<0;{at}m",
            f"\x1b[<0;{at}M\x1b[<0;{at}m",
            f"\x1b[<0;{at}M\x1b[<32;{to}M\x1b[<0;{to}m",
            f"\x1b[<64;{at}M\x1b[<65;{at}M",
            f"\x1b[<35;{at}M\x1b[<2;{at}M",
        )
    )
    return Burst(found.encode() * number, found.count("\x1b") * number)


def _paste(draw: Random) -> Burst:
    size = 100_000 if draw.random() < 0.01 else draw.randint(0, 2_000)
    text = "".join(draw.choices(JUNK, k=size))
    end = "" if draw.random() < 0.02 else "\x1b[201~"
    return Burst(f"\x1b[200~{text}{end}".encode(), 1)


def _codes(draw: Random) -> Burst:
    """Codes and bytes that no key sends."""
    found = bytes(draw.randrange(256) for _ in range(draw.randint(1, 12)))
    found += f"\x1b[{draw.randrange(10 ** draw.randint(1, 12))}".encode() + draw.choice(
        (b"u", b"~", b";5u", b";9R", b";5;5;5t", b"M   ")
    )
    return Burst(found, 4)


def _size(draw: Random) -> Burst:
    small = draw.random() < 0.2
    size = (draw.randint(1, 30), draw.randint(1, 8)) if small else (draw.randint(30, 180), 24)
    return Burst(size=size)


KINDS: tuple[tuple[Callable[[Random], Burst], int], ...] = (
    (_keys, 8), (_again, 6), (_back, 5), (_held, 2), (_touches, 6), (_paste, 2), (_codes, 1),
    (_size, 2),
)  # fmt: skip
"""The kinds of input, and how often each is sent."""


def bursts(draw: Random, inputs: int) -> list[Burst]:
    """The input of one life."""
    found: list[Burst] = []
    makers, weights = zip(*KINDS, strict=True)
    while sum(burst.inputs for burst in found) < inputs:
        found.append(draw.choices(makers, weights)[0](draw))
    return found


STAY = "from benchtimer.tui.app import BenchApp; BenchApp.exit = lambda *_, **__: None"
START = "import sys; from benchtimer.cli import main; sys.exit(main())"


class Changed(Terminal):
    """The program with some lines of Python run before it."""

    before: ClassVar[str] = ""

    def _become(self, arguments: list[str], environment: dict[str, str]) -> NoReturn:
        found = {**environment, "PYTHONPATH": os.pathsep.join(sys.path)}
        code = f"{self.before}\n{START}"
        os.execve(sys.executable, [sys.executable, "-c", code, *arguments], found)


class Staying(Changed):
    """The program without a quit command, so any end of it is a loss."""

    before = STAY


class Bench:
    """The program on one data folder, through several lives."""

    def __init__(self, kind: type[Terminal], started: bool) -> None:
        self.kind = kind
        self.home = Path(tempfile.mkdtemp(prefix="benchtimer-keys-"))
        self._job = RUN if started else []

    def open(self) -> Terminal:
        """Start the program and wait until it reads keys; before that CTRL+C may stop it."""
        options = ["--speed", SPEED, "--data", str(self.home / "data")]
        terminal = self.kind([*self._job, *options], self.home)
        self._job = []
        terminal.wait(lambda _: READS_KEYS in terminal.output, 30)
        return terminal

    def close(self) -> None:
        """Remove the folder."""
        shutil.rmtree(self.home, ignore_errors=True)


def play(terminal: Terminal, life: list[Burst], draw: Random, tally: Tally) -> str:
    """Send the input of one life, count it, and return any fault."""
    for burst in life:
        tally.tried += burst.inputs
        frozen = draw.random() < 0.3
        if frozen:
            os.kill(terminal.pid, signal.SIGSTOP)
        if burst.size is not None:
            terminal.set_size(*burst.size)
        taken = terminal.pour(burst.data, 0 if frozen else 30)
        if frozen:
            os.kill(terminal.pid, signal.SIGCONT)
        terminal.drain(draw.choice((0, 0, 0.005, 0.03, 0.1)))
        code = terminal.ended()
        if code is not None:
            return _ending(code, terminal)
        if not taken:
            return "its terminal is gone"
    return _answers(terminal)


def _answers(terminal: Terminal) -> str:
    """Whether the program still draws; ends it afterward."""
    until = time.monotonic() + ANSWER_S
    sizes = ((91, 27), (80, 24))
    for turn in range(10**6):
        code = terminal.ended()
        if code is not None:
            return _ending(code, terminal)
        terminal.set_size(*sizes[turn % 2])
        if terminal.drain(0.5) > SOME_BYTES:
            terminal.kill()
            return ""
        if time.monotonic() > until:
            break
    terminal.kill()
    return f"it drew nothing for {ANSWER_S} s"


def _ending(code: int, terminal: Terminal) -> str:
    begins = terminal.output.rfind(LEAVES)  # unread input may follow the last words
    last = terminal.output[begins:][:600] if begins >= 0 else terminal.output[-600:]
    said = last.decode(errors="replace").replace("\x1b", "").strip()
    return f"it ended with exit code {code}: {said!r}"


def press(tries: int, seed: int, kind: type[Terminal] = Staying) -> Tally:
    """Send at least ``tries`` inputs; each life has its own seed."""
    tally = Tally()
    life, bench = 0, None
    while tally.tried < tries and tally.lost < ENOUGH:
        if bench is None or life % LIVES == 0:
            if bench is not None:
                bench.close()
            bench = Bench(kind, started=life // LIVES % 4 != 3)
        draw = Random(f"{seed}/{life}")
        found = bursts(draw, min(INPUTS, tries - tally.tried))
        try:
            wrong = play(bench.open(), found, draw, tally)
        except AssertionError as error:
            wrong = str(error)
        if wrong:
            tally.wrong(f"seed {seed}, life {life}: {wrong}")
        life += 1
    if bench is not None:
        bench.close()
    return tally


def campaign(tries: int, seed: int) -> list[Row]:
    """The row of the table."""
    fault = "keys, touches, pastes and window sizes in bursts, also while the program stood still"
    kept = "the program still runs and draws"
    return [press(tries, seed).row(fault, kept)]
