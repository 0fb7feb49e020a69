"""When the bench sounds an alarm, in which order and how loudly, without a screen."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from benchtimer.run import commands as c
from benchtimer.tui.summons import summon
from benchtimer.view.alarm import (
    ATTENDED_S,
    CALL_S,
    DUE,
    NAMED,
    OVERDUE,
    OVERDUE_S,
    REPEAT_S,
    SILENCE_S,
    Alarm,
    AlarmPacer,
    message_of,
)
from tests.support import MINUTE, Hands, alarms_of


def _alarm(part: str, level: str = DUE) -> Alarm:
    return Alarm("run", ("begin", part), level, f"PULL {part}", 5000 if level == OVERDUE else 0)


class _Time:
    def __init__(self) -> None:
        self.now = 100.0
        self.bell = AlarmPacer(lambda: self.now)

    def heard(self, *alarms: Alarm, after_s: float = 0) -> bool:
        self.now += after_s
        return self.bell.call_for(alarms) is not None


def test_new_alarms_ring_at_once_and_together() -> None:
    """Several new alarms sound once; then they repeat, and what is done goes quiet."""
    time = _Time()
    assert not time.heard()
    assert time.heard(_alarm("a"), _alarm("b"))
    assert not time.heard(_alarm("a"), _alarm("b"), after_s=REPEAT_S[DUE] - 1)
    assert time.heard(_alarm("a"), _alarm("b"), after_s=1)
    assert time.heard(_alarm("a"), _alarm("c"), after_s=1)
    assert not time.heard(after_s=100)


def test_an_alarm_rises_from_due_to_overdue() -> None:
    """An alarm that becomes overdue sounds at once and then repeats more often."""
    time = _Time()
    assert time.heard(_alarm("a"))
    assert time.heard(_alarm("a", OVERDUE), after_s=1)
    assert REPEAT_S[OVERDUE] < REPEAT_S[DUE]
    assert time.heard(_alarm("a", OVERDUE), after_s=REPEAT_S[OVERDUE])


def test_the_alarm_waits_while_you_work() -> None:
    """After a press only overdue alarms sound for a while; then the others do."""
    time = _Time()
    time.heard(_alarm("a"))
    time.bell.attend()
    assert not time.heard(_alarm("a"), _alarm("b"), after_s=ATTENDED_S - 1)
    assert time.heard(_alarm("a"), _alarm("b"), _alarm("c", OVERDUE))
    time.bell.attend()
    assert not time.heard(_alarm("b"), _alarm("c", OVERDUE), after_s=ATTENDED_S - 1)
    assert time.heard(_alarm("b"), after_s=1)


def test_a_silence_ends_on_its_own_or_with_a_new_alarm() -> None:
    """A silence lasts a minute; a new or worse alarm breaks it."""
    time = _Time()
    time.heard(_alarm("a", OVERDUE))
    time.bell.silence()
    assert time.bell.is_silent
    assert not time.heard(_alarm("a", OVERDUE), after_s=SILENCE_S - 1)
    assert time.heard(_alarm("a", OVERDUE), after_s=1)
    time.bell.silence()
    assert time.heard(_alarm("a", OVERDUE), _alarm("b"), after_s=1)
    assert not time.bell.is_silent


def test_the_alarm_command_gets_new_alarms_and_reminders() -> None:
    """The shop's command gets each new alarm, and overdue ones once a minute."""
    bell_time = _Time()
    calls = []
    for second in range(0, int(2 * CALL_S) + 1, 5):
        bell_time.now = 100.0 + second
        call = bell_time.bell.call_for([_alarm("a", OVERDUE)])
        if call is not None and call.outside:
            calls.append(second)
    assert calls == [0, CALL_S, 2 * CALL_S]


def test_one_message_in_order_and_never_a_flood() -> None:
    """Many alarms make one message: the first ones in order, the others counted."""
    assert message_of([]) == ""
    assert message_of([_alarm("a")]) == "NOW: PULL a"
    assert message_of([_alarm("a", OVERDUE)]) == "LATE 0:05: PULL a"
    many = [_alarm(name) for name in "abcdef"]
    assert message_of(many).count("PULL") == NAMED
    assert message_of(many).endswith("and 3 more")


