"""Which entries of a log count, after every undo, redo and backdating."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from benchtimer.run.events import Event, Redone, Retimed, Undone
from benchtimer.values import dataclass


class Numbered(Protocol):
    """An event with its number in the log."""

    @property
    def seq(self) -> int:
        """Its number."""
        ...

    @property
    def event(self) -> Event:
        """What happened."""
        ...


@dataclass(frozen=True, slots=True)
class StandingRow:
    """Number and event of an entry, all that decides whether it counts."""

    seq: int
    event: Event


def standing(entries: Iterable[Numbered]) -> set[int]:
    """Sequence numbers of the entries that count in the end.

    Corrections themselves count, since they happened.
    """
    counted: set[int] = set()
    by_press: dict[int, list[int]] = {}
    replaced: dict[int, int] = {}

    def drop(press: int) -> None:
        counted.difference_update(by_press.get(press, ()))
        if press in replaced:  # the press that a backdated one replaced counts again
            count(replaced[press])

    def count(press: int) -> None:
        if press in replaced:
            counted.difference_update(by_press.get(replaced[press], ()))
        counted.update(by_press.get(press, ()))

    for entry in entries:
        event = entry.event
        counted.add(entry.seq)
        if isinstance(event, Undone):
            drop(event.undone)
        elif isinstance(event, Redone):
            count(event.redone)
        elif isinstance(event, Retimed):
            replaced[event.press] = event.retimed
            counted.difference_update(by_press.get(event.retimed, ()))
        elif event.press:
            by_press.setdefault(event.press, []).append(entry.seq)
    return counted
