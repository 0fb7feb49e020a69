"""The plan of the jobs as a calendar file (RFC 5545): one event per session, with an alarm before
it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta

from benchtimer.job.order import slug
from benchtimer.job.sessions import JobsPlan, WorkSession
from benchtimer.plan.calendar import CalendarEntry, calendar_text
from benchtimer.times import duration

BEFORE_SESSION = timedelta(minutes=15)
"""How long before a session its alarm rings."""

BEFORE_PULL = timedelta(minutes=5)
"""How long before a single pull its alarm rings."""


def jobs_to_ics(plan: JobsPlan, made: datetime, *, job: str | None = None) -> str:
    """The sessions as events, plus one event for each pull outside a session.

    The names of the events (UID) come from the job, the day and the number of the session on that
    day, so a later import replaces an earlier one.

    Args:
        plan: the plan.
        made: when it was made, with a time zone.
        job: only the sessions of this job.

    Raises:
        CalendarMissingError: the library is not installed.
    """
    sessions = plan.sessions if job is None else plan.sessions_of(job)
    return calendar_text(_entries(plan, sessions, job), made, "PUBLISH")


def _entries(
    plan: JobsPlan, sessions: Iterable[WorkSession], job: str | None
) -> Iterator[CalendarEntry]:
    numbers: Counter[str] = Counter()
    for session in sessions:
        start = plan.load.at(session.start_s).astimezone(UTC)
        end = plan.load.at(session.end_s).astimezone(UTC)
        day = plan.load.at(session.start_s).strftime("%Y%m%d")
        kind = "pull" if session.is_pull else "session"
        numbers[day + kind] += 1
        before = BEFORE_PULL if session.is_pull else BEFORE_SESSION
        yield CalendarEntry(
            f"{slug(job or 'jobs')}-{day}-{kind}-{numbers[day + kind]}",
            session_title(session, with_job=job is None),
            start,
            max(end, start + timedelta(minutes=1)),
            before + timedelta(seconds=session.start_s - session.begins_s),
            "\n".join(_lines(plan, session, with_job=job is None)),
        )


def session_title(session: WorkSession, *, with_job: bool) -> str:
    """What a person reads: a pull, recipes with their parts, or the jobs if they are several."""
    if session.is_pull:
        work = session.works[0]
        name = work.name if with_job else work.part
        return f"Pull {name} ({work.recipe})"
    if with_job and len(session.jobs()) > 1:
        return ", ".join(session.jobs())
    parts_by_recipe: dict[str, list[str]] = {}
    for work in session.works:
        names = parts_by_recipe.setdefault(work.recipe, [])
        names += [work.part] if work.part not in names else []
    rows = "; ".join(f"{recipe}: {', '.join(names)}" for recipe, names in parts_by_recipe.items())
    return f"{session.jobs()[0]}: {rows}" if with_job and session.jobs() else rows


def _lines(plan: JobsPlan, session: WorkSession, *, with_job: bool) -> list[str]:
    lines = [(heat.at_s, plan.load.heat_words(heat)) for heat in session.heats]
    for work in session.works:
        name = work.name if with_job else work.part
        took = duration(max(1, round(work.end_s - work.start_s)))
        lines.append((work.start_s, f"{name}: {', '.join(work.titles)} ({took})"))
    lines.sort(key=lambda line: line[0])
    return [f"{plan.load.at(at):%H:%M} {words}" for at, words in lines]
