"""Laws that hold for any sequence of presses."""

from __future__ import annotations

import json

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.agenda import agenda
from benchtimer.run.codec import body_of, event_from, kind_of
from benchtimer.run.decide import Now, decide
from benchtimer.run.evolve import evolve, fold
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase, RunState
from tests.support import Hands, small_recipe

RECIPE = small_recipe()
NAMES = ("bolster", "ferrule", "butt cap")
PARTS = st.sampled_from([*NAMES, "pin", "nobody"])
STATIONS = st.sampled_from(["tank", "rack", "nowhere"])
STEPS = st.sampled_from([step.id for step in RECIPE.step])
READINGS = st.sampled_from(["65 C", "79", "90 C", "140 F", "nonsense"])

COMMANDS = st.one_of(
    st.builds(c.Begin, PARTS),
    st.builds(c.Finish, PARTS),
    st.builds(c.Begin, PARTS),
    st.builds(c.Finish, PARTS),
    st.builds(c.TakeOut, PARTS),
    st.builds(c.PutBack, PARTS),
    st.builds(c.Answer, PARTS, st.just("even"), st.booleans()),
    st.builds(c.Answer, PARTS, st.just("heat"), READINGS),
    st.builds(c.Answer, PARTS, st.just("colour"), st.sampled_from(["black", "grey"])),
    st.builds(c.Answer, PARTS, st.just("words"), st.text(max_size=8)),
    st.builds(c.Read, STATIONS, READINGS),
    st.builds(c.SendBack, PARTS, STEPS),
    st.builds(c.Skip, PARTS, st.one_of(st.none(), STEPS), st.just("no time")),
    st.builds(c.Hold, st.one_of(st.none(), PARTS)),
    st.builds(c.Resume, st.one_of(st.none(), PARTS)),
    st.builds(c.Scrap, PARTS),
    st.builds(c.AddPart, st.just("pin"), st.just("small"), count=st.just(3)),
    st.builds(c.ScrapSome, st.sampled_from(["pin", "bolster"]), st.integers(0, 3), st.just("bent")),
    st.builds(c.Note, st.text(min_size=1, max_size=8)),
    st.builds(c.Judge, PARTS, st.sampled_from([*c.VERDICTS, "splendid"]), st.integers(0, 6)),
    st.builds(c.CloseStation, STATIONS),
    st.builds(c.OpenStation, STATIONS),
    st.builds(c.Undo),
    st.builds(c.Redo),
    st.builds(c.BackDate, st.integers(-1000, 400_000)),
    st.builds(c.Complete),
    st.just(c.Acknowledge("Hot tank")),
)
PRESSES = st.lists(st.tuples(COMMANDS, st.integers(0, 600_000)), max_size=60)


def _bench() -> Hands:
    return Hands(names=NAMES, recipe=RECIPE)


def _played(presses: list[tuple[c.Command, int]]) -> Hands:
    hands = _bench()
    for command, after_ms in presses:
        before = hands.state
        try:
            hands(command, after_ms)
        except Refused:
            assert hands.state == before
        _check(hands.state)
    return hands


def _check(state: RunState) -> None:
    """Assert that nothing is physically impossible."""
    bench = state.bench
    for name, place in bench.places.items():
        assert len(bench.inside(name)) <= place.station.holds
    for part in bench.parts.values():
        dwells = part.phase is PartPhase.DWELLING
        step = bench.step_of(part)
        assert not dwells or part.station == step.at
        assert part.station is None or dwells or part.phase is PartPhase.IN_HAND
        assert part.since_ms <= state.last_ms
        assert 0 <= part.step < len(bench.recipe_of(part).step)
        for key, count in part.sent.items():
            send = next(way.send for way in bench.recipe_of(part).ways if way.key == key)
            assert send.limit is not None
            assert count <= send.limit


@given(PRESSES)
def test_nothing_impossible_ever_happens(presses: list[tuple[c.Command, int]]) -> None:
    """Capacity, one place for each part, counts and time hold, and refusals change nothing."""
    _played(presses)


@given(PRESSES, st.data())
def test_folding_in_two_steps_is_folding_at_once(
    presses: list[tuple[c.Command, int]], data: st.DataObject
) -> None:
    """Folding a prefix and then the rest equals folding the whole."""
    events = _played(presses).events
    cut = data.draw(st.integers(0, len(events)))
    assert fold(events[cut:], fold(events[:cut])) == fold(events)


@given(PRESSES)
def test_reloading_from_text_is_the_live_state(presses: list[tuple[c.Command, int]]) -> None:
    """Events written as JSON and read back fold to the live state."""
    hands = _played(presses)
    stored = [(kind_of(x), json.dumps(body_of(x)), x) for x in hands.events]
    loaded = [
        event_from(kind, json.loads(body), press=x.press, t_ms=x.t_ms, by=x.by)
        for kind, body, x in stored
    ]
    assert loaded == hands.events
    assert fold(loaded) == hands.state


@given(PRESSES)
def test_undo_then_redo_changes_nothing(presses: list[tuple[c.Command, int]]) -> None:
    """After any presses, undo and then redo leaves the bench unchanged."""
    hands = _played(presses)
    before = hands.state
    if not before.past:
        return
    hands(c.Undo())
    hands(c.Redo())
    after = hands.state
    assert (after.bench, after.past, after.future) == (before.bench, before.past, before.future)


@given(PRESSES)
def test_everything_can_be_undone(presses: list[tuple[c.Command, int]]) -> None:
    """Undoing every press gives the bench as it was set up."""
    hands = _played(presses)
    while hands.state.past:
        hands(c.Undo())
    assert hands.state.bench == evolve(RunState(), hands.events[0]).bench


@given(PRESSES)
def test_events_are_attributable_and_in_order(presses: list[tuple[c.Command, int]]) -> None:
    """Every event names its maker and press, and presses count up without gaps."""
    events = _played(presses).events
    numbers = [event.press for event in events]
    assert numbers == sorted(numbers)
    assert set(numbers) == set(range(max(numbers) + 1))
    assert all(event.by for event in events)


@given(PRESSES)
def test_what_the_agenda_offers_can_be_done(presses: list[tuple[c.Command, int]]) -> None:
    """The engine accepts every unblocked command of the agenda."""
    hands = _played(presses)
    for action in agenda(hands.state.bench, hands.now_ms):
        if action.command is not None and action.blocked is None:
            assert decide(hands.state, action.command, Now(hands.now_ms))


@given(PRESSES)
def test_every_live_part_has_an_action(presses: list[tuple[c.Command, int]]) -> None:
    """While the run continues, every part that isn't held is on the agenda."""
    hands = _played(presses)
    bench = hands.state.bench
    if bench.phase.value != "running" or all(p.is_out for p in bench.parts.values()):
        return
    actions = agenda(bench, hands.now_ms)
    readings = {a.to_station for a in actions if a.kind.value == "reading"}
    offered = {a.part for a in actions}
    for part in bench.parts.values():
        if not part.is_out and part.held is None:
            # Several parts may wait for one reading, which is asked for once.
            assert part.name in offered or readings


def test_an_unrelated_run_changes_nothing() -> None:
    """Clock entries change neither the bench nor its undo."""
    hands = _bench()
    hands.to_tank()
    event = e.ClockJumped(press=0, t_ms=hands.now_ms + 5, by=e.PROGRAM, by_ms=-86_400_000)
    after = evolve(hands.state, event)
    assert (after.bench, after.past) == (hands.state.bench, hands.state.past)
