"""How often the bell rings, for any alarms and any presses."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.view.alarm import (
    ATTENDED_S,
    CALL_S,
    DUE,
    OVERDUE,
    REPEAT_S,
    SILENCE_S,
    Alarm,
    AlarmPacer,
    Call,
    message_of,
)


@dataclass
class Night:
    """A bell asked once a second, and every ring so far."""

    now: float = 1000.0
    rung: list[tuple[float, Call]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.bell = AlarmPacer(lambda: self.now)

    def do(self, deed: str) -> None:
        """Press a key, the quiet key, or none."""
        if deed == "attend":
            self.bell.attend()
        elif deed == "silence":
            self.bell.silence()

    def pass_(self, seconds: int, *alarms: Alarm) -> list[float]:
        """Pass some seconds with these alarms and return the seconds at which it rang."""
        began = self.now
        rung = []
        for _ in range(seconds):
            call = self.bell.call_for(alarms)
            if call is not None:
                self.rung.append((self.now, call))
                rung.append(self.now - began)
            self.now += 1
        return rung


def alarm(part: str, level: str = DUE, run: str = "run") -> Alarm:
    """An alarm for a pull."""
    return Alarm(run, ("begin", part), level, f"PULL {part}", 5000 if level == OVERDUE else 0)


ALARMS = st.lists(
    st.builds(alarm, st.sampled_from("abc"), st.sampled_from([DUE, OVERDUE])),
    max_size=4, unique_by=lambda told: told.about,
)  # fmt: skip
DEEDS = st.tuples(st.sampled_from(["wait", "attend", "silence"]), st.integers(1, 90), ALARMS)


@pytest.mark.parametrize(("level", "every"), [(DUE, 30), (OVERDUE, 10)])
def test_an_open_action_rings_at_its_interval(level: str, every: int) -> None:
    """Due work rings every thirty seconds and overdue work every ten, until it is done."""
    assert REPEAT_S[level] == every
    night = Night()
    assert night.pass_(121, alarm("a", level)) == list(range(0, 121, every))
    assert night.pass_(60) == []


@given(st.lists(DEEDS, max_size=8))
def test_alarms_never_flood(deeds: list[tuple[str, int, list[Alarm]]]) -> None:
    """Rings keep their distance, except one that waited for the hands; done work is quiet."""
    night, attended_until = Night(), 0.0
    for deed, seconds, alarms in deeds:
        night.do(deed)
        if deed == "attend":
            attended_until = night.now + ATTENDED_S
        waited = attended_until > night.now
        rung = night.pass_(seconds, *alarms)
        assert not rung or alarms
        apart = REPEAT_S[OVERDUE if any(a.level == OVERDUE for a in alarms) else DUE]
        assert sum(late - early < apart for early, late in pairwise(rung)) <= waited


@given(st.lists(DEEDS, max_size=8))
def test_one_message_names_everything_due(deeds: list[tuple[str, int, list[Alarm]]]) -> None:
    """Each ring names all due alarms and is as loud as the worst of them."""
    night = Night()
    for _, seconds, alarms in deeds:
        before = len(night.rung)
        night.pass_(seconds, *alarms)
        for _, call in night.rung[before:]:
            assert call.message == message_of(alarms)
            assert (call.level == OVERDUE) == any(a.level == OVERDUE for a in alarms)


@given(st.lists(DEEDS, max_size=6), st.sampled_from([DUE, OVERDUE]))
def test_a_new_alarm_is_never_held_for_long(
    deeds: list[tuple[str, int, list[Alarm]]], level: str
) -> None:
    """A new alarm rings at once, or as soon as the hands have paused."""
    night = Night()
    for deed, seconds, alarms in deeds:
        night.do(deed)
        night.pass_(seconds, *alarms)
    rung = night.pass_(int(ATTENDED_S) + 1, alarm("new", level))
    assert rung
    assert level == DUE or rung[0] == 0


@pytest.mark.parametrize("level", [DUE, OVERDUE])
def test_silence_lasts_a_minute_to_the_second(level: str) -> None:
    """Silenced alarms stay quiet for sixty seconds and ring with the sixtieth."""
    night = Night()
    night.pass_(1, alarm("a", level))
    night.bell.silence()
    assert night.pass_(SILENCE_S, alarm("a", level)) == []
    assert night.pass_(1, alarm("a", level)) == [0]


@pytest.mark.parametrize(
    ("later", "rings"),
    [(alarm("b"), True), (alarm("a", OVERDUE), True), (alarm("a", run="other"), True),
     (alarm("a"), False)],
    ids=["another part", "grown worse", "another run", "the same"],
)  # fmt: skip
def test_only_a_new_alarm_breaks_the_silence(later: Alarm, rings: bool) -> None:
    """Only a new alarm breaks a silence: another part, another run, or a worse state."""
    night = Night()
    night.pass_(1, alarm("a"))
    night.bell.silence()
    assert bool(night.pass_(1, alarm("a"), later)) == rings
    assert night.bell.is_silent != rings


def test_a_finished_action_that_returns_is_a_new_alarm() -> None:
    """An alarm that has stopped rings again when the same work falls due again."""
    night = Night()
    assert night.pass_(1, alarm("a")) == [0]
    assert night.pass_(2) == []
    assert night.pass_(2, alarm("a")) == [0]


def test_an_improvement_is_not_a_new_alarm() -> None:
    """When one of two alarms is done, the other keeps its rhythm."""
    night = Night()
    night.pass_(1, alarm("a"), alarm("b"))
    assert night.pass_(30, alarm("b")) == [29]


def test_a_press_keeps_what_is_due_quiet_for_twenty_seconds() -> None:
    """While you work, due alarms wait; newly overdue ones do not."""
    night = Night()
    night.bell.attend()
    assert night.pass_(21, alarm("a")) == [20]
    assert night.rung[0][1].outside
    night.bell.attend()
    assert night.pass_(1, alarm("a", OVERDUE)) == [0]


@pytest.mark.parametrize("level", [DUE, OVERDUE])
def test_the_alarm_command_runs_once_for_each_new_alarm(level: str) -> None:
    """The command runs for each new alarm, then once a minute only while one is overdue."""
    night = Night()
    night.pass_(200, alarm("a", level))
    outside = [at - 1000 for at, call in night.rung if call.outside]
    assert outside == ([0, CALL_S, 2 * CALL_S, 3 * CALL_S] if level == OVERDUE else [0])


@pytest.mark.parametrize(
    ("count", "expected"),
    [
        (1, "NOW: PULL a"),
        (2, "NOW 2 parts: 1. PULL a; 2. PULL b"),
        (3, "NOW 3 parts: 1. PULL a; 2. PULL b; 3. PULL c"),
        (4, "NOW 4 parts: 1. PULL a; 2. PULL b; 3. PULL c; and 1 more"),
        (9, "NOW 9 parts: 1. PULL a; 2. PULL b; 3. PULL c; and 6 more"),
    ],
)
def test_several_at_once_are_numbered_up_to_three(count: int, expected: str) -> None:
    """Up to three alarms are named, each with its number; more are counted."""
    assert message_of([alarm(name) for name in "abcdefghi"[:count]]) == expected


@pytest.mark.parametrize(
    ("over_ms", "spoils", "expected"),
    [
        (5000, True, "LATE 0:05: READ Tank"),
        (3_600_000, False, "NOW: READ Tank, due for 1:00:00"),
    ],
)
def test_an_overdue_alarm_says_for_how_long(over_ms: int, spoils: bool, expected: str) -> None:
    """A pull past its max is LATE for a time; other work is due for a time."""
    assert message_of([Alarm("r", ("x", "y"), OVERDUE, "READ Tank", over_ms, spoils)]) == expected


def test_parts_and_readings_are_counted_apart() -> None:
    """LATE counts parts past their max; readings and parts that are only due are under NOW."""
    late = [Alarm("r", ("begin", name), OVERDUE, f"PULL {name}", 5000) for name in "ab"]
    reading = Alarm("r", ("reading", "tank"), OVERDUE, "READ Tank", 180_000, spoils=False)
    probed = Alarm("r", ("bath", "tank"), OVERDUE, "Tank reads 71 C", 5000)
    due = Alarm("r", ("begin", "c"), DUE, "PULL c", 0)
    words = message_of([*late, reading, due, reading])
    assert words.startswith("LATE 2 parts, NOW 2 readings, 1 part: 1. PULL a, 0:05 late; ")
    assert message_of([probed, due]).startswith("NOW 1 bath, 1 part: ")
    assert not probed.is_late


@given(st.integers(2, 9), st.integers(30, 120))
def test_a_message_names_whole_alarms_or_none(count: int, room: int) -> None:
    """Where not all fit, the rest is counted; no alarm is cut in the middle."""
    alarms = [alarm(name) for name in "abcdefghi"[:count]]
    words = message_of(alarms, room)
    assert len(words) <= room
    named = words.count("PULL")
    assert (
        named == 0
        or "first PULL a" in words
        or named == count
        or f"and {count - named} more" in words
    )
    assert words.startswith(f"NOW {count} parts")
