"""Probes: programs that put their readings into the data folder, and the bench that takes them.

A probe keeps rewriting one small file; no port is opened and nothing waits. The bench checks the
files on each tick. This module notices a silent probe and a stuck value.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from benchtimer.atomic_file import make_own_folder, write_whole
from benchtimer.run.refusals import BadValue
from benchtimer.store.errors import StoreError
from benchtimer.times import duration
from benchtimer.values import dataclass

FOLDER = "probes"

MAX_BYTES = 4096
"""A larger file is not a probe's."""

MOST = 20
"""How many probes the bench reads."""

SILENT_TIMES, SILENT_S = 4, 20.0
"""A probe is silent after this many times its own interval, but no sooner than this."""

FROZEN_S = 600.0
"""A value that has not changed in its last digit for this long is no longer trusted."""

FROZEN_READINGS = 30
"""... if it was sent this many times."""


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """What a probe's file says.

    Attributes:
        place: the place it is in, as its user calls it.
        probe: its name.
        value: its reading as text.
        number: how many readings there were; a new number is a new reading.
        every_s: its interval.
        ended: its user stopped it.
    """

    place: str
    probe: str
    value: str
    number: int
    every_s: float = 10.0
    ended: bool = False


def file_of(folder: Path, probe: str) -> Path:
    """The file of a probe; its name may have any letters."""
    digest = hashlib.sha256(probe.casefold().encode("utf-8", "surrogatepass")).hexdigest()[:16]
    return folder / FOLDER / f"{digest}.json"


def write_reading(folder: Path, reading: ProbeReading) -> None:
    """Put a reading where the bench finds it.

    Raises:
        StoreError: it can't be written.
    """
    path = file_of(folder, reading.probe)
    table = {name: getattr(reading, name) for name in ProbeReading.__slots__}
    try:
        make_own_folder(path.parent)
        write_whole(path, json.dumps(table), private=True)
    except OSError as error:
        reason = error.strerror or "it can't be written"
        raise StoreError(path, reason, "Check the folder and the disk") from None


def read_reading(path: Path) -> ProbeReading | None:
    """What a file says; None if it is not a probe's file."""
    try:
        if not path.is_file() or path.is_symlink() or path.stat().st_size > MAX_BYTES:
            return None
        fields = json.loads(path.read_bytes())
        reading = ProbeReading(
            str(fields["place"]), str(fields["probe"]), str(fields["value"]), int(fields["number"]),
            float(fields["every_s"]), fields["ended"] is True,
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return reading if 0 < reading.every_s <= 3600 else None


def answer_file(path: Path) -> Path:
    """Where the bench answers a probe."""
    return path.with_suffix(".answer")


def forget_answer(folder: Path, probe: str) -> None:
    """Delete what the bench said to an earlier probe with this name."""
    with suppress(OSError):
        answer_file(file_of(folder, probe)).unlink(missing_ok=True)


def read_answer(folder: Path, probe: str) -> str:
    """What the bench last answered; empty if nothing yet."""
    try:
        return answer_file(file_of(folder, probe)).read_text(encoding="utf-8")[:MAX_BYTES]
    except (OSError, ValueError):
        return ""


@dataclass(slots=True)
class _Known:
    """A probe as the bench knows it; times are in seconds of a count that never goes back."""

    reading: ProbeReading
    heard_s: float
    moved_s: float
    same: int = 1
    trouble: str = ""
    answer: str = ""


class Probes:
    """The probes of a data folder, as the running bench sees them.

    Args:
        folder: the data folder.
        take: records a reading; raises an error if it is refused.
        monotonic: seconds that never go back.
    """

    def __init__(
        self,
        folder: Path,
        take: Callable[[ProbeReading], str],
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        self._folder = folder
        self._take = take
        self._monotonic = monotonic
        self._known: dict[Path, _Known] = {}
        # left over from an earlier probe
        self._old = {path: read_reading(path) for path in self._files()}

    def look(self) -> None:
        """Take new readings, and notice silent or stuck probes."""
        now = self._monotonic()
        for path in self._files():
            reading = read_reading(path)
            if reading is None or reading == self._old.get(path):
                continue
            known = self._known.get(path)
            if known is None or known.reading.number != reading.number or known.reading != reading:
                self._heard(path, reading, known, now)
        for known in self._known.values():
            self._judge(known, now)

    def _files(self) -> list[Path]:
        try:
            return sorted((self._folder / FOLDER).glob("*.json"))[:MOST]
        except OSError:
            return []

    def _heard(self, path: Path, reading: ProbeReading, known: _Known | None, now: float) -> None:
        if (
            known is None
            or known.reading.place != reading.place
            or known.reading.value != reading.value
        ):
            answer = known.answer if known is not None else ""
            known = self._known[path] = _Known(reading, now, now, answer=answer)
        else:
            known.reading, known.heard_s, known.same = reading, now, known.same + 1
        if reading.ended:
            del self._known[path]
            self._old[path] = reading
            return
        frozen = self._is_frozen(known, now)
        self._say(path, known, _frozen_words(known, now) if frozen else self._taken(reading))

    def _taken(self, reading: ProbeReading) -> str:
        try:
            return self._take(reading)
        except BadValue as refusal:
            return str(refusal)

    def _say(self, path: Path, known: _Known, answer: str) -> None:
        """Answer the probe, if there is anything new."""
        if answer == known.answer:
            return
        known.answer = answer
        try:
            write_whole(answer_file(path), answer, private=True)
        except OSError:
            return  # the board shows it, too

    def _is_frozen(self, known: _Known, now: float) -> bool:
        return known.same >= FROZEN_READINGS and now - known.moved_s >= FROZEN_S

    def _judge(self, known: _Known, now: float) -> None:
        silent_s = now - known.heard_s
        if silent_s > max(SILENT_S, SILENT_TIMES * known.reading.every_s):
            known.trouble = (
                f"PROBE {known.reading.probe} has been silent for {duration(round(silent_s))}: "
                f"read {known.reading.place} by hand"
            )
        elif self._is_frozen(known, now):
            known.trouble = _frozen_words(known, now)
        else:
            known.trouble = known.answer if known.answer not in ("", TAKEN) else ""

    @property
    def troubles(self) -> Iterator[str]:
        """What is wrong with the probes, a line each."""
        return (known.trouble for known in self._known.values() if known.trouble)


TAKEN = "taken"
"""The answer to a reading that the bench has taken."""


def _frozen_words(known: _Known, now: float) -> str:
    held = duration(round(now - known.moved_s))
    return (
        f"PROBE {known.reading.probe} has shown {known.reading.value} for {held}: it may be stuck. "
        f"Read {known.reading.place} by hand"
    )
