"""Rows of jobs: tonight and the open jobs on home, and the page of one job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from benchtimer.job.evening import Evening
from benchtimer.job.job_progress import PartProgress, PartStatus
from benchtimer.job.job_state import Job
from benchtimer.job.order import split_identity
from benchtimer.job.outlook import Outlook
from benchtimer.view.home_rows import TONIGHT
from benchtimer.view.jobs import (
    chance_sentences,
    day_words,
    evening_lines,
    list_lines,
    moment_words,
)
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import clip, wrapped

MOST_LINES = 4
"""How many lines of tonight's work home shows."""

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
        size: columns for text.
        looks_on: this process only watches.
    """
    if not jobs:
        return []
    rows = [Row((" TONIGHT",), "head")]
    if evening is None:
        rows.append(Row((" Working out what fits into the hours left...",), "muted"))
    else:
        rows += _tonight(evening, size, {} if looks_on else evening.begins())
    rows.append(Row(("", " JOBS"), "head"))
    for job, parts in jobs:
        line = next(iter(list_lines([job], {job.name: parts}, today)))
        rows.append(Row((clip(f" {line}", size.width),), "plain", f"job:{job.name}"))
    return [*rows, Row(("",))]


def _tonight(evening: Evening, size: Size, begins: Mapping[str, list[str]]) -> list[Row]:
    lines = list(evening_lines(evening))
    shown = [clip(f" {line}", size.width) for line in lines[: MOST_LINES + 1]]
    more = len(lines) - len(shown)
    shown += [f"   {more} more lines: benchtimer tonight"] if more > 0 else []
    if not begins:
        return [Row(tuple(shown), "plain")]
    recipe, names = next(iter(begins.items()))
    parts = ", ".join(split_identity(name)[1] for name in names)
    head = clip(f" SPACE sets up {recipe}: {parts}", size.width)
    return [Row((head, *shown), "plain", TONIGHT)]


def job_rows(
    job: Job,
    parts: Sequence[PartProgress],
    outlook: Outlook | None,
    drawn: Sequence[str],
    size: Size,
) -> list[Row]:
    """The page of one job: parts, actions, its chance, its calendar.

    Args:
        job: the job.
        parts: how far along its parts are.
        outlook: whether it will be ready; None while it is being worked out.
        drawn: its calendar.
        size: columns for text.

    Returns:
        Rows; their keys are ``part:NAME``, ``due``, ``deliver`` and ``drop``.
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
    if drawn:
        rows.append(Row(("", *(clip(f" {line}", size.width) for line in drawn))))
    if job.is_open:
        rows.append(Row(("", " THE ORDER"), "head"))
        rows += [
            Row((f" Due {day_words(job.order.due)}: another day",), "plain", "due"),
            Row((" Deliver it",), "plain", "deliver"),
            Row((" Drop it",), "plain", "drop"),
        ]
    return rows
