"""The words about jobs: their list, how far along each is, its sessions, its chance, tonight."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from rich.cells import cell_len

from benchtimer.job.chain import NEVER
from benchtimer.job.evening import Evening
from benchtimer.job.job_progress import PartProgress, PartStatus
from benchtimer.job.job_state import Job
from benchtimer.job.order import split_identity
from benchtimer.job.outlook import Outlook
from benchtimer.job.sessions import JobsPlan, SessionWork, WorkSession
from benchtimer.job.workload import Blocked, Workload
from benchtimer.run.hazards import clash_line
from benchtimer.times import duration, time_of_day
from benchtimer.view.text import fill

SURE = 0.98
"""A chance this high is given without an exact figure."""

MOST_NAME = 30
"""In a list, the columns behind the names are aligned for names up to this wide."""

RANGE_TRIALS = 400
"""With fewer trials, the range of a chance is mostly luck."""

NO_RUNS = "Times and rates of checks are those of the recipes: you have no runs of them yet."


def day_words(day: date, today: date | None = None) -> str:
    """``Sat Dec 5``, with the year if it is a different one."""
    year = f" {day.year}" if today is not None and day.year != today.year else ""
    return f"{day:%a} {day:%b} {day.day}{year}"


def moment_words(when: datetime) -> str:
    """``Sat Dec 5 18:30``."""
    return f"{day_words(when.date())} {time_of_day(when)}"


def percent(share: float) -> str:
    """A chance without decimals, and no finer at its ends than trials can show."""
    if share >= SURE:
        return "98% or more"
    if share <= 1 - SURE:
        return "2% or less"
    return f"{round(100 * share)}%"


def chance_sentences(outlook: Outlook) -> list[str]:
    """The chance of being ready by the due date, when it is better, and the assumptions."""
    chance = outlook.chance
    low, high = round(100 * chance.low), round(100 * chance.high)
    sure = outlook.trials < RANGE_TRIALS or high - low < 3
    width = "" if sure else f", range {low} to {high}%"
    sentences = [f"Ready by {day_words(outlook.due)}: {percent(chance.share)}{width}."]
    sentences += _better(outlook)
    words = outlook.learned.words
    sentences.append(f"{words[:1].upper()}{words[1:]}." if words else NO_RUNS)
    if outlook.causes:
        sentences.append(f"Late mostly because of {_causes(outlook)}.")
    if outlook.latest_start is not None:
        sentences.append(f"Latest start for 90%: {day_words(outlook.latest_start.date())}.")
    if outlook.lost_share is not None:
        sentences.append(f"If you miss one session in ten: {percent(outlook.lost_share)}.")
    sentences += [f"With {one.words}: {percent(one.share)}." for one in outlook.helps[:3]]
    if not outlook.lost_known:
        sentences.append("Assumed: you work every session of your hours, from its start.")
    return sentences


def _better(outlook: Outlook) -> list[str]:
    shares = outlook.by_day
    good = next((day for day, share in shares.items() if share >= 0.9), None)
    if good is None:
        return ["90% is not reached on any day of the plan."]
    better = next((d for d, s in shares.items() if d > good and s > shares[good] + 0.005), None)
    wait = ""
    if better is not None and better - good > timedelta(days=1):
        wait = f", no higher until {day_words(better)}"
    if good == outlook.due and not wait:
        return []
    return [f"{percent(shares[good])} by {day_words(good)}{wait}."]


def _causes(outlook: Outlook) -> str:
    causes = []
    for cause in outlook.causes[:2]:
        part = split_identity(cause.part)[1]
        causes.append(f'{part}: "{cause.ask}" ({round(100 * cause.share)}% of late trials)')
    return "; ".join(causes)


def list_lines(
    jobs: Sequence[Job], progress: Mapping[str, Sequence[PartProgress]], today: date
) -> Iterator[str]:
    """One line for each job: name, due date, progress, what is next.

    Args:
        jobs: the jobs.
        progress: how far each part is, by job.
        today: the date.
    """
    wide = min(MOST_NAME, max((cell_len(job.name) for job in jobs), default=0))
    for job in jobs:
        parts = progress.get(job.name, ())
        done = sum(part.status is PartStatus.DONE for part in parts)
        due = f"due {day_words(job.order.due, today)}"
        soon = f", {_left((job.order.due - today).days)}" if job.is_open else ""
        of = f"{len(parts)} part{'' if len(parts) == 1 else 's'}"
        state = f"{done} of {of} done" if job.is_open else job.status
        apart = " " * max(2, wide + 2 - cell_len(job.name))
        yield f"{job.name}{apart}{due}{soon}  {state}"


def _left(days: int) -> str:
    """How far away a due date is."""
    near = {0: "today", 1: "tomorrow"}
    return "OVERDUE" if days < 0 else near.get(days, f"{days} d left")


def progress_lines(parts: Sequence[PartProgress]) -> Iterator[str]:
    """One line for each part: its chain with what is done, and its state."""
    wide = max((cell_len(part.name) for part in parts), default=0)
    for part in parts:
        chain = " > ".join(
            f"({name})" if i < part.at else name for i, name in enumerate(part.chain)
        )
        blanks = f", blank {part.blanks}" if part.blanks > 1 else ""
        yield f"{fill(part.name, wide)}  {part.words}{blanks}"
        yield f"{'':<{wide}}  {chain}"


def _is_left_alone(work: SessionWork) -> bool:
    """Whether a part then stays in a place for an hour or more and must be pulled."""
    return work.pull_s != NEVER and work.pull_s - work.end_s >= 3600


def _pull(work: SessionWork, load: Workload) -> str:
    if not _is_left_alone(work):
        return ""
    then = load.at(work.pull_s)
    same = then.date() == load.at(work.end_s).date()
    return f", pull at {time_of_day(then)}" if same else f", pull {moment_words(then)}"


def session_lines(
    sessions: Sequence[WorkSession], load: Workload, *, with_job: bool = False
) -> Iterator[str]:
    """Each session: when, what to heat, and the work of each part up to its next pull.

    Args:
        sessions: the sessions.
        load: the work to do.
        with_job: name the job of each part.
    """
    for session in sessions:
        start, end = load.at(session.begins_s), load.at(session.end_s)
        yield f"{moment_words(start)}-{time_of_day(end)}"
        used = {place for work in session.works for place in work.places}
        danger = clash_line(load.recipes, used)
        if danger:
            yield f"  {danger}"
        lines = [(heat.at_s, load.heat_words(heat)) for heat in session.heats]
        lines += [
            (works[0].start_s, _stretch(works, load, with_job))
            for works in _together(session.works)
        ]
        for at_s, words in sorted(lines, key=lambda line: line[0]):
            yield f"  {time_of_day(load.at(at_s))}  {words}"


def _together(works: Sequence[SessionWork]) -> Iterator[list[SessionWork]]:
    """The work of a session by part and recipe, up to a pull to wait for, in order of start."""
    open_groups: dict[tuple[str, str], list[SessionWork]] = {}
    groups = []
    for work in works:
        key = (work.name, work.recipe)
        if key not in open_groups:
            open_groups[key] = []
            groups.append(open_groups[key])
        open_groups[key].append(work)
        if _is_left_alone(work):
            del open_groups[key]
    yield from groups


def _stretch(works: Sequence[SessionWork], load: Workload, with_job: bool) -> str:
    first, last = works[0], works[-1]
    name = first.name if with_job and first.job else first.part
    steps = [first.steps[0], last.steps[-1]]
    span = steps[0] if steps[0] == steps[1] else f"{steps[0]} to {steps[1]}"
    verb = "pull, " if first.pulled else ""
    hands = sum(work.end_s - work.start_s for work in works)
    pull = _pull(last, load)
    return (
        f"{name}: {verb}{first.recipe}, {span}{pull} ({duration(max(1, round(hands / 60)) * 60)})"
    )


def calendar_lines(plan: JobsPlan, width: int, *, plain: bool = False) -> Iterator[str]:
    """The drawn plan: days down, hours across, one lane per job.

    Args:
        plan: the plan.
        width: columns.
        plain: with ASCII only.
    """
    load = plan.load
    full, soak, idle = ("#", "=", ".") if plain else ("█", "─", "·")
    works = [work for session in plan.sessions for work in session.works]
    if not works:
        return
    days = sorted({load.at(work.start_s).date() for work in works})
    first_h = min(load.at(work.start_s).hour for work in works)
    last_h = 1 + max(load.at(work.end_s).hour for work in works)
    jobs = list(dict.fromkeys(work.job for work in works))
    wide = min(max(4, *(cell_len(job or "bench") for job in jobs)), max(12, width // 3))
    room = max(12, min(width - wide - 15, 4 * (last_h - first_h)))
    per_h = room / (last_h - first_h)
    yield f"{'':<{wide + 14}}{_axis(first_h, last_h, per_h, room)}"
    for day in days:
        midnight = datetime.combine(day, datetime.min.time(), load.moment.zone)
        zero_s = load.seconds(midnight) + first_h * 3600
        label = day_words(day)
        for job in jobs:
            lane = [" "] * room
            for column in range(room):
                if load.shop.hours.is_open(zero_s + (column + 0.5) * 3600 / per_h):
                    lane[column] = idle
            mine = [w for w in works if w.job == job and load.at(w.start_s).date() == day]
            for work in mine:
                if work.pull_s != NEVER:
                    _fill(lane, (work.end_s, work.pull_s), zero_s, per_h, soak)
            for work in mine:
                _fill(lane, (work.start_s, work.end_s), zero_s, per_h, full)
            if mine:
                yield f"{label:<11}  {fill(job or 'bench', wide)} {''.join(lane).rstrip()}"
                label = ""


def _axis(first_h: int, last_h: int, per_h: float, room: int) -> str:
    line = [" "] * (room + 2)
    for hour in range(first_h, last_h, 1 if per_h >= 4 else 2):
        at = round((hour - first_h) * per_h)
        line[at : at + 2] = list(f"{hour:02}")
    return "".join(line).rstrip()


def _fill(
    lane: list[str], span: tuple[float, float], zero_s: float, per_h: float, mark: str
) -> None:
    first = int((span[0] - zero_s) / 3600 * per_h)
    last = int(-(-(span[1] - zero_s) / 3600 * per_h // 1))
    for column in range(max(0, first), min(len(lane), max(last, first + 1))):
        lane[column] = mark


def plan_table(
    plan: JobsPlan, outlook: Outlook, *, blocked: bool, hands_s: float
) -> dict[str, Any]:
    """A job's plan for programs: times in ISO 8601 with offset, chances from 0 to 1.

    Args:
        plan: the plan for all jobs.
        outlook: when this job will be done.
        blocked: whether nothing can be planned.
        hands_s: hands-on time left, in seconds.
    """
    load = plan.load
    sessions = plan.sessions_of(outlook.job)
    late = outlook.finish is None or outlook.finish.date() > outlook.due

    def iso(when: datetime | None) -> str | None:
        return None if when is None else when.isoformat(timespec="seconds")

    return {
        "job": outlook.job,
        "due": outlook.due.isoformat(),
        "status": "infeasible" if blocked else "late" if late else "feasible",
        "finish": iso(outlook.finish),
        "finish_p10": iso(outlook.p10),
        "finish_p50": iso(outlook.p50),
        "finish_p90": iso(outlook.p90),
        "chance_by_due": round(outlook.chance.share, 4),
        "chance_error": round(outlook.chance.error, 4),
        "chance_range": [round(outlook.chance.low, 4), round(outlook.chance.high, 4)],
        "late_causes": [_cause_row(c.part, c.look, c.share) for c in outlook.causes],
        "next_start": iso(load.at(sessions[0].start_s)) if sessions else None,
        "latest_start_p90": iso(outlook.latest_start),
        "hands_planned_s": round(hands_s),
        "helps": [{"what": one.words, "chance": round(one.share, 4)} for one in outlook.helps],
        "sessions": [_session_row(session, load) for session in sessions],
        "trials": outlook.trials,
        "learned": outlook.learned.as_dict(),
    }


def _cause_row(part: str, look: str, share: float) -> dict[str, Any]:
    recipe, step, check = look.split("/")[:3]
    name = part.partition("/")[2]
    return {"part": name, "recipe": recipe, "step": step, "check": check, "share": round(share, 4)}


def _session_row(session: WorkSession, load: Workload) -> dict[str, Any]:
    return {
        "start": load.at(session.start_s).isoformat(timespec="seconds"),
        "end": load.at(session.end_s).isoformat(timespec="seconds"),
        "moves": [
            {
                "part": work.part,
                "recipe": work.recipe,
                "steps": list(work.steps),
                "start": load.at(work.start_s).isoformat(timespec="seconds"),
                "end": load.at(work.end_s).isoformat(timespec="seconds"),
                "to": work.place,
                "pull": None
                if work.pull_s == NEVER
                else load.at(work.pull_s).isoformat(timespec="seconds"),
            }
            for work in session.works
        ],
    }


def blocked_lines(blocked: Iterable[Blocked], *, with_job: bool = False) -> Iterator[str]:
    """Why parts can't be planned; parts with the same reason share a line."""
    parts_by_why: dict[str, list[str]] = {}
    for one in blocked:
        name = one.part if with_job else split_identity(one.part)[1]
        parts_by_why.setdefault(one.reason, []).append(name)
    for why, parts in parts_by_why.items():
        yield f"{', '.join(parts)}: {why}"


