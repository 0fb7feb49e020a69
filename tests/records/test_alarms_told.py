"""The alarms a record tells are those that rang, found again by listening all the time."""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.records.alarms import answered
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.agenda import Action, ActionKind, agenda
from benchtimer.run.evolve import apply
from benchtimer.run.state import Bench
from benchtimer.store.log import Entry
from tests.records.golden import entries_of
from tests.records.laws import played
from tests.support import MINUTE, Hands

RINGING = (ActionKind.BEGIN, ActionKind.READING, ActionKind.CAUTION)
PARTS = st.sampled_from(["pin", "cap"])
GRID_MS = 10_000
WORK = st.one_of(
    st.just((c.Read("tank", "65 C"),)),
    PARTS.map(lambda p: (c.Begin(p), c.Finish(p), c.Finish(p))),
    PARTS.map(lambda p: (c.TakeOut(p),)),
    PARTS.map(lambda p: (c.Begin(p), c.Answer(p, "even", True))),
    st.just((c.Hold(None), c.Resume(None))),
)
PRESSES = st.lists(st.tuples(WORK, st.integers(1, 40).map(lambda n: GRID_MS * n)), max_size=6)
"""Presses on a grid of ten seconds, which all times of the small recipe lie on, too."""


def _about(action: Action) -> tuple[str, str | None]:
    """What is rung for: a part to be taken up, a station to be read, a caution to be read."""
    if action.kind is ActionKind.BEGIN:
        return "take", action.part
    if action.kind is ActionKind.READING:
        return "read", action.to_station
    return "caution", action.caution.title if action.caution is not None else None


def _ends(event: e.Event) -> tuple[str, str] | None:
    match event:
        case e.ReadingTaken():
            return "read", event.station
        case e.Acknowledged():
            return "caution", event.caution
        case e.TakenOut() | e.WorkBegan():
            return "take", event.part
    return None


def _heard(entries: list[Entry]) -> Iterator[tuple[str, str, int, int]]:
    """What rang, for whom, since when and until when, as somebody at the bench hears it."""
    bench, now_ms = Bench(), entries[0].event.t_ms
    ringing: dict[tuple[str, str | None], int] = {}
    presses = sorted({entry.event.press for entry in entries})
    for press in presses:
        group = [entry.event for entry in entries if entry.event.press == press]
        for t_ms in range(now_ms, group[0].t_ms + 1, GRID_MS):
            rings = {
                _about(a) for a in agenda(bench, t_ms)
                if a.kind in RINGING and a.is_due(t_ms)
            } if bench.parts else set()  # fmt: skip
            ringing = {about: ringing.get(about, t_ms) for about in rings}
        for event in group:
            about = _ends(event)
            if about in ringing:
                assert about is not None
                yield *about, ringing.pop(about), event.t_ms
        for event in group:
            bench = apply(bench, event)
        now_ms = group[0].t_ms


@settings(max_examples=15, deadline=None)
@given(PRESSES)
def test_what_rang_is_what_is_told(presses: list[tuple[tuple[c.Command, ...], int]]) -> None:
    """Each alarm somebody heard and answered is told, with when it began to ring and ended."""
    entries = entries_of(played(presses))
    told = [
        ("take" if alarm.what == "lift" else alarm.what, alarm.who, alarm.rang_ms,
         alarm.entry.event.t_ms)
        for alarm in answered(entries)
    ]  # fmt: skip
    assert sorted(told) == sorted(_heard(entries))


def _told(hands: Hands) -> list[tuple[str, str, float]]:
    return [
        (a.what, a.who, (a.entry.event.t_ms - a.rang_ms) / 1000)
        for a in answered(entries_of(hands))
    ]


def test_a_caution_rings_until_it_is_acknowledged() -> None:
    """The caution before the tank rings from the moment the part waits for it."""
    hands = Hands(names=("bolster",), geared=False)
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Acknowledge("Hot tank"), 45_000)
    hands(c.Begin("bolster"), 5_000)
    assert _told(hands)[-2:] == [("caution", "Hot tank", 45.0), ("take", "bolster", 5.0)]


def test_what_could_not_be_done_did_not_ring() -> None:
    """A part that waits for a full tank rings only from when the tank is free."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("bolster")
    hands(c.Begin("bolster"), 8 * MINUTE)
    hands(c.Begin("ferrule"), 30_000)
    assert _told(hands)[-1] == ("take", "ferrule", 30.0)


def test_a_bath_that_is_too_cool_rings_again_in_two_minutes() -> None:
    """After a reading out of the window the next one is asked for two minutes later."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "50 C"))
    hands(c.Read("tank", "65 C"), 150_000)
    assert _told(hands)[-1] == ("read", "tank", 30.0)
