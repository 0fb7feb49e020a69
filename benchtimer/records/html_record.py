"""A record as one self-contained HTML page: the process card, for paper and for other people. It
has no script and loads nothing, and a policy in the page forbids both. All text goes through
``escape``.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from benchtimer.records.card import TitledTable, heading, sections
from benchtimer.records.charts import baths_svg, dwells_svg, lettered, timeline_svg, troubles_first
from benchtimer.records.inert import visible
from benchtimer.records.photos import photo_link
from benchtimer.records.record import Record

STYLE = """
@page { size: A4; margin: 10mm; }
body { font: 10pt/1.3 sans-serif; color: #000; background: #fff; margin: 1em auto;
  max-width: 64em; padding: 0 1em; }
h1 { font-size: 16pt; margin: 0 0 .3em; }
h2 { font-size: 10.5pt; margin: .9em 0 .2em; border-bottom: 1.5pt solid #000; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0 1em; margin: 0; }
dt { font-weight: bold; } dd { margin: 0; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; font-size: 8pt; line-height: 1.2; }
th, td { min-width: 3.2em; text-align: left; vertical-align: top; padding: 1pt 4pt 1pt 0;
  border-bottom: .5pt solid #999; overflow-wrap: anywhere; white-space: pre-line; }
thead { display: table-header-group; } tr { break-inside: avoid; }
.narrow td:first-child { white-space: nowrap; }
.narrow { columns: 2; column-gap: 1.5em; } .narrow section { break-inside: auto; }
.practice { border: 3pt solid #000; padding: .3em; font-size: 14pt; font-weight: bold; }
svg { width: 100%; height: auto; } svg text { font: 12px sans-serif; fill: #000; }
.grid { stroke: #bbb; } .base { stroke: #000; } .work { stroke: #000; stroke-width: 7; }
.stay { fill: #ddd; stroke: #000; } .wrong { fill: #fff; stroke-width: 2.5;
  stroke-dasharray: 4 2; }
.window { fill: #ddd; stroke: #000; } svg .flag { font-weight: bold; }
.limit { stroke: #000; stroke-width: 1.5; stroke-dasharray: 5 3; }
.over { stroke: #000; stroke-width: 7; stroke-dasharray: 2 2; }
.curve { fill: none; stroke: #000; stroke-width: 1.5; } svg .end { text-anchor: end; }
.trouble { font-weight: bold; border: 2pt solid #000; padding: .3em 1em .3em 2em; margin: .3em 0; }
svg .axis, svg .station { text-anchor: middle; } svg .mark { font-weight: bold; font-size: 15px; }
footer { font-size: 8pt; margin-top: 1em; }
@media print { body { font-size: 8.5pt; margin: 0; max-width: none; padding: 0; }
  table { font-size: 6.3pt; line-height: 1.1; } th, td { padding: .3pt 3pt .3pt 0; }
  h2 { margin: .6em 0 .1em; font-size: 9pt; } p, footer { margin: .3em 0; } }
@media (max-width: 50em) { .narrow td:first-child, .narrow td:last-child { white-space: nowrap; }
.narrow { columns: 1; } }
"""

POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def as_html(record: Record) -> str:
    """The process card of a run as a whole page."""
    return visible("\n".join(_lines(record)) + "\n")


def _lines(record: Record) -> Iterator[str]:
    title = f"{record.title}, run {record.run}"
    yield from (
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{_safe(title)}</title>",
        f"<style>{STYLE}</style>",
        "</head>",
        "<body>",
        f"<h1>{_safe(record.title)}</h1>",
    )
    if record.practice:
        yield '<p class="practice">PRACTICE: not a record of real work</p>'
    yield from _troubles(record)
    yield "<dl>"
    yield from (f"<dt>{_safe(k)}</dt><dd>{_safe(v)}</dd>" for k, v in heading(record))
    yield "</dl>"
    yield "<h2>Timeline, hours and minutes since the run was set up</h2>"
    yield timeline_svg(record)
    yield f"<p>{_legend(record)}</p>"
    for title, chart in (
        ("Dwells against their windows, worst first", dwells_svg(record)),
        ("Bath temperatures and their limits", baths_svg(record)),
    ):
        if chart:
            yield f"<h2>{title}</h2>"
            yield chart
    yield from _sections(sections(record))
    yield from (
        "<footer><p>Times of day are local, with their offset from UTC in the heading. The "
        "supplier's data sheet comes before anything this page says. The whole log, with every "
        "entry that was taken back, is in the run's text and TOML forms.</p></footer>",
        "</body>",
        "</html>",
    )


def _troubles(record: Record) -> Iterator[str]:
    """What went wrong, with part and step, at the top."""
    found = troubles_first(record)
    if found:
        yield '<ul class="trouble">'
        yield from (f"<li>{_safe(line[3:])}</li>" for line in found)
        yield "</ul>"


def _legend(record: Record) -> str:
    letters = ", ".join(f"{k} {_safe(name)}" for name, k in lettered(record).items())
    stays = f"Bars show time in a station{f': {letters}' if letters else ''}. "
    return f"{stays}Thick strokes are work in hand. ! overrun, &lt; cut short."


def _sections(tables: list[TitledTable]) -> Iterator[str]:
    for section in tables:
        if section.wide:
            yield from _section(section)
    narrow = [section for section in tables if not section.wide]
    if narrow:
        yield '<div class="narrow">'
        for section in narrow:
            yield from _section(section)
        yield "</div>"


def _section(section: TitledTable) -> Iterator[str]:
    yield f"<section><h2>{_safe(section.title)}</h2><table><thead><tr>"
    yield "".join(f'<th scope="col">{_safe(name)}</th>' for name in section.head)
    yield "</tr></thead><tbody>"
    for row in section.rows:
        cells = [_safe(cell) for cell in row]
        if section.files:
            cells[-1] = f'<a href="{_safe(photo_link(row[-1]))}">{cells[-1]}</a>'
        yield f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"
    yield "</tbody></table></section>"


def _safe(text: str) -> str:
    return escape(text, quote=True)
