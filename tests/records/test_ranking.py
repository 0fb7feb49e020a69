"""The ranking of differences, on runs with a planted cause."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.records.record import Record, make_record
from benchtimer.records.tries import Try, tries_of
from benchtimer.records.try_comparison import (
    Comparison,
    compare,
    comparison_table,
    comparison_text,
    tries_text_of,
)
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.records.test_kept import worked

Facts = dict[str, Any]
GOOD, BAD = "accepted", "rejected"


def _run(verdict: str | None, name: str = "2026-02-02-1", **real: Any) -> Record:
    hands = worked(**real)
    if verdict is not None:
        hands(c.Judge("bolster", verdict))
    record = make_record(entries_of(hands))
    record.run = name
    return record


def _attempt(record: Record) -> Try:
    return tries_of(record, record.parts[0])[-1]


def _compared(*runs: Record) -> Comparison:
    return compare([_attempt(run) for run in runs])


def _labels(found: Comparison) -> list[str]:
    return [d.label for d in found.differences]


CAUSES: list[tuple[str, Facts, Facts]] = [
    ("dip: time in tank", {"dip_s": 250}, {"dip_s": 470}),
    ("Tank: temperature", {"tank": ["61 C"]}, {"tank": ["69 C"]}),
    ("hang: time in rack", {"hang_s": 4000}, {"hang_s": 20_000}),
]


@pytest.mark.parametrize(("cause", "bad", "good"), CAUSES, ids=[cause for cause, *_ in CAUSES])
def test_the_planted_cause_comes_first(cause: str, bad: Facts, good: Facts) -> None:
    """With two failed and two good tries, the planted cause comes first, marked."""
    found = _compared(_run(BAD, **bad), _run(GOOD, **good), _run(BAD, **bad), _run(GOOD, **good))
    assert found.differences[0].label == cause
    assert found.differences[0].separates
    assert found.chance == pytest.approx(2 / 6)


def test_a_separating_fact_comes_before_a_larger_one() -> None:
    """A small gap that separates failed from good ranks above a large one that does not."""
    found = _compared(
        _run(BAD, tank=["64 C"], dip_s=250), _run(BAD, tank=["64 C"], dip_s=470),
        _run(GOOD, tank=["66 C"], dip_s=250), _run(GOOD, tank=["66 C"], dip_s=470),
    )  # fmt: skip
    assert [(d.label, d.separates) for d in found.differences] == [
        ("Tank: temperature", True),
        ("dip: time in tank", False),
    ]


def test_the_larger_difference_comes_first() -> None:
    """Of two facts that separate, the larger difference, in widths of its limits, comes first."""
    wide = _compared(_run(BAD, tank=["61 C"], dip_s=300), _run(GOOD, tank=["69 C"], dip_s=400))
    tight = _compared(_run(BAD, tank=["64 C"], dip_s=250), _run(GOOD, tank=["66 C"], dip_s=470))
    assert _labels(wide) == ["Tank: temperature", "dip: time in tank"]
    assert _labels(tight) == ["dip: time in tank", "Tank: temperature"]
    assert [round(d.size, 3) for d in tight.differences] == [round(220 / 240, 3), 0.2]


def test_outside_its_limits_counts_as_a_whole_width() -> None:
    """A bath slightly over its limit in failed tries ranks above a time far off but inside."""
    found = _compared(_run(BAD, tank=["71 C"], dip_s=250), _run(GOOD, tank=["69.9 C"], dip_s=470))
    first = found.differences[0]
    assert (first.label, first.size) == ("Tank: temperature", 1.0)


def test_equal_differences_follow_the_order_of_kinds() -> None:
    """With all else equal, a reading ranks above a dwell, as in the list of kinds."""
    found = _compared(_run(BAD, tank=["61 C"], dip_s=240), _run(GOOD, tank=["67 C"], dip_s=384))
    assert {round(d.size, 6) for d in found.differences} == {0.6}
    assert [d.kind for d in found.differences] == ["reading", "dwell"]


def test_nothing_that_failed_means_nothing_separates() -> None:
    """If all tries came out well, differences are listed but none points to a cause."""
    found = _compared(_run(GOOD, dip_s=250), _run(None, dip_s=470))
    assert found.chance is None
    assert [(d.label, d.separates) for d in found.differences] == [("dip: time in tank", False)]
    text = comparison_text(found)
    assert "You need a try that failed and one that came out well to find a reason." in text
    assert "*" not in text


def test_two_identical_runs_have_no_differences() -> None:
    """For two equal runs the page says nothing differed, and how many facts were the same."""
    found = _compared(_run(BAD), _run(GOOD))
    assert found.differences == ()
    assert found.same > 10
    assert "Nothing recorded differed." in comparison_text(found)
    assert f"The same in all: {found.same} more facts." in comparison_text(found)


@pytest.mark.parametrize("order", list(permutations(range(4)))[::5])
def test_the_order_of_the_runs_does_not_matter(order: Sequence[int]) -> None:
    """The order of the runs changes neither the differences nor their order and values."""
    runs = [
        _run(BAD, "a", dip_s=250, tank=["62 C"]), _run(BAD, "b", dip_s=260, tank=["69 C"]),
        _run(GOOD, "c", dip_s=470), _run(GOOD, "d", dip_s=440, tank=["61 C"]),
    ]  # fmt: skip
    straight = _compared(*runs)
    mixed = _compared(*(runs[i] for i in order))
    assert _labels(mixed) == _labels(straight)
    assert (mixed.same, mixed.chance) == (straight.same, straight.chance)
    for one, other in zip(straight.differences, mixed.differences, strict=True):
        assert (one.separates, one.size) == (other.separates, other.size)
        assert [one.values[i] for i in order] == list(other.values)


@given(st.integers(240, 480), st.integers(240, 480))
def test_a_dwell_is_listed_if_it_differs_by_a_tenth(first_s: int, second_s: int) -> None:
    """Two dwells differ if they are further apart than a tenth of the width of their limits."""
    found = _with_dips(first_s, second_s)
    result = [d for d in found.differences if d.kind == "dwell"]
    assert bool(result) == (abs(first_s - second_s) > 24)
    assert all(d.size == pytest.approx(abs(first_s - second_s) / 240) for d in result)


def _with_dips(*dwells: int) -> Comparison:
    """A failed and a good run with these dip times, otherwise equal."""
    runs = [_run(BAD), _run(GOOD)]
    for record, dwell_s in zip(runs, dwells, strict=True):
        dip = record.parts[0].visits[1]
        assert dip.in_s is not None
        dip.out_s = dip.in_s + dwell_s
    return _compared(*runs)


def test_table_and_text_agree() -> None:
    """Programs and people get the same tries, differences, marks and chance."""
    found = _compared(_run(BAD, "a", dip_s=250), _run(GOOD, "b", dip_s=470))
    table: Any = comparison_table(found)
    kept = ("run", "try", "of", "outcome", "words")
    assert [[a[name] for name in kept] for a in table["tries"]] == [
        ["a", 1, 1, "failed", "rejected"], ["b", 1, 1, "well", "accepted"],
    ]  # fmt: skip
    assert table["differences"] == [
        {"kind": "dwell", "what": "dip: time in tank", "values": ["4 min 10 s", "7 min 50 s"],
         "separates": True, "starred": False, "size": 0.917},
    ]  # fmt: skip
    lines = comparison_text(found).splitlines()
    assert lines[2:4] == [
        "  A - a:bolster, 2026-02-02: rejected",
        "  B + b:bolster, 2026-02-02: accepted",
    ]
    assert "  1   dip: time in tank" in lines
    assert "        A: 4 min 10 s; B: 7 min 50 s" in lines
    assert lines[-1].startswith("benchtimer causes ")
    assert lines[-2] == "To be sure, change one thing at a time."
    assert "with 1 good and 1 failed" in lines[-3]
    assert "100% of the time" in lines[-3]


def test_stars_need_enough_tries() -> None:
    """Two against two can't earn a star; five against five can: 2 of 252, with one fact."""
    few = _compared(*[_run(BAD, dip_s=250)] * 2, *[_run(GOOD, dip_s=470)] * 2)
    assert "*" not in comparison_text(few)
    many = _compared(*[_run(BAD, dip_s=250)] * 5, *[_run(GOOD, dip_s=470)] * 5)
    assert many.is_carried
    assert "  1 * dip: time in tank" in comparison_text(many)


def test_more_tries_than_letters_are_numbered() -> None:
    """The twenty-seventh try has a number for its name."""
    run = _run(GOOD)
    text = comparison_text(_compared(*[run] * 27))
    assert "  Z + 2026-02-02-1:bolster" in text
    assert "  27 + 2026-02-02-1:bolster" in text


def test_one_try_has_no_comparison() -> None:
    """A part with one try gets a message; with two the differences show."""
    run = _run(GOOD)
    alone = "bolster has had one try so far: there is nothing to compare."
    assert tries_text_of([run], "bolster") == alone
    assert tries_text_of([run, run], "bolster").startswith("What differed between 2 tries")
