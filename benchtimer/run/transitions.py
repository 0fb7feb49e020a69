"""The phases of runs and parts as tables.

Rules:
1. What is allowed when, and which phase an event leads to, stands here and nowhere else.
2. A command that names a part must be allowed by both tables.
3. Corrections (undo, redo, back-dating) restore a whole bench and follow no table; they
   are open in every phase, so that a slip on the last press of a run can be taken back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from benchtimer.run import commands as c
from benchtimer.run import events as e
from benchtimer.run.state import PartPhase, RunPhase

_IDLE, _RUNNING, _HELD = RunPhase.IDLE, RunPhase.RUNNING, RunPhase.HELD
_OPEN = frozenset({_IDLE, _RUNNING, _HELD})
_ANY = frozenset(RunPhase)

RUN_ALLOWS: Final[Mapping[type[c.Command], frozenset[RunPhase]]] = {
    c.Start: frozenset({_IDLE}),
    c.Acknowledge: _OPEN,
    c.Begin: frozenset({_RUNNING}),
    c.Finish: frozenset({_RUNNING}),
    # A part must be able to leave a tank, and its state be written down, even on hold.
    c.TakeOut: frozenset({_RUNNING, _HELD}),
    c.PutBack: frozenset({_RUNNING, _HELD}),
    c.Answer: frozenset({_RUNNING, _HELD}),
    c.Read: _OPEN,
    c.SkipReading: _OPEN,
    c.Heat: _OPEN,
    c.BeginMakeUp: _OPEN,
    c.EndMakeUp: _OPEN,
    c.SendBack: frozenset({_RUNNING, _HELD}),
    c.Skip: frozenset({_RUNNING, _HELD}),
    c.Hold: frozenset({_RUNNING, _HELD}),
    c.Resume: frozenset({_RUNNING, _HELD}),
    c.Scrap: _OPEN,
    c.AddPart: _OPEN,
    c.Note: _ANY,
    # Some of it is laid out while the first parts are under way.
    c.Prepare: _OPEN,
    c.Postpone: _OPEN,
    # Many a finish shows what it is worth a day after the run.
    c.Judge: _ANY,
    c.CloseStation: _OPEN,
    c.OpenStation: _OPEN,
    c.Undo: _ANY,
    c.Redo: _ANY,
    c.BackDate: _ANY,
    c.Complete: frozenset({_RUNNING, _HELD}),
    c.Abort: _OPEN,
}

_WAITING, _IN_HAND, _DWELLING = PartPhase.WAITING, PartPhase.IN_HAND, PartPhase.DWELLING
_LIVE = frozenset({_WAITING, _IN_HAND, _DWELLING})

PART_ALLOWS: Final[Mapping[type[c.Command], frozenset[PartPhase]]] = {
    c.Begin: frozenset({_WAITING, _DWELLING}),
    c.Postpone: frozenset({_WAITING}),
    c.Finish: frozenset({_IN_HAND}),
    c.TakeOut: frozenset({_DWELLING}),
    c.PutBack: frozenset({_WAITING}),
    c.Answer: frozenset({_IN_HAND}),
    c.SendBack: _LIVE,
    c.Skip: _LIVE,
    c.Hold: _LIVE,
    c.Resume: _LIVE,
    c.Scrap: _LIVE,
}

RUN_AFTER: Final[Mapping[type[e.Event], RunPhase]] = {
    e.Created: _IDLE,
    e.Started: _RUNNING,
    e.Completed: RunPhase.COMPLETE,
    e.Aborted: RunPhase.ABORTED,
}
"""Where events of the run lead; holding and resuming the whole run: HELD and RUNNING."""

PART_AFTER: Final[Mapping[type[e.Event], PartPhase]] = {
    e.WorkBegan: _IN_HAND,
    e.WorkFinished: _WAITING,
    e.PutIn: _DWELLING,
    e.TakenOut: _WAITING,
    e.Sent: _WAITING,
    e.Skipped: _WAITING,
    e.PartDone: PartPhase.DONE,
    e.Scrapped: PartPhase.SCRAPPED,
}
"""Where events of a part lead."""
