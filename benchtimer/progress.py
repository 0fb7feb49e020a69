"""How far along long work is, reported to a listener, so that the work needs no screen."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sized
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

T = TypeVar("T")

Listener = Callable[[str, int, int], None]
"""Called with what is counted, how many are done, and how many there are; equal at the end."""

EVERY = 64
"""A listener is called once for this many items, so that counting costs almost nothing."""

_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Let a listener follow all work done inside this context."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)


def reached(what: str, done: int, total: int) -> None:
    """Report the progress to the listener; see ``Listener``.

    Args:
        what: what is counted, in the plural.
        done: how many are done.
        total: how many there are; equal at the end.
    """
    listener = _listener.get()
    if listener is not None:
        listener(what, done, total)


def counted(
    items: Iterable[T], what: str, total: int | None = None, every: int = EVERY
) -> Iterator[T]:
    """The items, one by one, while the listener gets the count.

    Args:
        items: what to work through.
        what: their name, in the plural.
        total: how many there are, if ``items`` has no length.
        every: the listener is called once for this many items.
    """
    listener = _listener.get()
    if listener is None:
        yield from items
        return
    count = total if total is not None else len(items) if isinstance(items, Sized) else 0
    done = 0
    try:
        for item in items:
            yield item
            done += 1
            if done % every == 0:
                listener(what, done, count)
    finally:  # also when the work is stopped
        listener(what, max(done, 1), max(done, 1))
