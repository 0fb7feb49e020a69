"""Baths that need heat: each is hot in time, and no part meets a cold one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtimer.run import commands as c
from benchtimer.run import refusals as r
from benchtimer.run.actions import Action, ActionKind, PlanTimes
from benchtimer.run.agenda import agenda, in_order
from benchtimer.run.ahead import KEPT_HOT_MS, is_cold, ready_ahead_ms, steps_ahead
from benchtimer.run.readiness import is_needed
from benchtimer.run.run_state import SESSION_GAP_MS
from benchtimer.run.setup import PUT_OFF, setup_items
from tests.support import MINUTE, Hands, small_recipe

HOUR = 60 * MINUTE

LINE = """
schema = 1
title = "Hang, clean, blacken, rest, boil"

[[station]]
id = "rack"
title = "Rack"
holds = 3
[[station]]
id = "cleaner"
title = "Cleaner"
holds = 3
heat_up = "30 min"
temperature = { min = "50 C", max = "58 C", every = "2 h" }
[[station]]
id = "salts"
title = "Salts"
holds = 3
heat_up = "1 h"
temperature = { min = "50 C", max = "58 C", every = "2 h" }
make_up = { after = "30 min", cool = "20 min", hands = "5 min", text = "Add water." }
[[station]]
id = "box"
title = "Box"
holds = 3
[[station]]
id = "boil"
title = "Boil"
holds = 3
purpose = "rinse"
heat_up = "30 min"

[[hazard]]
before = ["cleaner", "salts", "boil"]
title = "Hot"
text = "It burns."

[[step]]
id = "hang"
title = "Hang it"
at = "rack"
hands = "60 s"
dwell = { min = "0 s", target = "0 s", max = "9 h" }
[[step]]
id = "clean"
title = "Clean it"
at = "cleaner"
hands = "60 s"
dwell = { min = "5 min", target = "10 min", max = "20 min" }
[[step]]
id = "black"
title = "Blacken it"
at = "salts"
hands = "60 s"
dwell = { min = "5 min", target = "10 min", max = "20 min" }
[[step]]
id = "rest"
title = "Rest it"
at = "box"
hands = "60 s"
dwell = { min = "3 h", target = "6 h", max = "24 h" }
[[step]]
id = "boil"
title = "Boil it"
at = "boil"
hands = "60 s"
dwell = { min = "5 min", target = "10 min", max = "20 min" }
[[step]]
id = "end"
title = "Look"
hands = "60 s"
"""


def _hands(*, heated: bool = True) -> Hands:
    """A started run whose baths were heated at the same moment."""
    hands = Hands(("bolster",), small_recipe(LINE), started=False)
    hands(c.Acknowledge("Hot"))
    for station in ("cleaner", "salts"):
        wish = c.Heat(station) if heated else c.Prepare(f"heat {station}", said=PUT_OFF)
        hands(wish, 0)
    hands(c.Start(), 0)
    return hands


def _action(hands: Hands, kind: ActionKind, plan: PlanTimes | None = None) -> Action | None:
    found = agenda(hands.state.bench, hands.now_ms, plan or PlanTimes())
    return next((action for action in found if action.kind is kind), None)


def _in_box() -> Hands:
    """The part rests in the box, six hours before the boil."""
    hands = _hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    for wait_ms in (61 * MINUTE, 10 * MINUTE, 10 * MINUTE):
        hands(c.Begin("bolster"), wait_ms)
        hands(c.Finish("bolster"), MINUTE)
    assert hands.part().station == "box"
    return hands


def test_only_the_first_baths_are_heated_before_the_start() -> None:
    """The setup heats cleaner and salts, but not the boil after a long rest."""
    hands = Hands(("bolster",), small_recipe(LINE), started=False)
    assert [item.key for item in setup_items(hands.state.bench)] == ["heat cleaner", "heat salts"]


def test_work_without_a_bath_begins_at_once() -> None:
    """Hanging the part on the rack needs no bath, so it is due now."""
    hands = _hands()
    action = _action(hands, ActionKind.BEGIN)
    assert action is not None
    assert action.due_ms <= hands.now_ms


def test_a_part_leaves_when_its_bath_will_be_hot() -> None:
    """The part leaves the rack so that the salts are ready when it gets there."""
    hands = _hands()
    heated_ms = hands.now_ms
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    way_s = [way_s for step, way_s in steps_ahead(hands.state.bench, hands.part())]
    assert way_s[:2] == [60, 60 + 600 + 60]
    ready_ms = ready_ahead_ms(hands.state.bench, hands.part(), hands.now_ms)
    assert ready_ms == heated_ms + HOUR - 720_000
    hands(c.Read("cleaner", "55 C"), 30 * MINUTE)
    action = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "bolster")
    assert action.due_ms >= ready_ms - MINUTE


def test_the_next_bath_is_ready_before_the_part_leaves() -> None:
    """A bath of the next move is read before the part leaves, so it must be ready by then."""
    hands = _hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Read("salts", "55 C"), 0)
    heated_ms = hands.state.bench.places["cleaner"].heated_ms
    assert heated_ms is not None
    bench = hands.state.bench
    assert ready_ahead_ms(bench, hands.part(), hands.now_ms) == heated_ms + 30 * MINUTE


def test_a_bath_behind_a_rest_is_heated_in_time() -> None:
    """The boil's heat is due half an hour and a minute before the part leaves, and rings."""
    hands = _in_box()
    action = _action(hands, ActionKind.HEAT)
    assert action is not None
    assert action.to_station == "boil"
    assert action.due_ms == hands.part().since_ms + 6 * HOUR - 31 * MINUTE


