"""The tables of phases are complete, and what they forbid is refused."""

from __future__ import annotations

from types import ModuleType

import pytest

from benchtimer.run import commands as c
from benchtimer.run import events
from benchtimer.run.codec import UnknownEvent, event_from
from benchtimer.run.decide import _DECIDERS, Now, decide
from benchtimer.run.events import KINDS, Event
from benchtimer.run.refusals import Refused
from tests.support import MINUTE, Hands

EXAMPLES: dict[type[c.Command], c.Command] = {
    c.Start: c.Start(),
    c.Acknowledge: c.Acknowledge("Hot tank"),
    c.Begin: c.Begin("bolster"),
    c.Finish: c.Finish("bolster"),
    c.TakeOut: c.TakeOut("bolster"),
    c.PutBack: c.PutBack("bolster"),
    c.Answer: c.Answer("bolster", "even", True),
    c.Read: c.Read("tank", "65 C"),
    c.SkipReading: c.SkipReading("tank", "by eye"),
    c.Heat: c.Heat("tank"),
    c.BeginMakeUp: c.BeginMakeUp("tank"),
    c.EndMakeUp: c.EndMakeUp("tank"),
    c.SendBack: c.SendBack("bolster", "prepare"),
    c.Skip: c.Skip("bolster", "judge", "no time"),
    c.Hold: c.Hold("bolster"),
    c.Resume: c.Resume("bolster"),
    c.Scrap: c.Scrap("bolster"),
    c.TieBath: c.TieBath("tank", "salts 2"),
    c.Leave: c.Leave(2_000_000, 9_000_000),
    c.ScrapSome: c.ScrapSome("bolster", 1, "bent"),
    c.AddPart: c.AddPart("pin", "small"),
    c.Note: c.Note("words"),
    c.Judge: c.Judge("bolster", "accepted", 4),
    c.Prepare: c.Prepare("Gear: apron", said="the long one"),
    c.Postpone: c.Postpone("bolster", 1_500_000),
    c.MoveTarget: c.MoveTarget("bolster", 60),
    c.ChangeHands: c.ChangeHands(2),
    c.ChangeHours: c.ChangeHours(("22:00-07:00",)),
    c.CloseStation: c.CloseStation("tank"),
    c.OpenStation: c.OpenStation("tank"),
    c.Undo: c.Undo(),
    c.Redo: c.Redo(),
    c.BackDate: c.BackDate(1),
    c.Complete: c.Complete(),
    c.Abort: c.Abort(),
}


def _kinds_in(module: ModuleType, base: type) -> set[type]:
    found = {x for x in vars(module).values() if isinstance(x, type) and issubclass(x, base)}
    return found - {base}


def test_every_command_is_in_the_tables() -> None:
    """Every command has a rule for when it is allowed and for what it does."""
    commands = _kinds_in(c, c.Command)
    corrections = {c.Undo, c.Redo, c.BackDate}
    assert commands == set(EXAMPLES)
    assert all("run_phases" in vars(kind) for kind in commands)
    assert set(_DECIDERS) == commands - corrections


def test_every_event_has_a_name_in_the_log() -> None:
    """Every event has a name in the log."""
    assert set(KINDS.values()) == _kinds_in(events, Event)


def _run_phases() -> dict[str, Hands]:
    benches = {name: Hands() for name in ("running", "held", "complete", "aborted")}
    benches["idle"] = Hands(started=False)
    benches["held"](c.Hold(None))
    for name in benches["complete"].names:
        benches["complete"](c.Scrap(name))
    benches["complete"](c.Complete())
    benches["aborted"](c.Abort())
    return benches


@pytest.mark.parametrize("kind", list(EXAMPLES))
def test_commands_the_run_forbids_are_refused(kind: type[c.Command]) -> None:
    """In each phase of the run a command outside the table is refused and changes nothing."""
    for phase, hands in _run_phases().items():
        allowed = {p.value for p in kind.run_phases}
        assert hands.state.bench.phase.value == phase
        if phase not in allowed:
            with pytest.raises(Refused):
                decide(hands.state, EXAMPLES[kind], Now(hands.now_ms))


def _part_phases() -> dict[str, Hands]:
    benches = {name: Hands() for name in ("waiting", "in hand", "dwelling", "done", "scrapped")}
    benches["in hand"](c.Begin("bolster"))
    benches["dwelling"].to_tank()
    benches["scrapped"](c.Scrap("bolster"))
    done = benches["done"]
    done.to_tank()
    done(c.Begin("bolster"), 5 * MINUTE)
    done(c.Answer("bolster", "even", True))
    done(c.Answer("bolster", "heat", "25 C"))
    done(c.Finish("bolster"))
    done(c.Begin("bolster"), 60 * MINUTE)
    done(c.Answer("bolster", "colour", "black"))
    done(c.Answer("bolster", "words", "good"))
    return benches


@pytest.mark.parametrize("kind", [k for k in EXAMPLES if "part_phases" in vars(k)])
def test_commands_the_part_forbids_are_refused(kind: type[c.Command]) -> None:
    """In each phase of a part a command outside the table is refused and changes nothing."""
    for phase, hands in _part_phases().items():
        assert hands.part().phase.value == phase
        if phase not in {p.value for p in kind.part_phases}:
            before = hands.state
            with pytest.raises(Refused):
                hands(EXAMPLES[kind])
            assert hands.state == before


@pytest.mark.parametrize(
    ("kind", "body", "why"),
    [
        ("melted", {}, "kind is unknown"),
        ("noted", {"part": None}, "missing field text"),
        ("noted", {"part": None, "text": "x", "smell": 1}, "unknown field smell"),
    ],
)
def test_entries_of_a_newer_program_are_named(kind: str, body: dict[str, object], why: str) -> None:
    """An unreadable entry is refused with its kind and the error."""
    with pytest.raises(UnknownEvent, match=why):
        event_from(kind, body, press=1, t_ms=0, by="maker")
