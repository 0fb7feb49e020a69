"""The sealed table answers like a dictionary or reports that it can't be trusted."""

from __future__ import annotations

import sqlite3
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.run.run_state import OVER, RunPhase
from benchtimer.store.register import LAST, Register
from benchtimer.store.runline import OPEN
from benchtimer.store.seal import Broken
from benchtimer.store.sealed import SealedMap

KEYS = st.text(st.sampled_from("ab\t1刃\U0001f525"), min_size=1, max_size=4)
VALUES = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=6)
TABLES = st.dictionaries(KEYS, VALUES, max_size=12)


@contextmanager
def _filled(table: dict[str, str]) -> Iterator[tuple[sqlite3.Connection, SealedMap]]:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        sealed = SealedMap(db)
        sealed.begin()
        for key, value in table.items():
            sealed.put(key, value)
        yield db, sealed


def _between(table: dict[str, str], low: str, high: str) -> list[tuple[str, str]]:
    return [(key, table[key]) for key in sorted(table) if low <= key < high]


@given(TABLES, st.lists(st.tuples(KEYS, st.none() | VALUES), max_size=12), KEYS, KEYS)
def test_it_behaves_like_a_dictionary(
    table: dict[str, str], changes: list[tuple[str, str | None]], low: str, high: str
) -> None:
    """After any puts and removals, each key, gap and range is as in a dictionary."""
    with _filled(table) as (_, sealed):
        model = dict(table)
        for key, value in changes:
            if value is None:
                sealed.remove(key)
                model.pop(key, None)
            else:
                sealed.put(key, value)
                model[key] = value
        assert {key: sealed.get(key) for key in [*model, low, high]} == {
            key: model.get(key) for key in [*model, low, high]
        }
        if low < high:
            assert list(sealed.up(low, high)) == _between(model, low, high)
            assert list(sealed.down(low, high)) == _between(model, low, high)[::-1]
        assert list(sealed.up("\t", LAST)) == _between(model, "\t", LAST)


CHANGES = (
    "DELETE FROM register WHERE key = ?1",
    "UPDATE register SET value = value || 'x' WHERE key = ?1",
    "UPDATE register SET seal = seal + 1 WHERE key = ?1",
    "UPDATE OR IGNORE register SET key = key || 'a' WHERE key = ?1",
    "UPDATE OR IGNORE register SET key = substr(key, 2) WHERE key = ?1",
)


@given(TABLES, st.sampled_from(CHANGES), st.integers(0, 12), KEYS, KEYS)
def test_outside_changes_are_never_trusted(
    table: dict[str, str], change: str, which: int, low: str, high: str
) -> None:
    """With one row gone, moved or changed, each answer is correct or refused."""
    with _filled(table) as (db, sealed):
        rows = db.execute("SELECT * FROM register ORDER BY key").fetchall()
        db.execute(change, (rows[which % len(rows)][0],))
        was_changed = db.execute("SELECT * FROM register ORDER BY key").fetchall() != rows
        for key in [*table, low, high]:
            with suppress(Broken):
                assert sealed.get(key) == table.get(key)
        for walk, way in ((sealed.up, 1), (sealed.down, -1)):
            with suppress(Broken):
                if low < high:
                    assert list(walk(low, high)) == _between(table, low, high)[::way]
        try:
            assert list(sealed.up("\t", LAST)) == _between(table, "\t", LAST)
            assert not was_changed
        except Broken:
            assert was_changed


@given(TABLES, st.integers(0, 12), KEYS, VALUES)
def test_a_damaged_row_stops_all_writing(
    table: dict[str, str], which: int, key: str, value: str
) -> None:
    """A put or removal that would reseal a damaged row is refused."""
    with _filled(table) as (db, sealed):
        keys = sorted(["", *table])
        damaged = keys[which % len(keys)]
        db.execute("UPDATE register SET value = value || 'x' WHERE key = ?", (damaged,))
        place = bisect_left(keys, key)
        touched = {keys[place]} if key in table else {keys[place - 1]}
        if damaged in touched:
            with pytest.raises(Broken, match="can't be trusted at"):
                sealed.put(key, value)
        else:
            sealed.put(key, value)
        with pytest.raises(Broken):
            sealed.get(damaged)


def test_a_register_without_its_first_row_or_state_is_broken() -> None:
    """A register without its first row or its state is damaged."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        register = Register(db)
        register.begin()
        assert (register.state().last, register.lines(), register.number("x")) is not None
        db.execute("DELETE FROM register WHERE key = 'log'")
        with pytest.raises(Broken):
            register.state()
        db.execute("DELETE FROM register")
        for ask in (register.state, lambda: register.number("x"), lambda: list(register.lines())):
            with pytest.raises(Broken):
                ask()


def test_a_run_is_open_unless_it_is_over() -> None:
    """The register's open phases are the engine's phases that are not final."""
    assert {phase.value for phase in RunPhase} - {phase.value for phase in OVER} == OPEN
