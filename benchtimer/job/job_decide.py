"""``decide_job(history, command, now, ...) -> event``: the event for a job's stream."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date
from typing import Any

from benchtimer.job import job_events as e
from benchtimer.job.job_state import Job, JobHistory, rows_of
from benchtimer.job.order import Order, name_problem, order_problems
from benchtimer.recipe.problems import RecipeProblem
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import (
    BadValue,
    Refused,
    TimeConflict,
    UnknownName,
    as_way_out,
    safe_text,
)
from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True)
class JobCommand:
    """A command for one job."""


@dataclass(frozen=True, slots=True)
class OpenJob(JobCommand):
    """A new order."""

    order: Order


@dataclass(frozen=True, slots=True)
class ChangeJob(JobCommand):
    """The order from now on."""

    order: Order


@dataclass(frozen=True, slots=True)
class ReplacePart(JobCommand):
    """A new blank takes a part's place."""

    part: str
    why: str = "a new blank"


@dataclass(frozen=True, slots=True)
class SendPartBack(JobCommand):
    """Send a part back to one of its recipes."""

    part: str
    recipe: str
    why: str = "by hand"


@dataclass(frozen=True, slots=True)
class MarkRecipeDone(JobCommand):
    """One of a part's recipes was done without the program."""

    part: str
    recipe: str


@dataclass(frozen=True, slots=True)
class DeliverJob(JobCommand):
    """The job was delivered."""

    note: str = ""


@dataclass(frozen=True, slots=True)
class DropJob(JobCommand):
    """The job is dropped."""

    why: str


@dataclass(frozen=True, slots=True)
class TakeJobEntryBack(JobCommand):
    """Take back the last entry that counts."""


class BadOrder(Refused):
    """An order that can't be carried out, with all its problems.

    Attributes:
        problems: one entry each.
    """

    def __init__(self, what: str, problems: list[RecipeProblem]) -> None:
        self.problems = problems
        first, *more = (str(problem) for problem in problems)
        rest = "".join(f"\n  {line}" for line in more)
        super().__init__(what, first + rest, "Nothing was changed")


@dataclass(frozen=True, slots=True)
class Around:
    """The facts that check a job's command.

    Attributes:
        today: today's date in the shop.
        recipes: all recipes.
        jobs: the names of all other jobs there ever were.
        unfinished: parts of the job that are not done yet, for a delivery.
    """

    today: date
    recipes: Collection[str]
    jobs: Collection[str] = ()
    unfinished: Collection[str] = ()


def decide_job(history: JobHistory, command: JobCommand, now: Now, around: Around) -> e.JobEvent:
    """The event that a command writes.

    Args:
        history: the job's stream; empty for a new name.
        command: the command.
        now: bench time and who writes.
        around: the facts that check it.

    Raises:
        Refused: the command is not possible; nothing has changed.
    """
    if now.t_ms < history.last_ms:
        raise TimeConflict("Can't save this entry", "its time is before the last entry", "Wait")
    kind, body = _BODIES[type(command)](history, command, around)
    return kind(press=history.presses + 1, t_ms=now.t_ms, by=now.by, **body)


_Body = tuple[type[e.JobEvent], dict[str, Any]]


def _open(history: JobHistory, command: OpenJob, around: Around) -> _Body:
    what = f'Can\'t open the job "{history.name}"'
    wrong = name_problem("job", history.name)
    if wrong is not None:
        raise BadValue(what, wrong.found, as_way_out(wrong.allowed))
    taken = {name.casefold() for name in around.jobs}
    if history.job is not None or history.name.casefold() in taken:
        why = "there is already a job with that name, and its record stays separate"
        raise BadValue(what, why, "Use another name, or change that job")
    return e.JobOpened, _body(what, command.order, around, around.today)


