"""Words, hours away, changes to a problem, and forms of an answer, each by its own law."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.plan import changes
from benchtimer.plan.away import DAY_S, daily
from benchtimer.plan.earliest import Best
from benchtimer.plan.outcome import (
    Feasible,
    Infeasible,
    Optimal,
    Outcome,
    Plan,
    PlannedDwell,
    PlannedMove,
    ProblemChange,
    Undecided,
    Witness,
)
from benchtimer.plan.plan_words import listed
from benchtimer.plan.planner import _gap, _in_sight, solve
from benchtimer.plan.problem import (
    ENDLESS_S,
    FAR_ROOM_S,
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    ProblemError,
    Route,
)
from benchtimer.plan.problem_check import validate
from benchtimer.plan.targets import Settled
from benchtimer.quantity import parse_duration
from benchtimer.times import duration
from tests.plan.build import equal_parts


@given(st.integers(0, 366 * 86_400))
def test_a_span_reads_back_to_its_seconds(seconds: int) -> None:
    """A time in a sentence reads back to the second, without needless zeros."""
    found = duration(seconds)
    assert parse_duration(found) == seconds
    assert " 0 " not in f" {found} " or found == "0 s"
    if seconds:
        assert duration(-seconds) == f"-{found}"


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(0, "0 s"), (-0.4, "0 s"), (59.6, "1 min"), (3600, "1 h"), (3661, "1 h 1 min 1 s")],
)
def test_a_span_is_rounded_to_whole_seconds(seconds: float, expected: str) -> None:
    """Fractions of a second are rounded, and zero never has a minus sign."""
    assert duration(seconds) == expected


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ([], ""),
        (["pin"], "pin"),
        (["pin", "cap"], "pin and cap"),
        (["pin", "cap", "bolster"], "pin, cap and bolster"),
    ],
)
def test_names_are_listed_in_plain_english(names: list[str], expected: str) -> None:
    """Names are separated by commas, with "and" before the last."""
    assert listed(names) == expected


seconds_of_day = st.integers(0, DAY_S)


@given(seconds_of_day, seconds_of_day, seconds_of_day, st.integers(1, 5), st.data())
def test_away_hours_are_by_the_wall_clock(
    from_s: int, to_s: int, zero_s: int, days: int, data: st.DataObject
) -> None:
    """Every second ahead is away exactly when the clock falls into the hours away."""
    assume((to_s - from_s) % DAY_S > 0)
    windows = daily(from_s, to_s, zero_s, days)
    second = data.draw(st.integers(0, (days - 1) * DAY_S - 1) if days > 1 else st.just(0))
    clock_s = (zero_s + second) % DAY_S
    begin, end = from_s % DAY_S, to_s % DAY_S
    says = begin <= clock_s < end if begin < end else clock_s >= begin or clock_s < end
    assert any(w.from_s <= second < w.to_s for w in windows) == says
    assert all(b.from_s - a.from_s == DAY_S for a, b in pairwise(windows))
    assert all(window.to_s > 0 for window in windows)


PROBLEM = equal_parts(3)


def test_a_slot_is_added_to_one_station_only() -> None:
    """Only the station named changes, by one slot."""
    more = changes.with_slot(PROBLEM, "salts")
    assert [s.holds for s in more.stations] == [3, 3, 3]
    assert replace(more, stations=PROBLEM.stations) == PROBLEM


def test_only_the_named_station_is_back_in_service() -> None:
    """Another shut station stays shut."""
    shut = replace(PROBLEM, stations=tuple(replace(s, in_service=False) for s in PROBLEM.stations))
    opened = changes.in_service(shut, "boil")
    assert [s.in_service for s in opened.stations] == [False, False, True]


@pytest.mark.parametrize(
    ("names", "left"), [({"ferrule 2"}, [1, 3]), (set(), [1, 2, 3]), ({"x"}, [1, 2, 3])]
)
def test_parts_removed_and_parts_kept_add_up(names: set[str], left: list[int]) -> None:
    """Parts taken off and parts kept make the whole bench again, in order."""
    rest = changes.without(PROBLEM, names)
    assert [part.name for part in rest.parts] == [f"ferrule {n}" for n in left]
    kept = changes.only(PROBLEM, names)
    assert {p.name for p in kept.parts} | {p.name for p in rest.parts} == {
        p.name for p in PROBLEM.parts
    }
    assert len(kept.parts) + len(rest.parts) == len(PROBLEM.parts)


def test_a_longer_stay_is_one_dwell_of_one_part() -> None:
    """Other parts of the recipe keep their limits, and so do the part's other dwells."""
    longer = changes.longer(PROBLEM, PROBLEM.parts[1], 1, 60)
    mosts = [[d.max_s for d in part.route.dwells] for part in longer.parts]
    assert mosts == [[900, 1200, 1800], [900, 1260, 1800], [900, 1200, 1800]]
    assert PROBLEM.parts[1].route.dwells[1].max_s == 1200


