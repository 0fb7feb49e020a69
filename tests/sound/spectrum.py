"""The spectrum of a WAV file, by the Fourier transform of a general-purpose library."""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def sound_of(data: bytes) -> tuple[Floats, int]:
    """The samples of a WAV file, from -1 to 1, and the sample rate."""
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        raw, rate = file.readframes(file.getnframes()), file.getframerate()
    return np.frombuffer(raw, dtype="<i2").astype(np.float64) / 32768, rate


def sound_file(path: Path) -> tuple[Floats, int]:
    """The samples and sample rate of a WAV file on the disk."""
    return sound_of(path.read_bytes())


def share_between(sound: Floats, rate: int, low_hz: float, high_hz: float) -> float:
    """The share of a sound's energy between two frequencies."""
    power = np.abs(np.fft.rfft(sound)) ** 2
    hz = np.fft.rfftfreq(len(sound), 1 / rate)
    return float(power[(hz >= low_hz) & (hz <= high_hz)].sum() / power.sum())


def loudest_hz(sound: Floats, rate: int) -> tuple[Floats, Floats]:
    """The strongest frequency of each 40 ms with sound, and their times."""
    length = int(0.04 * rate)
    frames = sound[: len(sound) // length * length].reshape(-1, length)
    power = np.abs(np.fft.rfft(frames * np.hanning(length), axis=1)) ** 2
    hz, at_s = np.fft.rfftfreq(length, 1 / rate), (np.arange(len(frames)) + 0.5) * length / rate
    loud = power.sum(axis=1) > 0.1 * power.sum(axis=1).max()
    return hz[power.argmax(axis=1)][loud], at_s[loud]


def pulses(sound: Floats, rate: int) -> list[tuple[float, float]]:
    """Start and end of each pulse, in seconds, by the loudness of each 10 ms."""
    step = rate // 100
    blocks = sound[: len(sound) // step * step].reshape(-1, step)
    on = np.concatenate(([False], np.abs(blocks).max(axis=1) > 0.05, [False]))
    edges = np.flatnonzero(on[1:] != on[:-1]) / 100
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
