"""From recipes to the planning problem: moves, windows, repeats, and a bench in mid-run."""

from __future__ import annotations

import pytest

from benchtimer.plan.from_recipe import (
    dwelling_part,
    handled_part,
    plan_problem,
    problem_of,
    route_of,
    visits_of,
    waiting_part,
)
from benchtimer.plan.planner import solve
from benchtimer.plan.problem import AwayTime, DwellLimits, Problem, ProblemError, Walk
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.recipe_files import RecipeFiles
from tests.plan.plan_check import check_plan

ETCH = """
schema = 1
title = "Etch in short cycles"

[[station]]
id = "etch"
title = "Etching tray"
holds = 2

[[station]]
id = "soda"
title = "Neutralizing tray"

[walk.etch]
soda = "4 s"

[[step]]
id = "degrease"
title = "Wipe with solvent"
hands = "60 s"

[[step]]
id = "dip"
title = "Into the etchant"
at = "etch"
hands = "15 s"
dwell = { min = "4 min", target = "5 min", max = "7 min" }

[[step]]
id = "look"
title = "Lift and look at the lines"
hands = "40 s"
[[step.check]]
id = "depth"
kind = "yes-no"
ask = "Deep enough?"
send = { no = { to = "dip", limit = 6, expect = EXPECT } }

[[step]]
id = "neutralize"
title = "Into the soda"
at = "soda"
hands = "20 s"
dwell = { min = "10 min", target = "10 min" }
"""


def _etch(expect: str = "2") -> Recipe:
    text = ETCH.replace("EXPECT", expect)
    return parse_recipe(text.encode(), name="etch.toml", default_id="etch")


def test_hands_on_steps_join_into_one_move() -> None:
    """Steps up to and including the next dwell form one move; a last dwell gets a last pull."""
    route = route_of(_etch("0"))
    assert [(m.hands_s, m.steps) for m in route.moves] == [
        (75, ("degrease", "dip")), (60, ("look", "neutralize")), (0, ()),
    ]  # fmt: skip
    assert route.dwells == (
        DwellLimits("etch", 240, 420, 300, "dip"),
        DwellLimits("soda", 600, None, 600, "neutralize"),
    )  # fmt: skip


@pytest.mark.parametrize(("expect", "repeats"), [("0", 0), ("0.4", 0), ("0.5", 1), ("2", 2)])
def test_expected_repeats_make_the_route_longer(expect: str, repeats: int) -> None:
    """Each expected "no" sends the part through its section once more."""
    route = route_of(_etch(expect))
    assert [d.station for d in route.dwells] == ["etch"] * (1 + repeats) + ["soda"]
    assert [m.steps for m in route.moves[1 : 1 + repeats]] == [("look", "dip")] * repeats


def test_repeats_inside_repeats_count_again() -> None:
    """An inner check expected once counts again after each send-back by the outer check."""
    outer = """
[[step]]
id = "inspect"
title = "Inspect"
hands = "30 s"
[[step.check]]
id = "finish"
kind = "yes-no"
ask = "Even?"
send = { no = { to = "degrease", limit = 3, expect = 1 } }
"""
    text = ETCH.replace("EXPECT", "1") + outer
    recipe = parse_recipe(text.encode(), name="etch.toml", default_id="etch")
    steps = [recipe.step[index].id for index, _ in visits_of(recipe)]
    once = ["degrease", "dip", "look", "dip", "look", "neutralize", "inspect"]
    assert steps == once + once


def test_repeats_without_end_are_an_error() -> None:
    """Expected repeats that multiply past a day raise an error that names the recipe."""
    step = """
[[step]]
id = "s{n}"
title = "Again"
hands = "5 s"
[[step.check]]
id = "c"
kind = "yes-no"
ask = "Good?"
send = {{ no = {{ to = "degrease", limit = 99, expect = 99 }} }}
"""
    text = ETCH.replace("EXPECT", "6") + "".join(step.format(n=n) for n in range(3))
    recipe = parse_recipe(text.encode(), name="etch.toml", default_id="etch")
    with pytest.raises(ProblemError, match="recipe 'etch'"):
        route_of(recipe)


def test_stations_walks_and_away_hours_are_included() -> None:
    """The problem has the recipe's places, its walks both ways, and the caller's hours away."""
    placed = put({"etch": _etch()})
    problem = plan_problem(
        placed,
        [("blade", "etch"), ("bolster", "etch")],
        {"bolster": 90},
        away=[AwayTime(5000, 9000)],
    )
    assert {(s.name, s.holds) for s in problem.stations} == {("etch", 2), ("soda", 1)}
    assert set(problem.walks) == {Walk("etch", "soda", 4), Walk("soda", "etch", 4)}
    assert [p.release_s for p in problem.parts] == [0, 90]
    plan = solve(problem).plan
    assert plan is not None
    assert check_plan(problem, plan) == []


