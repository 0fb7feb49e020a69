"""Plays a tone through the system's own player, without a shell; a failure does no harm. The two
alarm tones are generated here. ISO 7731:2003 (auditory danger signals) asks for components between
500 and 2500 Hz, enough of them below 1500 Hz for people with poor hearing of high tones or with ear
protection, and prefers pulses, 0.5 to 4 a second, to a steady tone. These figures are from memory
and from public summaries of the standard; its measurements in the room are up to you.
"""

from __future__ import annotations

import io
import math
import shutil
import subprocess
import sys
import tempfile
import threading
import wave
from array import array
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from benchtimer.records.inert import visible
from benchtimer.values import dataclass

RATE = 22_050
"""Samples per second."""

BAND_HZ = (500.0, 2500.0)
"""The band in which ISO 7731 wants a signal."""

RAMP_S = 0.03
"""Each pulse fades in and out for this long: a hard edge clicks, and a click is outside the band.
"""

LOUD = 0.45
"""Amplitude of each of the two partials, as a share of full scale."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """One pulse of two partials, whose pitch rises from one frequency to another.

    Attributes:
        from_hz: the lower partial when the pulse begins.
        to_hz: the lower partial when it ends.
        on_s: how long it sounds.
        off_s: how long the silence after it lasts.
    """

    from_hz: float
    to_hz: float
    on_s: float
    off_s: float


SECOND = 1.5
"""The upper partial is a fifth above the lower."""

DUE_TONE = (Pulse(800, 800, 0.3, 0.2),) * 3
"""Work is due: three level pulses, two a second."""

OVERDUE_TONE = (Pulse(600, 1500, 0.4, 0.1),) * 5
"""Work is overdue: five rising pulses, two a second."""


def samples(pulses: tuple[Pulse, ...]) -> array[int]:
    """The samples of a tone: 16 bits, one channel, ``RATE`` per second."""
    found = array("h")
    for pulse in pulses:
        found.extend(round(32767 * value) for value in _sound(pulse))
        found.extend([0] * round(pulse.off_s * RATE))
    return found


def _sound(pulse: Pulse) -> Iterator[float]:
    count, ramp = round(pulse.on_s * RATE), round(RAMP_S * RATE)
    cycles = 0.0
    for number in range(count):
        edge = min(1.0, number / ramp, (count - 1 - number) / ramp)
        loud = LOUD * (1 - math.cos(math.pi * edge)) / 2
        angle = 2 * math.pi * cycles
        yield loud * (math.sin(angle) + math.sin(SECOND * angle))
        cycles += (pulse.from_hz + (pulse.to_hz - pulse.from_hz) * number / count) / RATE


def wav(pulses: tuple[Pulse, ...]) -> bytes:
    """A tone as a WAV file."""
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(_little_endian(samples(pulses)))
    return held.getvalue()


def _little_endian(found: array[int]) -> bytes:
    import sys

    if sys.byteorder == "big":  # wave uses the file's byte order, not the machine's
        found = array("h", found)
        found.byteswap()
    return found.tobytes()


PLAYERS: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "linux": (("pw-play",), ("paplay",), ("aplay", "-q")),
    "darwin": (("afplay",),),
}
"""By operating system: the first one that exists plays; the file's path is the last argument."""

PATIENCE_S = 8.0
"""A player that takes longer than this is stopped: the longest tone takes under 3 s."""

NO_PLAYER = "no player for the tone"


class Player:
    """Plays the tones of an alarm; one at a time.

    Args:
        platform: the operating system, as ``sys.platform`` names it.
    """

    def __init__(self, platform: str = sys.platform) -> None:
        self._platform = platform
        self._busy = threading.Lock()
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._closed = False

    @property
    def words(self) -> Sequence[str] | None:
        """The first player that exists; None if there is none."""
        if self._platform == "win32":
            return ("winsound",)
        known = PLAYERS.get(self._platform, PLAYERS["linux"])
        return next((words for words in known if shutil.which(words[0])), None)

    def play(self, *, overdue: bool) -> str | None:
        """Play one of the tones to its end. Returns what went wrong, or None. A tone is skipped
        while another one is playing.
        """
        if not self._busy.acquire(blocking=False):
            return None
        try:
            return self._play("overdue" if overdue else "due")
        except (OSError, RuntimeError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            return f"The tone can't be played: {visible(reason, keep='')}"
        finally:
            self._busy.release()

    def _play(self, name: str) -> str | None:
        words = self.words
        if words is None:
            wanted = ", ".join(each[0] for each in PLAYERS.get(self._platform, PLAYERS["linux"]))
            return f"The tone can't be played: {NO_PLAYER}. Install one of {wanted}"
        path = self._file(name)
        if self._platform == "win32":
            return _play_on_windows(path)
        return self._run([*words, str(path)])

    def _run(self, words: Sequence[str]) -> str | None:
        if self._closed:
            return None
        self._process = process = subprocess.Popen(  # noqa: S603 - fixed words, and no shell
            words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
        try:
            _, said = process.communicate(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            return f"The tone was stopped: {words[0]} took more than {PATIENCE_S:g} s"
        if process.returncode and not self._closed:
            first = next(iter(said.decode("utf-8", "replace").strip().splitlines()), "")
            why = f" ({visible(first[:100], keep='')})" if first else ""
            return f"The tone failed: {words[0]} ended with {process.returncode}{why}"
        return None

    def _file(self, name: str) -> Path:
        """The file of a tone, made when it is first needed."""
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="benchtimer-tone-")
        path = Path(self._folder.name) / f"{name}.wav"
        if not path.exists():
            path.write_bytes(wav(OVERDUE_TONE if name == "overdue" else DUE_TONE))
        return path

    def close(self) -> None:
        """Stop the sound, and remove the files."""
        self._closed = True
        if self._process is not None and self._process.poll() is None:
            with suppress(OSError):
                self._process.kill()
        with self._busy:
            if self._folder is not None:
                self._folder.cleanup()


if sys.platform == "win32":  # pragma: no cover
    import winsound

    def _play_on_windows(path: Path) -> str | None:
        """Windows plays a WAV file itself; PlaySound returns when it is over."""
        winsound.PlaySound(str(path), winsound.SND_FILENAME)
        return None
else:

    def _play_on_windows(_path: Path) -> str | None:
        return f"The tone can't be played: {NO_PLAYER}"
