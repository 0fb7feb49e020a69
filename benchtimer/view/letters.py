"""Letters five rows high, for reading across a room.

ISO 9241-303 asks for characters of at least 16 minutes of arc, better 20 to 22. Five rows
of a 40-row 14-inch screen are about 22 mm, which is 25 minutes of arc at three meters.
Drawn for this program on a grid four cells wide (M, N and W five).
"""

from __future__ import annotations

ROWS = 5

_DRAWN = {
    "A": " ## |#  #|####|#  #|#  #",
    "B": "### |#  #|### |#  #|### ",
    "C": " ###|#   |#   |#   | ###",
    "D": "### |#  #|#  #|#  #|### ",
    "E": "####|#   |### |#   |####",
    "F": "####|#   |### |#   |#   ",
    "G": " ###|#   |# ##|#  #| ###",
    "H": "#  #|#  #|####|#  #|#  #",
    "I": "###| # | # | # |###",
    "J": "  ##|   #|   #|#  #| ## ",
    "K": "#  #|# # |##  |# # |#  #",
    "L": "#   |#   |#   |#   |####",
    "M": "#   #|## ##|# # #|#   #|#   #",
    "N": "#   #|##  #|# # #|#  ##|#   #",
    "O": " ## |#  #|#  #|#  #| ## ",
    "P": "### |#  #|### |#   |#   ",
    "Q": " ## |#  #|#  #|# ##| ###",
    "R": "### |#  #|### |# # |#  #",
    "S": " ###|#   | ## |   #|### ",
    "T": "#####|  #  |  #  |  #  |  #  ",
    "U": "#  #|#  #|#  #|#  #| ## ",
    "V": "#  #|#  #|#  #| ## | ## ",
    "W": "#   #|#   #|# # #|## ##|#   #",
    "X": "#  #|#  #| ## |#  #|#  #",
    "Y": "#   #| # # |  #  |  #  |  #  ",
    "Z": "####|   #| ## |#   |####",
    "0": " ## |#  #|#  #|#  #| ## ",
    "1": " # |## | # | # |###",
    "2": "### |   #| ## |#   |####",
    "3": "### |   #| ## |   #|### ",
    "4": "#  #|#  #|####|   #|   #",
    "5": "####|#   |### |   #|### ",
    "6": " ## |#   |### |#  #| ## ",
    "7": "####|   #|  # | #  | #  ",
    "8": " ## |#  #| ## |#  #| ## ",
    "9": " ## |#  #| ###|   #| ## ",
    "#": " # # |#####| # # |#####| # # ",
    " ": "  |  |  |  |  ",
    ":": " |#| |#| ",
    ".": " | | | |#",
    ",": "  |  |  | #|# ",
    "-": "   |   |###|   |   ",
    "+": "   | # |###| # |   ",
    "/": "   #|   #| ## |#   |#   ",
    "'": "#|#| | | ",
    "!": "#|#|#| |#",
    "?": "### |   #| ## |    | #  ",
    "(": " #|# |# |# | #",
    ")": "# | #| #| #|# ",
    "&": " #  |# # | #  |# # | # #",
    "%": "#  #|  # | #  |#   |#  #",
}

_GLYPHS = {char: drawn.split("|") for char, drawn in _DRAWN.items()}


def can_draw(text: str) -> bool:
    """Whether every character has a large form."""
    return all(char in _GLYPHS for char in text.upper())


def width_of(text: str, scale: int = 1) -> int:
    """Columns of the large form."""
    columns = sum(len(_GLYPHS[char][0]) + 1 for char in text.upper()) - 1 if text else 0
    return columns * scale


def large(text: str, scale: int = 1, ink: str = "█") -> list[str]:
    """The text in large letters, five lines high at scale 1.

    Args:
        text: the text.
        scale: how many times the size.
        ink: the character to draw with.

    Raises:
        KeyError: a character has no large form; see ``can_draw``.
    """
    glyphs = [_GLYPHS[char] for char in text.upper()]
    rows = (" ".join([glyph[row] for glyph in glyphs]) for row in range(ROWS))
    drawn = [row.replace(" ", " " * scale).replace("#", ink * scale) for row in rows]
    return [row for row in drawn for _ in range(scale)]


QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""A cell by its filled quarters: upper left 1, upper right 2, lower left 4, lower right 8."""

HALF_ROWS = 3
"""Rows of a line of half-size letters; the first half row is empty."""


def half(text: str) -> list[str]:
    """The text in half-size letters, three lines high: four quarters of a cell each.

    Three rows of a 24-row 14-inch screen hold letters of 18 mm, which is 31 minutes of arc at two
    meters.

    Raises:
        KeyError: a character has no large form; see ``can_draw``.
    """
    inked = [[cell != " " for cell in row] for row in large(text)]
    width = len(inked[0]) if inked else 0
    grid = [[False] * (width + 1), *([*row, False] for row in inked)]
    return [
        "".join(QUADRANTS[_quarters(grid, y, x)] for x in range(0, width, 2))
        for y in range(0, 2 * HALF_ROWS, 2)
    ]


def _quarters(grid: list[list[bool]], y: int, x: int) -> int:
    """Which quarters of a cell are filled, as a number."""
    upper, lower = grid[y], grid[y + 1]
    return upper[x] + 2 * upper[x + 1] + 4 * lower[x] + 8 * lower[x + 1]


def half_lines(text: str, room: int) -> list[str] | None:
    """The text in half-size letters, on as many lines as it needs; None if a word has no form."""
    drawn: list[str] = []
    line = ""
    for word in text.split():
        if not can_draw(word) or width_of(word) > 2 * room:
            return None
        longer = f"{line} {word}".strip()
        if width_of(longer) > 2 * room:
            drawn += half(line)
            longer = word
        line = longer
    return drawn + (half(line) if line else [])


def with_word(word: str, drawn: list[str], room: int, *, plain: bool) -> list[str]:
    """A large text with a word before it, as large as there is room for, on the same line.

    Args:
        word: the word; at its smallest, in plain letters.
        drawn: the rows of the text.
        room: columns for both.
        plain: whether half-size letters don't work.
    """
    word, height = word.strip(), len(drawn)
    # large letters must not touch what is left of them
    sizes = [large(f" {word} ", scale) for scale in range(height // ROWS, 0, -1)]
    sizes += [[word.lower()]] if plain else [half(f"{word} "), half(word), [word.lower()]]
    rows = next((s for s in sizes if len(s[0]) + 1 + len(drawn[0]) <= room), sizes[-1])
    rows = [" " * len(rows[0])] * (height - len(rows)) + rows
    return [f"{before} {row}" for before, row in zip(rows, drawn, strict=True)]


def fits(text: str, room: int, scale: int = 1) -> bool:
    """Whether text can be drawn large in this many columns.

    Args:
        text: the text.
        room: columns.
        scale: how many times the size.
    """
    return can_draw(text) and width_of(text, scale) <= room


def largest(text: str, columns: int, rows: int) -> int:
    """The largest scale at which a text fits, 0 if even the smallest does not.

    Args:
        text: the text.
        columns: columns available.
        rows: rows available.
    """
    if not can_draw(text) or not text:
        return 0
    return min(columns // width_of(text), rows // ROWS)
