"""The index: which runs a word leads to. Made from events, and made anew when its form changes.

Table ``term`` has one row for each thing a run can be found by:

    kind         part, recipe, bath, verdict, word, date or uid
    text         that, folded for comparison (a part's name, a word of a note, 2026-11-25)
    created_ms   when the run was laid out, so that the newest come first without sorting
    run          the run's name

Only what counts at the end is in it: a note that was taken back leads nowhere. It is
written in the transaction of the events themselves, so it is never behind them.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from benchtimer.run import events as e
from benchtimer.run.codec import event_from
from benchtimer.run.events import Event
from benchtimer.store.days import local_time
from benchtimer.store.standing import standing

FORM = 1
"""The form of the index; a file with another one is indexed anew when it is opened."""

LAST = "\U0010ffff"
"""A character behind all others, to end a range of texts that begin alike."""

MAX_WORD = 40

_TELLING = {
    "created": e.Created,
    "part-added": e.PartAdded,
    "noted": e.Noted,
    "answered": e.Answered,
    "judged": e.Judged,
    "scrapped": e.Scrapped,
    "held": e.Held,
    "aborted": e.Aborted,
    "undone": e.Undone,
    "redone": e.Redone,
    "retimed": e.Retimed,
}
"""The kinds of entries that the index looks at."""

Term = tuple[str, str]


@dataclass(frozen=True, slots=True)
class _Row:
    """An entry as the index needs it."""

    seq: int
    event: Event


def fold_text(text: str) -> str:
    """A text as it is compared: without capitals, with single spaces."""
    return " ".join(text.casefold().split())


def words_in(text: str) -> list[str]:
    """The words of a text, folded; digits count."""
    return [word[:MAX_WORD] for word in re.findall(r"\w+", text.casefold())]


def terms_of(event: Event) -> Iterator[Term]:
    """What one event that counts lets its run be found by."""
    if isinstance(event, e.Created):
        yield from _created(event)
    elif isinstance(event, e.PartAdded):
        yield from [("part", event.part), ("recipe", event.key)]
    elif isinstance(event, e.Judged):
        yield "verdict", event.verdict
    elif isinstance(event, e.Noted):
        yield from (("word", word) for word in words_in(event.text))
    elif isinstance(event, e.Answered) and isinstance(event.answer, str):
        yield from (("word", word) for word in words_in(event.answer))
    elif isinstance(event, e.Scrapped | e.Held | e.Aborted):
        yield from (("word", word) for word in words_in(event.reason))


def _created(event: e.Created) -> Iterator[Term]:
    yield "uid", event.uid
    yield from (("word", word) for word in words_in(event.title))
    for name, _ in event.parts:
        yield "part", name
    for key, table in event.recipes.items():
        yield from [("recipe", key), ("recipe", str(table.get("id", key)))]
    yield from (("bath", bath) for bath in event.baths.values())


def terms_of_run(rows: Sequence[Any]) -> set[Term]:
    """All that a run can be found by, except its day.

    Args:
        rows: the run's entries, at least those of the kinds that tell something.
    """
    counted = standing(rows)
    told: set[Term] = set()
    verdicts: dict[str, str] = {}
    for row in rows:
        if row.seq not in counted:
            continue
        if isinstance(row.event, e.Judged):  # the last judgement of a part counts
            verdicts[row.event.part] = row.event.verdict
        else:
            told.update(terms_of(row.event))
    told.update(("verdict", verdict) for verdict in verdicts.values())
    return {(kind, fold_text(text)) for kind, text in told}


def follow(db: sqlite3.Connection, run: str, events: Iterable[Event]) -> None:
    """Bring the index up to new events of a run, inside the transaction that writes them."""
    told = [event for event in events if type(event) in _TELLING.values()]
    if not told:
        return
    simple = all(isinstance(x, e.Noted | e.Answered | e.PartAdded | e.Held) for x in told)
    if simple:
        terms = {(kind, fold_text(text)) for x in told for kind, text in terms_of(x)}
        _add(db, run, terms)
    else:
        index_run(db, run)


def index_run(db: sqlite3.Connection, run: str) -> None:
    """Make a run's part of the index anew, inside a transaction."""
    db.execute("DELETE FROM term WHERE run = ?", (run,))
    rows = _rows(db, run)
    if rows and isinstance(rows[0].event, e.Created):
        _add(db, run, terms_of_run(rows))


