"""Reads the board from the rows of the terminal alone, as a person does.

Nothing here knows the run behind the screen. Large letters are decoded cell by cell. O and 0
look the same; the word around them decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchtimer.view import letters

INK = "█"
CORNERS = "╭┏╔"
GROUND = "╰┗╚"
SIDES = "│┃║"

_SHAPES = {
    tuple(row.replace(INK, "#") for row in letters.large(char)): char
    for char in "ABCDEFGHIJKLMNPQRSTUVWXYZ0123456789:.,-+/'!?()&%#"
}
_BLANK = str.maketrans(dict.fromkeys([*letters.QUADRANTS.replace(INK, ""), *"inlate"], " "))
"""A smaller ``IN`` or ``LATE``, where large letters leave no room for a large one."""

_HALF = re.compile(rf" *[{letters.QUADRANTS[1:]}][{letters.QUADRANTS}]*(?=  )")
_WIDEST = max(len(shape[0]) for shape in _SHAPES)
_SPACE, _APART = 3, 7
"""Blank columns for a space, and between the words and the time at the right."""


class Unreadable(AssertionError):
    """The screen can't be read; the message has it."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What a person sees on the screen.

    Attributes:
        rows: the screen, row by row.
        verb: the word of the large line, such as ``PULL``; empty on any other page.
        number: the part number after it, if any.
        at: ``NOW``, ``LATE 0:42``, a countdown, or nothing.
        lines: the lines below the large letters: part and way, the work, what the key does.
        title: the title of a page in front of the board.
    """

    rows: tuple[str, ...]
    verb: str = ""
    number: str = ""
    at: str = ""
    lines: tuple[str, ...] = ()
    title: str = ""

    @property
    def text(self) -> str:
        """The whole screen."""
        return "\n".join(self.rows)

    @property
    def key_line(self) -> str:
        """What SPACE does now."""
        return self.lines[-1] if self.lines else ""

    @property
    def work(self) -> str:
        """The work to do, or the question."""
        return self.lines[-2] if len(self.lines) > 1 else ""

    @property
    def part(self) -> str:
        """The name of the part, below the large line."""
        line = self.lines[0] if len(self.lines) > 2 and self.number else ""
        return re.sub(r" \(try \d+\)$", "", line.split("   ")[0])

    @property
    def step(self) -> str:
        """Part and step of the work in hand; a question takes the place of the step."""
        asks = self.verb in ("CHECK", "READ", "NOTE")
        rows = self.lines[:-2] if asks else self.lines[1:-1]  # long texts continue in the next row
        words = " ".join(rows).split("   ")[-1]
        return f"{self.part}: {words}"

    @property
    def wait_s(self) -> int:
        """Seconds until the large line says NOW."""
        return seconds_of(self.at)

    @property
    def hands_s(self) -> int:
        """Seconds left of the usual time of the work in hand, from the part's lane."""
        found = re.search(rf"#{self.number} .*?(\d[\d:]+) of (\d[\d:]+)", self.text)
        return max(0, seconds_of(found[2]) - seconds_of(found[1])) if found else self.wait_s

    @property
    def calls(self) -> str:
        """What the first row's alarm is about, if there is one."""
        return self.rows[0].strip("! ") if self.rows and self.rows[0].startswith("!!!") else ""


def look(rows: Sequence[str]) -> Sight:
    """Read a screen."""
    rows = tuple(row.rstrip() for row in rows)
    box = _box(rows)
    if box is None:
        return Sight(rows, title=_title(rows))
    large, lines = _parts_of(box)
    words, _, at = large.partition("|")
    if (
        not at
        and lines
        and (found := re.match(r"(?:IN )?(NOW|WAIT|LATE [\d:]+|\d[\d:]*)(   |$)", lines[0]))
    ):
        at, lines = found[1], [lines[0][found.end() :], *lines[1:]]  # no room in large letters
    lines = _joined(lines)
    verb, number = _verb_of(words)
    return Sight(rows, verb, number, at, tuple(lines))


def _verb_of(words: str) -> tuple[str, str]:
    """Verb and part number of the large line: ``PULL`` and ``2``, ``READ`` and nothing."""
    if found := re.fullmatch(r"(.+) #(\d+)", words):
        return found[1], found[2]
    if words.startswith(("READ ", "HEAT ", "MAKE UP ", "MIX ")):
        return words.rpartition(" ")[0], ""
    return words.partition(":")[0], ""


def seconds_of(at: str) -> int:
    """A countdown in seconds; 0 for ``NOW``, ``LATE`` and nothing."""
    if found := re.fullmatch(r"(\d+):(\d\d):(\d\d)", at):
        return int(found[1]) * 3600 + int(found[2]) * 60 + int(found[3])
    if found := re.fullmatch(r"(\d+):(\d\d)", at):
        return int(found[1]) * 60 + int(found[2])
    return 0


def choices(key_line: str) -> dict[str, str]:
    """The numbered answers of a line, by their words."""
    return {words.strip(): number for number, words in re.findall(r"(\d) (.+?)(?=   |$)", key_line)}