def test_an_alarm_names_its_action_and_where() -> None:
    """An alarm for a pull gives verb, number, part and station."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65"))
    hands.to_tank()
    found = [
        alarms_of("r", hands.state.bench, hands.now_ms + ms) for ms in (0, 5 * MINUTE, 9 * MINUTE)
    ]
    assert found[0] == []
    assert [(a.words, a.level) for a in found[1]] == [("PULL #1 bolster from Tank", DUE)]
    assert [(a.words, a.level) for a in found[2]][:1] == [("PULL #1 bolster from Tank", OVERDUE)]


def test_no_alarm_rings_during_work_for_what_can_wait() -> None:
    """With full hands only an alarm that is nearly too late sounds.

    Put down forgotten work for a pull 20 s before its window closes, and not sooner.
    """
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Read("tank", "65"))
    hands.to_tank()
    hands(c.Read("tank", "65"), 4 * MINUTE)
    hands(c.Begin("ferrule"))
    since = hands.state.bench.parts["bolster"].since_ms
    assert alarms_of("r", hands.state.bench, since + 6 * MINUTE) == []
    for seconds, order in ((30, ["finish", "begin"]), (41, ["begin", "finish"])):
        nearly = alarms_of("r", hands.state.bench, since + 7 * MINUTE + seconds * 1000)
        assert [a.about[0] for a in nearly] == order
        assert {a.about for a in nearly} == {("begin", "bolster"), ("finish", "ferrule")}


def test_a_forgotten_press_rings() -> None:
    """Work in hand that takes far too long sounds by name: the part may be in the tank."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65"))
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"))
    assert alarms_of("r", hands.state.bench, hands.now_ms + 2 * MINUTE) == []
    (alarm,) = alarms_of("r", hands.state.bench, hands.now_ms + 3 * MINUTE)
    assert (alarm.level, alarm.text) == (OVERDUE, "LOAD #1 bolster, due for 2:40")


def test_an_action_without_a_limit_is_overdue_after_a_while() -> None:
    """An overdue reading is overdue even without a window."""
    hands = Hands(names=("bolster",))
    (first,) = alarms_of("r", hands.state.bench, hands.now_ms)
    assert (first.level, first.words) == (DUE, "READ Tank, for #1 bolster")
    (later,) = alarms_of("r", hands.state.bench, hands.now_ms + OVERDUE_S * 1000 + 60_000)
    assert later.level == OVERDUE


def test_the_command_gets_the_message_and_no_shell(tmp_path: Path) -> None:
    """The message arrives as one argument, with every shell character intact."""
    found = tmp_path / "told"
    program = "import sys, pathlib; pathlib.Path(sys.argv[1]).write_text(sys.argv[2])"
    message = "NOW: PULL $(touch x) `id` ; 'a' \"b\" \x1b[2J -- --help"
    assert summon([sys.executable, "-c", program, str(found)], message) is None
    assert found.read_text() == message.replace("\x1b", "\N{REPLACEMENT CHARACTER}")
    assert list(tmp_path.iterdir()) == [found]


@pytest.mark.parametrize(
    ("command", "trouble"),
    [
        (["/no/such/program"], "can't be run: /no/such/program: No such file"),
        ([sys.executable, "-c", "raise SystemExit(3)"], "failed with exit code 3"),
        (["a\0b"], "can't be run"),
    ],
)
def test_a_failing_command_is_reported_and_does_no_harm(command: list[str], trouble: str) -> None:
    """A command that fails returns a message."""
    assert trouble in (summon(command, "NOW") or "")


def test_a_command_that_hangs_is_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """A command that does not end is stopped."""
    monkeypatch.setattr("benchtimer.tui.summons.PATIENCE_S", 0.2)
    summoned = summon([sys.executable, "-c", "import time; time.sleep(60)"], "NOW")
    assert summoned is not None
    assert "stopped" in summoned


def test_only_windows_are_called_late() -> None:
    """Only a closed window makes work LATE; anything else is due for a time."""
    reading = Alarm("run", ("reading", "tank"), OVERDUE, "READ Tank", 180_000, spoils=False)
    assert message_of([reading]) == "NOW: READ Tank, due for 3:00"
    assert message_of([reading, _alarm("a", OVERDUE)]).startswith("LATE 1 part, NOW 1 reading: ")