def test_longer_for_all_leaves_endless_dwells_endless() -> None:
    """Every max grows by the same time; dwells without one get none; routes stay shared."""
    endless = Route("cure", (Move(1),) * 3, (DwellLimits("salts", 5), DwellLimits("boil", 5, 9)))
    mixed = replace(PROBLEM, parts=(*PROBLEM.parts, PlanPart("cap", endless)))
    wide = changes.all_longer(mixed, 7)
    assert [d.max_s for d in wide.parts[-1].route.dwells] == [None, 16]
    assert [d.max_s for d in wide.parts[0].route.dwells] == [907, 1207, 1807]
    assert wide.parts[0].route is wide.parts[1].route


MOVE = PlannedMove("pin", 1, "done", ("dry",), "salts", "done", 70, 90)
STAY = PlannedDwell("pin", 0, "black", "salts", 10, 70, 30, 40, 50)
PLAN = Plan((MOVE,), (STAY,))


@pytest.mark.parametrize(
    ("outcome", "status", "makespan_s"),
    [
        (Optimal(bound_s=90, plan=PLAN), "optimal", 90),
        (Feasible(bound_s=80, plan=PLAN), "feasible", 90),
        (Infeasible(why=("no",)), "infeasible", None),
        (Infeasible(least_bad=PLAN), "infeasible", None),
        (Undecided(bound_s=7), "undecided", None),
        (Optimal(bound_s=0), "optimal", None),
    ],
)
def test_each_outcome_has_its_published_status(
    outcome: Outcome, status: str, makespan_s: int | None
) -> None:
    """The JSON has status and end, and a least bad plan has its own status."""
    found: Any = outcome.as_dict()
    assert (found["status"], found["makespan_s"]) == (status, makespan_s)
    assert found["bound_s"] == outcome.bound_s
    assert found["why"] == list(outcome.why)
    assert len(found["moves"]) == (1 if outcome.plan is not None and outcome.plan.moves else 0)


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (Optimal(elapsed_s=2, plan=PLAN), "proven the earliest"),
        (Feasible(elapsed_s=2, bound_s=80, plan=PLAN), "not proven the earliest"),
        (Infeasible(elapsed_s=2), "no plan keeps every limit"),
        (Undecided(elapsed_s=2.04), "no plan found in 2 s, none ruled out"),
        (Undecided(elapsed_s=75), "no plan found in 1 min 15 s, none ruled out"),
        (Undecided(elapsed_s=0.3), "no plan found in under 1 s, none ruled out"),
        (Undecided(), "no plan found, none ruled out"),
    ],
)
def test_each_status_says_what_is_known(outcome: Outcome, words: str) -> None:
    """Each answer has its own wording; an undecided one neither claims nor rules out a plan."""
    assert outcome.verdict == words


def test_an_undecided_status_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """An undecided answer says no plan was found, none was ruled out, and what to do."""
    open_still = Settled(PROBLEM, Best(bound_s=60))
    monkeypatch.setattr("benchtimer.plan.planner.settle", lambda *_, **__: open_still)
    outcome = solve(PROBLEM)
    assert isinstance(outcome, Undecided)
    found = " ".join(outcome.why)
    assert "a longer search, fewer parts at once" in found
    assert "every limit" not in found


def test_a_plan_past_the_horizon_rules_nothing_out() -> None:
    """If the only plan found is too late, the answer says an earlier one is possible."""
    away = replace(PROBLEM, away=(AwayTime(1, ENDLESS_S),))
    late = Plan((replace(MOVE, start_s=ENDLESS_S, end_s=ENDLESS_S + 20),), ())
    outcome = _in_sight(away, Feasible(bound_s=100, plan=late))
    assert isinstance(outcome, Undecided)
    assert "too short" not in " ".join(outcome.why)
    assert "runs past the days the planner looks ahead" in outcome.why[0]


def test_an_unproven_plan_names_its_length_and_bound() -> None:
    """An unproven plan shows its length and its bound as spans from its beginning."""
    problem = replace(PROBLEM, now_s=-600)
    plan = replace(PLAN, moves=(replace(MOVE, start_s=3000, end_s=3075),))
    found = _gap(problem, plan, 2400.0)
    assert found == "takes 1 h 1 min 15 s; no plan can take less than 50 min"


def test_the_rows_have_the_published_form() -> None:
    """A move and a dwell have exactly their own times and places."""
    found: Any = Optimal(nodes=3, elapsed_s=0.5, bound_s=90, plan=PLAN).as_dict()
    assert found["moves"] == [
        {
            "run": "", "part": "pin", "step": "done", "from": "salts", "to": "done",
            "start_s": 70, "end_s": 90,
        }
    ]  # fmt: skip
    assert found["dwells"] == [
        {
            "run": "", "part": "pin", "step": "black", "place": "salts", "in_s": 10, "out_s": 70,
            "min_s": 30, "target_s": 40, "max_s": 50,
        }
    ]  # fmt: skip
    assert (found["nodes"], found["elapsed_s"]) == (3, 0.5)