def _box(rows: Sequence[str]) -> list[str] | None:
    """The lines of the box below the header, where the board has its large line.

    A hazard replaces the rows of the frame: its lines end with the one that names its key.
    """
    if len(rows) > 2 and rows[1].startswith("  GEAR UP"):
        last = next((i for i, row in enumerate(rows) if "SPACE" in row), 0)
        return [row.strip() for row in rows[1 : last + 1]]
    if len(rows) < 3 or not rows[1].startswith(tuple(CORNERS)):
        return None
    inside: list[str] = []
    for row in rows[2:]:
        if row.startswith(tuple(GROUND)):
            return inside
        inside.append(row[1:-1].strip() if INK not in row else row[1:-1])
    return None


def _parts_of(box: Sequence[str]) -> tuple[str, list[str]]:
    """The decoded large letters, and the lines around them."""
    inked = [INK in row for row in box]
    if True not in inked:
        return "", [row.strip() for row in box]
    first = inked.index(True)
    drawn = box[first : first + letters.ROWS]
    name, below = _named(box[first + letters.ROWS :])
    lines = [row.strip() for row in (*box[:first], *below)]
    lines = [line for line in lines if line]
    return decoded(drawn), [f"{name}   {lines[0]}", *lines[1:]] if name and lines else lines


def _named(rows: Sequence[str]) -> tuple[str, list[str]]:
    """The part's name in half-size letters, and the words to the right of it."""
    wide = max((len(found[0]) for row in rows if (found := _HALF.match(row))), default=0)
    cells = [row[:wide].rstrip() for row in rows[: letters.HALF_ROWS]]
    if not wide or any(set(row) - set(letters.QUADRANTS) for row in cells):
        return "", list(rows)
    bits = [[letters.QUADRANTS.index(cell) for cell in row.ljust(wide)] for row in cells]
    grid = [
        "".join("# "[not bit & left] + "# "[not bit & right] for bit in row)
        for row in bits
        for left, right in ((1, 2), (4, 8))
    ][-letters.ROWS :]
    name = "".join(_letters(grid, 2 * wide)).replace("|", " ").lower()
    return name, [row[wide:] for row in rows[: letters.HALF_ROWS]] + list(rows[letters.HALF_ROWS :])


def decoded(drawn: Sequence[str]) -> str:
    """Large letters as text, with ``|`` between the words at the left and the time at the right.

    The ``IN`` before a countdown, of any size, is left out; a smaller ``LATE`` is kept.

    Raises:
        Unreadable: a shape is not a letter.
    """
    width = max(map(len, drawn))
    grid = [row.ljust(width).translate(_BLANK).replace(INK, "#") for row in drawn]
    result = re.sub(r"[| ]IN[| ]", "|", "".join(_letters(grid, width)))
    result = re.sub(r" LATE[| ]", "|LATE ", result)
    late = any("late" in row or letters.half("LATE")[1] in row for row in drawn)
    words = [" ".join(map(_word, side.split(" "))) for side in result.split("|")]
    return "|".join([*words[:-1], f"{'LATE ' if late else ''}{words[-1]}"])


def _letters(grid: Sequence[str], width: int) -> Iterator[str]:
    at, blank = 0, 0
    begun = False
    while at < width:
        if all(row[at] == " " for row in grid):
            at, blank = at + 1, blank + 1
            continue
        if begun and blank >= _SPACE:
            yield "|" if blank >= _APART else " "
        char, taken = _letter(grid, at)
        yield char
        at, blank, begun = at + taken, 0, True


def _letter(grid: Sequence[str], at: int) -> tuple[str, int]:
    """The widest letter that begins in a column, and its columns."""
    for width in range(_WIDEST, 0, -1):
        piece = tuple(row[at : at + width] for row in grid)
        after = [row[at + width : at + width + 1] for row in grid]
        if piece in _SHAPES and all(cell in ("", " ") for cell in after):
            return _SHAPES[piece], width
    raise Unreadable(f"no letter at column {at}:\n" + "\n".join(grid))


def _joined(lines: Sequence[str]) -> list[str]:
    """Join numbered answers, and limits and key, that are below each other for lack of room."""
    result: list[str] = []
    for line in lines:
        answers = re.match(r"\d \w", line) and result and re.match(r"1 \w", result[-1])
        limits = line.startswith("Type it") and re.match(r"from |to |never ", result[-1])
        if answers or limits:
            result[-1] += f"   {line}"
        else:
            result.append(line)
    return result


def _word(word: str) -> str:
    """Read O in a word and 0 in a figure."""
    return word.replace("0", "O") if re.search("[A-Z]", word.replace("O", "")) else word


def _title(rows: Sequence[str]) -> str:
    """The title of a front page: its first line inside the frame, or else the header.

    Above it are the next action and perhaps a part in large letters.
    """
    framed = [row for row in rows if row.strip()[:1] in tuple(SIDES) and INK not in row]
    inside = [row.strip(f" {SIDES}") for row in framed]
    titles = [line for line in inside if line and not line.startswith(("NEXT: ", "WAIT "))]
    return next(iter(titles), rows[0].strip() if rows else "")
