"""The alarms in a record are those that rang, found again by listening all the time."""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.records.alarms import AnsweredAlarm, answered
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.run.evolve import apply
from benchtimer.run.run_state import Bench, RunPhase
from benchtimer.store.log import LogEntry
from tests.records.golden import entries_of
from tests.records.laws import played
from tests.run.scenes import DUSTY
from tests.support import MINUTE, Hands, small_recipe

RINGING = (ActionKind.BEGIN, ActionKind.READING, ActionKind.HAZARD)
PARTS = st.sampled_from(["pin", "cap"])
GRID_MS = 10_000
WORK = st.one_of(
    st.just((c.Read("tank", "65 C"),)),
    st.just((c.SkipReading("tank", "by eye"),)),
    PARTS.map(lambda p: (c.Begin(p), c.Finish(p), c.Begin(p), c.Finish(p))),
    PARTS.map(lambda p: (c.TakeOut(p),)),
    PARTS.map(lambda p: (c.Begin(p), c.Answer(p, "even", True))),
    st.just((c.Hold(None), c.Resume(None))),
)
PRESSES = st.lists(st.tuples(WORK, st.integers(1, 40).map(lambda n: GRID_MS * n)), max_size=6)
"""A grid of ten seconds, which fits all times of the small recipe."""


def _about(action: Action) -> tuple[str, str | None]:
    """The subject of an alarm: a part to pick up, a station or a hazard to read."""
    if action.kind is ActionKind.BEGIN:
        return "pick up", action.part
    if action.kind is ActionKind.READING:
        return "read", action.to_station
    return "hazard", action.hazard.title if action.hazard is not None else None


def _ends(event: e.Event) -> tuple[str, str] | None:
    match event:
        case e.ReadingTaken() | e.ReadingSkipped():
            return "read", event.station
        case e.Acknowledged():
            return "hazard", event.hazard
        case e.TakenOut() | e.WorkBegan():
            return "pick up", event.part
    return None


def _heard(entries: list[LogEntry]) -> Iterator[tuple[str, str, int, int]]:
    """Each alarm when answered: for whom, first rung when, until when."""
    bench, now_ms = Bench(), entries[0].event.t_ms
    first: dict[tuple[str, str | None], int] = {}
    ringing: dict[tuple[str, str | None], int] = {}
    for press in sorted({entry.event.press for entry in entries}):
        group = [entry.event for entry in entries if entry.event.press == press]
        for t_ms in range(now_ms, group[0].t_ms + 1, GRID_MS):
            under_way = bench.phase is not RunPhase.IDLE
            rings = {_about(a) for a in agenda(bench, t_ms) if under_way and _rings(a, t_ms)}
            ringing = {about: ringing.get(about, t_ms) for about in rings}
            first = ringing | first
        for event in group:
            about = _ends(event)
            since_ms = first.pop(about, None) if about is not None else None
            if about is not None and since_ms is not None and ringing.pop(about, None) is not None:
                yield *about, since_ms, event.t_ms
        for event in group:
            bench = apply(bench, event)
        now_ms = group[0].t_ms


def _rings(action: Action, t_ms: int) -> bool:
    return action.kind in RINGING and action.is_due(t_ms)


@settings(max_examples=15, deadline=None)
@given(PRESSES)
def test_the_record_lists_the_alarms_that_rang(
    presses: list[tuple[tuple[c.Command, ...], int]],
) -> None:
    """The record has exactly the alarms that rang and were answered; pulls with their exact
    time.
    """
    entries = entries_of(played(presses))
    heard = sorted(_heard(entries), key=lambda rang: (rang[3], rang[:2]))
    found = sorted(answered(entries), key=lambda a: (a.entry.event.t_ms, _key(a)))
    assert [(*_key(a), a.entry.event.t_ms) for a in found] == [(*r[:2], r[3]) for r in heard]
    for alarm, (_, _, first_ms, ends_ms) in zip(found, heard, strict=True):
        assert alarm.rang_ms <= ends_ms
        assert alarm.what != "pull" or alarm.rang_ms == first_ms


def _key(alarm: AnsweredAlarm) -> tuple[str, str]:
    return "pick up" if alarm.what in ("pull", "start") else alarm.what, alarm.who


def _told(hands: Hands) -> list[tuple[str, str, float]]:
    return [
        (a.what, a.who, (a.entry.event.t_ms - a.rang_ms) / 1000)
        for a in answered(entries_of(hands))
    ]


def test_a_hazard_rings_until_it_is_acknowledged() -> None:
    """The hazard before a part's work rings once its tank is read, and then the part rings."""
    hands = Hands(("bolster",), small_recipe(DUSTY), geared=False)
    hands(c.Read("tank", "65 C"))
    hands(c.Acknowledge("Dust"), 45_000)
    hands(c.Begin("bolster"), 5_000)
    assert _told(hands)[-2:] == [("hazard", "Dust", 46.0), ("start", "bolster", 5.0)]


def test_nothing_rings_before_the_start() -> None:
    """Hazards before the start ring no alarm, since you read them at the bench."""
    hands = Hands(("bolster",), started=False)
    hands(c.Acknowledge("Hot tank"), 45_000)
    hands(c.Start())
    assert _told(hands) == []


def test_a_skipped_reading_answers_its_alarm() -> None:
    """Skipping a reading ends its call."""
    hands = Hands(("bolster",))
    hands(c.SkipReading("tank", "no thermometer"), 45_000)
    assert _told(hands) == [("read", "tank", 45.0)]


def test_a_blocked_action_does_not_ring() -> None:
    """A part that waits for a full tank rings only once the tank is free."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("bolster")
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"), 8 * MINUTE)
    hands(c.Begin("ferrule"), 30_000)
    assert _told(hands)[-1] == ("start", "ferrule", 30.0)


def test_a_bath_that_is_too_cool_rings_again_in_two_minutes() -> None:
    """After a reading out of range the next one is due two minutes later."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "50 C"))
    hands(c.Read("tank", "65 C"), 150_000)
    assert _told(hands)[-1] == ("read", "tank", 30.0)


def test_a_reading_due_between_presses_is_recorded() -> None:
    """If a part waits for pickup and its tank needs a reading first, the reading rang too."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"), 310_000)
    hands(c.Read("tank", "65 C"), 320_000)
    assert _told(hands)[-1] == ("read", "tank", 30.0)