def test_heat_follows_the_plan() -> None:
    """If the planner pulls the part earlier, the heat goes on earlier."""
    hands = _in_box()
    begins_ms = hands.part().since_ms + 4 * HOUR
    action = _action(hands, ActionKind.HEAT, PlanTimes({"bolster": begins_ms}))
    assert action is not None
    assert action.due_ms == begins_ms - 31 * MINUTE


def test_a_part_waits_where_it_can_for_a_cold_boil() -> None:
    """With the boil still cold six hours later, the part is due half an hour on, within max."""
    hands = _in_box()
    hands.now_ms += 7 * HOUR
    action = next(a for a in agenda(hands.state.bench, hands.now_ms) if a.part == "bolster")
    assert action.due_ms == hands.now_ms + 29 * MINUTE


def test_a_bath_already_heating_is_not_asked_for_again() -> None:
    """Heat that is on or put off is not asked for again."""
    for wish in (c.Heat("boil"), c.Prepare("heat boil", said=PUT_OFF)):
        hands = _in_box()
        hands(c.Acknowledge("Hot"), 5 * HOUR)
        hands(wish)
        assert _action(hands, ActionKind.HEAT) is None


@pytest.mark.parametrize(
    ("place", "after_ms", "cold"),
    [
        ("salts", HOUR, False),
        ("salts", SESSION_GAP_MS, True),
        ("boil", HOUR, False),
        ("boil", KEPT_HOT_MS + 1, True),
    ],
)
def test_when_a_bath_counts_as_cold(place: str, after_ms: int, cold: bool) -> None:
    """A reading keeps a bath hot for its session; heat alone for two hours."""
    hands = _in_box()
    hands(c.Heat(place))
    bench, now_ms = hands.state.bench, hands.now_ms + after_ms
    assert is_cold(bench, bench.places[place], now_ms) is cold


def test_a_bath_whose_heat_you_put_off_is_left_to_you() -> None:
    """Heat that you put off does not come up again in the same session."""
    hands = _hands(heated=False)
    assert _action(hands, ActionKind.HEAT) is None


def test_a_bath_that_no_part_needs_needs_no_make_up() -> None:
    """After the last blackening the salts need no make-up."""
    hands = _in_box()
    hands(c.Heat("salts"))
    hands(c.Read("salts", "55 C"), 2 * HOUR)
    assert not is_needed(hands.state.bench, "salts")
    assert is_needed(hands.state.bench, "boil")
    hands.now_ms += HOUR
    assert _action(hands, ActionKind.MAKE_UP) is None


def _on_rack(read_after_ms: int) -> Hands:
    """The part hangs on the rack; both baths were read, the salts a while ago."""
    hands = _hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Read("salts", "55 C"), HOUR)
    hands(c.Read("cleaner", "55 C"), read_after_ms)
    return hands


def test_a_part_at_rest_lets_a_make_up_go_first() -> None:
    """A part at rest waits for the make-up and leaves when the salts are hot."""
    hands = _on_rack(25 * MINUTE)
    ready_ms = hands.state.bench.places["salts"].ready_ms
    assert ready_ms is not None
    hot_again_ms = ready_ms + (30 + 20 + 5 + 60) * MINUTE
    bench = hands.state.bench
    assert ready_ahead_ms(bench, hands.part(), hands.now_ms) == hot_again_ms - 720_000
    early = _on_rack(5 * MINUTE)
    assert ready_ahead_ms(early.state.bench, early.part(), early.now_ms) <= early.now_ms


def test_a_make_up_waits_for_a_part_on_its_way() -> None:
    """The make-up waits while a part is on its way from the rack to the salts."""
    hands = _on_rack(5 * MINUTE)
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    assert hands.part().station == "cleaner"
    hands.now_ms += 25 * MINUTE
    action = _action(hands, ActionKind.MAKE_UP)
    assert action is not None
    assert action.blocked == "waits for bolster"
    assert ready_ahead_ms(hands.state.bench, hands.part(), hands.now_ms) <= hands.now_ms


