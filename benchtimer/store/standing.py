"""Which entries of a log count, after all that was undone, redone and back-dated."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from benchtimer.run.events import Event, Redone, Retimed, Undone


class Numbered(Protocol):
    """An event with its place in the log."""

    @property
    def seq(self) -> int:
        """Its number."""
        ...

    @property
    def event(self) -> Event:
        """What happened."""
        ...


def standing(entries: Iterable[Numbered]) -> set[int]:
    """Sequence numbers of the entries that count at the end.

    Corrections themselves count: they did happen.
    """
    counted: set[int] = set()
    by_press: dict[int, list[int]] = {}
    for entry in entries:
        event = entry.event
        counted.add(entry.seq)
        if isinstance(event, Undone):
            counted.difference_update(by_press.get(event.undone, ()))
        elif isinstance(event, Retimed):
            counted.difference_update(by_press.get(event.retimed, ()))
        elif isinstance(event, Redone):
            counted.update(by_press.get(event.redone, ()))
        elif event.press:
            by_press.setdefault(event.press, []).append(entry.seq)
    return counted
