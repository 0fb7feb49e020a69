"""What the agenda puts first, and when."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind, PlanTimes
from benchtimer.run.agenda import action_for, agenda
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.run.moves import spacing_s
from tests.run.scenes import DUSTY
from tests.support import MINUTE, SMALL, Hands, small_recipe, table


def _first(hands: Hands, after_ms: int = 0) -> tuple[str, str | None]:
    action = agenda(hands.state.bench, hands.now_ms + after_ms)[0]
    return action.kind.value, action.part


def test_an_idle_run_offers_to_start() -> None:
    """Once its pages are read, START is next."""
    hands = Hands(started=False)
    assert _first(hands) == ("hazard", None)
    hands(c.Acknowledge("Hot tank"))
    assert _first(hands) == ("start", None)


def test_work_in_hand_comes_first() -> None:
    """A part in hand comes before due work, but not before work that is nearly lost."""
    hands = Hands()
    hands.to_tank("bolster")
    hands(c.Read("tank", "65"))
    hands(c.Begin("ferrule"))
    assert _first(hands, 6 * MINUTE) == ("finish", "ferrule")
    assert _first(hands, 7 * MINUTE + 50_000) == ("begin", "bolster")
    assert _first(hands, 20 * MINUTE) == ("begin", "bolster")


@pytest.mark.parametrize(("reading", "word"), [("50 C", "too cool"), ("75 C", "too hot")])
def test_a_bath_out_of_range_is_waited_for_and_read_again(reading: str, word: str) -> None:
    """No part goes into a bath out of range, and the bath is read again soon."""
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


def test_a_hazard_page_comes_two_minutes_before_the_move() -> None:
    """The page of a later step is read in time, before the part leaves its safe place."""
    hands = Hands(names=("bolster",), recipe=small_recipe(DUSTY), geared=False)
    hands(c.Read("tank", "65"))
    begin_ms = hands.now_ms - 1000
    page = agenda(hands.state.bench, hands.now_ms)[0]
    assert (page.kind, page.due_ms) == (ActionKind.HAZARD, begin_ms - 2 * MINUTE)
    hands(c.Acknowledge("Dust"))
    begin = agenda(hands.state.bench, hands.now_ms)[0]
    assert begin.kind is ActionKind.BEGIN


def test_a_reading_is_asked_for_before_the_first_part_goes_in() -> None:
    """A station with a window is read before the part is picked up, and then regularly."""
    hands = Hands(names=("bolster",))
    assert _first(hands) == ("reading", "bolster")
    hands(c.Read("tank", "65 C"))
    assert _first(hands) == ("begin", "bolster")
    hands.to_tank()
    due = [a for a in agenda(hands.state.bench, hands.now_ms) if a.kind is ActionKind.READING]
    place = hands.state.bench.places["tank"]
    assert place.reading is not None
    assert [a.due_ms for a in due] == [place.reading.t_ms + 10 * MINUTE]


def test_a_dwell_is_due_at_target_with_its_window() -> None:
    """The pull is due at the target; its earliest and latest times are min and max."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    since = hands.part().since_ms
    lift = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "bolster")
    assert lift.due_ms == since + 5 * MINUTE
    assert (lift.earliest_ms, lift.latest_ms) == (since + 4 * MINUTE, since + 8 * MINUTE)


def test_of_two_that_are_due_the_earlier_deadline_wins() -> None:
    """Of two due pulls the one whose window closes first comes first."""
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
    """The move into a full tank is blocked, comes last, and names the part in the way."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank("bolster")
    hands(c.Read("tank", "65"))
    last = agenda(hands.state.bench, hands.now_ms)[-1]
    assert last.part == "ferrule"
    assert last.blocked == "Tank is full: bolster"


def test_parts_not_started_are_spaced() -> None:
    """With one place in the tank, parts start one dwell and its moves apart."""
    hands = Hands(recipe=small_recipe(SMALL.replace('every = "10 min"', 'every = "1 h"')))
    hands(c.Read("tank", "65"))
    assert spacing_s(hands.state.bench, hands.recipe) == 20 + 300 + 30
    starts = [a.due_ms for a in agenda(hands.state.bench, hands.now_ms)]
    assert starts[1] - starts[0] == starts[2] - starts[1] == 350_000


def test_the_planner_moves_a_pull_only_within_its_window() -> None:
    """Advice before min or after max is moved into the window."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    since, bench = hands.part().since_ms, hands.state.bench
    for wanted, due in ((1, 4), (6, 6), (99, 8)):
        advice = PlanTimes({"bolster": since + wanted * MINUTE})
        lift = next(a for a in agenda(bench, hands.now_ms, advice) if a.part == "bolster")
        assert lift.due_ms == since + due * MINUTE


