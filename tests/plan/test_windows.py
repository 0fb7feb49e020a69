"""Numbers with edges and clauses: what is learned holds, and nothing possible is ruled out."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.plan.windows import Fact, Windows, opposite

COUNT, MOST = 4, 5
"""How many numbers there are, each from 0 to ``MOST``."""
numbers = st.integers(0, COUNT - 1)
spans = st.lists(st.tuples(st.integers(0, MOST), st.integers(0, 1)), min_size=1, max_size=2).map(
    lambda found: [(a, min(a + more, MOST)) for a, more in sorted(found)]
)
edges = st.lists(st.tuples(numbers, numbers, st.integers(-3, 3)), max_size=3)
choices = st.lists(
    st.tuples(*(st.tuples(numbers, numbers, st.integers(-2, 4)) for _ in range(2))), max_size=6
)
facts = st.tuples(numbers, st.booleans(), st.integers(0, MOST)).map(
    lambda found: (2 * found[0] + found[1], -found[2] if found[1] else found[2])
)
clauses = st.lists(st.lists(facts, min_size=1, max_size=3, unique_by=lambda f: f[0]), max_size=3)

Edge = tuple[int, int, int]
Rules = tuple[list[list[tuple[int, int]]], list[Edge], list[tuple[Edge, Edge]], list[list[Fact]]]
rules_of = st.tuples(st.lists(spans, min_size=COUNT, max_size=COUNT), edges, choices, clauses)


def _holds(values: tuple[int, ...], fact: Fact) -> bool:
    bound, value = fact
    return (-values[bound // 2] if bound % 2 else values[bound // 2]) >= value


def _keeps(values: tuple[int, ...], edge: Edge) -> bool:
    a, b, step = edge
    return values[b] >= values[a] + step


def _solutions(rules: Rules) -> list[tuple[int, ...]]:
    """Every set of values that keeps the rules, by trying all."""
    allowed, hard, either, clauses = rules
    disjoint = [[range(a, b + 1) for a, b in spans] for spans in allowed]
    return [
        values
        for values in product(range(MOST + 1), repeat=COUNT)
        if all(any(v in span for span in spans) for v, spans in zip(values, disjoint, strict=True))
        and all(_keeps(values, edge) for edge in hard)
        and all(_keeps(values, one) or _keeps(values, two) for one, two in either)
        and all(any(_holds(values, fact) for fact in clause) for clause in clauses)
    ]


def _merged(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The same values as disjoint spans."""
    inside = sorted({value for a, b in spans for value in range(a, b + 1)})
    return [(value, value) for value in inside]


def _windows(rules: Rules) -> tuple[Windows, list[int]]:
    """The rules as windows, and the number of each choice."""
    allowed, hard, either, clauses = rules
    windows = Windows()
    for spans in allowed:
        windows.number(0, MOST, _merged(spans))
    for a, b, step in hard:
        windows.edge(2 * a, 2 * b, step)
    ways = [windows.number(0, 1) for _ in either]
    for way, (one, two) in zip(ways, either, strict=True):
        windows.edge(2 * one[0], 2 * one[1], one[2], (way, 1))
        windows.edge(2 * two[0], 2 * two[1], two[2], (way + 1, 0))
    for clause in clauses:
        windows.require(list(clause))
    return windows, ways


def _solve(windows: Windows, goal: Fact) -> tuple[int, ...] | None:
    """Values that keep all rules and a goal, by decisions; None if there are none."""
    windows.back(0)
    while True:
        clash = windows.settle()
        if clash is not None:
            if not windows.learn(clash, 1):
                return None
            continue
        if not windows.level:
            bound, value = opposite(goal)
            if windows.least[bound] >= value:
                return None
            windows.decide(goal)
            continue
        least = windows.least
        open_bound = next((b for b in range(0, len(least), 2) if least[b] < -least[b + 1]), None)
        if open_bound is None:
            return tuple(least[: 2 * COUNT : 2])
        windows.decide((open_bound + 1, -least[open_bound]))


@given(rules_of, facts, facts)
def test_decisions_find_values_if_and_only_if_there_are_some(
    rules: Rules, goal: Fact, other: Fact
) -> None:
    """One search after the other, with everything that the first one learned."""
    possible = _solutions(rules)
    windows, _ = _windows(rules)
    for wanted in (goal, other, goal):
        found = _solve(windows, wanted)
        if found is None:
            assert not any(_holds(values, wanted) for values in possible)
        else:
            assert found in possible
            assert _holds(found, wanted)


@given(rules_of)
def test_bounds_without_decisions_keep_every_solution(rules: Rules) -> None:
    """What is raised before the first decision rules out nothing that is possible."""
    windows, _ = _windows(rules)
    if windows.settle() is not None:
        assert not _solutions(rules)
    for values in _solutions(rules):
        for number, value in enumerate(values):
            assert windows.least[2 * number] <= value <= -windows.least[2 * number + 1]


def test_a_ring_of_edges_is_found_without_counting_up() -> None:
    """Two conditional edges that push each other are refused long before the windows are empty."""
    windows = Windows()
    a, b = windows.number(0, 10**9), windows.number(0, 10**9)
    ways = [windows.number(0, 1) for _ in range(2)]
    windows.edge(a, b, 1, (ways[0], 1))
    windows.edge(b, a, 1, (ways[1], 1))
    windows.decide((ways[0], 1))
    assert windows.settle() is None
    windows.decide((ways[1], 1))
    clash = windows.settle()
    assert sorted(clash or []) == [(ways[0], 1), (ways[1], 1)]
    assert windows.learn(clash or [], 1)
    assert windows.least[ways[1] + 1] == 0


def test_a_ring_without_conditions_is_found_at_once() -> None:
    """Two edges that always push each other leave no values, and need few steps to say so."""
    windows = Windows()
    a, b = windows.number(0, 10**9), windows.number(0, 10**9)
    windows.edge(a, b, 1)
    windows.edge(b, a, 0)
    assert windows.settle() is not None
    assert windows.settle() is not None
    assert windows.least[a] < 100


def test_a_forgotten_clause_changes_no_answer() -> None:
    """With the longer half of the learned clauses left out, the search still finds the same."""
    windows = Windows()
    for _ in range(6):
        windows.number(0, 6)
    for a in range(6):
        for b in range(a):
            way = windows.number(0, 1)
            windows.edge(2 * a, 2 * b, 2, (way, 1))
            windows.edge(2 * b, 2 * a, 2, (way + 1, 0))
    assert _solve(windows, (0, 0)) is None
    assert windows.learned > 10
    windows.back(0)
    windows.forget(4)
    assert windows.learned == 2
    assert _solve(windows, (0, 0)) is None
