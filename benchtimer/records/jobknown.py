"""What the records say of the chances of jobs: checks, paces, sessions worked and not worked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from math import log as ln
from statistics import fmean

from benchtimer.job.job_events import JOB_STREAM, JobOpened
from benchtimer.job.known import Known
from benchtimer.job.workload import Moment
from benchtimer.plan.spread import SPREAD, estimate_spread
from benchtimer.records.record import Record, make_record
from benchtimer.run.events import Answered, Created, Event
from benchtimer.run.evolve import fold
from benchtimer.shop.hours import Hours, open_spans
from benchtimer.store.log import Entry, EventLog
from benchtimer.store.standing import standing

MOST_OFF = 1.5
"""A time further off its plan than this, as a logarithm, is a key pressed late."""

LATE_MOST = 0.5
"""Work that begins after this share of a session says nothing about a late start."""


def known_from(log: EventLog, limit: int, hours: Hours, moment: Moment) -> Known:
    """What the newest runs say.

    Args:
        log: the log.
        limit: how many runs are read.
        hours: when you work.
        moment: now.
    """
    looks: Counter[str] = Counter()
    sends: Counter[str] = Counter()
    paces: dict[str, list[float]] = {}
    times: dict[tuple[str, str], list[float]] = {}
    pressed_s: list[float] = []
    count = 0
    for line in reversed(log.runs(limit=limit)):
        entries = log.entries(line.name)
        first = entries[0].event if entries else None
        if not isinstance(first, Created) or first.speed != 1:
            continue
        counted = standing(entries)
        live = [entry for entry in entries if entry.seq in counted]
        _count_answers(entries, live, looks, sends)
        record = make_record(entries)
        count += _add_paces(record, paces, times)
        pressed_s += [entry.stamp.wall_ms / 1000 for entry in live if entry.event.press]
    spread = estimate_spread(times.values())
    planned, lost, late_s = _sessions(log, hours, moment, sorted(pressed_s))
    return Known(
        looks=looks,
        sends=sends,
        paces={name: (fmean(values), len(values)) for name, values in paces.items()},
        runs=count,
        sessions=planned,
        lost=lost,
        late_s=late_s,
        spread=SPREAD if spread is None else max(0.05, min(1.0, spread.spread)),
    )


def _count_answers(
    entries: Sequence[Entry], live: Iterable[Entry], looks: Counter[str], sends: Counter[str]
) -> None:
    bench = fold(entry.event for entry in entries).bench
    for entry in live:
        event: Event = entry.event
        if isinstance(event, Answered) and event.part in bench.parts:
            recipe = bench.sources[bench.parts[event.part].recipe].id
            key = f"{recipe}/{event.step}/{event.check}"
            looks[key] += 1
            if event.no:
                sends[f"{key}/{event.key}"] += 1


def _add_paces(
    record: Record, paces: dict[str, list[float]], times: dict[tuple[str, str], list[float]]
) -> int:
    """Add how a run's hands-on times were to the plan; whether there were any."""
    by_recipe: dict[str, list[float]] = {}
    for part in record.parts:
        recipe = record.recipes[part.recipe].id
        for visit in part.visits:
            if visit.hands_s and visit.planned_hands_s:
                ratio = ln(visit.hands_s / visit.planned_hands_s)
                if abs(ratio) <= MOST_OFF:
                    by_recipe.setdefault(recipe, []).append(ratio)
                    times.setdefault((recipe, visit.step), []).append(visit.hands_s)
    for recipe, ratios in by_recipe.items():
        paces.setdefault(recipe, []).append(fmean(ratios))
    return bool(by_recipe)


def _sessions(
    log: EventLog, hours: Hours, moment: Moment, pressed_s: Sequence[float]
) -> tuple[int, int, tuple[float, ...]]:
    """Sessions since the first job was opened, those not worked, and how late the others began.

    Every session of your hours counts from the day the first job was opened to the last press: as
    long as a job is open there is nearly always something to do.
    """
    opened = [
        entry
        for stream in log.streams(JOB_STREAM)
        if (entry := log.first_entry(stream)) is not None and isinstance(entry.event, JobOpened)
    ]
    if not opened or hours.is_always or not pressed_s:
        return 0, 0, ()
    from_s = min(entry.stamp.wall_ms // 1000 for entry in opened)
    days = max(1, (moment.unix_s - from_s) // 86_400 + 1)
    until_s = min(moment.unix_s, round(pressed_s[-1]))
    planned = lost = 0
    late: list[float] = []
    for begin, end in open_spans(hours, moment.zone, from_s, days):
        if begin <= 0 or from_s + begin > until_s:
            continue
        inside = [s for s in pressed_s if from_s + begin - 1800 <= s < from_s + end]
        planned += 1
        if not inside:
            lost += 1
        else:
            late_s = max(0.0, inside[0] - from_s - begin)
            if late_s <= LATE_MOST * (end - begin):
                late.append(late_s)
    return planned, lost, tuple(late)
