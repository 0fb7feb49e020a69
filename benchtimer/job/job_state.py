"""The state of a job: the fold over its events."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import reduce

from benchtimer.job import job_events as e
from benchtimer.job.order import Order, OrderPart
from benchtimer.run.events import Event
from benchtimer.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class HandOverride:
    """An entry about a part's chain made by hand.

    Attributes:
        kind: ``replaced``, ``sent back`` or ``done``.
        recipe: the recipe it is sent back to, or that is done; empty for a new blank.
    """

    t_ms: int
    kind: str
    part: str
    recipe: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """One order.

    Attributes:
        name: its identity, which never changes.
        opened_ms: bench time at which it was opened.
        turns: entries about its parts made by hand, oldest first.
        delivered_ms: when it was delivered, and ``dropped_ms`` when it was dropped.
        last_words: the note of the delivery, or why it was dropped.
    """

    name: str
    opened_ms: int
    order: Order
    turns: tuple[HandOverride, ...] = ()
    delivered_ms: int | None = None
    dropped_ms: int | None = None
    last_words: str = ""

    @property
    def is_open(self) -> bool:
        """Neither delivered nor dropped."""
        return self.delivered_ms is None and self.dropped_ms is None

    @property
    def closed_ms(self) -> int | None:
        """Bench time of its delivery, or at which it was dropped; None while it is open."""
        return self.dropped_ms if self.delivered_ms is None else self.delivered_ms

    @property
    def status(self) -> str:
        """``open``, ``delivered`` or ``dropped``."""
        if self.delivered_ms is not None:
            return "delivered"
        return "open" if self.dropped_ms is None else "dropped"


@dataclass(frozen=True, slots=True)
class JobHistory:
    """A job's stream, folded.

    Attributes:
        presses: how many entries there are, those taken back included.
        last_ms: latest bench time in the stream.
        counts: the events that count, oldest first.
    """

    name: str
    presses: int = 0
    last_ms: int = 0
    counts: tuple[e.JobEvent, ...] = ()

    @property
    def job(self) -> Job | None:
        """The job; None if it was never opened, or the opening was taken back."""
        first = next((x for x in self.counts if isinstance(x, e.JobOpened)), None)
        if first is None:
            return None
        start = Job(self.name, first.t_ms, _order(first))
        return reduce(_apply, self.counts, start)


def evolve_job(history: JobHistory, event: Event) -> JobHistory:
    """The history after one event; events that are not about jobs change nothing."""
    if not isinstance(event, e.JobEvent):
        return history
    counts = history.counts
    if isinstance(event, e.JobEntryTakenBack):
        counts = tuple(x for x in counts if x.press != event.undone)
    else:
        counts = (*counts, event)
    presses, last_ms = max(history.presses, event.press), max(history.last_ms, event.t_ms)
    return replace(history, presses=presses, last_ms=last_ms, counts=counts)


def fold_job(name: str, events: Iterable[Event]) -> JobHistory:
    """The history from a job's whole stream."""
    return reduce(evolve_job, events, JobHistory(name))


def rows_of(order: Order) -> tuple[e.PartRow, ...]:
    """The parts of an order in the form events use."""
    return tuple((part.name, part.recipes, part.needs) for part in order.parts)


def _order(event: e.JobOpened | e.JobChanged) -> Order:
    parts = tuple(OrderPart(name, recipes, needs) for name, recipes, needs in event.parts)
    return Order(date.fromisoformat(event.due), parts, event.note)


def _apply(job: Job, event: e.JobEvent) -> Job:
    if isinstance(event, e.JobChanged):
        return replace(job, order=_order(event))
    if isinstance(event, e.JobDelivered):
        return replace(job, delivered_ms=event.t_ms, last_words=event.note)
    if isinstance(event, e.JobDropped):
        return replace(job, dropped_ms=event.t_ms, last_words=event.why)
    turn = _turn(event)
    return job if turn is None else replace(job, turns=(*job.turns, turn))


def _turn(event: e.JobEvent) -> HandOverride | None:
    if isinstance(event, e.JobPartReplaced):
        return HandOverride(event.t_ms, "replaced", event.part, why=event.why)
    if isinstance(event, e.JobPartSentBack):
        return HandOverride(event.t_ms, "sent back", event.part, event.recipe, event.why)
    if isinstance(event, e.JobRecipeDone):
        return HandOverride(event.t_ms, "done", event.part, event.recipe)
    return None
