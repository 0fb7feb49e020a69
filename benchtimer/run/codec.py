"""Events as plain tables and back: the form in which the log keeps them.

The kind and the three common fields (press, t_ms, by) stand apart; the rest is the body.
A body that lacks a field with a default reads as the default, so that events can grow
fields; a body with a field this program doesn't know was written by a newer one.
"""

from __future__ import annotations

from dataclasses import MISSING, Field, fields
from typing import Any, TypeVar

from benchtimer.run.events import KINDS, Created, Event

COMMON = ("press", "t_ms", "by")
_E = TypeVar("_E", bound=Event)
_NAMES = {kind: name for name, kind in KINDS.items()}


class UnknownEvent(ValueError):
    """An entry of the log that this program can't read.

    Attributes:
        kind: the entry's kind.
        reason: what it can't read.
    """

    def __init__(self, kind: str, reason: str) -> None:
        self.kind = kind
        self.reason = reason
        super().__init__(
            f'the log has an entry "{kind}" that this program can\'t read: {reason}; '
            "it was written by a newer version, or is damaged"
        )


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _NAMES[type(event)]


def body_of(event: Event) -> dict[str, Any]:
    """An event's own fields as a plain table."""
    return {f.name: getattr(event, f.name) for f in fields(event) if f.name not in COMMON}


def event_from(kind: str, body: dict[str, Any], *, press: int, t_ms: int, by: str) -> Event:
    """The event of an entry.

    Raises:
        UnknownEvent: an unknown kind, a missing field, or a field too many.
    """
    cls = KINDS.get(kind)
    if cls is None:
        raise UnknownEvent(kind, "its kind is unknown")
    if cls is Created and "parts" in body:
        body = {**body, "parts": tuple((name, key) for name, key in body["parts"])}
        for name in ("adjustments", "away", "numbers"):
            body[name] = tuple(body.get(name, ()))
        body["files"] = {str(key): str(path) for key, path in body.get("files", {}).items()}
    return event_of(cls, kind, body, press=press, t_ms=t_ms, by=by)


def event_of(
    cls: type[_E], kind: str, body: dict[str, Any], *, press: int, t_ms: int, by: str
) -> _E:
    """The event of a class whose body is known to have the right types.

    Raises:
        UnknownEvent: a missing field, or a field too many.
    """
    own = {f.name: f for f in fields(cls) if f.name not in COMMON}
    extra = sorted(set(body) - set(own))
    if extra:
        raise UnknownEvent(kind, f"unknown field {extra[0]}")
    missing = [n for n, f in own.items() if _needed(f) and n not in body]
    if missing:
        raise UnknownEvent(kind, f"missing field {missing[0]}")
    return cls(press=press, t_ms=t_ms, by=by, **body)


def _needed(field: Field[Any]) -> bool:
    return field.default is MISSING and field.default_factory is MISSING
