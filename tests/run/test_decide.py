"""What each command causes, and when it is refused."""

from __future__ import annotations

import pytest

from benchtimer.recipe.checks import ReadingCheck
from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run import refusals as r
from benchtimer.run.decide import Now, create
from benchtimer.run.evolve import fold
from benchtimer.run.refusals import judge_answer
from benchtimer.run.run_state import PartPhase, RunPhase
from tests.support import MINUTE, SMALL, TEMPERED, Hands, kinds, small_recipe, table


def test_start_runs_an_idle_run() -> None:
    """Start turns an idle run into a running one."""
    hands = Hands(started=False)
    phases = [hands.state.bench.phase]
    hands(c.Acknowledge("Hot tank"))
    hands(c.Start())
    phases.append(hands.state.bench.phase)
    assert phases == [RunPhase.IDLE, RunPhase.RUNNING]


def test_work_goes_from_step_to_step_and_into_the_station() -> None:
    """Hands-on steps follow each other at once, up to the station and its dwell."""
    hands = Hands()
    assert kinds(hands(c.Begin("bolster"))) == ["WorkBegan"]
    assert kinds(hands(c.Finish("bolster"))) == ["WorkFinished", "WorkBegan"]
    assert kinds(hands(c.Finish("bolster"))) == ["WorkFinished", "PutIn"]
    part = hands.part()
    assert (part.phase, part.station) == (PartPhase.DWELLING, "tank")


def test_a_pull_before_min_is_recorded_as_cut_short() -> None:
    """A dwell that ends before min is a deviation with both times."""
    hands = Hands()
    hands.to_tank()
    events = hands(c.Begin("bolster"), 2 * MINUTE)
    assert kinds(events) == ["TakenOut", "Deviated", "WorkBegan"]
    deviation = events[1]
    assert isinstance(deviation, e.Deviated)
    assert (deviation.what, deviation.limit, deviation.found) == (
        "early",
        "at least 4 min",
        "2 min",
    )


def test_a_pull_after_max_is_recorded_as_an_overrun() -> None:
    """A dwell that ends after max is a deviation."""
    hands = Hands()
    hands.to_tank()
    events = hands(c.Begin("bolster"), 9 * MINUTE)
    deviation = events[1]
    assert isinstance(deviation, e.Deviated)
    assert (deviation.what, deviation.found) == ("overrun", "9 min")


@pytest.mark.parametrize("minutes", [4, 5, 8])
def test_a_pull_inside_the_window_is_not_a_deviation(minutes: int) -> None:
    """A dwell that ends exactly at min or max is no deviation."""
    hands = Hands()
    hands.to_tank()
    assert "Deviated" not in kinds(hands(c.Begin("bolster"), minutes * MINUTE))


def test_a_full_station_is_refused_with_what_to_do() -> None:
    """A part can't go into a full tank, and the message says which part to pull."""
    hands = Hands()
    hands.to_tank("bolster")
    hands(c.Begin("ferrule"))
    hands(c.Finish("ferrule"))
    before = hands.state
    with pytest.raises(r.StationFull) as refused:
        hands(c.Finish("ferrule"))
    assert "Pull bolster first" in str(refused.value)
    assert hands.state == before


def test_a_no_sends_the_part_back_and_counts() -> None:
    """A no sends the part back up to its limit, then holds it for a decision."""
    hands = Hands()
    for count in (1, 2):
        hands.to_tank()
        hands(c.Begin("bolster"), 5 * MINUTE)
        sent = hands(c.Answer("bolster", "even", False))[-1]
        assert isinstance(sent, e.Sent)
        assert (sent.to_step, sent.count) == ("prepare", count)
        assert hands.state.bench.try_number(hands.part()) == count + 1
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    events = hands(c.Answer("bolster", "even", False))
    assert kinds(events) == ["Answered", "Deviated", "Held"]
    assert hands.part().held is not None
    hands(c.Resume("bolster"))
    hands(c.Finish("bolster"))
    assert hands.state.bench.step_of(hands.part()).id == "hang"


