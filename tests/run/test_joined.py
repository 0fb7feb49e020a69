"""One press can end several steps of one move and records only what is known."""

from __future__ import annotations

from math import log

import pytest

from benchtimer.learn.observe import observed
from benchtimer.records.record import make_record
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.agenda import agenda
from benchtimer.run.decide import Now, decide
from benchtimer.run.refusals import Refused
from benchtimer.run.run_state import PartPhase
from tests.records.golden import entries_of
from tests.support import MINUTE, SMALL, Hands, small_recipe

RINSED = SMALL.replace(
    '[[step]]\nid = "look"',
    """[[step]]
id = "rinse"
title = "Rinse"
rinse = true
hands = "20 s"

[[step]]
id = "look\"""",
)


SWIM = """
schema = 1
title = "Hot and cold"
[[station]]
id = "hot"
title = "Hot water"
holds = 2
[[station]]
id = "cold"
title = "Cold water"
[[step]]
id = "heat"
title = "Into the hot water"
at = "hot"
hands = "10 s"
dwell = { min = "5 min", target = "10 min", max = "30 min" }
[[step]]
id = "cool"
title = "Over into the cold water"
at = "cold"
hands = "20 s"
dwell = { min = "90 s", target = "2 min", max = "10 min" }
[[step]]
id = "wipe"
title = "Wipe it"
hands = "30 s"
"""


def _swimming(text: str = SWIM) -> Hands:
    """Two parts in the hot water, at their target."""
    hands = Hands(names=("bolster", "ferrule"), recipe=small_recipe(text))
    for part in ("bolster", "ferrule"):
        hands(c.Begin(part))
        hands(c.Finish(part), 10_000)
    hands.now_ms += 10 * MINUTE
    return hands


def _next(hands: Hands) -> c.Command | None:
    return agenda(hands.state.bench, hands.now_ms)[0].command


def test_a_short_move_between_dwells_is_one_press() -> None:
    """From hot to cold water is one press and one undo, with no invented hands-on time."""
    hands = _swimming()
    before = hands.part()
    command = _next(hands)
    assert command == c.Begin("bolster", loads=True)
    hands(command, 20_000)
    assert (hands.part().phase, hands.part().station) == (PartPhase.DWELLING, "cold")
    heat, cool = make_record(entries_of(hands)).parts[0].visits
    assert (heat.out_s, heat.verdict) == (cool.in_s, "within")
    assert (cool.hands_s, cool.station) == (None, "cold")
    assert not [seen for seen in observed(hands.events) if "cool" in seen.key]
    hands(c.Undo())
    assert hands.part() == before


def test_a_full_place_leaves_the_part_in_hand() -> None:
    """A part whose next place is full stays in hand, and its load waits."""
    hands = _swimming()
    hands(c.Begin("bolster", loads=True))
    hands(c.Begin("ferrule", loads=True))
    assert hands.part("ferrule").phase is PartPhase.IN_HAND
    assert hands.part("bolster").station == "cold"


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ('hands = "20 s"', 'hands = "40 s"'),
        ('target = "10 min", max = "30 min"', 'target = "7 min", max = "8 min"'),
        ('target = "2 min", max = "10 min"', 'target = "2 min", max = "4 min"'),
        (
            '[[step]]\nid = "wipe"',
            '[[step.check]]\nid = "ok"\nkind = "yes-no"\nask = "Cold?"\n[[step]]\nid = "wipe"',
        ),
    ],
    ids=["long way", "tight before", "tight behind", "a question"],
)
def test_any_other_move_is_two_presses(was: str, now: str) -> None:
    """A long way, a tight window or a question keeps the pull a press of its own."""
    hands = _swimming(SWIM.replace(was, now))
    assert _next(hands) == c.Begin("bolster")
    hands(c.Begin("bolster", loads=True))
    assert hands.part().phase is PartPhase.IN_HAND


def _begun() -> Hands:
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"))
    return hands


def test_the_load_ends_the_work_before_it() -> None:
    """Scrub and load are one press, and only their total time is recorded."""
    hands = _begun()
    (first, *_) = agenda(hands.state.bench, hands.now_ms)
    assert first.command == c.Finish("bolster", "dip")
    hands(first.command, 90_000)
    assert hands.part().phase is PartPhase.DWELLING
    (prepare, dip) = make_record(entries_of(hands)).parts[0].visits
    assert (prepare.hands_s, prepare.with_next) == (None, True)
    assert (dip.hands_s, dip.planned_hands_s, dip.in_s) == (90, 80, (prepare.began_s or 0) + 90)


def test_one_undo_takes_the_one_press_back() -> None:
    """After U the part is in hand at its first work, which can also end step by step."""
    hands = _begun()
    before = hands.part()
    hands(c.Finish("bolster", "dip"), 90_000)
    hands(c.Undo())
    assert hands.part() == before
    hands(c.Finish("bolster"))
    assert hands.state.bench.step_of(hands.part()).id == "dip"


def test_the_joint_time_is_split_in_the_recipes_proportions() -> None:
    """80 s are planned as 60 and 20, so 160 s teach 120 s and 40 s."""
    hands = _begun()
    hands(c.Finish("bolster", "dip"), 160_000)
    seen = {s.key: s.value for s in observed(hands.events) if s.key.startswith("hands/")}
    assert seen == pytest.approx({"hands/prepare": log(120), "hands/dip": log(40)})


def test_a_reading_in_between_makes_it_two_presses() -> None:
    """With an expired reading the work ends alone, and the tank is read before the load."""
    hands = _begun()
    hands.now_ms += 30 * MINUTE
    (first, *_) = agenda(hands.state.bench, hands.now_ms)
    assert first.command == c.Finish("bolster")
    with pytest.raises(Refused, match="too old"):
        decide(hands.state, c.Finish("bolster", "dip"), Now(hands.now_ms))


def test_an_answer_ends_the_work_before_its_question() -> None:
    """The question after a rinse comes at once, and its answer ends both steps."""
    hands = Hands(names=("bolster",), recipe=small_recipe(RINSED))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    action = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "bolster")
    assert action.check is not None
    hands(c.Answer("bolster", action.check.id, True), MINUTE)
    ended = [ev.step for ev in hands.events if isinstance(ev, e.WorkFinished) and ev.with_next]
    assert ended[-1] == "rinse"
    assert hands.state.bench.step_of(hands.part()).id == "hang"


def test_the_last_answer_puts_a_part_where_it_waits() -> None:
    """The last answer also puts a part on a rack that has no dwell."""
    waits = SMALL.replace(
        'dwell = { min = "1 h", target = "2 h" }', 'dwell = { min = "0 s", target = "0 s" }'
    )
    assert waits != SMALL
    phases = []
    for recipe in (SMALL, waits):
        hands = Hands(names=("bolster",), recipe=small_recipe(recipe))
        hands(c.Read("tank", "65 C"))
        hands.to_tank()
        hands(c.Begin("bolster"), 5 * MINUTE)
        hands(c.Answer("bolster", "even", True))
        hands(c.Answer("bolster", "heat", "25 C"))
        phases.append(hands.part().phase)
    assert phases == [PartPhase.IN_HAND, PartPhase.DWELLING]
