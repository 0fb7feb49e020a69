"""Events as plain tables and back, for the log.

The kind and the three common fields (press, t_ms, by) are columns; the rest is the body.
Pydantic reads a body by the fields of its class. A missing field with a default gets the default,
so that events can gain fields; an unknown field means that a newer program wrote the event.
"""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import TypeAdapter, ValidationError

from benchtimer.run.events import KINDS, Event
from benchtimer.values import fields

COMMON = ("press", "t_ms", "by")
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


def body_of(event: Event) -> dict[str, object]:
    """An event's own fields as a plain table."""
    return {f.name: getattr(event, f.name) for f in fields(event) if f.name not in COMMON}


def event_from(
    kind: str,
    body: object,
    *,
    press: int,
    t_ms: int,
    by: str,
    kinds: Mapping[str, type[Event]] = KINDS,
) -> Event:
    """The event of an entry.

    Args:
        kind: the name of its kind.
        body: its own fields, as JSON has them.
        press: number of the press that caused it.
        t_ms: bench time of it, ms.
        by: who did it.
        kinds: the possible kinds.

    Raises:
        UnknownEvent: an unknown kind, a missing field, an extra field, or a field with a wrong
            type.
    """
    if kind not in kinds:
        raise UnknownEvent(kind, "its kind is unknown")
    if not isinstance(body, dict):
        raise UnknownEvent(kind, "its body is not a table")
    twice = [name for name in COMMON if name in body]
    if twice:
        raise UnknownEvent(kind, f"unknown field {twice[0]}")
    try:
        return _reader(kinds[kind]).validate_python(
            {**body, "press": press, "t_ms": t_ms, "by": by}
        )
    except ValidationError as error:
        raise UnknownEvent(kind, _reason(error)) from None


_readers: dict[type[Event], TypeAdapter[Event]] = {}


def _reader(cls: type[Event]) -> TypeAdapter[Event]:
    """The reader for a kind of event; built when the first one is read."""
    if cls not in _readers:
        _readers[cls] = TypeAdapter(cls)
    return _readers[cls]


def _reason(error: ValidationError) -> str:
    """What is wrong, with a newer program's field first."""
    found = error.errors(include_url=False)
    for kind, words in (("unexpected_keyword_argument", "unknown"), ("missing", "missing")):
        for one in found:
            if one["type"] == kind and len(one["loc"]) == 1:
                return f"{words} field {one['loc'][0]}"
    where = ".".join(str(piece) for piece in found[0]["loc"])
    return f"{where}: {found[0]['msg']}"