def test_the_last_yes_ends_the_work() -> None:
    """The last answer of a step without a dwell ends it, with no second press."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    events = hands(c.Answer("bolster", "even", True))
    assert kinds(events) == ["Answered", "WorkFinished", "WorkBegan"]


def _at_hang(hands: Hands) -> None:
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", True))


def test_a_reading_above_its_ceiling_blocks_the_step() -> None:
    """Above the ceiling the work can't end; a lower reading allows it again."""
    hands = Hands()
    _at_hang(hands)
    hands(c.Answer("bolster", "heat", "55 C"))
    with pytest.raises(r.TooHot, match="55 C"):
        hands(c.Finish("bolster"))
    hands(c.Answer("bolster", "heat", "29"))
    assert kinds(hands(c.Finish("bolster"))) == ["WorkFinished", "PutIn"]


def test_a_reading_out_of_range_is_a_deviation() -> None:
    """A reading out of its window with no send-back is recorded, and the work continues."""
    hands = Hands()
    _at_hang(hands)
    assert kinds(hands(c.Answer("bolster", "heat", "95 F"))) == ["Answered", "Deviated"]
    hands(c.Finish("bolster"))


def test_open_checks_come_before_the_station() -> None:
    """A part can't go into its station before its checks are answered."""
    hands = Hands()
    _at_hang(hands)
    with pytest.raises(r.ChecksFirst, match="How warm"):
        hands(c.Finish("bolster"))


def test_inner_counts_restart_when_an_outer_check_sends_back() -> None:
    """A send-back over a longer section resets the counts of the checks inside it."""
    wide = SMALL.replace('grey = { to = "dip", limit = 1 }', 'grey = { to = "prepare", limit = 1 }')
    hands = Hands(recipe=small_recipe(wide))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    _at_hang(hands)
    assert hands.part().sent == {"look/even/no": 1}
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands(c.Begin("bolster"), 120 * MINUTE)
    hands(c.Answer("bolster", "colour", "grey"))
    assert hands.part().sent == {"judge/colour/grey": 1}


def test_a_part_is_done_after_its_last_answer() -> None:
    """The last answer of the last step makes the part done, and the run can be completed."""
    hands = Hands(names=("bolster",))
    _at_hang(hands)
    hands(c.Answer("bolster", "heat", "25 C"))
    hands(c.Finish("bolster"))
    hands(c.Begin("bolster"), 120 * MINUTE)
    hands(c.Answer("bolster", "colour", "black"))
    with pytest.raises(r.PartsLeft, match="bolster"):
        hands(c.Complete())
    hands(c.Answer("bolster", "words", "deep and even"))
    assert hands.part().phase is PartPhase.DONE
    hands(c.Complete())
    assert hands.state.bench.phase is RunPhase.COMPLETE


def test_a_part_put_back_keeps_its_dwell_time() -> None:
    """Taking a part out and putting it back within a dwell keeps its clock running."""
    hands = Hands()
    hands.to_tank()
    hands(c.TakeOut("bolster"), 3 * MINUTE)
    assert hands.part().phase is PartPhase.WAITING
    hands(c.PutBack("bolster"), 10 * MINUTE)
    assert hands.now_ms - hands.part().since_ms == 3 * MINUTE
    assert "Deviated" not in kinds(hands(c.Begin("bolster"), 2 * MINUTE))


def test_put_back_needs_a_part_that_was_pulled() -> None:
    """A part that was never in a station can't be put back into one."""
    with pytest.raises(r.BadValue, match="not pulled"):
        Hands()(c.PutBack("bolster"))


def test_sending_back_by_hand_goes_to_earlier_steps_only() -> None:
    """By hand a part goes back to any earlier step, never forward."""
    hands = Hands()
    hands.to_tank()
    with pytest.raises(r.UnknownName, match="judge"):
        hands(c.SendBack("bolster", "judge"))
    events = hands(c.SendBack("bolster", "prepare", "scratched"))
    assert kinds(events) == ["TakenOut", "Deviated", "Sent"]
    assert hands.part().step == 0


def test_a_held_part_does_not_move_but_may_leave_its_tank() -> None:
    """A held part stops, but can still be pulled out of a tank."""
    hands = Hands()
    hands.to_tank()
    hands(c.Hold("bolster", "looks odd"))
    with pytest.raises(r.OnHold, match="looks odd"):
        hands(c.Begin("bolster"))
    hands(c.TakeOut("bolster"), 5 * MINUTE)
    hands(c.Resume("bolster"))
    hands(c.Begin("bolster"))


def test_a_held_run_takes_no_work() -> None:
    """A held run stops every part until it is resumed."""
    hands = Hands()
    hands(c.Hold(None, "telephone"))
    with pytest.raises(r.WrongPhase, match="held"):
        hands(c.Begin("bolster"))
    hands(c.Resume(None))
    hands(c.Begin("bolster"))


