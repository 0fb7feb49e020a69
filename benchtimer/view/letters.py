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
    """Columns that the large form takes."""
    columns = sum(len(_GLYPHS[char][0]) + 1 for char in text.upper()) - 1 if text else 0
    return columns * scale


def large(text: str, scale: int = 1, ink: str = "█") -> list[str]:
    """The text in large letters, five lines for each scale.

    Raises:
        KeyError: a character has no large form; see ``can_draw``.
    """
    glyphs = [_GLYPHS[char] for char in text.upper()]
    rows = (" ".join([glyph[row] for glyph in glyphs]) for row in range(ROWS))
    drawn = [row.replace(" ", " " * scale).replace("#", ink * scale) for row in rows]
    return [row for row in drawn for _ in range(scale)]


def fits(text: str, room: int, scale: int = 1) -> bool:
    """Whether a text can be drawn large in this many columns."""
    return can_draw(text) and width_of(text, scale) <= room


def largest(text: str, columns: int, rows: int) -> int:
    """The largest scale at which a text fits, 0 if even the smallest does not."""
    if not can_draw(text) or not text:
        return 0
    return min(columns // width_of(text), rows // ROWS)
