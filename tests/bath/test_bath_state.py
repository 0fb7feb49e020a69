"""Laws of the bath book: the state that its entries give, in any order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.bath import bath_decide as c
from benchtimer.bath.bath_decide import decide
from benchtimer.bath.bath_events import BATH_KINDS, BathEvent, BathUsed
from benchtimer.bath.bath_state import Bath, History, evolve, fold
from benchtimer.quantity import Quantity
from benchtimer.records.bathpage import _SAY, bath_sentence
from benchtimer.run.codec import body_of
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import Refused
from benchtimer.store.entries import event_from, kind_of

MIX = c.MixBath("Etchant", "etchant", "etch-darken", "2 L", "14 Be", ("18 C", "27 C"))


@dataclass
class Writer:
    """A writer for one bath's entries, in memory."""

    history: History = field(default_factory=lambda: History("etch 1"))
    events: list[BathEvent] = field(default_factory=list)
    now_ms: int = 1_000_000

    def __call__(self, *commands: c.BathCommand) -> Writer:
        """Write an entry a minute after the last one."""
        for command in commands:
            self.now_ms += 60_000
            self.take(decide(self.history, command, Now(self.now_ms, "anna")))
        return self

    def used(self, run: str, *parts: str, dwell_ms: int = 60_000) -> Writer:
        """End a run."""
        body = {"run": run, "parts": parts, "immersions": len(parts), "dwell_ms": dwell_ms}
        self.take(BathUsed(press=0, t_ms=self.now_ms, by="benchtimer", **body))  # type: ignore[arg-type]
        return self

    def take(self, event: BathEvent) -> None:
        """Append the events."""
        self.events.append(event)
        self.history = evolve(self.history, event)

    @property
    def bath(self) -> Bath:
        """The bath, which must exist."""
        assert self.history.bath is not None
        return self.history.bath


def test_a_bath_keeps_what_was_entered() -> None:
    """Mixing, topping up, reading, weighing and retiring each change the bath."""
    found = Writer()(
        MIX,
        c.TopUp("200 mL of water", "2.1 L"),
        c.ReadBath("21 C"),
        c.ReadBath("13.5 Be"),
        c.Wear("3 g"),
        c.Wear("1.2 g"),
    )
    bath = found.bath
    assert (bath.of, bath.mix, bath.recipe) == ("Etchant", "etchant", "etch-darken")
    assert (bath.made, bath.volume) == (Quantity(2, "L"), Quantity(2.1, "L"))
    assert [str(r.quantity) for r in bath.readings] == ["21 C", "13.5 Be"]
    assert bath.removed_g == pytest.approx(4.2)
    assert bath.is_open
    assert bath.age_s(found.now_ms) == 300
    found(c.Retire("to the town's collection point"))
    assert not found.bath.is_open
    assert found.bath.how == "to the town's collection point"
    assert found.bath.age_s(found.now_ms + 10**9) == 360


def test_the_last_use_of_a_run_counts() -> None:
    """A run that ended, was undone and ended again counts once."""
    found = Writer()(MIX).used("r1", "a", "b").used("r2", "c", dwell_ms=5000).used("r1", "a")
    assert (found.bath.parts, found.bath.immersions) == (2, 2)
    assert found.bath.dwell_s == 65


def test_undo_leaves_the_uses_alone() -> None:
    """An undone slip is gone, and the runs before and after it still count."""
    found = Writer()(MIX).used("r1", "a")(c.ReadBath("99 C")).used("r2", "b")(c.TakeBack())
    assert found.bath.readings == []
    assert sorted(found.bath.used) == ["r1", "r2"]


def test_undo_reopens_a_retired_bath() -> None:
    """Retiring the wrong bath can be undone."""
    found = Writer()(MIX, c.Retire("by local code"), c.TakeBack())
    assert found.bath.is_open


def test_undoing_the_mix_frees_the_name() -> None:
    """Undoing a mix by mistake removes the bath and frees its name."""
    found = Writer()(MIX, c.TakeBack())
    assert found.history.bath is None
    assert found(MIX).bath.is_open


