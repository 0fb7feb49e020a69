"""What sounds at a bench after any history."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind, PlanTimes
from benchtimer.run.agenda import agenda
from benchtimer.run.run_state import OVER, Bench, Part, PartPhase, RunPhase
from benchtimer.view.alarm import DUE, OVERDUE, Alarm
from benchtimer.view.words import late_on_hold, when
from tests.support import MINUTE, SMALL, Hands, alarms_of, small_recipe
from tests.tui.benches import (
    FEW,
    GUARDED_STEP,
    STRAIGHT_OVER,
    TWO_BATHS,
    benches,
    dwelling,
    hang_up,
    hung_up,
    stamp_at,
)


def _alarms(hands: Hands, after_ms: int = 0) -> list[Alarm]:
    return alarms_of("r", hands.state.bench, hands.now_ms + after_ms)


def _is_late(bench: Bench, part: Part, now_ms: int) -> bool:
    dwell = bench.step_of(part).dwell
    if part.phase is not PartPhase.DWELLING or dwell is None or dwell.max_s is None:
        return False
    return now_ms - part.since_ms > dwell.max_s * 1000


@given(benches())
@FEW
def test_everything_late_rings(hands: Hands) -> None:
    """A part past its max is overdue for a pull, or has a warning while on hold."""
    bench, now_ms = hands.state.bench, hands.now_ms
    overdue = [a for a in _alarms(hands) if a.level == OVERDUE and a.spoils]
    warned = "\n".join(late_on_hold(bench, now_ms))
    for part in bench.parts.values():
        if not _is_late(bench, part, now_ms) or bench.phase in OVER:
            continue
        if bench.phase is RunPhase.HELD or part.held is not None:
            assert part.name in warned
        else:
            (pull,) = (a for a in overdue if a.about == ("begin", part.name))
            assert pull.words.startswith(f"PULL {part.label} from ")


@given(benches())
@FEW
def test_while_a_part_spoils_its_pull_rings_first(hands: Hands) -> None:
    """The pull of a part past its window comes before any reading, gear or other work."""
    bench, now_ms = hands.state.bench, hands.now_ms
    late = {p.name for p in bench.parts.values() if _is_late(bench, p, now_ms)}
    if bench.phase is not RunPhase.RUNNING or not late:
        return
    found = _alarms(hands)[: len(late)]
    assert {alarm.about for alarm in found} == {("begin", name) for name in late}


@given(benches())
@FEW
def test_every_alarm_names_something_to_do(hands: Hands) -> None:
    """Each alarm has words and its own key, and none appears twice."""
    found = _alarms(hands)
    assert len({(alarm.run, alarm.about) for alarm in found}) == len(found)
    assert all(alarm.words and alarm.text.startswith(alarm.words) for alarm in found)
    assert all((alarm.over_ms > 0) == (alarm.level == OVERDUE) for alarm in found)


@given(benches())
@FEW
def test_nothing_rings_when_nothing_can_be_done(hands: Hands) -> None:
    """An idle or finished run is silent."""
    if hands.state.bench.phase in (RunPhase.IDLE, *OVER):
        assert _alarms(hands, 10**9) == []


def _behind_a_reading() -> Hands:
    """One part hangs in the oil, which needs a reading; another waits in the tank for the oil."""
    hands = Hands(names=("bolster", "ferrule"), recipe=small_recipe(TWO_BATHS))
    hands(c.Read("tank", "65 C"))
    hands(c.Read("oil", "50 C"))
    hands.to_tank("bolster")
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands.to_tank("ferrule")
    hands(c.Read("tank", "65 C"))
    return hands


def test_a_bath_is_read_for_the_part_that_waits_for_it() -> None:
    """A bath due for a reading anyway still shows the part that waits for it."""
    hands = _behind_a_reading()
    at_ms = hands.part("ferrule").since_ms + 4 * MINUTE + 1000
    (alarm,) = (a for a in alarms_of("r", hands.state.bench, at_ms) if a.about[1] == "oil")
    assert (alarm.text, alarm.level, alarm.spoils) == ("READ Oil, for #2 ferrule", DUE, True)
    reading = next(a for a in agenda(hands.state.bench, at_ms) if a.to_station == "oil")
    assert reading.part == "ferrule"
    assert when(reading, stamp_at(at_ms)) == "NOW"


def test_a_part_past_its_window_is_pulled_before_its_next_bath_is_read() -> None:
    """Once the window has closed the pull comes first; the reading follows."""
    hands = _behind_a_reading()
    at_ms = hands.part("ferrule").since_ms + 8 * MINUTE + 1000
    pull, reading = alarms_of("r", hands.state.bench, at_ms)
    assert (pull.text, pull.spoils) == ("PULL #2 ferrule from Tank, 0:01 late", True)
    assert (reading.about, reading.spoils) == (("reading", "oil"), False)
    assert "ferrule" not in reading.words
    hands.now_ms = at_ms - 1000
    hands(c.Begin("ferrule"))  # the engine accepts it without the reading
    assert hands.part("ferrule").station is None


def test_a_late_part_that_goes_straight_over_is_pulled_first() -> None:
    """A late part that moves straight to the next bath is pulled before that bath is read."""
    hands = Hands(names=("bolster",), recipe=small_recipe(STRAIGHT_OVER), reads=False)
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    since_ms = hands.part().since_ms
    found = [alarms_of("r", hands.state.bench, since_ms + ms)[0] for ms in (460_000, 460_001)]
    assert [a.words for a in found] == ["READ Oil, for #1 bolster", "PULL #1 bolster from Tank"]
    hands.now_ms = since_ms + 460_000
    hands(c.Begin("bolster"), 1)
    assert [a.words for a in _alarms(hands)][:1] == ["READ Oil, for #1 bolster"]


def test_a_late_part_rings_before_a_reading_for_another() -> None:
    """A part that spoils comes before the reading that another part waits for."""
    hands = Hands(names=("bolster", "ferrule"), recipe=small_recipe(TWO_BATHS), reads=False)
    hands(c.Read("tank", "65 C"))
    hands.to_tank("bolster")
    hands(c.Begin("bolster"), 9 * MINUTE)
    hands(c.Answer("bolster", "even", True))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("ferrule")
    early, late = _alarms(hands, 7 * MINUTE), _alarms(hands, 8 * MINUTE + 1)
    assert early[0].words.startswith("READ Oil, for #")
    assert [alarm.words for alarm in late[:2]] == [
        "PULL #2 ferrule from Tank", "READ Oil, for #1 bolster"]  # fmt: skip


def test_a_late_part_rings_before_the_gear_for_another() -> None:
    """Gear that the plan wants first waits while a part spoils."""
    page = '[[hazard]]\nbefore = "judge"\ntitle = "Dust"\ntext = "It is fine."\n[[step]]'
    recipe = small_recipe(SMALL.replace("[[step]]", page, 1))
    hands = Hands(names=("bolster", "ferrule"), recipe=recipe, geared=False)
    hands.to_tank()
    hang_up(hands)
    hung_ms = hands.part().since_ms
    hands.now_ms = hung_ms + 115 * MINUTE
    hands.to_tank("ferrule")
    late_ms = hands.part("ferrule").since_ms + 8 * MINUTE
    plan = PlanTimes({"bolster": hung_ms + 120 * MINUTE, "ferrule": late_ms - 10_000})
    bench = hands.state.bench
    times = (late_ms, late_ms + 1)
    found = [alarms_of("r", bench, ms, plan) for ms in times]
    assert [[a.words for a in alarms][:2] for alarms in found] == [
        ["GEAR UP: Dust, for #1 bolster", "PULL #2 ferrule from Tank"],
        ["PULL #2 ferrule from Tank", "GEAR UP: Dust, for #1 bolster"],
    ]


def test_a_part_waiting_for_a_full_bath_is_still_late() -> None:
    """With a full bath ahead, the pull is still late and the bath is still read."""
    hands = _behind_a_reading()
    places = {**hands.state.bench.places}
    full = places["oil"].station.model_copy(update={"holds": 1})
    places["oil"] = replace(places["oil"], station=full)
    bench = replace(hands.state.bench, places=places)
    at_ms = hands.part("ferrule").since_ms + 9 * MINUTE
    first = agenda(bench, at_ms)[0]
    assert (first.kind, first.part, first.blocked) == (ActionKind.BEGIN, "ferrule", None)
    pull, reading = alarms_of("r", bench, at_ms)
    assert pull.text == "PULL #2 ferrule from Tank, 1:00 late"
    assert (reading.about, reading.spoils) == (("reading", "oil"), False)


@pytest.mark.parametrize(
    ("after_ms", "levels"),
    [
        (5 * MINUTE - 1, []),
        (5 * MINUTE, [DUE]),
        (8 * MINUTE, [DUE]),
        (8 * MINUTE + 1, [OVERDUE]),
    ],
)
def test_a_pull_rings_from_target_and_is_overdue_past_max(after_ms: int, levels: list[str]) -> None:
    """A pull is due at the target and overdue when the window closes, to the millisecond."""
    hands = dwelling()
    found = alarms_of("r", hands.state.bench, hands.part().since_ms + after_ms)
    assert [alarm.level for alarm in found] == levels


@pytest.mark.parametrize(("seconds", "level"), [(0, DUE), (120, DUE), (121, OVERDUE)])
def test_an_action_that_spoils_nothing_is_overdue_after_two_minutes(
    seconds: int, level: str
) -> None:
    """A soak without a limit is due at its target and overdue two minutes later."""
    hands = hung_up()
    ends_ms = hands.part().since_ms + 120 * MINUTE
    (alarm,) = alarms_of("r", hands.state.bench, ends_ms + seconds * 1000)
    assert (alarm.level, alarm.spoils) == (level, False)
    assert alarm.text == "PICK UP #1 bolster from Rack" + (
        ", due for 2:01" if level == OVERDUE else ""
    )


@pytest.mark.parametrize(("seconds", "calls"), [(200, False), (201, True)])
def test_a_forgotten_press_rings_two_minutes_after_its_time(seconds: int, calls: bool) -> None:
    """Work of 1:20 sounds two minutes after its time, not a second sooner."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands(c.Begin("bolster"))
    found = [a.about for a in _alarms(hands, seconds * 1000)]
    assert (("finish", "bolster") in found) == calls