def evening_lines(evening: Evening, *, short: bool = False) -> Iterator[str]:
    """Tonight as text: the hours, what to heat, the work in order, what not to start.

    Args:
        evening: the hours left.
        short: leave out how to get the checklist.
    """
    load = evening.load
    opens, closes = load.at(evening.opens_s), load.at(evening.closes_s)
    begun = evening.opens_s <= 0
    until = time_of_day(closes) if closes.date() == opens.date() else moment_words(closes)
    yield f"Until {until}" if begun else f"{moment_words(opens)}-{until}"
    if not evening.session_works:
        yield "  Nothing to do in these hours."
    else:
        yield from _evening_work(evening)
    if evening.begins() and not short:
        yield "What to lay out, mix and read first: benchtimer tonight --prepare"
    if evening.not_now:
        yield "Do not start:"
        for one in evening.not_now:
            then = "" if one.from_s == NEVER else f"; {moment_words(load.at(one.from_s))} is fine"
            yield f"  {one.name}: {one.recipe}: {one.why}{then}"


def _evening_work(evening: Evening) -> Iterator[str]:
    """The lines of its sessions; only a session on the next day has a heading."""
    load = evening.load
    today = load.at(evening.opens_s).date()
    for session in evening.sessions:
        heading, *lines = session_lines([session], load, with_job=True)
        if load.at(session.begins_s).date() != today:
            yield heading
        yield from lines


def evening_table(evening: Evening) -> dict[str, Any]:
    """Tonight, for programs."""
    load = evening.load

    def iso(seconds: float) -> str | None:
        return None if seconds == NEVER else load.at(seconds).isoformat(timespec="seconds")

    return {
        "opens": iso(evening.opens_s),
        "closes": iso(evening.closes_s),
        "heat": [
            {"at": iso(heat.at_s), "place": load.place_title(heat.place), "make_up": heat.again}
            for heat in evening.heats
        ],
        "sessions": [_session_row(session, load) for session in evening.sessions],
        "set_up": [{"recipe": r, "parts": names} for r, names in evening.begins().items()],
        "not_now": [
            {"part": one.name, "recipe": one.recipe, "why": one.why, "from": iso(one.from_s)}
            for one in evening.not_now
        ],
    }