@pytest.mark.parametrize(
    ("commands", "words"),
    [
        ([c.ReadBath("20 C")], "there is no bath with that name"),
        ([MIX, MIX], "it is open"),
        ([MIX, c.Retire("x"), MIX], "take another name|Use another name"),
        ([MIX, c.Retire("x"), c.TopUp("water")], "it is retired \\(x\\)"),
        ([MIX, c.Retire("  ")], "it is empty"),
        ([MIX, c.ReadBath("20 kg")], '"kg" is a unit of mass'),
        ([MIX, c.ReadBath("20 bananas")], "290 F"),
        ([MIX, c.Wear("20 C")], '"C" is a unit of temperature'),
        ([MIX, c.TopUp("water", "0 L")], "the volume is zero"),
        ([c.MixBath("x", fecl3="90 %")], "out of range"),
        ([c.MixBath("x", fecl3="0 %")], "zero strength"),
        ([c.MixBath("x", fecl3="70 Be")], "out of range"),
        ([c.MixBath("\x1b[2J")], "garble the screen"),
        ([MIX, c.TakeBack(), c.TakeBack()], "there is no entry to take back"),
    ],
)  # fmt: skip
def test_impossible_entries_are_refused(commands: Sequence[c.BathCommand], words: str) -> None:
    """Each refusal names what is wrong and writes nothing."""
    found = Writer()(*commands[:-1])
    with pytest.raises(Refused, match=words):
        decide(found.history, commands[-1], Now(found.now_ms))


def test_a_mix_in_use_by_a_run_cannot_be_undone() -> None:
    """The mixing of a bath that runs have used can't be undone; only retiring ends it."""
    found = Writer()(MIX).used("r1", "a")
    with pytest.raises(Refused, match="Retire it instead"):
        found(c.TakeBack())


@pytest.mark.parametrize("command", [c.Retire("by local code"), c.TakeBack()])
def test_a_bath_in_use_cannot_be_retired(command: c.BathCommand) -> None:
    """A bath that an open run uses can't be retired or unmixed."""
    found = Writer()(MIX)
    with pytest.raises(Refused, match="run r1 is open"):
        decide(found.history, command, Now(found.now_ms), busy="r1")


@pytest.mark.parametrize("name", ["", "a/b", "a=b", "two\nlines", "x" * 61])
def test_bad_names_are_refused(name: str) -> None:
    """A name must fit a command line, a stream and one line of a screen."""
    with pytest.raises(Refused):
        decide(History(name), MIX, Now(1))


def test_time_never_goes_back() -> None:
    """An entry before the last one is refused."""
    found = Writer()(MIX)
    with pytest.raises(Refused, match="before the last entry"):
        decide(found.history, c.ReadBath("20 C"), Now(found.now_ms - 1))


COMMANDS = st.one_of(
    st.just(MIX),
    st.builds(c.ReadBath, st.integers(0, 300).map("{} C".format)),
    st.builds(c.Wear, st.integers(1, 9).map("{} g".format)),
    st.builds(c.TopUp, st.just("water"), st.sampled_from([None, "2 L", "1 gal"])),
    st.just(c.Retire("by local code")),
    st.just(c.TakeBack()),
    st.tuples(st.sampled_from(["r1", "r2", "r3"]), st.integers(0, 10**7)),
)


def _written(drawn: list[c.BathCommand | tuple[str, int]]) -> Writer:
    writer = Writer()
    for wish in drawn:
        if isinstance(wish, tuple):
            writer.used(wish[0], "a", dwell_ms=wish[1])
            continue
        try:
            writer(wish)
        except Refused:
            continue
    return writer


@given(st.lists(COMMANDS, max_size=20))
def test_folding_twice_gives_the_same_state(drawn: list[c.BathCommand | tuple[str, int]]) -> None:
    """A stream read from the disk gives the bath that was in memory, at any cut."""
    written = _written(drawn)
    assert fold("etch 1", written.events) == written.history
    for cut in range(len(written.events)):
        first = fold("etch 1", written.events[:cut])
        assert _continued(first, written.events[cut:]) == written.history


def _continued(history: History, events: Sequence[BathEvent]) -> History:
    for event in events:
        history = evolve(history, event)
    return history


@given(st.lists(COMMANDS, max_size=20), st.lists(COMMANDS, min_size=1, max_size=1))
def test_undo_is_the_inverse_of_writing(
    drawn: list[c.BathCommand | tuple[str, int]], last: list[c.BathCommand]
) -> None:
    """Undoing the last manual entry leaves the bath as it was before."""
    written = _written(drawn)
    before, length = written.history.bath, len(written.events)
    wish = last[0]
    if isinstance(wish, tuple | c.TakeBack):
        return
    try:
        written(wish)
        written(c.TakeBack())
    except Refused:
        assert len(written.events) <= length + 1
        return
    assert written.history.bath == before


@given(st.lists(COMMANDS, max_size=12))
def test_events_go_through_the_log_unchanged(drawn: list[c.BathCommand | tuple[str, int]]) -> None:
    """An event written as a kind and a JSON body reads back the same and has words."""
    import json

    for event in _written(drawn).events:
        body = json.loads(json.dumps(body_of(event)))
        back = event_from(kind_of(event), body, press=event.press, t_ms=event.t_ms, by=event.by)
        assert back == event
        assert bath_sentence(event)


def test_every_kind_has_a_sentence() -> None:
    """Every kind of bath event has a sentence."""
    assert set(_SAY) == set(BATH_KINDS.values())
