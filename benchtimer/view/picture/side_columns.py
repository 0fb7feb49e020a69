"""Two columns in the rows that the picture leaves free: the work shown and the last entries."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.view.picture.cells import Cells, Ink, PictureRow
from benchtimer.view.text import clip, wrapped

COLUMNS_WIDTH = 160
"""On a narrower screen there are no columns."""

FEWEST_ROWS = 6
"""The columns need this many free rows: a blank row, the titles, four entries."""

MOST_ENTRIES = 10


def side_columns(
    work: Sequence[str], entries: Sequence[str], width: int, height: int
) -> tuple[PictureRow, ...]:
    """The two columns; empty if there is no room or no text.

    Args:
        work: the recipe's text for the work shown, by paragraph.
        entries: the last entries, newest first.
        width: columns of the screen.
        height: free rows.
    """
    if width < COLUMNS_WIDTH or height < FEWEST_ROWS or not (work or entries):
        return ()
    half = width // 2
    rows = height - 2
    left = [line for text in work for line in wrapped(text, half - 4)]
    if len(left) > rows:
        left = [*left[: rows - 1], clip(left[rows - 1] + "…", half - 4)]
    right = [clip(text, width - half - 2) for text in entries[: min(rows, MOST_ENTRIES)]]
    made = [Cells(width).row(), _row("This work", "Last entries", width, Ink.BOLD)]
    for index in range(max(len(left), len(right))):
        one, two = (column[index] if index < len(column) else "" for column in (left, right))
        made.append(_row(one, two, width, Ink.QUIET))
    return tuple(made)


def _row(left: str, right: str, width: int, ink: Ink) -> PictureRow:
    cells = Cells(width)
    cells.put(1, left, ink)
    cells.put(width // 2 + 1, right, ink)
    return cells.row()