def _change(history: JobHistory, command: ChangeJob, around: Around) -> _Body:
    what = f'Can\'t change the job "{history.name}"'
    before = _job(history, what).order
    today = around.today if command.order.due != before.due else None
    body = _body(what, command.order, around, today, before)
    if command.order == before:
        raise BadValue(what, "it is already that way", "Nothing was changed")
    return e.JobChanged, body


def _body(
    what: str, order: Order, around: Around, today: date | None, before: Order | None = None
) -> dict[str, Any]:
    kept = {r for part in before.parts for r in part.recipes} if before is not None else set()
    # a recipe that has since been removed is reported when the job is planned
    known = {*around.recipes, *kept}
    found = [problem for _, problem in order_problems(order, known, today)]
    if found:
        raise BadOrder(what, found)
    note = safe_text("note", order.note) if order.note.strip() else ""
    return {"due": order.due.isoformat(), "parts": rows_of(order), "note": note}


def _replace(history: JobHistory, command: ReplacePart, _around: Around) -> _Body:
    job = _job(history, f'Can\'t change the job "{history.name}"')
    why = safe_text("reason", command.why)
    return e.JobPartReplaced, {"part": _part(job, command.part), "why": why}


def _send_back(history: JobHistory, command: SendPartBack, _around: Around) -> _Body:
    job = _job(history, f'Can\'t change the job "{history.name}"')
    body = _of_chain(job, command.part, command.recipe)
    return e.JobPartSentBack, {**body, "why": safe_text("reason", command.why)}


def _mark_done(history: JobHistory, command: MarkRecipeDone, _around: Around) -> _Body:
    job = _job(history, f'Can\'t change the job "{history.name}"')
    return e.JobRecipeDone, _of_chain(job, command.part, command.recipe)


def _of_chain(job: Job, part: str, recipe: str) -> dict[str, str]:
    name = _part(job, part)
    found = job.order.part(name)
    chain = found.recipes if found is not None else ()
    if recipe not in chain:
        raise UnknownName("recipe", recipe, list(chain), f'the part "{name}"')
    return {"part": name, "recipe": recipe}


def _deliver(history: JobHistory, command: DeliverJob, around: Around) -> _Body:
    what = f'Can\'t deliver the job "{history.name}"'
    _job(history, what)
    if around.unfinished:
        why = f"not done yet: {', '.join(around.unfinished)}"
        way_out = (
            "Finish them, mark what was done without the program (job change --done), "
            "or drop the job"
        )
        raise BadValue(what, why, way_out)
    note = safe_text("note", command.note) if command.note.strip() else ""
    return e.JobDelivered, {"note": note}


def _drop(history: JobHistory, command: DropJob, _around: Around) -> _Body:
    _job(history, f'Can\'t drop the job "{history.name}"')
    return e.JobDropped, {"why": safe_text("reason", command.why)}


def _take_back(history: JobHistory, _command: TakeJobEntryBack, _around: Around) -> _Body:
    if not history.counts:
        what = f'Can\'t take back an entry of the job "{history.name}"'
        raise BadValue(what, "there is no entry to take back", "Nothing was changed")
    return e.JobEntryTakenBack, {"undone": history.counts[-1].press}


def _job(history: JobHistory, what: str) -> Job:
    job = history.job
    if job is None:
        raise BadValue(what, "there is no job with that name", "benchtimer job list shows them")
    if not job.is_open:
        raise BadValue(what, f"it is {job.status}", "benchtimer job change --undo takes that back")
    return job


def _part(job: Job, name: str) -> str:
    found = job.order.part(name)
    if found is None:
        raise UnknownName("part", name, [part.name for part in job.order.parts], "this job")
    return found.name


_BODIES: Mapping[type[JobCommand], Callable[[JobHistory, Any, Around], _Body]] = {
    OpenJob: _open,
    ChangeJob: _change,
    ReplacePart: _replace,
    SendPartBack: _send_back,
    MarkRecipeDone: _mark_done,
    DeliverJob: _deliver,
    DropJob: _drop,
    TakeJobEntryBack: _take_back,
}