def test_a_make_up_waits_for_a_part_that_the_plan_brings_first() -> None:
    """With no time for the make-up first, the part leaves by the plan."""
    hands = _on_rack(35 * MINUTE)
    bench, now_ms = hands.state.bench, hands.now_ms
    soon = PlanTimes(begin_ms={"bolster": now_ms})
    late = PlanTimes(begin_ms={"bolster": now_ms + 2 * HOUR})
    for plan, blocked in ((soon, "waits for bolster"), (late, None)):
        action = next(a for a in agenda(bench, now_ms, plan) if a.kind is ActionKind.MAKE_UP)
        assert action.blocked == blocked
        is_held_back = ready_ahead_ms(bench, hands.part(), now_ms, plan) > now_ms
        assert is_held_back == (blocked is None)


def test_a_make_up_waits_for_a_part_of_any_run() -> None:
    """With two runs at the salts, the make-up waits for a part on its way in either."""
    free = Action(ActionKind.MAKE_UP, 0, to_station="salts", command=c.BeginMakeUp("salts"),
                  run="1", place="salts")  # fmt: skip
    waits = replace(free, run="2", blocked="waits for bolster")
    for found in ([free, waits], [waits, free]):
        assert in_order(found, 0) == (waits,)


@pytest.mark.parametrize(("heated_h", "cold"), [(1, True), (3, False)])
def test_a_boil_is_kept_up_for_a_part_that_comes_soon(heated_h: int, cold: bool) -> None:
    """An idle boil goes cold after two hours, unless a part is due within two more."""
    hands = _in_box()
    hands(c.Heat("boil"), heated_h * HOUR)
    bench, now_ms = hands.state.bench, hands.now_ms + KEPT_HOT_MS + 1
    assert is_cold(bench, bench.places["boil"], now_ms) is cold


def test_a_later_session_reads_the_pages_before_it_heats() -> None:
    """The next day's heat waits for that place's page and gear."""
    hands = _in_box()
    hands.now_ms += 6 * HOUR
    with pytest.raises(r.HazardFirst, match="Hot"):
        hands(c.Heat("boil"))
    page = _action(hands, ActionKind.HAZARD)
    assert page is not None
    assert (page.to_station, page.command) == ("boil", c.Acknowledge("Hot"))
    assert _action(hands, ActionKind.HEAT) is None
    hands(c.Acknowledge("Hot"))
    assert _action(hands, ActionKind.HAZARD) is None
    assert _action(hands, ActionKind.HEAT) is not None
    hands(c.Heat("boil"))


def test_a_make_up_left_overnight_ends_with_its_pages_read() -> None:
    """Water and heat need the page read first; turning heat off does not."""
    hands = _on_rack(5 * MINUTE)
    hands(c.BeginMakeUp("salts"))
    hands.now_ms += 9 * HOUR
    with pytest.raises(r.HazardFirst, match="Hot"):
        hands(c.EndMakeUp("salts"))
    page = _action(hands, ActionKind.HAZARD)
    assert page is not None
    assert page.command == c.Acknowledge("Hot")
    hands(c.Acknowledge("Hot"))
    hands(c.EndMakeUp("salts"))


def test_a_part_on_hold_needs_no_make_up() -> None:
    """The salts need no make-up for a part on hold."""
    hands = _on_rack(5 * MINUTE)
    assert is_needed(hands.state.bench, "salts")
    hands(c.Hold("bolster", "solder on it"))
    assert not is_needed(hands.state.bench, "salts")


def test_a_reading_that_ends_on_the_way_is_taken_before_the_part_leaves() -> None:
    """If a reading would expire on the way, the bath is read before the part leaves."""
    hands = _hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"), MINUTE)
    hands(c.Read("cleaner", "55 C"), 31 * MINUTE)
    read_ms = hands.now_ms
    hands(c.Read("salts", "55 C"), 30 * MINUTE)
    hands.now_ms = read_ms + 2 * HOUR - MINUTE // 2
    first = agenda(hands.state.bench, hands.now_ms, PlanTimes({"bolster": hands.now_ms}))[0]
    assert (first.kind, first.to_station) == (ActionKind.READING, "cleaner")
    assert first.is_due(hands.now_ms)
    hands(c.Read("cleaner", "55 C"), 0)
    begin = _action(hands, ActionKind.BEGIN, PlanTimes({"bolster": hands.now_ms}))
    assert begin is not None
    assert begin.is_due(hands.now_ms)
