"""The tones match ISO 7731, by a Fourier transform of their samples."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from benchtimer.sound.player import BAND_HZ, DUE_TONE, OVERDUE_TONE, RATE, Pulse, samples, wav
from tests.sound.spectrum import loudest_hz, pulses, share_between, sound_of

TONES = {"due": DUE_TONE, "overdue": OVERDUE_TONE}


@pytest.mark.parametrize("name", TONES)
def test_a_tone_is_inside_the_band(name: str) -> None:
    """A tone has 99 % of its energy in 500 to 2500 Hz, and more than half below 1500 Hz.

    The band is ISO 7731:2003's, from memory and public summaries. The part below 1500 Hz is for
    people who hear high tones badly or wear ear protection.
    """
    sound, rate = sound_of(wav(TONES[name]))
    assert share_between(sound, rate, *BAND_HZ) > 0.99
    assert share_between(sound, rate, 500, 1500) > 0.5


@pytest.mark.parametrize("name", TONES)
def test_a_tone_pulses_and_is_not_clipped(name: str) -> None:
    """A tone has 0.5 to 4 pulses a second, never clips, and is quiet between pulses."""
    sound, rate = sound_of(wav(TONES[name]))
    found = pulses(sound, rate)
    assert len(found) == len(TONES[name])
    starts = [start for start, _ in found]
    assert all(0.25 <= after - before <= 2 for before, after in pairwise(starts))
    assert 0.5 < np.abs(sound).max() < 1


def test_due_is_level_and_overdue_rises() -> None:
    """The due tone keeps its pitch, and the overdue tone rises in each pulse."""
    level, _ = loudest_hz(*sound_of(wav(DUE_TONE)))
    assert np.ptp(level) < 450  # two partials, 800 and 1200 Hz, equally strong
    sound, rate = sound_of(wav(OVERDUE_TONE))
    for start, end in pulses(sound, rate):
        pulse = sound[int(start * rate) : int(end * rate)]
        halves = np.array_split(pulse, 2)
        low, high = (_middle_hz(half, rate) for half in halves)
        assert high > 1.25 * low


def _middle_hz(sound: np.ndarray[tuple[int], np.dtype[np.float64]], rate: int) -> float:
    power = np.abs(np.fft.rfft(sound)) ** 2
    return float((np.fft.rfftfreq(len(sound), 1 / rate) * power).sum() / power.sum())


def test_a_tone_ends_in_time() -> None:
    """The longest tone ends before the next ring of an overdue alarm."""
    assert all(len(samples(tone)) / RATE < 3 for tone in TONES.values())


def test_a_click_in_the_tone_would_be_found() -> None:
    """The check detects sound outside the band: a tone at 300 Hz fails it."""
    sound, rate = sound_of(wav((Pulse(300, 300, 0.3, 0.1),)))
    assert share_between(sound, rate, *BAND_HZ) < 0.6
