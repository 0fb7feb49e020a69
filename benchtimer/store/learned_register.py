"""What runs teach, kept in the register: added up by recipe, so that they are not read again.

A run teaches once it is over. What it taught is kept beside the sums, so that a run that is
opened again, or corrected, is taken out of them exactly.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable

from benchtimer.learn.observe import observed
from benchtimer.learn.sums import IMPORTED, OWN, PRACTICE, Group, Taught, add_up, change
from benchtimer.run import events as e
from benchtimer.run.codec import event_from
from benchtimer.run.events import Event
from benchtimer.store.kinds import as_json
from benchtimer.store.register import Register
from benchtimer.store.runline import OPEN
from benchtimer.store.seal import COLUMNS, check_row
from benchtimer.store.standing import StandingRow, standing

_TEACHING = (
    "created", "part-added", "work-began", "work-finished", "taken-out", "answered", "sent",
    "held", "resumed", "reading-taken", "heated", "make-up-began", "made-up",
    "undone", "redone", "retimed",
)  # fmt: skip
"""The kinds of entries that teach, or say which of them count."""

_ENDS = (e.Completed, e.Aborted, *e.CORRECTIONS)
"""Only these change whether a run is over, or what it says once it is."""


def may_teach(events: Iterable[Event]) -> bool:
    """Whether new events of a run can change what it teaches."""
    return any(isinstance(event, _ENDS) for event in events)


def learn_run(db: sqlite3.Connection, run: str) -> None:
    """Bring the sums up to one run, inside a transaction."""
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
    """What all runs taught about one recipe, by who."""
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
