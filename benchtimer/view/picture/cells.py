"""Rows of cells: text and ink."""

from __future__ import annotations

from enum import StrEnum
from itertools import compress, count, islice, pairwise
from operator import is_not

from rich.cells import cell_len

from benchtimer.values import dataclass
from benchtimer.view.text import fill


class Ink(StrEnum):
    """The meaning of a cell's color; a mark or a word always shows it too."""

    INK = "ink"
    BOLD = "bold"
    QUIET = "quiet"
    FAINT = "faint"
    NOW = "now"
    LATE = "late"
    LINE = "line"


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of a row in one ink."""

    text: str
    ink: Ink


@dataclass(frozen=True, slots=True)
class PictureRow:
    """One row of the picture.

    Attributes:
        spans: its pieces, from left to right.
        part: number of the part that a touch on it picks, if it is a lane.
    """

    spans: tuple[Span, ...]
    part: int | None = None

    @property
    def text(self) -> str:
        """The row without its inks."""
        return "".join(span.text for span in self.spans)


class Cells:
    """A row that is being drawn. Later text covers earlier text.

    Args:
        width: columns of the row.
    """

    def __init__(self, width: int) -> None:
        self._chars = [" "] * width
        self._inks = [Ink.INK] * width

    def copy(self) -> Cells:
        """A copy of this row, to draw on."""
        other = Cells(0)
        other._chars, other._inks = self._chars.copy(), self._inks.copy()
        return other

    def put(self, column: int, text: str, ink: Ink) -> None:
        """Write a text; anything outside the row is dropped.

        Args:
            column: where it begins, counted from 0.
            text: the text.
            ink: its color.
        """
        if text.isascii() and text.isprintable() and 0 <= column <= len(self._chars) - len(text):
            self._fill(column, text, ink)
            return
        for char in text:
            wide = cell_len(char)
            if wide and column >= 0 and column + wide <= len(self._chars):
                self._chars[column] = char
                self._inks[column] = ink
                for after in range(column + 1, column + wide):
                    self._chars[after] = ""  # the second column of a wide character
                    self._inks[after] = ink
            column += wide

    def line(self, start: int, end: int, char: str, ink: Ink) -> None:
        """Repeat one character from a column up to, but not including, another.

        Args:
            start: the first column.
            end: the column after the last.
            char: the character.
            ink: its color.
        """
        start = max(0, start)
        text = char * max(0, min(end, len(self._chars)) - start)
        if cell_len(char) == 1:
            self._fill(start, text, ink)
        else:
            self.put(start, text, ink)

    def _fill(self, column: int, text: str, ink: Ink) -> None:
        """Write characters of one column each that lie inside the row."""
        end = column + len(text)
        self._chars[column:end] = text
        self._inks[column:end] = [ink] * len(text)

    def at(self, column: int) -> str:
        """The character at a column; empty outside the row."""
        return self._chars[column] if 0 <= column < len(self._chars) else ""

    def is_free(self, start: int, end: int) -> bool:
        """Whether there are only spaces between two columns."""
        inside = start >= 0 and end <= len(self._chars)
        return inside and all(char == " " for char in self._chars[start:end])

    def row(self, part: int | None = None) -> PictureRow:
        """The finished row."""
        chars, inks = self._chars, self._inks
        cuts = compress(count(1), map(is_not, inks, islice(inks, 1, None)))
        pieces = pairwise([0, *cuts, len(inks)])
        return PictureRow(
            tuple(Span("".join(chars[a:b]), inks[a]) for a, b in pieces if a < b), part
        )


def words_row(text: str, width: int, ink: Ink = Ink.QUIET) -> PictureRow:
    """A row of plain words.

    Args:
        text: the words.
        width: columns of the row.
        ink: their color.
    """
    return PictureRow((Span(f"{fill(text, width - 1)} ", ink),))
