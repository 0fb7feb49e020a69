"""Times of a fixed order and working hours, checked by plain arithmetic on every second."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from benchtimer.plan.instance import Instance
from benchtimer.plan.network import (
    ORIGIN,
    Edge,
    OrderedMove,
    PositiveCycleError,
    earliest,
    hands_now,
    latest,
    order_edges,
)
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
    Walk,
)
from tests.plan.build import route

NODES = 5
nodes = st.integers(0, NODES - 1)
rules = st.lists(
    st.builds(Edge, nodes, nodes, st.integers(-9, 9), st.sampled_from("abc")), max_size=9
)


def _with_floor(edges: list[Edge]) -> list[Edge]:
    """Adds edges that keep every node at or after time zero, so each can be reached."""
    return [*(Edge(ORIGIN, node, 0, "not before") for node in range(1, NODES)), *edges]


def _longest(edges: list[Edge]) -> list[list[float]]:
    """Longest paths between all nodes, with each node as an intermediate stop (Floyd)."""
    far = [[0.0 if a == b else -inf for b in range(NODES)] for a in range(NODES)]
    for edge in edges:
        far[edge.before][edge.after] = max(far[edge.before][edge.after], edge.weight_s)
    for stop in range(NODES):
        for a in range(NODES):
            for b in range(NODES):
                far[a][b] = max(far[a][b], far[a][stop] + far[stop][b])
    return far


@given(rules)
def test_times_are_the_earliest_that_keep_every_rule(result: list[Edge]) -> None:
    """Each time is the longest path from time zero; only a positive cycle leaves no times."""
    edges = _with_floor(result)
    far = _longest(edges)
    if any(far[node][node] > 0 for node in range(NODES)):
        with pytest.raises(PositiveCycleError):
            earliest(NODES, edges)
    else:
        assert earliest(NODES, edges) == far[ORIGIN]


def _contradiction(edges: list[Edge]) -> PositiveCycleError | None:
    try:
        earliest(NODES, edges)
    except PositiveCycleError as error:
        return error
    return None


@example([Edge(1, 2, -5, "a"), Edge(1, 1, 1, "a")])
@given(rules)
def test_a_contradiction_is_shown_by_a_cycle_of_rules(result: list[Edge]) -> None:
    """The rules named form a cycle whose gaps add up to more than zero."""
    edges = _with_floor(result)
    error = _contradiction(edges)
    assume(error is not None)
    assert error is not None
    ring = error.edges
    assert set(ring) <= set(edges)
    assert all(a.after == b.before for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))
    weight = sum(edge.weight_s for edge in ring)
    assert weight > 0
    assert str(error).startswith(f"a cycle of {weight} s: ")


@given(rules, st.integers(1, NODES - 1))
def test_the_latest_time_is_the_last_feasible_one(result: list[Edge], node: int) -> None:
    """A node may wait until its latest time and not a second longer."""
    edges = _with_floor(result)
    assume(_contradiction(edges) is None)
    last = latest(NODES, edges, node)
    if last == inf:
        earliest(NODES, [*edges, Edge(ORIGIN, node, 10_000, "wait")])
        return
    earliest(NODES, [*edges, Edge(ORIGIN, node, int(last), "wait")])
    with pytest.raises(PositiveCycleError):
        earliest(NODES, [*edges, Edge(ORIGIN, node, int(last) + 1, "wait")])


HORIZON = 60
spans = st.lists(st.tuples(st.integers(-20, 50), st.integers(1, 15)), max_size=4)


def _hours(result: list[tuple[int, int]], now_s: int) -> tuple[Instance, set[int]]:
    """An instance with these hours away, and the later seconds when someone is there."""
    away = tuple(AwayTime(begin, begin + long) for begin, long in result)
    part = PlanPart("a", route("r", [1, 1], [("tank", 1, None)]))
    instance = Instance(Problem((PlanStation("tank"),), (part,), away=away, now_s=now_s))
    there = {s for s in range(now_s, HORIZON + 40) if not any(a <= s < a + n for a, n in result)}
    return instance, there


@given(spans, st.integers(-10, 30))
def test_the_open_spans_are_the_hours_you_are_there(
    result: list[tuple[int, int]], now_s: int
) -> None:
    """Hours away in any order, overlapping or past, leave exactly the seconds between them."""
    instance, there = _hours(result, now_s)
    found = {
        s
        for open_s, close_s in instance.gaps
        for s in range(open_s, int(min(close_s, HORIZON + 40)))
    }
    assert found == there
    ends = [limit for gap in instance.gaps for limit in gap]
    assert ends == sorted(ends)


@given(spans, st.integers(0, HORIZON), st.integers(1, 12))
def test_a_move_begins_at_the_first_second_where_it_fits(
    result: list[tuple[int, int]], ready_s: int, hands_s: int
) -> None:
    """The earliest start is the first second from which someone is there to the end of the move."""
    instance, there = _hours(result, 0)
    first = next(
        s for s in range(ready_s, HORIZON + 40) if all(t in there for t in range(s, s + hands_s))
    )
    assert instance.first_start_s(ready_s, hands_s) == first


SOAK = Route("soak", (Move(10), Move(20)), (DwellLimits("tank", 100, 150),))
DOOR = (PlanStation("tank"), PlanStation("door"))


def test_the_rules_of_an_order_are_those_of_the_bench() -> None:
    """For two parts in turn, start, hands, min and max become seconds between two starts."""
    parts = (PlanPart("a", SOAK, release_s=7), PlanPart("b", SOAK, moves_made=1, entered_s=-30))
    problem = Problem((PlanStation("tank", 2),), parts, away=(AwayTime(500, 600),))
    edges = order_edges(
        Instance(problem), [OrderedMove(0, 0), OrderedMove(1, 1), OrderedMove(0, 1)]
    )
    result = {(e.before, e.after, e.rule): e.weight_s for e in edges}
    assert result == {
        (0, 1, "you are there"): 0,
        (1, 0, "no later working time is known"): -490,
        (0, 1, "the hands are busy now"): 0,
        (0, 1, "the part is there"): 7,
        (0, 2, "you are there"): 0,
        (2, 0, "no later working time is known"): -480,
        (1, 2, "one pair of hands"): 10,
        (0, 2, "min"): 70,
        (2, 0, "max"): -120,
        (0, 3, "you are there"): 0,
        (3, 0, "no later working time is known"): -480,
        (2, 3, "one pair of hands"): 20,
        (1, 3, "min"): 110,
        (3, 1, "max"): -160,
    }


def test_hands_walk_from_their_current_place() -> None:
    """The first move waits for the walk from where the hands are, the second for its own."""
    walks = (Walk("door", "tank", 9), Walk("tank", "door", 4))
    first = Route("r", (Move(10, from_station="tank"), Move(20)), (DwellLimits("tank", 100),))
    problem = Problem(DOOR, (PlanPart("a", first),), walks, hands_at="door", now_s=5)
    edges = order_edges(Instance(problem), [OrderedMove(0, 0), OrderedMove(0, 1)])
    result = {(e.before, e.after, e.rule): e.weight_s for e in edges}
    assert result[0, 1, "the hands are busy now"] == 14
    assert result[1, 2, "one pair of hands"] == 10
    assert hands_now(Instance(problem)) == [(5, 1)]


def test_hands_that_hold_a_part_are_free_when_it_is_down() -> None:
    """With two pairs, one in mid-move is free later, at the station it goes to."""
    parts = (PlanPart("a", SOAK, moving_s=8), PlanPart("b", SOAK))
    problem = Problem(DOOR, parts, hands=2, now_s=100)
    assert hands_now(Instance(problem)) == [(108, 0), (100, -1)]


def test_a_slot_is_emptied_before_other_hands_fill_it() -> None:
    """With two pairs of hands, the pull begins before the other move's load ends."""
    quick = Route("quick", (Move(0), Move(20)), (DwellLimits("tank", 10, 15),))
    for whole, shift in ((SOAK, 1 - SOAK.moves[0].hands_s), (quick, 1)):
        parts = (PlanPart("a", whole), PlanPart("b", whole))
        problem = Problem((PlanStation("tank"),), parts, hands=2)
        turns = [
            OrderedMove(0, 0),
            OrderedMove(0, 1),
            OrderedMove(1, 0, hands=1),
            OrderedMove(1, 1, hands=1),
        ]
        edges = order_edges(Instance(problem), turns)
        slots = [(e.before, e.after, e.weight_s) for e in edges if e.rule == "the slot is empty"]
        assert slots == [(2, 3, shift)]


def test_a_part_on_its_way_does_not_keep_a_slot_from_one_that_comes_first() -> None:
    """Of two slots, one is taken, and one waits for a part that comes after another has left."""
    route = Route("r", (Move(15), Move(15)), (DwellLimits("tank", 10),))
    parts = (
        PlanPart("a", route, moves_made=1, entered_s=-60),
        PlanPart("b", route),
        PlanPart("c", route, moving_s=50),
    )
    instance = Instance(Problem((PlanStation("tank", 2),), parts, hands=2))
    turns = [OrderedMove(1, 0, 1), OrderedMove(0, 1, 1), OrderedMove(1, 1, 0), OrderedMove(2, 1, 0)]
    edges = order_edges(instance, turns, [0, 15, 60, 80])
    assert earliest(5, edges) == [0, 0, 15, 50, 65]
    slots = [(e.before, e.after, e.weight_s) for e in edges if e.rule == "the slot is empty"]
    assert slots == [(2, 0, -49)]