@pytest.mark.parametrize(
    ("out_s", "max_s", "over_s"), [(60, 50, 0), (61, 50, 1), (70, 50, 10), (9999, None, 0)]
)
def test_an_overrun_is_the_time_past_max(out_s: int, max_s: int | None, over_s: int) -> None:
    """A stay up to the second of its max has no overrun, nor has a stay without a max."""
    assert replace(STAY, out_s=out_s, max_s=max_s).overrun_s == over_s


def test_lateness_is_measured_against_the_room_to_max() -> None:
    """Five of ten seconds between target and max are half; at or before target there is none."""
    assert replace(STAY, out_s=55).lateness == 0.5
    assert replace(STAY, out_s=45).lateness == 0
    assert replace(STAY, out_s=70, max_s=None).lateness == 0
    assert replace(STAY, out_s=70, max_s=40 + FAR_ROOM_S).lateness == 0


def test_a_run_is_named_beside_its_parts() -> None:
    """With several runs, a part shows its own name and its run's."""
    plan = PLAN.moved(100)
    found: Any = replace(plan.moves[0], part="run-2:pin", run="run-2").as_dict()
    assert (found["run"], found["part"], found["start_s"]) == ("run-2", "pin", 170)


def test_an_outcome_has_its_reasons() -> None:
    """A change is text plus a new problem; a witness without changes is empty."""
    change = ProblemChange("give salts one more slot (3)", changes.with_slot(PROBLEM, "salts"))
    witness = Witness(("no",), changes=(change,))
    assert witness.changes[0].problem.station("salts").holds == 3
    assert Infeasible().witness == Witness(())


@pytest.mark.parametrize("name", ["river", ""])
def test_an_unknown_station_is_not_found(name: str) -> None:
    """Asking for a station the problem lacks raises an error that names it."""
    with pytest.raises(KeyError, match=f"'{name}'"):
        PROBLEM.station(name)


SOAK = Route("r", (Move(10), Move(20)), (DwellLimits("tank", 100, 150, step="soak"),))
MESSAGES = [
    (
        Problem((PlanStation("tank"), PlanStation("rack")), (PlanPart("a", SOAK),), hands_at="sea"),
        "hands at 'sea': no station is called 'sea'; the stations are: rack, tank",
    ),
    (
        Problem((), (PlanPart("a", SOAK),)),
        "route 'r', dwell at 'tank': no station is called 'tank'; the stations are: none",
    ),
    (
        Problem((PlanStation("tank"),), (PlanPart("a", SOAK),), away=(AwayTime(9, 3),)),
        "away window: from 9 s to 3 s; end it after it begins",
    ),
    (
        Problem((PlanStation("tank"),), (PlanPart("a", SOAK, moves_made=-1),)),
        "part 'a': -1 moves made; its route has 2",
    ),
    (
        Problem(
            (PlanStation("tank"),),
            (PlanPart("a", SOAK, moving_s=1), PlanPart("b", SOAK, moving_s=1)),
            hands=2,
        ),
        "station 'tank': holds 1, but a, b are in it or on the way; correct where the parts are",
    ),
]


@pytest.mark.parametrize(("problem", "message"), MESSAGES)
def test_the_words_of_a_contradiction(problem: Problem, message: str) -> None:
    """The full message says what is meant, what was found and what to do."""
    with pytest.raises(ProblemError) as caught:
        validate(problem)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    "part",
    [
        PlanPart("a", SOAK, moves_made=2),
        PlanPart("a", SOAK, moves_made=2, entered_s=99),
        PlanPart("a", SOAK, moves_made=1, entered_s=0),
        PlanPart("a", SOAK, moves_made=1, moving_s=0),
        PlanPart("a", SOAK, moving_s=3),
        PlanPart("a", SOAK, moves_made=1, entered_s=0, held=True),
    ],
)
def test_any_real_bench_is_accepted(part: PlanPart) -> None:
    """Done, in a dwell since this second, in your hands, or held: no contradiction."""
    validate(Problem((PlanStation("tank"),), (part,)))
    assert part.is_done == (part.moves_made == 2)
    assert part.station == ("tank" if part.moves_made == 1 and part.moving_s is None else None)


def test_a_route_names_where_it_leads() -> None:
    """Each move shows its step, or its station if the step has no name; the last shows "done"."""
    dwells = (DwellLimits("tank", 1, step="soak"), DwellLimits("rack", 1))
    route = Route("r", (Move(1, from_station="door"), Move(1), Move(1, to_station="door")), dwells)
    assert [route.leads_to(n) for n in range(3)] == ["soak", "rack", "done"]
    assert [route.came_from(n) for n in range(3)] == ["door", "tank", "rack"]
    assert [route.goes_to(n) for n in range(3)] == ["tank", "rack", "door"]
    assert [replace(dwells[0], target_s=aim).wished_s for aim in (None, 0, 5)] == [1, 0, 5]