@pytest.mark.parametrize(("minute", "calls"), [(11, False), (13, True)])
def test_an_overdue_reading_rings_even_with_full_hands(minute: int, calls: bool) -> None:
    """With work in hand a reading is quiet while due and sounds when it is overdue."""
    hands = hung_up(("bolster", "ferrule"))
    hands(c.Read("tank", "65 C"))
    hands.to_tank("ferrule")
    read_ms = hands.now_ms - 81_000
    hands.now_ms = read_ms + minute * MINUTE - 30_000
    hands(c.Begin("bolster"), after_ms=0)
    found = alarms_of("r", hands.state.bench, read_ms + minute * MINUTE)
    assert (("reading", "tank") in [alarm.about for alarm in found]) == calls


def test_gear_rings_with_the_part_it_is_for() -> None:
    """A hazard page sounds by its own name and names the part."""
    hands = Hands(names=("bolster",), recipe=small_recipe(GUARDED_STEP), geared=False)
    (alarm,) = _alarms(hands)
    assert (alarm.words, alarm.about) == (
        "GEAR UP: Hot tank, for #1 bolster", ("hazard", "Hot tank"))  # fmt: skip


def test_gear_for_several_parts_rings_once() -> None:
    """One page that two parts wait for is one action, for the more pressing part."""
    hands = Hands(names=("bolster", "ferrule"), recipe=small_recipe(GUARDED_STEP), geared=False)
    late_ms = 10 * MINUTE
    waiting = [a.part for a in agenda(hands.state.bench, hands.now_ms + late_ms)]
    assert waiting == ["bolster", "ferrule"]
    (alarm,) = _alarms(hands, late_ms)
    assert alarm.words == "GEAR UP: Hot tank, for #1 bolster"


def test_a_press_gives_you_time_for_the_next_action() -> None:
    """Work that falls due by a press is overdue two minutes after that press, not before."""
    hands = Hands(names=("bolster",))
    hands.now_ms += 30 * MINUTE
    assert [alarm.level for alarm in _alarms(hands)] == [OVERDUE]
    hands(c.Note("back from lunch"))
    assert [alarm.level for alarm in _alarms(hands, 120_000)] == [DUE]
    assert [alarm.level for alarm in _alarms(hands, 120_001)] == [OVERDUE]
