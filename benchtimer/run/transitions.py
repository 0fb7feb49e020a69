"""The phase of a run or a part after each event.

Each command says in which phases it is allowed. Corrections (undo, redo, backdating) restore a
whole bench and use no table.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from benchtimer.run import events as e
from benchtimer.run.run_state import PartPhase, RunPhase

RUN_AFTER: Final[Mapping[type[e.Event], RunPhase]] = {
    e.Created: RunPhase.IDLE,
    e.Started: RunPhase.RUNNING,
    e.Completed: RunPhase.COMPLETE,
    e.Aborted: RunPhase.ABORTED,
}
"""The next phase for each event of the run; holding and resuming it leads to HELD and RUNNING."""

PART_AFTER: Final[Mapping[type[e.Event], PartPhase]] = {
    e.WorkBegan: PartPhase.IN_HAND,
    e.WorkFinished: PartPhase.WAITING,
    e.PutIn: PartPhase.DWELLING,
    e.TakenOut: PartPhase.WAITING,
    e.Sent: PartPhase.WAITING,
    e.Skipped: PartPhase.WAITING,
    e.PartDone: PartPhase.DONE,
    e.Scrapped: PartPhase.SCRAPPED,
}
"""The next phase for each event of a part."""
