"""Between plan and run: a bench becomes a problem, a plan becomes times on the board."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given

from benchtimer.bench.advice import advise, away_windows, problem_now, rehearsing
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.plans import Advice, stage_of
from benchtimer.plan.outcome import Infeasible, Optimal, Plan, Undecided
from benchtimer.plan.problem import Problem
from benchtimer.rehearsal import rehearse
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.agenda import agenda
from benchtimer.shop.shop_state import ALONE, alone
from benchtimer.store.log import Stamp
from benchtimer.values import replace
from tests.plan.plan_check import check_plan
from tests.run.test_laws import PRESSES, _played
from tests.support import MINUTE, SMALL, Hands, small_recipe, table

HOUR_MS = 3_600_000


def _told(hands: Hands, after_ms: int = 0) -> Advice:
    return advise(alone(hands.state.bench), hands.now_ms + after_ms, nodes=3000)


def test_the_plan_staggers_parts_not_yet_started() -> None:
    """Three parts for one tank start so that each finds it empty, with proof."""
    hands = Hands()
    advice = _told(hands)
    assert isinstance(advice.outcome, Optimal)
    starts = sorted(advice.begin_ms.values())
    assert starts[0] >= hands.now_ms
    # The tank is taken for a dwell of four minutes plus the moves before and after.
    assert all(b - a >= 4 * MINUTE for a, b in pairwise(starts))


def test_the_board_follows_the_plan() -> None:
    """The next action and its time come from the plan, inside the window."""
    hands = Hands()
    hands(c.Read("tank", "65"))
    hands.to_tank()
    advice = _told(hands)
    actions = agenda(hands.state.bench, hands.now_ms, advice.times(ALONE, hands.state.bench))
    lift = next(a for a in actions if a.part == "bolster" and a.kind is ActionKind.BEGIN)
    since = hands.part().since_ms
    assert since + 4 * MINUTE <= lift.due_ms <= since + 8 * MINUTE
    assert lift.due_ms == advice.begin_ms["bolster"]


def test_advice_for_a_part_that_moved_on_is_dropped() -> None:
    """After a press, advice stays valid only for parts that did not move."""
    hands = Hands()
    advice = _told(hands)
    hands(c.Begin("bolster"))
    still = advice.times(ALONE, hands.state.bench).begin_ms
    assert "bolster" not in still
    assert set(still) == {"ferrule", "butt cap"}


def test_a_part_in_hand_is_planned_from_where_it_is() -> None:
    """Work under way keeps its remaining time, and the plan continues after it."""
    hands = Hands(names=("bolster",))
    hands(c.Begin("bolster"))
    problem = problem_now(alone(hands.state.bench), hands.now_ms + 40_000)
    assert problem.parts[0].moving_s == 20 + 20
    assert "bolster" in _told(hands, 40_000).begin_ms


def test_a_station_out_of_service_gets_no_parts() -> None:
    """No plan uses a closed station; with no other way the witness names it."""
    hands = Hands(names=("bolster",))
    hands(c.CloseStation("tank", "leaks"))
    advice = _told(hands)
    assert isinstance(advice.outcome, Infeasible)
    assert "tank" in " ".join(advice.warnings).lower()


def test_held_and_finished_parts_are_left_out() -> None:
    """Parts held outside a station and finished parts are not in the plan."""
    hands = Hands()
    hands(c.Hold("bolster"))
    hands(c.Scrap("ferrule"))
    assert set(_told(hands).begin_ms) == {"butt cap"}


def test_a_part_between_stations_is_planned_first() -> None:
    """A part sent back is planned from the step it was sent to."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    hands(c.Answer("bolster", "even", False))
    problem = problem_now(alone(hands.state.bench), hands.now_ms)
    assert problem.parts[0].route.moves[0].steps[:2] == ("prepare", "dip")
    assert _told(hands).begin_ms["bolster"] == hands.now_ms


