"""Every kind of event the log holds, of runs and of baths: one place that names and reads them."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from benchtimer.bath.events import BATH_KINDS, from_body
from benchtimer.run import codec
from benchtimer.run.codec import UnknownEvent, body_of
from benchtimer.run.events import KINDS, Event

_BATH_NAMES: dict[type[Event], str] = {cls: name for name, cls in BATH_KINDS.items()}

__all__ = ["body_of", "event_from", "kind_of"]


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _BATH_NAMES.get(type(event)) or codec.kind_of(event)


def event_from(kind: str, body: object, *, press: int, t_ms: int, by: str) -> Event:
    """The event of an entry.

    Raises:
        UnknownEvent: an unknown kind, a missing field, a field too many, or one of a wrong type.
    """
    if not isinstance(body, dict):
        raise UnknownEvent(kind, "its body is no table")
    try:
        event = _built(kind, body, press, t_ms, by)
        _shape(kind).validate_python({f.name: getattr(event, f.name) for f in fields(event)})
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(piece) for piece in first["loc"])
        raise UnknownEvent(kind, f"{where}: {first['msg']}") from None
    except UnknownEvent:
        raise
    except (TypeError, ValueError):
        raise UnknownEvent(kind, "a list in it has the wrong shape") from None
    return event


def _built(kind: str, body: dict[str, Any], press: int, t_ms: int, by: str) -> Event:
    cls = BATH_KINDS.get(kind)
    if cls is None:
        return codec.event_from(kind, body, press=press, t_ms=t_ms, by=by)
    return codec.event_of(cls, kind, from_body(body), press=press, t_ms=t_ms, by=by)


@cache
def _shape(kind: str) -> TypeAdapter[Event]:
    """What the fields of a kind of event may hold."""
    return TypeAdapter(BATH_KINDS.get(kind) or KINDS[kind])
