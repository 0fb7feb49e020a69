"""Rows of jobs: tonight and the open jobs on home, and the page of one job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from benchtimer.job.evening import Evening
from benchtimer.job.job_progress import PartProgress, PartStatus
from benchtimer.job.job_state import Job
from benchtimer.job.order import split_identity
from benchtimer.job.outlook import Outlook
from benchtimer.job.sessions import JobsPlan
from benchtimer.view.home_rows import TONIGHT
from benchtimer.view.jobs import (
    blocked_lines,
    calendar_lines,
    chance_sentences,
    day_words,
    evening_lines,
    list_lines,
    moment_words,
    session_lines,
)
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, folded, wrapped

LEAST_LINES = 4
"""How many lines of tonight's work home shows at least."""

OTHER_LINES = 26
"""Rows that the rest of home needs; a taller terminal shows more of tonight."""

OpenJobLine = tuple[Job, Sequence[PartProgress]]


def home_job_rows(
    evening: Evening | None,
    jobs: Sequence[OpenJobLine],
    today: date,
    size: Size,
    *,
    looks_on: bool = False,
) -> list[Row]:
    """The top of home: what fits into the hours left, then the open jobs; nothing without jobs.

    Args:
        evening: the hours left; None while it is being worked out.
        jobs: the open jobs and how far along their parts are.
        today: today's date in the shop.
        size: columns and rows of the terminal.
        looks_on: this process only watches.
    """
    if not jobs:
        return []
    rows = [Row((" TONIGHT",), "head")]
    if evening is None:
        rows.append(Row((" Working out what fits in the hours left...",), "muted"))
    else:
        rows += _tonight(evening, size, {} if looks_on else evening.begins())
    rows.append(Row(("", " JOBS"), "head"))
    progress = {job.name: parts for job, parts in jobs}
    lines = list_lines([job for job, _ in jobs], progress, today)
    for (job, _), line in zip(jobs, lines, strict=True):
        rows.append(Row((clip(f" {line}", size.width),), "plain", f"job:{job.name}"))
    return [*rows, Row(("",))]


def _tonight(evening: Evening, size: Size, begins: Mapping[str, list[str]]) -> list[Row]:
    lines = list(evening_lines(evening, short=True))
    most = max(LEAST_LINES, size.height - OTHER_LINES)
    shown, more = list[str](), len(lines)
    for line in lines:
        whole = folded(f" {line}", size.width)
        if len(shown) + len(whole) > most + 1:
            break
        shown, more = shown + whole, more - 1
    shown += [f"   {more} more lines: benchtimer tonight"] if more > 0 else []
    stopped = {blocked.part for blocked in evening.load.blocked}
    if stopped:
        who = _named(sorted(stopped))
        shown += folded(f" Can't be planned: {who}. SPACE on the job says why.", size.width)
    if not begins:
        return [Row(tuple(shown), "plain")]
    recipe, names = next(iter(begins.items()))
    head = folded(f" SPACE sets up {recipe}: {_named(names)}", size.width)
    return [Row((*head, *shown), "plain", TONIGHT)]


def _named(names: Sequence[str]) -> str:
    """The parts of one job by their short names; of several jobs, by job."""
    parts_by_job: dict[str, list[str]] = {}
    for job, part in map(split_identity, names):
        parts_by_job.setdefault(job, []).append(part)
    if len(parts_by_job) == 1:
        return ", ".join(*parts_by_job.values())
    return "; ".join(f"{', '.join(parts)} of {job}" for job, parts in parts_by_job.items())


def job_rows(
    job: Job,
    parts: Sequence[PartProgress],
    outlook: Outlook | None,
    drawn: Sequence[Row],
    size: Size,
) -> list[Row]:
    """The page of one job: parts, actions, its chance, its calendar.

    Args:
        job: the job.
        parts: how far along its parts are.
        outlook: whether it will be ready; None while it is being worked out.
        drawn: its plan, as ``plan_rows`` draws it.
        size: columns for text.

    Returns:
        Rows; their keys are ``part:NAME``, ``due``, ``change``, ``deliver`` and ``drop``.
    """
    rows = [Row((" PARTS",), "head")]
    for part in parts:
        chain = " > ".join(f"({r})" if i < part.at else r for i, r in enumerate(part.chain))
        look = "now" if part.status is PartStatus.SCRAPPED else "plain"
        head = clip(f" {part.name}: {part.words}", size.width)
        rows.append(Row((head, clip(f"   {chain}", size.width)), look, f"part:{part.name}"))
    rows.append(Row(("", " WILL IT BE READY?"), "head"))
    if not job.is_open:
        rows.append(Row((f" It is {job.status}. {job.last_words}",)))
    elif outlook is None:
        rows.append(Row((" Trials are running...",), "muted"))
    else:
        lines = [line for s in chance_sentences(outlook) for line in wrapped(s, size.width - 2)]
        lines += [f"By the plan: {moment_words(outlook.finish)}"] if outlook.finish else []
        rows.append(Row(tuple(f" {line}" for line in lines)))
    if job.is_open:
        rows += drawn
        rows.append(Row(("", " THE ORDER"), "head"))
        rows += [
            Row((f" Due {day_words(job.order.due)}: another day",), "plain", "due"),
            Row((" Add a part, or change one",), "plain", "change"),
            Row((" Deliver it",), "plain", "deliver"),
            Row((" Drop it",), "plain", "drop"),
        ]
    return rows


def plan_rows(plan: JobsPlan, job: str, size: Size, *, plain: bool = False) -> list[Row]:
    """The plan on the page of a job: what can't be planned, the calendar of all, its sessions.

    Args:
        plan: the plan of all jobs.
        job: the job.
        size: columns for text.
        plain: with ASCII only.
    """
    blocked = list(blocked_lines(plan.load.blocked_of(job)))
    calendar = calendar_lines(plan, size.width - 2, plain=plain)
    sessions = list(session_lines(plan.sessions_of(job), plan.load))
    rows = [Row(("", *(clip(f" {line}", size.width) for line in calendar)))]
    if blocked:
        rows = [*_under("CAN'T BE PLANNED", blocked, size, "trouble"), *rows]
    return [*rows, *_under("SESSIONS", sessions, size)] if sessions else rows


def _under(head: str, lines: Sequence[str], size: Size, look: str = "plain") -> list[Row]:
    """Lines under a heading, whole however long they are."""
    whole = [row for line in lines for row in folded(f" {line}", size.width)]
    return [Row(("", f" {head}"), "head"), Row(tuple(whole), look)]
