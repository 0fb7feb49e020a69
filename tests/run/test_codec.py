"""Events of every kind survive the log, even from an older program."""

from __future__ import annotations

import json
from dataclasses import MISSING, Field, fields
from typing import Any, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.bath.bath_events import BATH_KINDS
from benchtimer.run.codec import COMMON, UnknownEvent, body_of
from benchtimer.run.events import KINDS, Event
from benchtimer.store.entries import event_from, kind_of

ALL = {**KINDS, **BATH_KINDS}
_every = pytest.mark.parametrize("kind", sorted(ALL))
_few = settings(max_examples=4, deadline=None)  # four of each of 38 kinds

_WORDS = st.text(max_size=12)
_TABLES = st.recursive(
    st.one_of(_WORDS, st.integers(-(2**53), 2**53), st.booleans()),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(_WORDS, inner, max_size=2),
    max_leaves=4,
)
_FIELDS: dict[str, st.SearchStrategy[Any]] = {
    "dict[str, dict[str, typing.Any]]": st.dictionaries(
        _WORDS, st.dictionaries(_WORDS, _TABLES, max_size=2), max_size=2
    ),
    "dict[str, typing.Any] | None": st.none() | st.dictionaries(_WORDS, _TABLES, max_size=2),
    "<class 'float'>": st.floats(1, 1000),
}


def _events(cls: type[Event]) -> st.SearchStrategy[Event]:
    hints = get_type_hints(cls)
    return st.builds(
        cls,
        **{
            f.name: _FIELDS.get(str(hints[f.name]), st.from_type(hints[f.name]))
            for f in fields(cls)
        },
    )


def _has_default(field: Field[Any]) -> bool:
    return field.default is not MISSING or field.default_factory is not MISSING


def _read(event: Event, body: dict[str, Any]) -> Event:
    there = json.loads(json.dumps(body))
    return event_from(kind_of(event), there, press=event.press, t_ms=event.t_ms, by=event.by)


@_every
@_few
@given(st.data())
def test_an_event_reads_back_unchanged(kind: str, data: st.DataObject) -> None:
    """Any event written as JSON reads back the same, with the same name."""
    event = data.draw(_events(ALL[kind]))
    assert kind_of(event) == kind
    assert _read(event, body_of(event)) == event


@_every
@_few
@given(st.data())
def test_entries_of_an_older_program_can_be_read(kind: str, data: st.DataObject) -> None:
    """A body without newer fields reads with their defaults."""
    event = data.draw(_events(ALL[kind]))
    young = {f.name for f in fields(event) if _has_default(f)}
    old = {name: value for name, value in body_of(event).items() if name not in young}
    again = _read(event, old)
    assert body_of(again) | old == body_of(again)
    for name in young:
        field = next(f for f in fields(event) if f.name == name)
        default = field.default_factory() if callable(field.default_factory) else field.default
        assert getattr(again, name) == default


@_every
@_few
@given(st.data())
def test_a_missing_field_is_named(kind: str, data: st.DataObject) -> None:
    """A body without a required field is refused, and the message names the field."""
    event = data.draw(_events(ALL[kind]))
    body = body_of(event)
    for field in fields(event):
        if field.name in COMMON or _has_default(field):
            continue
        lacks = {name: value for name, value in body.items() if name != field.name}
        with pytest.raises(UnknownEvent, match=f'"{kind}".*missing field {field.name}'):
            _read(event, lacks)


@_every
@_few
@given(st.data(), st.sampled_from(["smell", "colour"]))
def test_an_unknown_field_is_named(kind: str, data: st.DataObject, name: str) -> None:
    """A body with an unknown field is refused, and the message names the field."""
    event = data.draw(_events(ALL[kind]))
    with pytest.raises(UnknownEvent, match=f"unknown field {name}.*newer version"):
        _read(event, {**body_of(event), name: 1})


def test_names_of_events_never_change() -> None:
    """The names of kinds in the log never change, one per class."""
    assert sorted(ALL) == sorted(set(ALL))
    assert len(set(ALL.values())) == len(ALL)
    assert not set(KINDS) & set(BATH_KINDS)
