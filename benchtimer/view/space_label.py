"""What SPACE does now, in a word or two for the board's footer."""

from __future__ import annotations

from benchtimer.bench.moment import Moment
from benchtimer.bench.plain_timer import TIMER
from benchtimer.recipe.answers import AskLine
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.commands import Begin, EndMakeUp
from benchtimer.view.desk import Desk
from benchtimer.view.words import verb

LABELS = {
    ActionKind.MIX: "mixed",
    ActionKind.HEAT: "heat is on",
    ActionKind.START: "start",
    ActionKind.RESUME: "resume",
    ActionKind.HAZARD: "gear is on",
    ActionKind.READING: "read",
    ActionKind.MAKE_UP: "heat is off",
    ActionKind.COOL: "done",
    ActionKind.FINISH: "done",
    ActionKind.COMPLETE: "end run",
}


def space_label(desk: Desk, action: Action | None, moment: Moment, *, more: bool) -> str:
    """What SPACE does now; empty if it only says what is in the way.

    Args:
        desk: your side of the bench.
        action: the action of the large line.
        moment: the bench now.
        more: whether the page continues below.
    """
    now_ms = moment.now_ms
    if more:
        return "more below"
    if action is None:
        return ""
    if desk.unread is not None:
        return "go back"
    if desk.takes_figure(action, now_ms):
        return "save" if desk.entry else ""
    if action.kind is ActionKind.ANSWER:
        return "write" if isinstance(action.form, AskLine) else ""
    if action.kind is ActionKind.HAZARD and not desk.reads_hazard(action, now_ms):
        return "read"
    if action.kind is not ActionKind.READING and not _can(action, now_ms):
        return ""
    return _label(action)


def _can(action: Action, now_ms: int) -> bool:
    """Whether the press counts, because nothing blocks it and it is not too early."""
    early = (action.kind is ActionKind.START and now_ms < action.due_ms) or (
        action.kind is ActionKind.BEGIN and now_ms < action.earliest_ms
    )
    return not early and action.blocked is None and action.command is not None


def _label(action: Action) -> str:
    if isinstance(action.command, EndMakeUp):
        return "heat is on"
    if action.kind is not ActionKind.BEGIN:
        return LABELS.get(action.kind, "")
    if isinstance(action.command, Begin) and action.command.loads:
        return "done"
    return "done" if action.from_station == TIMER else verb(action).lower()
