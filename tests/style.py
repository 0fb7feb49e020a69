"""The prose of the project: what a comment, a docstring, a string or a page says, line by line.

    python -m tests.style [PATTERN]

prints each phrase that ``test_style`` refuses, with its file and line.
"""

from __future__ import annotations

import io
import re
import sys
import tokenize
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
PATTERNS = {
    "nobody, somebody": r"\b(no|some)body('s)?\b",
    "so many": r"\bso many\b",
    "anew, for ever": r"\banew\b|\bfor ever\b",
    "told": r"\btold\b|\btells? of\b",
    "stands": r"\bstands?\b(?! (back|aside|clear|by|for)\b)|\bstood\b",
    "goes by, go by": r"\b(goes|go|going) by\b",
    "holds good": r"\bholds good\b",
    "hangs on": r"\b(hangs?|hung) on\b",
    "lies": r"\blies\b",
    "who looks on": r"\bwho(ever)? (looks?|reads?|drives?|sees?|works?)\b",
    "what is no": r"\b(it|that|this|which|what) is no [a-z]",
    "it is no more": r"\bnot any ?more\b|\bany more\b",
    "inversion": r"\b(Behind|Below|Above|Beside|Before|After) (it|them|that) (is|are|comes?|go(es)?)\b"
    r"|\bMore there is\b|\bmay so many\b",
    "the house": r"\bthe house\b",
    "as good as it gets": r"\bas good as it gets\b|\bout of all reason\b",
    "in the air": r"\bin the air\b",
    "least, aim, most": r"\bthe (aim|least|most) of (a|the) dwell\b|\bleast or most\b|``least``|``most``",
    "tired": r"\btired\b",
    "colour, grey, metre": r"\b(colour|grey|metre|litre|centre|neighbour)s?\b",
    "slack, overstay": r"\bslack\b|\boverstay|\blatest in\b",
    "odds, commission": r"\bodds\b|\bcommission\b",
}


class Hit(NamedTuple):
    """A refused phrase."""

    pattern: str
    file: str
    line: int
    text: str


def prose(path: Path) -> Iterator[tuple[int, str]]:
    """The lines of a file that people read, with their numbers; of code, comments and strings."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield from enumerate(text.splitlines(), start=1)
        return
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type in (tokenize.COMMENT, tokenize.STRING):
            plain = re.sub(r"``[^`]*``|\{[^{}]*\}", "", token.string)
            for number, line in enumerate(plain.splitlines(), start=token.start[0]):
                yield number, line


def shipped() -> list[Path]:
    """Every text of the project that a person may read."""
    files = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "recipes").glob("*.toml"))]
    for kind in ("py", "md", "toml"):
        files += sorted((ROOT / "benchtimer").rglob(f"*.{kind}"))
    return files


def hits(files: list[Path]) -> Iterator[Hit]:
    """Every refused phrase in some files."""
    for path in files:
        for number, line in prose(path):
            for name, pattern in PATTERNS.items():
                if re.search(pattern, line, re.IGNORECASE if name != "inversion" else 0):
                    yield Hit(name, str(path.relative_to(ROOT)), number, line.strip())


if __name__ == "__main__":
    for hit in hits(shipped()):
        if not sys.argv[1:] or sys.argv[1] in hit.pattern:
            print(f"{hit.file}:{hit.line}: [{hit.pattern}] {hit.text}")