def test_a_held_part_waits_for_a_decision() -> None:
    """A part held outside a tank needs only a decision, after everything else."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster"))
    last = agenda(hands.state.bench, hands.now_ms)[-1]
    assert (last.kind, last.command) == (ActionKind.RESUME, c.Resume("bolster"))


@pytest.mark.parametrize("held", ["bolster", None])
def test_chemistry_goes_on_during_a_hold(held: str | None) -> None:
    """A part in a tank keeps its pull while it or the run is held, and can be late."""
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


def test_a_run_with_every_part_out_offers_to_end() -> None:
    """When all parts are done or scrapped, closing the run is next, then nothing."""
    hands = Hands(names=("bolster",))
    hands(c.Scrap("bolster"))
    assert _first(hands) == ("complete", None)
    hands(c.Complete())
    assert agenda(hands.state.bench, hands.now_ms) == ()


@pytest.mark.parametrize("name", ["bolster", "ferrule"])
def test_a_picked_part_waits_only_for_a_reading_of_its_own_bath(name: str) -> None:
    """A picked part's unread bath is read first; with a valid reading the work is next."""
    hands = Hands()
    action = action_for(hands.state.bench, hands.part(name), hands.now_ms)
    assert action is not None
    assert (action.kind, action.to_station) == (ActionKind.READING, "tank")
    hands(c.Read("tank", "65 C"))
    action = action_for(hands.state.bench, hands.part(name), hands.now_ms + 9 * MINUTE)
    assert action is not None
    assert action.command == c.Begin(name)


def test_work_at_a_taken_bench_waits() -> None:
    """Work at a station without a dwell waits until that station is free."""
    at_bench = SMALL.replace('title = "Prepare"\n', 'title = "Prepare"\nat = "bench"\n').replace(
        "[[hazard]]", '[[station]]\nid = "bench"\ntitle = "Bench"\n\n[[hazard]]', 1
    )
    hands = Hands(recipe=small_recipe(at_bench))
    hands(c.Read("tank", "65"))
    hands(c.Begin("bolster"))
    hands(c.Hold("bolster"))
    actions = agenda(hands.state.bench, hands.now_ms)
    waiting = [a for a in actions if a.part in ("ferrule", "butt cap")]
    assert {a.blocked for a in waiting} == {"Bench is full: bolster"}


LONG = SMALL.replace('title = "Look"\nhands = "30 s"', 'title = "Look"\nhands = "180 s"').replace(
    'id = "tank"\ntitle = "Tank"', 'id = "tank"\ntitle = "Etch"'
)


def _two_due(second_after_ms: int) -> Hands:
    """A blade with 180 s of work after its tank, and a bolster with 30 s after its own."""
    recipes = {"blade": table(small_recipe(LONG)), "small": table(small_recipe())}
    hands = Hands(started=False)
    parts = [("blade", "blade"), ("bolster", "small")]
    hands.state = fold(create(Now(0), uid="", title="t", recipes=recipes, parts=parts))
    hands(c.Acknowledge("Hot tank"))
    hands(c.Start())
    hands.to_tank("blade")
    hands.now_ms += second_after_ms
    hands.to_tank("bolster")
    return hands


def test_without_a_plan_the_short_work_that_fits_goes_first() -> None:
    """The blade's window closes first, but the bolster fits before it and not after it."""
    hands = _two_due(0)
    left_ms = hands.part("blade").since_ms + 8 * MINUTE - hands.now_ms
    now_ms = hands.now_ms + left_ms - 55_000
    actions = agenda(hands.state.bench, now_ms)
    assert [a.part for a in actions if a.kind is ActionKind.BEGIN] == ["bolster", "blade"]


def test_without_a_plan_the_nearer_deadline_goes_first_if_both_fit() -> None:
    """With enough time for both, the nearer deadline goes first."""
    hands = _two_due(0)
    now_ms = hands.part("blade").since_ms + 5 * MINUTE + 60_000
    due = [a.part for a in agenda(hands.state.bench, now_ms) if a.is_due(now_ms) and a.part]
    assert due[0] == "blade"


@pytest.mark.parametrize(("work", "first"), [("60 s", "bolster"), ("10 min", "ferrule")])
def test_a_part_sent_back_waits_if_its_work_would_cost_another_part(work: str, first: str) -> None:
    """Ten minutes of grit wait for a pull due within eight; one minute goes first."""
    slow = SMALL.replace(
        'title = "Prepare"\nhands = "60 s"', f'title = "Prepare"\nhands = "{work}"'
    )
    hands = Hands(recipe=small_recipe(slow.replace("holds = 1", "holds = 2")))
    hands.to_tank("bolster")
    hands.now_ms += 5 * MINUTE
    hands(c.Begin("bolster"))
    hands.to_tank("ferrule")
    hands(c.Answer("bolster", "even", False))
    moves = [a for a in agenda(hands.state.bench, hands.now_ms) if a.kind is ActionKind.BEGIN]
    assert moves[0].part == first
    if first == "ferrule":
        assert moves[1].due_ms == moves[0].due_ms + moves[0].move_s * 1000


def test_a_part_at_an_unknown_place_has_an_action() -> None:
    """An imported run may name such a place; what can still be done is on the agenda."""
    hands = Hands()
    hands.to_tank("bolster")
    bench = hands.state.bench
    lost = replace(bench.parts["bolster"], station="elsewhere")
    lacking = replace(bench, parts={**bench.parts, "bolster": lost})
    assert "bolster" in [action.part for action in agenda(lacking, hands.now_ms)]
