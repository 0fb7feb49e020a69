"""The steady interval: small lines by trying every interval, laws, words and budgets."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import ceil

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from benchtimer.plan.cadence import Cadence, cadence, settle
from benchtimer.plan.problem import DwellLimits, Move, PlanStation, ProblemError, Route
from benchtimer.plan.search_limits import SearchLimits
from tests.plan.cyclic import Line, seeded

some = settings(max_examples=25, deadline=None, derandomize=True)


def _one(hands: tuple[int, int], least: int, most: int | None, holds: int = 1) -> Line:
    dwells = (DwellLimits("tank", least, most),)
    return (PlanStation("tank", holds),), Route("one", tuple(Move(h) for h in hands), dwells), ()


@some
@given(
    st.tuples(st.integers(1, 30), st.integers(1, 30)),
    st.integers(0, 100),
    st.integers(0, 60),
    st.integers(1, 4),
)
@example((5, 5), 0, 0, 1)
def test_one_tank_by_trying_every_interval(
    hands: tuple[int, int], least: int, slack: int, holds: int
) -> None:
    """The shortest interval is the first that fits some dwell in the window, by trying all."""

    def fits(period: int) -> bool:
        for stay in range(least, least + slack + 1):
            lift = (hands[0] + stay) % period
            free = hands[0] <= lift and lift + hands[1] <= period
            if free and hands[0] + stay + hands[1] <= holds * period:
                return True
        return False

    want = next(period for period in range(sum(hands), 1000) if fits(period))
    answer = cadence(*_one(hands, least, least + slack, holds))
    assert (answer.status, answer.cadence_s, answer.bound_s) == ("optimal", want, want)


def _solved(line: Line) -> tuple[Cadence, int]:
    answer = cadence(*line)
    assert answer.status == "optimal"
    assert answer.cadence_s == answer.bound_s
    assert answer.cadence_s is not None
    return answer, answer.cadence_s


seeds = st.integers(0, 200)


@some
@given(seeds)
def test_an_interval_holds_all_the_work(seed: int) -> None:
    """Neither the hands nor a slot is busy for longer than the interval."""
    line = stations, route, _ = seeded(seed)
    answer, period = _solved(line)
    work = sum(move.hands_s for move in route.moves)
    assert answer.hands_busy == pytest.approx(work / period)
    assert answer.hands_busy <= 1
    holds = {station.name: station.holds for station in stations}
    for n, dwell in enumerate(route.dwells):
        in_slot = route.moves[n].hands_s + dwell.min_s + route.moves[n + 1].hands_s
        assert period * holds[dwell.station] >= in_slot


@some
@given(seeds)
def test_starts_begin_at_zero_and_keep_every_dwell(seed: int) -> None:
    """A part's moves are in order, and its dwells are within their windows."""
    line = _, route, _ = seeded(seed)
    answer, period = _solved(line)
    assert answer.starts_s[0] == 0
    flow = answer.starts_s[-1] + route.moves[-1].hands_s
    assert answer.parts_at_once == ceil(flow / period)
    for (a, b), move, dwell in zip(
        pairwise(answer.starts_s), route.moves, route.dwells, strict=False
    ):
        assert dwell.min_s <= b - a - move.hands_s <= (dwell.max_s or b)


@some
@given(seeds, st.integers(2, 9))
def test_the_interval_grows_with_the_clock(seed: int, by: int) -> None:
    """Multiplying all times by a factor multiplies the interval by it."""
    line = stations, route, walks = seeded(seed)
    moves = tuple(replace(m, hands_s=by * m.hands_s) for m in route.moves)
    dwells = tuple(replace(d, min_s=by * d.min_s, max_s=by * (d.max_s or 0)) for d in route.dwells)
    longer = tuple(replace(w, walk_s=by * w.walk_s) for w in walks)
    scaled = stations, replace(route, moves=moves, dwells=dwells), longer
    assert _solved(scaled)[1] <= by * _solved(line)[1]
    assert _solved(scaled)[1] > by * (_solved(line)[1] - 1)


def _roomier(line: Line) -> Line:
    stations, route, walks = line
    return tuple(replace(s, holds=s.holds + 1) for s in stations), route, walks


def _wider(line: Line) -> Line:
    stations, route, walks = line
    dwells = tuple(replace(d, max_s=None) for d in route.dwells)
    return stations, replace(route, dwells=dwells), walks


def _nearer(line: Line) -> Line:
    return line[0], line[1], ()