def _add(db: sqlite3.Connection, run: str, terms: set[Term]) -> None:
    found = db.execute("SELECT created_ms, offset_s FROM run WHERE name = ?", (run,)).fetchone()
    if found is None:
        return  # not a run of the register
    created_ms, offset_s = found
    terms |= {("date", local_time(created_ms, offset_s)[:10])}
    db.executemany(
        "INSERT OR IGNORE INTO term (kind, text, created_ms, run) VALUES (?, ?, ?, ?)",
        [(kind, text, created_ms, run) for kind, text in sorted(terms)],
    )


def _rows(db: sqlite3.Connection, run: str) -> list[_Row]:
    marks = ", ".join("?" * len(_TELLING))
    query = (
        "SELECT seq, kind, press, t_ms, by, body FROM event"
        f" WHERE run = ? AND kind IN ({marks}) ORDER BY seq"
    )
    return [
        _Row(seq, event_from(kind, json.loads(body), press=press, t_ms=t_ms, by=by))
        for seq, kind, press, t_ms, by, body in db.execute(query, (run, *_TELLING))
    ]


def is_current(db: sqlite3.Connection) -> bool:
    """Whether the index of a file has this program's form."""
    found = db.execute("SELECT value FROM info WHERE name = 'index-form'").fetchone()
    return found is not None and found[0] == str(FORM)


def index_all(db: sqlite3.Connection) -> None:
    """Make the whole index anew from the events, in one transaction."""
    db.execute("BEGIN IMMEDIATE")
    try:
        db.execute("DELETE FROM term")
        for (run,) in db.execute("SELECT name FROM run").fetchall():
            index_run(db, run)
        db.execute("INSERT OR REPLACE INTO info VALUES ('index-form', ?)", (str(FORM),))
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


@dataclass(frozen=True, slots=True)
class Query:
    """What runs are looked for by; everything given must hold.

    A text finds what is just that, without regard to capitals; one that ends in ``*``, and a
    date (``2026``, ``2026-11`` or ``2026-11-25``), finds what begins so.

    Attributes:
        words: words that notes, answers, reasons or the title of the run have, all of them.
    """

    part: str | None = None
    recipe: str | None = None
    bath: str | None = None
    verdict: str | None = None
    date: str | None = None
    words: tuple[str, ...] = ()
    uid: str | None = None

    def wanted(self) -> list[tuple[str, str, bool]]:
        """Kind, folded text, and whether it only has to begin so."""
        asked = [(kind, getattr(self, kind)) for kind in ("part", "bath", "verdict", "uid")]
        asked += [("word", word) for word in self.words]
        asked += [("recipe", self.recipe)]
        told = [
            (kind, fold_text(text.removesuffix("*")), text.endswith("*"))
            for kind, text in asked
            if text is not None
        ]
        whole_day = self.date is not None and len(self.date) == len("2026-11-25")
        return told + ([("date", self.date, not whole_day)] if self.date is not None else [])


def select(query: Query, limit: int) -> tuple[str, tuple[Any, ...]]:
    """The statement that finds runs, newest first, with its values.

    One term leads, the others are looked up for each run it gives; so the work grows with
    what is found, not with the log.
    """
    wanted = query.wanted()
    if not wanted:
        return "SELECT name FROM run ORDER BY created_ms DESC, last_seq DESC LIMIT ?", (limit,)
    lead, *others = sorted(wanted, key=lambda term: _breadth(term[0], term[2]))
    where, values = _matches("a", lead)
    for number, term in enumerate(others):
        inner, more = _matches(f"b{number}", term)
        where += (
            f" AND EXISTS (SELECT 1 FROM term b{number} WHERE {inner}"
            f" AND b{number}.created_ms = a.created_ms AND b{number}.run = a.run)"
        )
        values += more
    text = (
        f"SELECT DISTINCT a.run FROM term a WHERE {where}"
        " ORDER BY a.created_ms DESC, a.run DESC LIMIT ?"
    )
    return text, (*values, limit)


def _breadth(kind: str, begins: bool) -> int:
    """How many runs a term is likely to give, for choosing the one to begin with."""
    order = ("uid", "part", "word", "bath", "date", "verdict", "recipe")
    loose = begins and kind != "date"
    return order.index(kind) + loose * len(order)


def _matches(alias: str, term: tuple[str, str, bool]) -> tuple[str, tuple[Any, ...]]:
    kind, text, begins = term
    if begins:
        where = f"{alias}.kind = ? AND {alias}.text >= ? AND {alias}.text < ?"
        return where, (kind, text, text + LAST)
    return f"{alias}.kind = ? AND {alias}.text = ?", (kind, text)