def test_a_bench_in_the_middle_of_a_run() -> None:
    """Parts in a dwell, in your hands and waiting share one route and are planned together."""
    recipe = _etch()
    parts = [
        dwelling_part("a", recipe, 1, -100, made={"look/depth/no": 1}),
        handled_part("b", recipe, 0, 50),
        waiting_part("c", recipe),
    ]
    assert parts[0].route == parts[2].route
    assert parts[0].moves_made == 2
    assert parts[1].moving_s == 75 - 50
    problem = problem_of([recipe], parts)
    plan = solve(problem).plan
    assert plan is not None
    assert check_plan(problem, plan) == []


def test_more_repeats_than_expected_make_their_own_route() -> None:
    """A part sent back more often than expected continues from where it is."""
    part = dwelling_part("a", _etch("0"), 1, -5, made={"look/depth/no": 3})
    assert [d.station for d in part.route.dwells] == ["etch", "soda"]
    late = handled_part("b", _etch("1"), 2, 100, made={"look/depth/no": 5})
    assert late.moving_s == 20
    assert [d.station for d in late.route.dwells][late.moves_made :] == ["soda"]


def test_a_part_in_hand_continues_its_whole_route() -> None:
    """A part in your hands counts the moves already made, so it joins the others in one line."""
    part = handled_part("b", _etch("1"), 2, 15)
    assert part.route == route_of(_etch("1"))
    assert (part.moves_made, part.moving_s) == (1, 40 - 15 + 15)
    assert handled_part("b", _etch("1"), 2, 0, made={"look/depth/no": 1}).moves_made == 2
    assert handled_part("b", _etch("0"), 2, 999).moving_s == 20


def test_a_part_in_no_station_starts_from_where_it_is() -> None:
    """A part sent back or pulled starts with the work from that step to the next dwell."""
    part = waiting_part("a", _etch("0"), 2)
    assert [m.steps for m in part.route.moves] == [("look", "neutralize"), ()]
    assert (part.moves_made, part.entered_s, part.station) == (0, None, None)
    again = waiting_part("a", _etch("2"), 1, made={"look/depth/no": 1})
    assert [d.station for d in again.route.dwells] == ["etch", "etch", "soda"]


def test_a_part_is_in_no_dwell_of_a_step_that_has_none() -> None:
    """A part reported in a dwell of a step without one raises an error that names the step."""
    with pytest.raises(ProblemError, match="step 'degrease': no dwell at a station; give it both"):
        dwelling_part("a", _etch(), 0, -5, made={"look/depth/no": 9})


def test_a_held_part_keeps_its_place_in_the_route() -> None:
    """A part held in its dwell counts its moves like any other."""
    held = dwelling_part("a", _etch("0"), 1, -5, held=True)
    assert (held.held, held.moves_made, held.station) == (True, 1, "etch")


def test_where_recipes_share_a_place_the_smaller_holds_counts() -> None:
    """A shared place holds what its smallest recipe says; walks are the first recipe's."""
    far = ETCH.replace("EXPECT", "0").replace("holds = 2", "holds = 5")
    far = far.replace('soda = "4 s"', 'soda = "9 s"')
    other = parse_recipe(far.encode(), name="far.toml", default_id="far")
    near = problem_of([_etch("0"), other], [])
    assert (near.station("etch").holds, near.walks[0].walk_s) == (2, 4)
    other_way = problem_of([other, _etch("0")], [], out_of_service=["soda"])
    assert (other_way.station("etch").holds, other_way.walks[0].walk_s) == (2, 9)
    assert [s.in_service for s in other_way.stations] == [True, False]


def test_two_places_with_one_id_are_planned_as_two() -> None:
    """Two recipes whose stations are both called "etch" but differ never wait for each other."""
    acid = ETCH.replace("EXPECT", "0").replace('title = "Etching tray"', 'title = "Acid tank"')
    other = parse_recipe(acid.encode(), name="acid.toml", default_id="acid")
    placed = put({"etch": _etch("0"), "acid": other})
    problem = plan_problem(placed, [("blade", "etch"), ("bolster", "acid")])
    assert {s.name for s in problem.stations} == {"etch", "acid-etch", "soda"}
    stays = [{d.station for d in part.route.dwells} for part in problem.parts]
    assert stays == [{"etch", "soda"}, {"acid-etch", "soda"}]


def test_an_unknown_station_out_of_service_is_an_error() -> None:
    """Shutting a station that no recipe has raises an error."""
    recipe = _etch()
    with pytest.raises(ProblemError, match="'river'"):
        problem_of([recipe], [waiting_part("a", recipe)], out_of_service=["river"])


def test_a_problem_of_nothing_is_empty() -> None:
    """No recipes and no parts make an empty problem."""
    assert problem_of([], []) == Problem((), ())


def test_two_answers_of_one_check_share_its_passes() -> None:
    """Gray and dark gray send a part back as often as the sum of both, not the product.

    Slow rust bluing expects 2.5 more cycles for each of the two: seven coats in all.
    """
    recipe = RecipeFiles().find("slow-rust-blue")
    coats = [recipe.step[index].id for index, _ in visits_of(recipe)].count("coat")
    assert coats == 7