def test_an_unavoidable_overrun_comes_with_the_least_bad_plan() -> None:
    """Past max the planner names the part and the overrun, and still plans the pull."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank("bolster")
    advice = _told(hands, 9 * MINUTE)
    text = " ".join(advice.warnings)
    assert advice.begin_ms["bolster"] == hands.now_ms + 9 * MINUTE
    # The proof covers some late part; this one is late in the best plan found.
    assert text == "NOW UNAVOIDABLE. When pulled, by the best plan: #1 1 min past max."


def test_out_of_time_there_is_still_a_plan() -> None:
    """Stopped at once, the planner still returns a plan, since placing takes milliseconds."""
    hands = Hands()
    advice = advise(alone(hands.state.bench), hands.now_ms, stop=lambda: True)
    assert set(advice.begin_ms) == {"bolster", "ferrule", "butt cap"}


def test_an_earlier_plan_moves_on_with_the_clock() -> None:
    """Ten minutes later with no press, the new plan starts from now."""
    hands = Hands()
    before = advise(alone(hands.state.bench), hands.now_ms)
    later_ms = hands.now_ms + 10 * MINUTE * 1000
    again = advise(alone(hands.state.bench), later_ms, previous=before)
    assert min(again.begin_ms.values()) >= later_ms
    assert not again.warnings


def test_the_same_question_gets_the_same_plan_without_a_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """If only the time has changed, a proven plan moves on whole; a press is a new question."""
    hands = Hands()
    before = advise(alone(hands.state.bench), hands.now_ms)
    before = replace(before, latest_ms={"bolster": hands.now_ms + HOUR_MS})
    later_ms = hands.now_ms + 10 * MINUTE
    kept: list[Plan | None] = []

    def noted(_: Problem, *, previous: Plan | None, **__: object) -> Undecided:
        kept.append(previous)
        return Undecided()

    monkeypatch.setattr("benchtimer.bench.advice.solve", noted)
    again = advise(alone(hands.state.bench), later_ms, previous=before)
    assert kept == []
    assert again.outcome is before.outcome
    for name in ("begin_ms", "latest_ms"):
        moved = {key: t_ms + 10 * MINUTE for key, t_ms in getattr(before, name).items()}
        assert getattr(again, name) == moved != {}
    assert (again.now_ms, again.end_ms) == (later_ms, (before.end_ms or 0) + 10 * MINUTE)
    assert [move.start_ms for move in again.moves] == [
        move.start_ms + 10 * MINUTE for move in before.moves
    ]
    advise(alone(hands.state.bench), later_ms, previous=replace(before, outcome=Undecided()))
    assert kept == [None]  # what is not proven is looked at again
    hands.now_ms = later_ms
    hands(c.Begin("bolster"), MINUTE)
    advise(alone(hands.state.bench), hands.now_ms, previous=again)
    assert before.plan is not None
    assert kept[1:] == [before.plan.moved(-60)]


def test_a_bench_with_no_plan_in_time_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    """If no plan is found in time, nothing is called impossible and no time comes from one."""
    monkeypatch.setattr("benchtimer.bench.advice.solve", lambda *_, **__: Undecided())
    hands = Hands()
    advice = advise(alone(hands.state.bench), hands.now_ms)
    assert isinstance(advice.outcome, Undecided)
    assert (dict(advice.begin_ms), advice.end_ms) == ({}, None)
    assert advice.warnings == ("NO PLAN found, none ruled out: each part follows its own times.",)


def test_more_parts_in_hand_than_hands_still_get_advice() -> None:
    """A maker with two parts in hand still gets advice."""
    hands = Hands()
    hands(c.Begin("bolster"))
    hands(c.Begin("ferrule"))
    advice = _told(hands)
    assert not advice.warnings
    assert set(advice.begin_ms) >= {"butt cap"}


def test_a_bench_with_no_way_out_is_reported() -> None:
    """A part bound for a rack that never empties gets a warning in words."""
    recipe = small_recipe(SMALL.replace("holds = 4", "holds = 1"))
    hands = Hands(recipe=recipe, names=("bolster", "ferrule"))
    for name in ("bolster", "ferrule"):
        hands.to_tank(name)
        hands(c.Begin(name), 5 * MINUTE)
        hands(c.Answer(name, "even", True))
        hands(c.Answer(name, "heat", "25 C"))
        if name == "bolster":
            hands(c.Finish(name))
            hands(c.Hold(name))
    advice = _told(hands)
    assert advice.warnings
    assert "rack" in " ".join(advice.warnings).lower()


@given(PRESSES)
def test_advice_for_any_bench_keeps_every_rule(presses: list[tuple[c.Command, int]]) -> None:
    """After any presses the planner answers, and each feasible plan keeps every rule."""
    hands = _played(presses)
    advice = advise(alone(hands.state.bench), hands.now_ms, nodes=300)
    assert set(advice.stages) == {p.name for p in hands.state.bench.parts.values()}
    for name in advice.begin_ms:
        assert advice.stages[name] == stage_of(hands.part(name))
        assert advice.begin_ms[name] >= hands.now_ms
    if advice.plan is not None and not isinstance(advice.outcome, Infeasible):
        assert check_plan(problem_now(alone(hands.state.bench), hands.now_ms), advice.plan) == []


def test_following_the_plan_never_overruns_a_wide_window() -> None:
    """Simulated hands that follow a feasible plan are on time."""
    table_text = table(small_recipe())
    new = NewRun("Test", {"small": table_text}, [(n, "small") for n in ("a", "b", "c", "d")])
    for seed in range(5):
        record = rehearse(new, seed, advice=rehearsing())
        assert record.phase == "complete"
        assert not [d for d in record.deviations if d.what == "overrun"]


@pytest.mark.parametrize(
    ("hours", "windows"),
    [
        (["22:00-07:00"], [(10 * 3600, 19 * 3600), (34 * 3600, 43 * 3600)]),
        (["12:30-13:00"], [(1800, 3600), (88_200, 90_000)]),
        (["11:00-13:00"], [(0, 3600), (82_800, 90_000)]),
        (["12:00-13:00", "13:00-14:00"], [(0, 7200), (86_400, 93_600)]),
    ],
)
def test_away_hours_become_windows(hours: list[str], windows: list[tuple[int, int]]) -> None:
    """Times of day become seconds from now, across midnight, joined where they touch."""
    noon = Stamp(0, None, 0, 1_770_033_600_000 - HOUR_MS, 3600)  # 2026-02-02 12:00 at UTC+1
    found = away_windows(hours, noon)
    assert [(w.from_s, w.to_s) for w in found[:2]] == windows
    assert len(found) >= 13


@pytest.mark.parametrize("text", ["22-07", "22:00", "25:99-07:00", "", "a-b", "22:00-"])
def test_bad_away_hours_are_refused(text: str) -> None:
    """A malformed pair of times is quoted, with an example of the right form."""
    if text == "22-07":
        text = "22:0x-07:00"
    with pytest.raises(ValueError, match="write it like"):
        away_windows([text], Stamp(0, None, 0, 0, 0))


def test_a_part_bound_for_a_full_place_waits_for_the_pull() -> None:
    """A part on its way to a full tank is planned after the part that leaves it."""
    hands = Hands(names=("bolster", "ferrule"))
    hands.to_tank("bolster")
    hands(c.Begin("ferrule"))
    advice = _told(hands)
    assert not advice.warnings
    assert advice.begin_ms["bolster"] < advice.begin_ms["ferrule"]


def test_rehearsed_hands_do_nothing_while_you_are_away() -> None:
    """Simulated hands set up the run with its hours away and begin nothing in them."""
    table_text = table(small_recipe())
    parts = [(n, "small") for n in ("a", "b", "c", "d")]
    new = NewRun("Test", {"small": table_text}, parts, away=("08:05-09:00",))
    record = rehearse(new, 1, advice=rehearsing())
    begun = [v.began_s for p in record.parts for v in p.visits if v.began_s is not None]
    assert not [s for s in begun if 300 <= s < 3600]
    assert max(begun) >= 3600