@pytest.mark.parametrize("easier", [_roomier, _wider, _nearer])
@settings(some, max_examples=12)
@given(seed=seeds)
def test_more_slots_more_time_or_shorter_walks_never_lengthen_the_interval(
    easier: object, seed: int
) -> None:
    """More slots, no max or no walks never lengthen the interval."""
    assert callable(easier)
    line = seeded(seed)
    assert _solved(easier(line))[1] <= _solved(line)[1]


def test_names_do_not_affect_the_interval() -> None:
    """Renaming tanks and route leaves interval and times unchanged."""
    stations, route, walks = seeded(3)
    result = {s.name: f"tank {n}" for n, s in enumerate(stations)}
    renamed = (
        tuple(replace(s, name=result[s.name]) for s in stations),
        replace(
            route,
            name="x",
            dwells=tuple(replace(d, station=result[d.station]) for d in route.dwells),
        ),
        tuple(
            replace(w, from_station=result[w.from_station], to_station=result[w.to_station])
            for w in walks
        ),
    )
    assert cadence(*renamed) == cadence(stations, route, walks)


def test_a_closed_tank_leaves_no_interval() -> None:
    """A route through a shut tank has neither interval nor bound, and the answer names the tank."""
    route = Route("r", (Move(5),) * 3, (DwellLimits("a", 10, 10), DwellLimits("b", 10, 10)))
    shut = cadence((PlanStation("a"), PlanStation("b", in_service=False)), route)
    assert (shut.status, shut.cadence_s, shut.bound_s) == ("infeasible", None, None)
    assert shut.why == ("b is out of service",)


def test_a_line_that_contradicts_itself_is_refused() -> None:
    """A route through an unknown tank raises an error with its name."""
    with pytest.raises(ProblemError, match="no station is called 'tank'"):
        cadence((PlanStation("rack"),), _one((5, 5), 10, 20)[1])


@some
@given(seeds, st.integers(0, 40))
def test_the_answer_is_true_whenever_it_is_stopped(seed: int, nodes: int) -> None:
    """Stopped early, the search returns an interval that works and a bound below the optimum."""
    line = seeded(seed)
    _, best_s = _solved(line)
    cadence_found = cadence(*line, SearchLimits(nodes=nodes))
    assert cadence_found.status in ("optimal", "feasible")
    assert (cadence_found.bound_s or 0) <= best_s <= (cadence_found.cadence_s or 0)
    if cadence_found.status == "optimal":
        assert cadence_found.cadence_s == best_s


def test_a_stop_flag_and_a_clock_end_the_search() -> None:
    """Stopped by its caller or out of time, the search offers one part at a time."""
    line = seeded(1)
    stopped = cadence(*line, SearchLimits(stop=lambda: True))
    ticks = iter(range(1000))
    timed = cadence(*line, SearchLimits(2, lambda: float(next(ticks))))
    for answer in (stopped, timed):
        assert answer.status == "feasible"
        assert answer.cadence_s is not None
        assert answer.parts_at_once == 1
    assert timed.elapsed_s >= 2


def test_the_published_form_of_an_interval() -> None:
    """The JSON has the documented names, in order, with their values."""
    result = cadence(*_one((10, 10), 100, 100, 2)).as_dict()
    assert result == {
        "status": "optimal",
        "cadence_s": 60,
        "bound_s": 60,
        "starts_s": [0, 110],
        "parts_at_once": 2,
        "hands_busy": pytest.approx(1 / 3),
        "why": [],
        "nodes": result["nodes"],
        "elapsed_s": 0.0,
    }
    assert list(result)[:4] == ["status", "cadence_s", "bound_s", "starts_s"]


arcs = st.lists(
    st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(-20, 20), st.integers(-1, 2)),
    max_size=8,
)


@given(arcs, st.integers(1, 10))
def test_times_settle_at_the_shortest_feasible_interval(
    result: list[tuple[int, int, int, int]], period: int
) -> None:
    """The interval found keeps every arc, and no shorter one from the first on does."""
    found = settle(result, [0] * 4, period)
    if found is None:
        assert all(not _has_times(result, t) for t in range(period, period + 90))
        return
    least, times = found
    assert all(times[v] >= times[u] + w - k * least for u, v, w, k in result)
    assert all(not _has_times(result, t) for t in range(period, least))


def _has_times(result: list[tuple[int, int, int, int]], period: int) -> bool:
    """Whether no cycle has a positive sum, by all longest paths between four nodes."""
    far = [[0 if a == b else -(10**9) for b in range(4)] for a in range(4)]
    for u, v, w, k in result:
        far[u][v] = max(far[u][v], w - k * period)
    for stop in range(4):
        for a in range(4):
            for b in range(4):
                far[a][b] = max(far[a][b], far[a][stop] + far[stop][b])
    return all(far[node][node] <= 0 for node in range(4))