def test_scrapping_frees_the_station() -> None:
    """A scrapped part leaves its tank and no longer blocks completion."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Scrap("bolster", "pitted"), 5 * MINUTE)
    assert not hands.state.bench.inside("tank")
    hands(c.Complete())


def test_a_station_out_of_service_takes_nothing() -> None:
    """Nothing goes into a closed station until it opens."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"))
    hands(c.CloseStation("tank", "leaks"))
    with pytest.raises(r.OutOfService, match="leaks"):
        hands(c.Finish("bolster"))
    with pytest.raises(r.OutOfService, match="leaks"):
        hands(c.Begin("ferrule", anyway=True))
    hands(c.OpenStation("tank"))
    hands(c.Finish("bolster"))


def test_readings_are_judged_by_the_window() -> None:
    """A reading is in range, low, high or above the ceiling."""
    hands = Hands()
    verdicts = {"65": "in", "140 F": "in", "59.9 C": "low", "75 C": "high", "81 C": "above-ceiling"}
    for text, verdict in verdicts.items():
        event = hands(c.Read("tank", text))[0]
        assert isinstance(event, e.ReadingTaken)
        assert event.verdict == verdict


def test_nothing_goes_into_a_bath_above_its_ceiling() -> None:
    """A part waits for a reading below the ceiling, and no override helps."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Finish("bolster"))
    hands(c.Read("tank", "81 C"))
    with pytest.raises(r.TooHot):
        hands(c.Finish("bolster"))
    with pytest.raises(r.TooHot):
        hands(c.SkipReading("tank", "by eye"))
    hands(c.Read("tank", "69 C"))
    hands(c.Finish("bolster"))


def test_a_part_joins_a_running_run_with_a_recipe_of_its_own() -> None:
    """A part can join a running run, with the same or another recipe."""
    hands = Hands()
    hands.to_tank()
    hands(c.AddPart("pin", "small"))
    other = small_recipe(SMALL.replace('"Dip and look"', '"Another"'))
    hands(c.AddPart("blade", "other", table(other)))
    assert hands.part("blade").number == 5
    assert hands.state.bench.recipe_of(hands.part("blade")).title == "Another"
    assert hands.part().station == "tank"


def test_the_smaller_size_of_a_shared_station_counts() -> None:
    """A tank that holds three in one recipe and one in another holds one."""
    hands = Hands()
    other = small_recipe(SMALL.replace("holds = 1", "holds = 3"))
    hands(c.AddPart("blade", "other", table(other)))
    assert hands.state.bench.places["tank"].station.holds == 1


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ([], "no parts"),
        ([("a", "small"), ("a", "small")], "twice"),
        ([("  ", "small")], "empty"),
        ([("x" * 201, "small")], "200"),
        ([("a\x1b[2J", "small")], "U\\+001B"),
        ([("a", "smal")], "No recipe"),
        ([(str(i), "small") for i in range(500)], "500 parts"),
    ],
)
def test_bad_set_ups_are_refused(parts: list[tuple[str, str]], why: str) -> None:
    """A run without parts, with too many, or with bad names is refused."""
    with pytest.raises(r.Refused, match=why):
        create(Now(0), uid="", title="t", recipes={"small": table(small_recipe())}, parts=parts)


@pytest.mark.parametrize("name", ["[red]ferrule[/red]", "刃物", "blade 🔪", "x" * 200])
def test_unusual_names_are_fine(name: str) -> None:
    """Brackets, wide characters, emoji and long names are accepted."""
    hands = Hands(names=(name,))
    assert hands.part(name).name == name


def test_every_event_of_a_press_shares_its_number_and_time() -> None:
    """All events of one press have its number and maker."""
    hands = Hands()
    hands.to_tank()
    events = hands(c.Begin("bolster"), 9 * MINUTE)
    assert {(x.press, x.t_ms, x.by) for x in events} == {(events[0].press, hands.now_ms, "maker")}


def test_time_never_goes_back() -> None:
    """A press before the last entry is refused."""
    hands = Hands()
    with pytest.raises(r.TimeConflict):
        hands(c.Begin("bolster"), -10_000)


def test_an_aborted_run_takes_only_notes_and_corrections() -> None:
    """After an abort only notes and corrections are accepted."""
    hands = Hands()
    hands(c.Abort("power cut"))
    with pytest.raises(r.WrongPhase, match="aborted"):
        hands(c.Begin("bolster"))
    hands(c.Note("the salts were at 250 F"))
    hands(c.Undo())
    hands(c.Undo())
    assert hands.state.bench.phase is RunPhase.RUNNING


def test_the_fold_of_the_log_is_the_state() -> None:
    """Folding all events from the start gives the live state."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 9 * MINUTE)
    hands(c.Undo())
    assert fold(hands.events) == hands.state


