"""Bounces and held keys count once; a press every 0.4 s always counts."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.view.keyguard import GUARD_S, HELD_S, QUIET_S, KeyGuard, Verdict


def counted(times_s: list[float], keys: str | None = None) -> list[float]:
    """The times of the presses that count, by the module's rule."""
    guard = KeyGuard()
    keys = keys or " " * len(times_s)
    found = [guard.verdict(key, at_s) for key, at_s in zip(keys, times_s, strict=True)]
    followers = [*zip(keys[1:], times_s[1:], strict=True), ("", float("inf"))]
    return [
        at_s
        for verdict, key, at_s, (after, after_s) in zip(
            found, keys, times_s, followers, strict=True
        )
        if verdict is Verdict.COUNTS
        or (verdict is Verdict.WAITS and (after != key or after_s - at_s >= QUIET_S))
    ]


@pytest.mark.parametrize("gap_s", [0.3, 0.4, 0.5, 0.7, 1.0, 1.2, 5.0])
def test_a_steady_deliberate_press_always_counts(gap_s: float) -> None:
    """Presses at this pace all count, for any length of time."""
    times_s = [100 + gap_s * number for number in range(50)]
    assert counted(times_s) == times_s


@pytest.mark.parametrize("delay_s", [0.25, 0.4, 0.5, 0.66, 1.0])
@pytest.mark.parametrize("rate_hz", [10.9, 25, 30, 40])
def test_a_held_key_counts_once(delay_s: float, rate_hz: float) -> None:
    """The usual delay and rates of a held key (from memory)."""
    times_s = [100.0, *(100 + delay_s + number / rate_hz for number in range(60))]
    assert counted(times_s) == [100.0]


@pytest.mark.parametrize("gap_s", [0.001, 0.02, 0.1, GUARD_S - 0.01])
def test_a_bounce_is_one_press(gap_s: float) -> None:
    """The same key twice in a moment is one press."""
    assert counted([10.0, 10.0 + gap_s]) == [10.0]


def test_a_different_key_in_between_counts() -> None:
    """Two keys in turn are not a bounce, however fast."""
    assert counted([1.0, 1.01, 1.02], "yny") == [1.0, 1.01, 1.02]


@given(st.lists(st.floats(0, 20), min_size=1, max_size=30))
def test_no_two_counted_presses_are_closer_than_the_guard(times_s: list[float]) -> None:
    """One key counts at most once in the guard time, and its first press counts."""
    times_s = sorted(times_s)
    found = counted(times_s)
    assert all(b - a >= GUARD_S for a, b in pairwise(found))
    assert KeyGuard().verdict(" ", times_s[0]) is Verdict.COUNTS


def test_the_times_fit_together() -> None:
    """A pending press is decided before the next one that could count."""
    assert QUIET_S < GUARD_S < 0.4 < HELD_S
