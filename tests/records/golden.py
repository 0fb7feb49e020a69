"""The golden files of the record's forms: ``python -m tests.records.golden`` rewrites them.

Read the diff before you commit it: other programs rely on these forms.
"""

from __future__ import annotations

from pathlib import Path

from benchtimer.records.forms import FORMS
from benchtimer.records.record import Record, make_record
from benchtimer.run import commands as c
from benchtimer.run.events import Created
from benchtimer.store.log import LogEntry, Stamp
from tests.support import MINUTE, Hands

FOLDER = Path(__file__).parent / "golden"
MORNING_MS = 1_770_000_000_000

HOSTILE = (
    "<script>alert(1)</script>",
    "</script><img src=x onerror=alert(1)>",
    '=HYPERLINK("http://x.example","y")',
    "+1+1",
    "-1-1",
    "@SUM(A1)",
    "| a | b |\n|---|---|",
    "[link](javascript:alert(1)) ![image](http://x.example/y.png) <b>bold</b> `code` **strong**",
    "' onmouseover='alert(1)",
    '"; DROP TABLE event; --',
    "&lt;b&gt; &amp; ]]> --> <!--",
)
"""Hostile texts that the log accepts unchanged."""


def entries_of(hands: Hands, offset_s: int = 3600) -> list[LogEntry]:
    """The events as log entries, written when they were pressed."""
    entries: list[LogEntry] = []
    noted = 0
    for seq, event in enumerate(hands.events, start=1):
        noted = max(noted, event.t_ms)
        stamp = Stamp(noted, "b", noted, MORNING_MS + noted - 1_000_000, offset_s)
        entries.append(LogEntry(seq, "2026-02-02-1", event, stamp))
    return entries


def record() -> Record:
    """The record in the golden files."""
    knife, ferrule = "petty knife", "=1+1 ferrule"
    hands = Hands(names=(knife, ferrule))
    hands(c.Read("tank", "65 C"))
    hands.to_tank(knife)
    hands(c.Begin(knife), 9 * MINUTE)
    hands(c.Answer(knife, "even", False))
    hands(c.Scrap(ferrule, "</script><b>cracked</b>"))
    hands.to_tank(knife)
    hands(c.Begin(knife), 3 * MINUTE)
    hands(c.BackDate(30_000))
    hands(c.Answer(knife, "even", True))
    hands(c.Undo())
    hands(c.Redo())
    hands(c.Answer(knife, "heat", "25 C"))
    hands(c.Finish(knife))
    hands(c.Begin(knife), 125 * MINUTE)
    hands(c.Answer(knife, "colour", "black"))
    hands(c.Answer(knife, "words", "even, from tang to tip"))
    for text in HOSTILE:
        hands(c.Note(text))
    hands(c.Note("photo: photos/petty knife.jpg", knife))
    hands(c.Complete())
    hands(c.Judge(knife, "accepted", 5))
    assert isinstance(hands.events[0], Created)
    return make_record(entries_of(hands))


def path(form: str) -> Path:
    """The golden file of a form."""
    return FOLDER / f"run.{'txt' if form == 'text' else 'md' if form == 'markdown' else form}"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, make in FORMS.items():
        path(name).write_bytes(make(record()).encode())
