"""The index: which runs a word finds. Built from events, and rebuilt when its form changes.

A term is a kind (part, job, recipe, bath, verdict, word, date or uid) and a text, folded for
comparison: a part's name, a word of a note, 2026-11-25. The register keeps the terms of each
run, and the runs of each term, newest first.

It has only what counts in the end: an undone note finds nothing. It is written in the
transaction of the events themselves, so it is always current.

What runs teach is in the register too, added up by recipe, so runs are not read again. A run
teaches once it is closed. Its share is stored along with the sums, so a run that is
reopened or corrected can be subtracted exactly.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from benchtimer.learn.observe import observed
from benchtimer.learn.sums import IMPORTED, OWN, PRACTICE, Group, Taught, add_up, change
from benchtimer.run import events as e
from benchtimer.run.codec import event_from
from benchtimer.run.events import Event
from benchtimer.store.entries import as_json, local_time
from benchtimer.store.register import Register, Term
from benchtimer.store.runline import OPEN
from benchtimer.store.seal import COLUMNS, check_row
from benchtimer.store.standing import StandingRow, standing
from benchtimer.values import dataclass

_TEACHING = (
    "created", "part-added", "work-began", "work-finished", "taken-out", "answered", "sent",
    "held", "resumed", "reading-taken", "heated", "make-up-began", "made-up",
    "undone", "redone", "retimed",
)  # fmt: skip
"""The kinds of entries that teach, or decide which of them count."""

_ENDS = (e.Completed, e.Aborted, *e.CORRECTIONS)
"""Only these change whether a run is closed, or what a closed run teaches."""


def may_teach(events: Iterable[Event]) -> bool:
    """Whether new events of a run can change what it teaches."""
    return any(isinstance(event, _ENDS) for event in events)


def learn_run(db: sqlite3.Connection, run: str) -> None:
    """Update the sums for one run, inside a transaction."""
    register = Register(db)
    line, before = register.line_of(run), taught_by(register, run)
    over = line is not None and line.phase not in OPEN
    now = _taught(db, run, line.created_ms) if line is not None and over else {}
    if now == before:
        return
    for recipe in sorted({*before, *now}):
        sums = sums_of(register, recipe)
        changed = change(sums, before.get(recipe, {}), now.get(recipe, {}))
        register.set_sums(recipe, as_json(changed) if changed else "")
    register.set_taught(run, as_json(now) if now else "")


def sums_of(register: Register, recipe: str) -> dict[str, Group]:
    """What all runs taught about one recipe, by maker."""
    found = register.sums(recipe)
    stored = {} if found is None else json.loads(found)
    return {who: {key: tuple(row) for key, row in group.items()} for who, group in stored.items()}


def taught_by(register: Register, run: str) -> Taught:
    """What one run taught, by recipe."""
    found = register.taught(run)
    stored = {} if found is None else json.loads(found)
    return {
        recipe: {who: {key: tuple(row) for key, row in g.items()} for who, g in groups.items()}
        for recipe, groups in stored.items()
    }


def _taught(db: sqlite3.Connection, run: str, created_ms: int) -> Taught:
    marks = ", ".join("?" * len(_TEACHING))
    query = f"SELECT {COLUMNS} FROM event WHERE run = ? AND kind IN ({marks}) ORDER BY seq"
    rows, carried = [], False
    for row in db.execute(query, (run, *_TEACHING)):
        check_row(row)
        seq, _, kind, press, t_ms, _, by, body, *_ = row
        event = event_from(kind, json.loads(body), press=press, t_ms=t_ms, by=by)
        rows.append(StandingRow(seq, event))
        carried = carried or bool(row[-3])
    counted = standing(rows)
    first = rows[0].event if rows else None
    if not isinstance(first, e.Created):
        return {}
    source = PRACTICE if first.speed != 1 else IMPORTED if carried else OWN
    return add_up(observed(r.event for r in rows if r.seq in counted), created_ms, source)


FORM = 3
"""The form of the index; a file with another form is indexed again on opening."""

MAX_WORD = 40

_TELLING = {
    "created": e.Created,
    "part-added": e.PartAdded,
    "noted": e.Noted,
    "answered": e.Answered,
    "judged": e.Judged,
    "scrapped": e.Scrapped,
    "some-scrapped": e.SomeScrapped,
    "skipped": e.Skipped,
    "held": e.Held,
    "aborted": e.Aborted,
    "undone": e.Undone,
    "redone": e.Redone,
    "retimed": e.Retimed,
}
"""The kinds of entries that the index reads."""


def fold_text(text: str) -> str:
    """A text for comparison: without capitals, with single spaces."""
    return " ".join(text.casefold().split())


def words_in(text: str) -> list[str]:
    """The words of a text, folded; digits count."""
    return [word[:MAX_WORD] for word in re.findall(r"\w+", text.casefold())]


def terms_of(event: Event) -> Iterator[Term]:
    """The terms of one event that counts."""
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
    elif isinstance(event, e.Scrapped | e.SomeScrapped | e.Skipped | e.Held | e.Aborted):
        yield from (("word", word) for word in words_in(event.reason))


def _created(event: e.Created) -> Iterator[Term]:
    yield "uid", event.uid
    yield from (("word", word) for word in words_in(event.title))
    for name, _ in event.parts:
        yield "part", name
    for name in event.jobs.values():
        yield from [("part", name), ("job", name.partition("/")[0])]
    for key, table in event.recipes.items():
        yield from [("recipe", key), ("recipe", str(table.get("id", key)))]
    yield from (("bath", bath) for bath in event.baths.values())


def terms_of_run(rows: Sequence[Any]) -> set[Term]:
    """All terms of a run, except its day.

    Args:
        rows: the run's entries, at least those of the indexed kinds.
    """
    counted = standing(rows)
    terms: set[Term] = set()
    verdicts: dict[str, str] = {}
    for row in rows:
        if row.seq not in counted:
            continue
        if isinstance(row.event, e.Judged):  # the last verdict on a part counts
            verdicts[row.event.part] = row.event.verdict
        else:
            terms.update(terms_of(row.event))
    terms.update(("verdict", verdict) for verdict in verdicts.values())
    return {(kind, fold_text(text)) for kind, text in terms}


def follow(db: sqlite3.Connection, run: str, events: Iterable[Event]) -> None:
    """Update the index for new events of a run, inside the transaction that writes them.

    Args:
        db: the open log.
        run: the run's name.
        events: the new events.
    """
    events = list(events)
    _follow_terms(db, run, events)
    if may_teach(events):
        learn_run(db, run)


def _follow_terms(db: sqlite3.Connection, run: str, events: Sequence[Event]) -> None:
    telling = [event for event in events if type(event) in _TELLING.values()]
    if not telling:
        return
    simple = all(isinstance(x, e.Noted | e.Answered | e.PartAdded | e.Held) for x in telling)
    if not simple:
        index_run(db, run)
        return
    register = Register(db)
    line = register.line_of(run)
    if line is not None:
        terms = {(kind, fold_text(text)) for x in telling for kind, text in terms_of(x)}
        register.set_terms(line, {*register.terms(run), *terms})


def index_run(db: sqlite3.Connection, run: str) -> None:
    """Rebuild a run's part of the index, inside a transaction."""
    register = Register(db)
    line, rows = register.line_of(run), _rows(db, run)
    if line is not None and rows and isinstance(rows[0].event, e.Created):
        day = local_time(line.created_ms, line.offset_s)[:10]
        register.set_terms(line, {*terms_of_run(rows), ("date", day)})


