"""What the agenda puts first, and when."""

from __future__ import annotations

import pytest

from benchtimer.run import commands as c
from benchtimer.run.agenda import ActionKind, action_for, agenda, spacing_s
from tests.support import MINUTE, SMALL, Hands, small_recipe


def _first(hands: Hands, after_ms: int = 0) -> tuple[str, str | None]:
    action = agenda(hands.state.bench, hands.now_ms + after_ms)[0]
    return action.kind.value, action.part


def test_an_idle_run_wants_to_be_started() -> None:
    """Before anything else the run is started."""
    assert _first(Hands(started=False)) == ("start", None)


def test_work_in_hand_comes_first() -> None:
    """A part in the hands goes before what is due, but not before what is about to be late."""
    hands = Hands()
    hands.to_tank("bolster")
    hands(c.Read("tank", "65"))
    hands(c.Begin("ferrule"))
    assert _first(hands, 6 * MINUTE) == ("finish", "ferrule")
    assert _first(hands, 7 * MINUTE) == ("begin", "bolster")
    assert _first(hands, 20 * MINUTE) == ("begin", "bolster")


@pytest.mark.parametrize(("reading", "word"), [("50 C", "too cool"), ("75 C", "too hot")])
def test_a_bath_out_of_its_window_is_waited_for_and_read_again(reading: str, word: str) -> None:
    """No part is sent towards a bath that is out of its window, and it is read again soon."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", reading))
    actions = agenda(hands.state.bench, hands.now_ms)
    (waits,) = [a for a in actions if a.part == "bolster"]
    assert waits.blocked is not None
    assert word in waits.blocked
    again = agenda(hands.state.bench, hands.now_ms + 3 * MINUTE)[0]
    assert (again.kind, again.blocked) == (ActionKind.READING, None)
    hands(c.Read("tank", "65 C"), 3 * MINUTE)
    assert _first(hands) == ("begin", "bolster")


def test_the_caution_comes_two_minutes_before_its_work() -> None:
    """A caution of a later move is asked for in time to put the gear on."""
    recipe = small_recipe(SMALL.replace('before = "tank"', 'before = "rack"'))
    hands = Hands(names=("bolster",), recipe=recipe, geared=False)
    hands(c.Read("tank", "65"))
    hands.to_tank()
    aim_ms = hands.part().since_ms + 5 * MINUTE
    caution = agenda(hands.state.bench, hands.now_ms)[0]
    assert (caution.kind, caution.due_ms) == (ActionKind.CAUTION, aim_ms - 2 * MINUTE)
    hands(c.Acknowledge("Hot tank"))
    lift = agenda(hands.state.bench, hands.now_ms)[0]
    assert (lift.kind, lift.due_ms) == (ActionKind.BEGIN, aim_ms)


def test_a_reading_is_asked_for_before_the_first_part_goes_in() -> None:
    """A station with a window is read before the part is taken up, and then on its rhythm."""
    hands = Hands(names=("bolster",))
    assert _first(hands) == ("reading", "bolster")
    hands(c.Read("tank", "65 C"))
    assert _first(hands) == ("begin", "bolster")
    hands.to_tank()
    due = [a for a in agenda(hands.state.bench, hands.now_ms) if a.kind is ActionKind.READING]
    place = hands.state.bench.places["tank"]
    assert place.reading is not None
    assert [a.due_ms for a in due] == [place.reading.t_ms + 10 * MINUTE]


def test_a_dwell_is_due_at_its_aim_with_its_window() -> None:
    """The lift is due at the aim; its earliest and latest times are the window's ends."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    since = hands.part().since_ms
    lift = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "bolster")
    assert lift.due_ms == since + 5 * MINUTE
    assert (lift.earliest_ms, lift.latest_ms) == (since + 4 * MINUTE, since + 8 * MINUTE)


