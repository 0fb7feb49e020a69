"""The prose of the project, line by line: comments, docstrings, strings and pages.

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
    "nobody, somebody": r"\b(no|some)body\b(?! unprotected| goes back in)",
    "so many": r"\bso many\b",
    "anew, for ever": r"\banew\b|\bfor ever\b",
    "told": r"\btold\b|\btells? of\b",
    "stands": r"\bstands?\b(?! (back|aside|clear|by|for|in for|out|and|the|in (cold|warm))\b)"
    r"|\bstood\b",
    "goes by": r"\b(goes|go|going) by\b",
    "holds good": r"\bholds good\b",
    "hangs on": r"\bhangs? on\b(?! (one|a) wire)",
    "lies": r"\blies\b(?! on (the|wood|a bench))",
    "who looks on": r"\bwho looks on\b|\bwhoever\b",
    "is no": r"\b(it|that|this|which|what) is no (?!longer|more|less)[a-z]",
    "inversion": r"\b(Behind|Below|Above|Beside|Before|After) (it|that) (stands|comes|goes)\b"
    r"|\bMore there is\b",
    "the house": r"\bthe house\b",
    "as good as it gets": r"\bas good as it gets\b|\bout of all reason\b",
    "in the air": r"\bin the air\b",
    "any more": r"\bcan't be avoided any more\b",
    "tired": r"\btired (bath|solution)|\*\*tired",
    "British spelling": r"\b(colour|grey|metre|litre|centre|neighbour)s?\b|\bneutralis",
    "slack, overstay": r"\boverstay|\bslack (is|of a lane|rounds)\b|\*\*slack",
    "odds, commission": r"\bodds\b|\bcommission\b",
}


RECIPES_MAY = ("nobody, somebody", "stands", "goes by", "hangs on")


class Hit(NamedTuple):
    """A refused phrase."""

    pattern: str
    file: str
    line: int
    text: str


def prose(path: Path) -> Iterator[tuple[int, str]]:
    """The lines of a file that people read, numbered; for code, its comments and strings."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield from enumerate(text.splitlines(), start=1)
        return
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type in (tokenize.COMMENT, tokenize.STRING):
            plain = re.sub(r"``[^`]*``|\{[^{}]*\}", "", token.string)
            if token.type == tokenize.STRING and " " not in plain.strip():
                continue  # a name, not a sentence
            yield from enumerate(plain.splitlines(), start=token.start[0])


def shipped() -> list[Path]:
    """Every text of the project that a person may read."""
    files = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "recipes").glob("*.toml"))]
    for kind in ("py", "md", "toml"):
        files += sorted((ROOT / "benchtimer").rglob(f"*.{kind}"))
    return files


def is_exempt(path: Path, name: str) -> bool:
    """Whether a safety text can use a pattern that other texts can't."""
    return path.suffix == ".toml" and path.parent.name == "recipes" and name in RECIPES_MAY


def hits(files: list[Path]) -> Iterator[Hit]:
    """Every refused phrase in some files."""
    for path in files:
        for number, line in prose(path):
            for name, pattern in PATTERNS.items():
                flags = 0 if name == "inversion" else re.IGNORECASE
                if re.search(pattern, line, flags) and not is_exempt(path, name):
                    yield Hit(name, str(path.relative_to(ROOT)), number, line.strip())


if __name__ == "__main__":
    for hit in hits(shipped()):
        if not sys.argv[1:] or sys.argv[1] in hit.pattern:
            sys.stdout.write(f"{hit.file}:{hit.line}: [{hit.pattern}] {hit.text}\n")