def _rows(db: sqlite3.Connection, run: str) -> list[StandingRow]:
    marks = ", ".join("?" * len(_TELLING))
    query = f"SELECT {COLUMNS} FROM event WHERE run = ? AND kind IN ({marks}) ORDER BY seq"
    rows = []
    for row in db.execute(query, (run, *_TELLING)):
        check_row(row)
        seq, _, kind, press, t_ms, _, by, body, *_ = row
        rows.append(
            StandingRow(seq, event_from(kind, json.loads(body), press=press, t_ms=t_ms, by=by))
        )
    return rows


def is_current(db: sqlite3.Connection) -> bool:
    """Whether the index of a file has this program's form."""
    return Register(db).form == str(FORM)


def index_all(db: sqlite3.Connection) -> None:
    """Rebuild the whole index from the events, in one transaction."""
    register = Register(db)
    db.execute("BEGIN IMMEDIATE")
    try:
        register.forget_learned()
        for line in list(register.lines()):
            index_run(db, line.name)
            learn_run(db, line.name)
        register.set_form(FORM)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:  # a full disk has rolled it back already
            db.execute("ROLLBACK")
        raise


@dataclass(frozen=True, slots=True)
class Query:
    """A search for runs; every field given must match.

    A text matches exactly, except for capitals. A text that ends in ``*``, and a date (``2026``,
    ``2026-11`` or ``2026-11-25``), matches beginnings.

    Attributes:
        words: words that must all occur in notes, answers, reasons or the title of the run.
    """

    part: str | None = None
    recipe: str | None = None
    bath: str | None = None
    verdict: str | None = None
    date: str | None = None
    words: tuple[str, ...] = ()
    uid: str | None = None
    job: str | None = None

    def wanted(self) -> list[tuple[str, str, bool]]:
        """Kind, folded text, and whether it matches beginnings."""
        asked = [(kind, getattr(self, kind)) for kind in ("part", "job", "bath", "verdict", "uid")]
        asked += [("word", word) for word in self.words]
        asked += [("recipe", self.recipe)]
        terms = [
            (kind, fold_text(text.removesuffix("*")), text.endswith("*"))
            for kind, text in asked
            if text is not None
        ]
        whole_day = self.date is not None and len(self.date) == len("2026-11-25")
        return terms + ([("date", self.date, not whole_day)] if self.date is not None else [])

    def fits(self, terms: Iterable[Term]) -> bool:
        """Whether a run with these terms matches the query."""
        present = set(terms)
        return all(
            any(k == kind and t.startswith(text) for k, t in present)
            if begins
            else (kind, text) in present
            for kind, text, begins in self.wanted()
        )


def find_runs(register: Register, query: Query, limit: int) -> list[str]:
    """The names of the runs that match a query, newest first.

    One term selects runs, and the others are checked on each. So the work grows with the
    result, not with the log.

    Args:
        register: the register of runs.
        query: the filters.
        limit: at most this many.
    """
    wanted = query.wanted()
    if not wanted:
        return [line.name for line in islice(register.lines(), limit)]
    kind, text, begins = min(wanted, key=lambda term: _breadth(term[0], term[2]))
    led = register.found(kind, text, begins=begins)
    if begins:  # they are in order of the texts
        led = iter(sorted(set(led), reverse=True))
    names = (name for _, name in led)
    if len(wanted) > 1:
        names = (name for name in names if query.fits(register.terms(name)))
    return list(islice(names, limit))


def _breadth(kind: str, begins: bool) -> int:
    """How many runs a term probably finds, to choose the first term."""
    order = ("uid", "job", "part", "word", "bath", "date", "verdict", "recipe")
    loose = begins and kind != "date"
    return order.index(kind) + loose * len(order)
