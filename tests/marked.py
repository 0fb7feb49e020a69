"""Tables that programs write into a page, each between two marks."""

from __future__ import annotations

from pathlib import Path


def put_between(target: Path, start: str, end: str, text: str) -> None:
    """Replace the text between two marks in a file.

    Raises:
        SystemExit: the file lacks the marks; nothing was saved.
    """
    before, _, rest = target.read_text(encoding="utf-8").partition(start)
    _, mark, after = rest.partition(end)
    if not mark:
        raise SystemExit(f"{target} has no place for the table: {start} ... {end}")
    target.write_text(f"{before}{start}\n{text}\n{end}{after}", encoding="utf-8")
