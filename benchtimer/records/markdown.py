"""A record as Markdown (CommonMark with tables), for a notebook or a letter."""

from __future__ import annotations

import re

from benchtimer.records.card import TitledTable, heading, sections
from benchtimer.records.inert import visible
from benchtimer.records.photos import photo_link
from benchtimer.records.record import Record

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~&:@$^=])")


def as_markdown(record: Record) -> str:
    """The record as Markdown; no text in it is read as markup."""
    lines = [f"# {plain(record.title)}", ""]
    lines += [f"- **{name}**: {plain(value)}" for name, value in heading(record)]
    for section in sections(record):
        lines += ["", f"## {plain(section.title)}", "", *_table(section)]
    lines += ["", "## Log", "", "Entries struck out were taken back later.", ""]
    for line in record.lines:
        text = plain(line.text) if line.counts else f"~~{plain(line.text)}~~"
        lines.append(f"- {plain(line.at)} {text}")
    return visible("\n".join(lines) + "\n")


def plain(text: str) -> str:
    """Text on one line with every Markdown mark escaped."""
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))


def _table(section: TitledTable) -> list[str]:
    rows = [section.head, tuple("---" for _ in section.head)]
    for row in section.rows:
        cells = [plain(cell) for cell in row]
        if section.files:
            cells[-1] = f"[{cells[-1]}](<{photo_link(row[-1])}>)"
        rows.append(tuple(cells))
    return [f"| {' | '.join(cells)} |" for cells in rows]
