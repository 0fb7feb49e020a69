"""The two tones of an alarm, as samples made here.

ISO 7731:2003 (auditory danger signals) asks for components between 500 and 2500 Hz, enough of
them below 1500 Hz for people who hear high tones badly or wear ear protection, and prefers
pulses, 0.5 to 4 a second, to a steady tone. These figures are from memory and from public
summaries of the standard; its measurements in the room are yours to make.
"""

from __future__ import annotations

import io
import math
import wave
from array import array
from collections.abc import Iterator
from dataclasses import dataclass

RATE = 22_050
"""Samples a second."""

BAND_HZ = (500.0, 2500.0)
"""Where ISO 7731 wants a signal to be."""

RAMP_S = 0.03
"""Each pulse grows and fades for this long: a hard edge clicks, and a click is outside the band."""

LOUD = 0.45
"""Of full scale, for each of the two partials."""


@dataclass(frozen=True, slots=True)
class Pulse:
    """One pulse of two partials, whose pitch rises from one frequency to another.

    Attributes:
        from_hz: the lower partial when the pulse begins.
        to_hz: the lower partial when it ends.
        on_s: how long it sounds.
        off_s: how long there is quiet after it.
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
    """The samples of a tone: 16 bits, one channel, ``RATE`` a second."""
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

    if sys.byteorder == "big":  # wave takes the order of the file, not of the machine
        found = array("h", found)
        found.byteswap()
    return found.tobytes()
