"""The two columns below the picture of a large screen."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.view.picture.side_columns import COLUMNS_WIDTH, FEWEST_ROWS, side_columns

TEXTS = st.lists(st.text("abc def", min_size=1, max_size=300), max_size=14)


@given(TEXTS, TEXTS, st.integers(COLUMNS_WIDTH, 240), st.integers(FEWEST_ROWS, 40))
def test_the_columns_fit_into_the_free_rows(
    work: list[str], entries: list[str], width: int, height: int
) -> None:
    """For any text, the rows fit the free ones, and each is as wide as the screen."""
    rows = side_columns(work, entries, width, height)
    assert len(rows) <= height
    assert all(len(row.text) == width for row in rows)


def test_both_columns_begin_below_their_titles() -> None:
    """This work starts with its first paragraph, and Last entries with the newest entry."""
    rows = side_columns(["Lift slowly."], ["09:02 newest", "09:01 older"], 200, 10)
    assert "This work" in rows[1].text
    assert rows[1].text.index("Last entries") == rows[2].text.index("09:02 newest")
    assert rows[2].text.strip().startswith("Lift slowly.")


def test_a_small_screen_has_no_side_columns() -> None:
    """A screen that is too narrow or too low, or an empty text, shows no columns."""
    assert side_columns(["Lift."], [], COLUMNS_WIDTH - 1, 20) == ()
    assert side_columns(["Lift."], [], COLUMNS_WIDTH, FEWEST_ROWS - 1) == ()
    assert side_columns([], [], COLUMNS_WIDTH, 20) == ()