def test_a_ceiling_can_depend_on_the_part() -> None:
    """A ceiling from the part's temper less a margin blocks any reading above it."""
    recipe = small_recipe(TEMPERED)
    created = create(
        Now(0),
        uid="",
        title="t",
        recipes={"small": table(recipe)},
        parts=[("blade", "small")],
        properties={"blade": {"temper": "200 C"}},
    )
    bench = fold(created).bench
    check = recipe.step[3].check[0]
    assert isinstance(check, ReadingCheck)
    ceiling = check.ceiling_for(bench.parts["blade"].properties)
    assert ceiling is not None
    assert ceiling.base == pytest.approx(175)
    assert judge_answer(check, "176 C", bench.parts["blade"].properties).above_ceiling
    assert not judge_answer(check, "340 F", bench.parts["blade"].properties).above_ceiling


@pytest.mark.parametrize(
    ("known", "why"),
    [({}, "At what heat"), ({"temper": "10 min"}, "unit of time"), ({"colour": "blue"}, "colour")],
)
def test_properties_the_recipe_needs_are_asked_for(known: dict[str, str], why: str) -> None:
    """A run is refused while a property is missing, wrong or unknown."""
    with pytest.raises(r.Refused, match=why):
        create(
            Now(0),
            uid="",
            title="t",
            recipes={"small": table(small_recipe(TEMPERED))},
            parts=[("blade", "small")],
            properties={"blade": known},
        )


def test_a_check_can_stop_a_part_at_once() -> None:
    """A stop answer holds the part where it is, with the recipe's words."""
    stop = SMALL.replace('to = "prepare", limit = 2, expect = 0.5', 'stop = "It is uneven."')
    hands = Hands(recipe=small_recipe(stop))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    assert kinds(hands(c.Answer("bolster", "even", False))) == ["Answered", "Deviated", "Held"]
    assert hands.part().held == "It is uneven."


@pytest.mark.parametrize(
    ("verdict", "rating", "said"), [("splendid", None, "not a verdict"), ("accepted", 6, "rating")]
)
def test_a_judgment_uses_known_words(verdict: str, rating: int | None, said: str) -> None:
    """An unknown verdict or a rating outside 1 to 5 is refused, with the valid ones."""
    hands = Hands()
    with pytest.raises(r.BadValue, match=said):
        hands(c.Judge("bolster", verdict, rating))


def test_a_part_can_be_judged_in_any_phase_and_undone() -> None:
    """A verdict after the run's end counts, and undo removes only the verdict."""
    hands = Hands()
    hands(c.Abort())
    assert kinds(hands(c.Judge("bolster", "rework", 2))) == ["Judged"]
    hands(c.Undo())
    assert hands.state.bench.phase.value == "aborted"


def test_checks_that_take_turns_come_to_an_end() -> None:
    """Two checks of one step that send back over the same steps don't reset each other."""
    two = SMALL.replace(
        '[[step]]\nid = "hang"',
        '[[step.check]]\nid = "clean"\nkind = "yes-no"\nask = "Clean?"\n'
        'send = { no = { to = "prepare", limit = 2 } }\n\n[[step]]\nid = "hang"',
    )
    hands = Hands(recipe=small_recipe(two))
    for turn in range(4):
        hands.to_tank()
        hands(c.Begin("bolster"), 5 * MINUTE)
        if turn % 2:
            hands(c.Answer("bolster", "clean", False))
        else:
            hands(c.Answer("bolster", "even", False))
    assert hands.part().sent == {"look/even/no": 2, "look/clean/no": 2}
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    assert hands.part().held is not None


def test_an_answer_starts_no_work_in_a_held_run() -> None:
    """While the run is held, the last answer is recorded but no new work begins."""
    hands = Hands()
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Hold(None))
    assert kinds(hands(c.Answer("bolster", "even", True))) == ["Answered"]
    hands(c.Resume(None))
    assert kinds(hands(c.Finish("bolster"))) == ["WorkFinished", "WorkBegan"]
