"""The checklist before a run, as rows to tick."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.check_list import CheckList, CheckListSection, Item
from benchtimer.run.run_state import TickedItem
from benchtimer.view.preparation import count_words, item_key, keys_of, next_open, prepare_rows
from benchtimer.view.space import Size
from tests.support import MINUTE
from tests.tui.benches import stamp_at

GLOVES = Item("long rubber gloves", ("the green pair",), ("guidebook",))
PAGE = CheckList(
    "Before the run",
    (
        CheckListSection("Gear", (GLOVES, Item("apron"))),
        CheckListSection("Baths", (Item("Heat the tank to 290 F"),)),
    ),
)
KEYS = ["Gear: long rubber gloves", "Gear: apron", "Baths: Heat the tank to 290 F"]
TEXTS = st.text("abc 刃🔪[]\n", max_size=200)
PAGES = st.builds(
    CheckList,
    TEXTS,
    st.lists(
        st.builds(
            CheckListSection,
            TEXTS,
            st.lists(
                st.builds(Item, TEXTS, st.lists(TEXTS, max_size=2).map(tuple)), max_size=4
            ).map(tuple),
        ),
        max_size=3,
    ).map(tuple),
)


def _lines(ticks: dict[str, TickedItem], width: int = 57) -> list[str]:
    rows = prepare_rows(PAGE, ticks, stamp_at(10 * MINUTE), Size(width, 20))
    return [line for row in rows for line in row.lines]


def test_the_check_list_is_shown_line_by_line() -> None:
    """Headings, boxes, details and sources appear in the order you tick them."""
    assert _lines({}) == [
        " GEAR",
        " [ ] long rubber gloves",
        "     the green pair",
        "     source: guidebook",
        " [ ] apron",
        "",
        "",
        " BATHS",
        " [ ] Heat the tank to 290 F",
        "",
    ]


@pytest.mark.parametrize(
    ("said", "expected"), [("", "     ready 12:00"), ("at 290 F", "     ready 12:00: at 290 F")]
)
def test_a_tick_has_its_time_and_note(said: str, expected: str) -> None:
    """A ticked line has a cross in its box, the time, and the note."""
    lines = _lines({KEYS[1]: TickedItem(10 * MINUTE, said)})
    at = lines.index(" [x] apron")
    assert lines[at + 1] == expected
    assert sum("[x]" in line for line in lines) == 1


def test_ready_lines_are_counted() -> None:
    """The count goes from none to all, and foreign ticks do not count."""
    ticks: dict[str, TickedItem] = {"Gear: a hat": TickedItem(0)}
    counts = [count_words(PAGE, ticks)]
    for key in KEYS:
        ticks[key] = TickedItem(0)
        counts.append(count_words(PAGE, ticks))
    assert counts == [f"{count} of 3 lines checked off" for count in range(4)]


@pytest.mark.parametrize(
    ("here", "ticked", "goes_to"),
    [
        ("", [], 0),
        (KEYS[0], [0], 1),
        (KEYS[1], [1], 2),
        (KEYS[2], [2], 0),
        (KEYS[0], [0, 1], 2),
        (KEYS[2], [0, 2], 1),
        (KEYS[0], [0, 1, 2], None),
        ("something else", [0], 1),
    ],
)
def test_the_cursor_moves_to_the_next_open_line(
    here: str, ticked: list[int], goes_to: int | None
) -> None:
    """After a tick the mark moves to the next open line and wraps; at the end there is none."""
    ticks = {KEYS[i]: TickedItem(0) for i in ticked}
    assert next_open(KEYS, ticks, here) == (KEYS[goes_to] if goes_to is not None else None)


@given(PAGES, st.integers(35, 120))
def test_every_line_can_be_ticked_and_hit(page: CheckList, width: int) -> None:
    """Each line is one row with its own key, at least two lines high, inside the page."""
    rows = prepare_rows(page, {}, stamp_at(0), Size(width, 20))
    choosable = [row for row in rows if row.look == "plain"]
    assert [row.key for row in choosable] == keys_of(page)
    assert all(len(row.lines) >= 2 for row in choosable)
    assert all(cell_len(line) <= width for row in choosable for line in row.lines)
    assert all(row.lines[0].startswith(" [ ] ") for row in choosable)


def test_the_key_of_a_line_includes_its_heading() -> None:
    """The key in the record names the heading of the line."""
    assert item_key("Gear", GLOVES) == KEYS[0]
    assert keys_of(PAGE) == KEYS
