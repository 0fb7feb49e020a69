"""The list of all runs: its filter and its words."""

from __future__ import annotations

from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.run.run_state import OVER, RunPhase
from benchtimer.store.index import Query
from benchtimer.store.log import RunLine
from benchtimer.view.run_rows import STATES, Filter, lead_line, run_row
from benchtimer.view.space import Size
from tests.tui.benches import NAMES, NOON_MS

FIELDS = [field.name for field in fields(Filter)]


def _line(phase: str, title: str = "Fittings", parts: tuple[str, ...] = ("bolster",)) -> RunLine:
    return RunLine("2026-02-02-1", phase, title, parts, NOON_MS, 3600)


@given(st.sampled_from(FIELDS), st.text(max_size=20), st.text(max_size=20))
def test_a_filter_in_use_is_not_offered_again(name: str, first: str, second: str) -> None:
    """Each field of the filter can be set and cleared; spaces around a word are ignored."""
    wanted = Filter(part="bolster").with_(name, first)
    assert getattr(wanted, name) == first.strip()
    assert wanted.with_(name, second) == Filter(part="bolster").with_(name, second)
    assert Filter().with_(name, first).with_(name, " ") == Filter()


@pytest.mark.parametrize(
    ("name", "query"),
    [
        ("part", Query(part="x y")),
        ("recipe", Query(recipe="x y")),
        ("verdict", Query(verdict="x y")),
        ("date", Query(date="x y")),
        ("words", Query(words=("x", "y"))),
        ("state", Query()),
    ],
)
def test_each_filter_asks_the_index_for_its_field(name: str, query: Query) -> None:
    """A field goes to the index under its name; a state is looked up run by run."""
    wanted = Filter().with_(name, "x y")
    assert wanted.query == query
    assert wanted.is_indexed == (name != "state")
    assert wanted.said == f"{name}: x y"
    assert not Filter().is_indexed


def test_several_filters_show_on_one_line() -> None:
    """The line above the list shows the whole filter in a fixed order."""
    wanted = Filter().with_("words", "beads").with_("part", "bolster")
    assert wanted.said == "part: bolster, words: beads"
    assert wanted.query == Query(part="bolster", words=("beads",))


@pytest.mark.parametrize("phase", list(RunPhase))
def test_every_run_is_in_just_one_state(phase: RunPhase) -> None:
    """Each run matches exactly one state, and an empty filter matches every run."""
    of = [state for state in STATES if Filter(state=state).takes(_line(phase.value))]
    assert len(of) == 1
    assert (of == ["on the bench"]) == (phase not in OVER)
    assert Filter().takes(_line(phase.value))


@pytest.mark.parametrize(
    ("count", "more", "expected"),
    [
        (0, False, "0 runs"),
        (1, False, "1 run"),
        (2, False, "2 runs"),
        (100, True, "the newest 100 runs, more below"),
    ],
)
def test_the_list_says_how_many_and_how_to_see_all(count: int, more: bool, expected: str) -> None:
    """The count is above the list; with a filter also its words and the key that clears it."""
    assert lead_line(Filter(), count, more) == expected
    filtered = lead_line(Filter(part="bolster"), count, more)
    assert filtered == f"{expected} with part: bolster   X shows all again"


@pytest.mark.parametrize(
    ("phase", "verdicts", "end", "below"),
    [
        ("complete", ("accepted", "rework"), "accepted, rework", "complete, 1 part: bolster"),
        ("complete", (), "complete, not judged", "1 part: bolster"),
        ("aborted", (), "aborted", "1 part: bolster"),
        ("held", ("rejected",), "rejected", "held, 1 part: bolster"),
    ],
)
def test_a_run_shows_how_it_came_out(
    phase: str, verdicts: tuple[str, ...], end: str, below: str
) -> None:
    """A judged run ends with its verdicts, any other with its phase."""
    row = run_row(_line(phase), verdicts, Size(60, 20))
    assert row.lines[0].startswith(" Fittings   2026-02-02-1 ")
    assert row.lines[0].endswith(f"  {end}")
    assert row.lines[1] == f"   2026-02-02 13:00   {below}"
    assert row.key == "2026-02-02-1"


@given(NAMES, st.lists(NAMES, min_size=1, max_size=9), st.integers(40, 160))
def test_a_run_takes_three_lines_at_most(title: str, parts: list[str], width: int) -> None:
    """For any name and any number of parts, a run takes at most three lines and fits."""
    row = run_row(_line("complete", title, tuple(parts)), ("accepted",) * 3, Size(width, 20))
    assert 2 <= len(row.lines) <= 3
    assert all(cell_len(line) <= width for line in row.lines)
    assert "accepted, accepted, accepted" in row.lines[0]
