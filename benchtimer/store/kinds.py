"""Every kind of event the log holds, of runs, baths and jobs, named and read in one place."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from benchtimer.bath.events import BATH_KINDS, from_body
from benchtimer.job.job_events import JOB_KINDS, job_body
from benchtimer.run import codec
from benchtimer.run.codec import UnknownEvent, body_of
from benchtimer.run.events import KINDS, Event

_OWN_STREAMS: dict[str, type[Event]] = {**BATH_KINDS, **JOB_KINDS}
_NAMES: dict[type[Event], str] = {cls: name for name, cls in _OWN_STREAMS.items()}

__all__ = ["body_of", "event_from", "is_of_run", "kind_of"]


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _NAMES.get(type(event)) or codec.kind_of(event)


def is_of_run(event: Event) -> bool:
    """Whether an event belongs to a run, not to a bath's or a job's own stream."""
    return type(event) not in _NAMES


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
    cls = _OWN_STREAMS.get(kind)
    if cls is None:
        return codec.event_from(kind, body, press=press, t_ms=t_ms, by=by)
    plain = from_body(body) if kind in BATH_KINDS else job_body(body)
    return codec.event_of(cls, kind, plain, press=press, t_ms=t_ms, by=by)


@cache
def _shape(kind: str) -> TypeAdapter[Event]:
    """What the fields of a kind of event may hold."""
    return TypeAdapter(_OWN_STREAMS.get(kind) or KINDS[kind])
