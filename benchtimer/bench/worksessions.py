"""Sessions planned and worked, and with them what is known of the chances of jobs."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field

from benchtimer.bench.joblook import JobLook
from benchtimer.job.job_events import JOB_STREAM
from benchtimer.job.known import KnownChances, Sessions
from benchtimer.job.policy import Draws, play
from benchtimer.job.workload import Workload
from benchtimer.run.events import Created
from benchtimer.shop.hours import open_spans
from benchtimer.store.log import EventLog
from benchtimer.store.standing import standing

MOST_RUNS = 400
"""How many of the newest runs are read for presses."""

MOST_SESSIONS = 60
"""Only the newest sessions count, this many: habits change."""

EARLY_S = 1800
"""A press this long before a session belongs to it."""

LATE_MOST = 0.5
"""Work that begins after this share of a session says nothing about a late start."""


def known_of(look: JobLook, load: Workload) -> KnownChances:
    """What the records say of times, chances and sessions.

    Args:
        look: the jobs.
        load: the shop with its open jobs.
    """
    return KnownChances(load.learned, sessions_worked(look))


def sessions_worked(look: JobLook) -> Sessions:
    """Sessions of your hours in which a job had something to do: how many, lost, how late.

    They count from the first job to the last press. A session without a press counts as lost if
    the policy would have had work for it, as the jobs were then; one in which everything had to
    soak, cure or wait for longer hours does not count.
    """
    written_s = _jobs_written_s(look.log)
    pressed = _pressed_s(look.log)
    if not written_s or look.hours.is_always or not pressed:
        return Sessions()
    from_s, zone = round(written_s[0]), look.moment.zone
    until_s = min(look.moment.unix_s, pressed[-1])
    days = max(1, (look.moment.unix_s - from_s) // 86_400 + 1)
    spans = open_spans(look.hours, zone, from_s, days)
    spans = tuple((b + from_s, e + from_s) for b, e in spans if b > 0 and b + from_s <= until_s)
    past = _Past(look, sorted([*written_s, *pressed]))
    planned = lost = 0
    late: list[float] = []
    for begin, end in spans[-MOST_SESSIONS:]:
        first = bisect_left(pressed, begin - EARLY_S)
        if first < len(pressed) and pressed[first] < end:
            planned += 1
            late_s = max(0.0, pressed[first] - begin)
            if late_s <= LATE_MOST * (end - begin):
                late.append(late_s)
        elif past.had_work(begin, end):
            planned += 1
            lost += 1
    return Sessions(planned, lost, tuple(late))


def _jobs_written_s(log: EventLog) -> list[float]:
    """When something was written of any job."""
    streams = log.streams(JOB_STREAM)
    return sorted(e.stamp.wall_ms / 1000 for stream in streams for e in log.entries(stream))


def _pressed_s(log: EventLog) -> list[float]:
    """When keys were pressed in real runs."""
    found: list[float] = []
    for line in log.runs(limit=MOST_RUNS):
        entries = log.entries(line.name)
        first = entries[0].event if entries else None
        if isinstance(first, Created) and first.speed == 1:
            counted = standing(entries)
            pressed = (e for e in entries if e.seq in counted and e.event.press)
            found += [e.stamp.wall_ms / 1000 for e in pressed]
    return sorted(found)


@dataclass
class _Past:
    """The jobs as they were; they change only when something is pressed or written."""

    look: JobLook
    changes: list[float]
    loads: dict[int, Workload] = field(default_factory=dict)

    def had_work(self, begin: int, end: int) -> bool:
        """Whether the policy had work at a job in a session."""
        number = bisect_right(self.changes, begin)
        if number not in self.loads:
            self.loads[number] = self.look.before(begin).workload()
        load = self.loads[number]
        before_s = begin - load.moment.unix_s
        played = play(
            load.shop, Draws(), from_s=before_s, until_s=before_s + end - begin, acts=True
        )
        return any(load.shop.pieces[act.piece].job for act in played.acts)
