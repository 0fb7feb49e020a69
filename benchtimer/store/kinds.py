"""Every kind of event the log holds, of runs, baths and jobs, named and read in one place."""

from __future__ import annotations

import json
from collections.abc import Mapping

from benchtimer.bath.bath_events import BATH_KINDS
from benchtimer.job.job_events import JOB_KINDS
from benchtimer.run import codec
from benchtimer.run.codec import UnknownEvent, body_of
from benchtimer.run.events import KINDS, Event

_OWN_STREAMS: dict[str, type[Event]] = {**BATH_KINDS, **JOB_KINDS}
_NAMES: dict[type[Event], str] = {cls: name for name, cls in _OWN_STREAMS.items()}
_ALL: Mapping[str, type[Event]] = {**KINDS, **_OWN_STREAMS}

__all__ = ["UnknownEvent", "as_json", "body_of", "event_from", "is_of_run", "kind_of"]


def as_json(value: object) -> str:
    """JSON as the log and its register keep it: short, with letters as they are."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def kind_of(event: Event) -> str:
    """The name of an event's kind in the log."""
    return _NAMES.get(type(event)) or codec.kind_of(event)


def is_of_run(event: Event) -> bool:
    """Whether an event belongs to a run, not to a bath's or a job's own stream."""
    return type(event) not in _NAMES


def event_from(kind: str, body: object, *, press: int, t_ms: int, by: str) -> Event:
    """The event of an entry of any stream.

    Raises:
        UnknownEvent: an unknown kind, a missing field, a field too many, or one of a wrong type.
    """
    return codec.event_from(kind, body, press=press, t_ms=t_ms, by=by, kinds=_ALL)
