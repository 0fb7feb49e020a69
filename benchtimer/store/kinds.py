"""Every kind of event the log holds, of runs and of baths: one place that names and reads them."""

from __future__ import annotations

from typing import Any

from benchtimer.bath.events import BATH_KINDS, from_body
from benchtimer.run import codec
from benchtimer.run.codec import body_of
from benchtimer.run.events import Event

_BATH_NAMES: dict[type[Event], str] = {cls: name for name, cls in BATH_KINDS.items()}

__all__ = ["body_of", "event_from", "kind_of"]


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _BATH_NAMES.get(type(event)) or codec.kind_of(event)


def event_from(kind: str, body: dict[str, Any], *, press: int, t_ms: int, by: str) -> Event:
    """The event of an entry.

    Raises:
        UnknownEvent: an unknown kind, a missing field, or a field too many.
    """
    cls = BATH_KINDS.get(kind)
    if cls is None:
        return codec.event_from(kind, body, press=press, t_ms=t_ms, by=by)
    return codec.event_of(cls, kind, from_body(body), press=press, t_ms=t_ms, by=by)
