"""``bath read PLACE --follow``: sends readings from a pipe or a simulated probe to the bench."""

from __future__ import annotations

import argparse
import math
import random
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, USAGE, YES, Wrong, number_of
from benchtimer.cli.shop_context import data_path, shop_settings

if TYPE_CHECKING:
    from benchtimer.bench.probes import ProbeReading

UNANSWERED = 5
"""After this many readings without an answer, it asks whether a bench is open."""

LAST_WAIT_S = 2.5
"""The bench reads once a second; the last reading stays this long for it."""

EVERY_S = 5.0
"""The interval of a simulated probe."""

WAVE_S, WAVE_C, NOISE_C = 1200.0, 1.5, 0.15
"""A simulated bath swings slowly around its set point, as with a thermostat."""


def options(parser: argparse.ArgumentParser) -> None:
    """--follow --probe --unit --simulate --every."""
    parser.add_argument(
        "--follow", action="store_true",
        help="keep taking readings from standard input, one per line, for the open bench",
    )  # fmt: skip
    parser.add_argument(
        "--probe", metavar="NAME", help="with --follow: the probe's name in the record (the place)"
    )
    parser.add_argument(
        "--unit", choices=("C", "F", "K"),
        help="with --follow: the unit of bare numbers (default: that of the settings)",
    )  # fmt: skip
    parser.add_argument(
        "--simulate", metavar="FIGURE",
        help="with --follow: simulate a bath that swings around this, for practice",
    )  # fmt: skip
    parser.add_argument(
        "--every", type=number_of("a time in seconds", 0.1, 600), default=EVERY_S, metavar="S",
        help="with --simulate: seconds between readings (5)",
    )  # fmt: skip


def follow(arguments: argparse.Namespace) -> int:
    """Send every reading to the bench until the input ends or CTRL-C."""
    from benchtimer.bench.probes import ProbeReading

    place = arguments.name.strip()
    probe = (arguments.probe or place).strip()
    _want_names(place, probe)
    reading = ProbeReading(place, probe, "", 0)
    if arguments.simulate is None and sys.stdin.isatty():
        raise Wrong("--follow reads from a pipe: logger | benchtimer bath read PLACE --follow; "
                    "or add --simulate", USAGE)  # fmt: skip
    simulated = arguments.simulate
    lines = _simulated(simulated, arguments.every) if simulated is not None else iter(sys.stdin)
    return _ProbeFeed(data_path(arguments), reading, _unit(arguments)).over(lines)


def _want_names(*names: str) -> None:
    from benchtimer.run.refusals import Refused, safe_text

    for name in names:
        try:
            safe_text("name", name)
        except Refused as refused:
            raise Wrong(str(refused), USAGE) from None
        if "\n" in name or len(name) > 60:
            raise Wrong("a name must be one line of up to 60 characters", USAGE)


def _unit(arguments: argparse.Namespace) -> str:
    return str(arguments.unit or ("F" if shop_settings().units == "us" else "C"))


class _ProbeFeed:
    """Sends readings one by one.

    Args:
        folder: the data folder of the bench.
        reading: the probe's readings, with its place.
        unit: of bare numbers.
    """

    def __init__(self, folder: Path, reading: ProbeReading, unit: str) -> None:
        self._folder = folder
        self._reading = reading
        self._unit = unit
        self._answer = ""
        self._last_s: float | None = None

    def over(self, lines: Iterator[str]) -> int:
        """Send every line, then say that the probe has ended."""
        from benchtimer.bench.probes import forget_answer, write_reading
        from benchtimer.values import replace

        forget_answer(self._folder, self._reading.probe)
        taken = 0
        try:
            for line in lines:
                if line.strip():
                    taken += self._one(line.strip())
            self._wait_for_the_bench()
        except KeyboardInterrupt:
            pass
        finally:
            if self._reading.number:
                self._reading = replace(self._reading, number=self._reading.number + 1, ended=True)
                write_reading(self._folder, self._reading)
        self._say_answer()
        return YES if taken else NO

    def _wait_for_the_bench(self) -> None:
        """If the input ends at once, don't remove its last reading before the bench sees it."""
        from benchtimer.bench.probes import read_answer

        until = time.monotonic() + LAST_WAIT_S
        while self._reading.number and time.monotonic() < until:
            if read_answer(self._folder, self._reading.probe):
                return
            time.sleep(0.1)

    def _one(self, line: str) -> bool:
        """Send one reading. Returns whether the line is one."""
        from benchtimer.bench.probes import write_reading
        from benchtimer.quantity import QuantityError, parse
        from benchtimer.values import replace

        text = f"{line} {self._unit}" if _is_bare(line) else line
        try:
            value = str(parse(text, "temperature"))
        except QuantityError as error:
            shown = line.encode("ascii", "backslashreplace").decode()[:60]
            print(f'benchtimer: "{shown}" is not a reading: {error.reason}', file=sys.stderr)
            return False
        now = time.monotonic()
        gap_s = now - self._last_s if self._last_s is not None else self._reading.every_s
        every_s = min(3600.0, max(0.1, 0.7 * self._reading.every_s + 0.3 * gap_s))
        self._last_s = now
        self._reading = replace(
            self._reading, value=value, number=self._reading.number + 1, every_s=round(every_s, 3)
        )
        write_reading(self._folder, self._reading)
        self._say_answer()
        return True

    def _say_answer(self) -> None:
        """Print the bench's answer if it is new, or that no bench answers."""
        from benchtimer.bench.probes import TAKEN, read_answer

        answer = read_answer(self._folder, self._reading.probe)
        if not answer and self._reading.number == UNANSWERED:
            print(
                "benchtimer: no bench has taken a reading yet. Is the bench open?", file=sys.stderr
            )
        if answer != self._answer:
            self._answer = answer
            line = f"{self._reading.probe}: reading received" if answer == TAKEN else answer
            print(f"benchtimer: {line}", file=sys.stderr, flush=True)


def _is_bare(line: str) -> bool:
    try:
        return math.isfinite(float(line))
    except ValueError:
        return False


def _simulated(text: str, every_s: float) -> Iterator[str]:
    """Readings of a bath that swings around a set point, with a little noise."""
    from benchtimer.quantity import QuantityError, parse

    try:
        middle = parse(text, "temperature")
    except QuantityError as error:
        raise Wrong(f"--simulate {text}: {error.reason}", USAGE) from None
    rng, number = random.Random(1), 0
    while True:
        swing_c = WAVE_C * math.sin(2 * math.pi * number * every_s / WAVE_S)
        noisy_c = middle.base + swing_c + rng.gauss(0, NOISE_C)
        yield _in_unit(noisy_c, middle.unit)
        number += 1
        time.sleep(every_s)


def _in_unit(celsius: float, unit: str) -> str:
    from benchtimer.quantity import Quantity

    return f"{Quantity(celsius, 'C').to(unit).value:.1f} {unit}"