def test_of_two_that_are_due_the_earlier_deadline_wins() -> None:
    """Once both are due, the part whose window closes first goes first."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank("bolster")
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands.to_tank("ferrule")
    hands(c.Read("tank", "65"), 119 * MINUTE)
    actions = agenda(hands.state.bench, hands.now_ms + 2 * MINUTE)
    assert [a.part for a in actions if a.kind is ActionKind.BEGIN] == ["ferrule", "bolster"]


def test_a_part_bound_for_a_full_tank_waits() -> None:
    """The move into a full tank is blocked, goes last, and says who is in the way."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank("bolster")
    hands(c.Read("tank", "65"))
    last = agenda(hands.state.bench, hands.now_ms)[-1]
    assert last.part == "ferrule"
    assert last.blocked == "Tank is full: bolster"


def test_parts_not_begun_are_spaced() -> None:
    """With one place in the tank, parts start a dwell and its moves apart."""
    hands = Hands(recipe=small_recipe(SMALL.replace('every = "10 min"', 'every = "1 h"')))
    hands(c.Read("tank", "65"))
    assert spacing_s(hands.state.bench, hands.recipe) == 20 + 300 + 30
    starts = [a.due_ms for a in agenda(hands.state.bench, hands.now_ms)]
    assert starts[1] - starts[0] == starts[2] - starts[1] == 350_000


def test_the_planner_moves_a_lift_inside_its_window_only() -> None:
    """Advice before the least or after the most time is pulled into the window."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    since, bench = hands.part().since_ms, hands.state.bench
    for wanted, due in ((1, 4), (6, 6), (99, 8)):
        advice = {"bolster": since + wanted * MINUTE}
        lift = next(a for a in agenda(bench, hands.now_ms, advice) if a.part == "bolster")
        assert lift.due_ms == since + due * MINUTE


def test_a_held_part_waits_for_a_decision() -> None:
    """A part on hold outside a tank asks only to be decided about, after all else."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster"))
    last = agenda(hands.state.bench, hands.now_ms)[-1]
    assert (last.kind, last.command) == (ActionKind.RESUME, c.Resume("bolster"))


@pytest.mark.parametrize("held", ["bolster", None])
def test_chemistry_goes_on_during_a_hold(held: str | None) -> None:
    """A part in a tank keeps its lift while it, or the run, is on hold, and is late in time."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65"))
    hands.to_tank()
    hands(c.Hold(held))
    lift = agenda(hands.state.bench, hands.now_ms + 9 * MINUTE)[0]
    assert (lift.kind, lift.command) == (ActionKind.BEGIN, c.TakeOut("bolster"))
    assert lift.is_late(hands.now_ms + 9 * MINUTE)
    hands(c.TakeOut("bolster"), 9 * MINUTE)
    rest = agenda(hands.state.bench, hands.now_ms)
    assert all(a.kind is ActionKind.RESUME for a in rest if a.part == "bolster")


def test_a_run_with_every_part_out_wants_to_be_completed() -> None:
    """When all parts are done or scrapped, closing the run is next; after that nothing is."""
    hands = Hands(names=("bolster",))
    hands(c.Scrap("bolster"))
    assert _first(hands) == ("complete", None)
    hands(c.Complete())
    assert agenda(hands.state.bench, hands.now_ms) == ()


@pytest.mark.parametrize("name", ["bolster", "ferrule"])
def test_a_picked_part_offers_its_work_without_the_reading(name: str) -> None:
    """Somebody who picks a part by hand is not held up by a reading that is due."""
    hands = Hands()
    action = action_for(hands.state.bench, hands.part(name), hands.now_ms)
    assert action is not None
    assert action.command == c.Begin(name)


def test_work_at_a_taken_bench_waits() -> None:
    """Work that is done at a station without a dwell waits until that station is free."""
    at_bench = SMALL.replace('title = "Prepare"\n', 'title = "Prepare"\nat = "bench"\n').replace(
        "[[caution]]", '[[station]]\nid = "bench"\ntitle = "Bench"\n\n[[caution]]', 1
    )
    hands = Hands(recipe=small_recipe(at_bench))
    hands(c.Read("tank", "65"))
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster"))
    actions = agenda(hands.state.bench, hands.now_ms)
    waiting = [a for a in actions if a.part in ("ferrule", "butt cap")]
    assert {a.blocked for a in waiting} == {"Bench is full: bolster"}
