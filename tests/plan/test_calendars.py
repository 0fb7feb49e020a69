"""Free times, sections, starts and the earliest times of an order, checked second by second."""

from __future__ import annotations

import random
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.plan.earliest import in_line, turns_in
from benchtimer.plan.fixpoint import earliest_starts
from benchtimer.plan.instance import Instance, common, joined
from benchtimer.plan.network import OrderedMove
from benchtimer.plan.placement import Placer
from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    Route,
)
from benchtimer.plan.refit import rebuilt
from benchtimer.plan.sections import sections_of
from benchtimer.plan.timetable import Timetable, rooms_between
from tests.plan import families
from tests.plan.generate import KINDS

pieces = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 12)).map(lambda t: (t[0], t[0] + t[1])), max_size=6
)


def _seconds(spans: list[tuple[int, int]]) -> set[int]:
    return {s for a, b in spans for s in range(max(a, -5), min(b, 99) + 1)}


@given(pieces, st.integers(1, 3))
def test_rooms_are_the_seconds_with_a_free_slot(stays: list[tuple[int, int]], slots: int) -> None:
    """A slot is free in a second when fewer parts than slots are there, ends of a stay included."""
    rooms = rooms_between(stays, slots, ())
    counted = {s for s in range(-5, 100) if sum(a <= s <= b for a, b in stays) < slots}
    assert _seconds(rooms) == counted
    assert all(one[1] + 1 < two[0] for one, two in pairwise(rooms))


@given(pieces, st.integers(0, 50), st.integers(2, 20))
def test_no_room_reaches_into_a_closed_span(
    stays: list[tuple[int, int]], from_s: int, length_s: int
) -> None:
    """A part may leave in the second a place closes and enter in the second it opens."""
    rooms = rooms_between(stays, 2, ((from_s, from_s + length_s),))
    inside = set(range(from_s + 1, from_s + length_s))
    assert not _seconds(rooms) & inside


@given(pieces, pieces)
def test_sets_of_times_are_sets(one: list[tuple[int, int]], two: list[tuple[int, int]]) -> None:
    """``joined`` and ``common`` are the union and the intersection of the seconds."""
    assert _seconds(joined(one)) == _seconds(one)
    assert _seconds(common(joined(one), joined(two))) == _seconds(one) & _seconds(two)


def test_a_part_is_cut_where_it_rests() -> None:
    """A dwell without a max in a place that never fills up ends a section; a tank does not."""
    dwells = (DwellLimits("tank", 60, 90), DwellLimits("rest", 30), DwellLimits("shelf", 10))
    parts = tuple(PlanPart(f"p{n}", Route("r", (Move(10),) * 4, dwells)) for n in range(2))
    problem = Problem((PlanStation("tank"), PlanStation("rest", 9), PlanStation("shelf")), parts)
    sections = sections_of(Instance(problem))
    assert [(s.part, s.first, len(s.hands_s)) for s in sections.values()] == [
        (0, 0, 2), (0, 2, 2), (1, 0, 2), (1, 2, 2),
    ]  # fmt: skip
    assert sections[1].after == [(0, 30)]
    assert sections[0].feeds == [(1, 30)]


def test_removed_spans_leave_nothing() -> None:
    """Placing a part and taking it out again restores the timetable, in mid-run too."""
    for seed in range(8):
        problem = KINDS["midrun"](random.Random(f"out {seed}"))
        placer = Placer(Instance(problem))
        table = Timetable(placer.instance)
        if placer.place_all(table, placer.urgent_first(), random.Random(1)):
            for number in list(table.starts_of):
                placer.take_out(table, number)
            empty = Timetable(placer.instance)
            assert (table.pieces, table.stays) == (empty.pieces, empty.stays)


def test_no_order_has_earlier_times_than_its_fixpoint() -> None:
    """The earliest times of a placed order start no move later and fit the timetable."""
    for seed in range(10):
        problem = families.breaks(4, 2, seed)
        placer = Placer(Instance(problem))
        table = placer.first_plan(random.Random(seed))
        assert table is not None
        turns, starts = turns_in(placer.instance, table)
        least = earliest_starts(placer.instance, turns, starts)
        assert least is not None
        assert all(a <= b for a, b in zip(least, starts, strict=True))
        assert rebuilt(placer, turns, least) is not None
        assert rebuilt(placer, turns, [s - 1 for s in least]) is None


def test_moves_of_no_time_are_placed_before_longer_ones_of_the_same_second() -> None:
    """A part hung up in no time, in the second in which another is picked up, keeps its time."""
    hang = Route("hang", (Move(0), Move(10)), (DwellLimits("rack", 10),))
    soak = Route("soak", (Move(30), Move(10)), (DwellLimits("rack", 10),))
    problem = Problem((PlanStation("rack", 2),), (PlanPart("a", soak), PlanPart("b", hang)))
    placer = Placer(Instance(problem))
    turns = [OrderedMove(1, 0), OrderedMove(0, 0), OrderedMove(1, 1), OrderedMove(0, 1)]
    assert rebuilt(placer, turns, [0, 0, 30, 40]) is not None
    assert rebuilt(placer, turns, [1, 0, 30, 40]) is None


def test_an_order_that_the_hours_forbid_has_no_times() -> None:
    """A dwell of 10 min max can't span an hour off."""
    soak = Route("soak", (Move(60), Move(60)), (DwellLimits("tank", 300, 600),))
    part = PlanPart("a", soak, moves_made=1, entered_s=0)
    problem = Problem((PlanStation("tank"),), (part,), away=(AwayTime(200, 3800),))
    placer = Placer(Instance(problem))
    table = placer.first_plan(random.Random(0))
    assert table is None


def test_equal_parts_keep_their_order() -> None:
    """When an equal part overtakes another, the two swap names from there on."""
    problem = families.breaks(6, 1, 5)
    placer = Placer(Instance(problem))
    table = placer.first_plan(random.Random(3))
    assert table is not None
    turns, starts = turns_in(placer.instance, table)
    assert in_line(placer.instance, turns) == turns
    when = {(t.part, t.move): s for t, s in zip(turns, starts, strict=True)}
    for line in placer.instance.lines:
        for move in range(len(line.route.moves)):
            found = [when[part, move] for part in line.parts]
            assert found == sorted(found)
