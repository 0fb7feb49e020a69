"""Whether a job will be ready: its plan, its chance by the due date, and what would help."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta

from benchtimer.job.chain import NEVER
from benchtimer.job.known import KnownChances
from benchtimer.job.luck import Assumed
from benchtimer.job.order import split_identity
from benchtimer.job.promise import (
    Chance,
    Trials,
    chance_by,
    late_causes,
    latest_good_start,
    progressive,
    quantile,
)
from benchtimer.job.sessions import JobsPlan, plan_jobs
from benchtimer.job.shop_work import Piece
from benchtimer.job.workload import Workload
from benchtimer.learn.learned import Learned
from benchtimer.plan.risk import LateRunCause
from benchtimer.values import dataclass, field, replace

MOST_DAYS = 200
"""How many days ahead the chance is calculated."""

HELP_TRIALS = 300
"""Trials for each thing that might help."""

LEAST_GAIN = 0.02
"""A smaller gain may be luck."""

WANTED = 0.9
"""The chance that defines the latest start."""


@dataclass(frozen=True, slots=True)
class Help:
    """Something that would raise a job's chance of being ready.

    Attributes:
        words: what to do.
        share: the chance with it.
    """

    words: str
    share: float


@dataclass(slots=True)
class Outlook:
    """The forecast for one job.

    Attributes:
        due: the day it is due.
        finish: when it is ready by the plan, if every check goes as the recipe expects.
        p10: when one trial in ten is ready; ``p50`` and ``p90`` likewise; None for never.
        by_day: for each day the chance to be ready by its end.
        causes: what makes it late, most common first.
        latest_start: the last session to begin with for a chance of nine in ten.
        learned: what the records say about its recipes.
        lost_share: the chance if one more session in ten is lost.
    """

    job: str
    due: date
    finish: datetime | None
    chance: Chance
    trials: int
    learned: Learned
    p10: datetime | None = None
    p50: datetime | None = None
    p90: datetime | None = None
    by_day: dict[date, float] = field(default_factory=dict)
    causes: list[LateRunCause] = field(default_factory=list)
    latest_start: datetime | None = None
    lost_share: float | None = None
    helps: list[Help] = field(default_factory=list)
    lost_known: bool = False


def outlooks(
    load: Workload,
    plan: JobsPlan,
    known: KnownChances,
    *,
    trials: int,
    seed: int = 1,
    from_s: float = 0,
) -> Iterator[tuple[Trials, dict[str, Outlook]]]:
    """The outlook of every job, first from 100 trials, then again from more.

    Args:
        load: the shop and its jobs.
        plan: its plan.
        known: what the records say.
        trials: how many trials at the end.
        seed: same seed, same luck.
        from_s: nothing begins before this.
    """
    run = Trials(load.shop, Assumed(known=known, seed=seed, from_s=from_s))
    for grown in progressive(run, trials):
        yield grown, {job: _outlook(load, plan, known, grown, job) for job in grown.finishes}


def _outlook(
    load: Workload, plan: JobsPlan, known: KnownChances, trials: Trials, job: str
) -> Outlook:
    finishes, due_s = trials.finishes[job], load.due_s[job]

    def at(share: float) -> datetime | None:
        return _when(load, quantile(finishes, share))

    due = load.at(due_s - 1).date()
    return Outlook(
        job=job,
        due=due,
        finish=_when(load, plan.finish_s(job)),
        chance=chance_by(finishes, due_s),
        trials=trials.count,
        learned=_learned_of(load, known, job),
        p10=at(0.1),
        p50=at(0.5),
        p90=at(0.9),
        by_day=_by_day(load, finishes),
        causes=late_causes(trials, job, due_s),
        lost_known=known.sessions.planned > 0,
    )


def _learned_of(load: Workload, known: KnownChances, job: str) -> Learned:
    """What is known about the recipes of a job's parts."""
    shop = load.shop
    links = (x for piece in shop.pieces if piece.job == job for x in shop.chains[piece.chain].links)
    estimates = known.learned.estimates
    return Learned({x.recipe: estimates[x.recipe] for x in links if x.recipe in estimates})


def _when(load: Workload, seconds: float) -> datetime | None:
    return None if seconds == NEVER else load.at(seconds)


def _by_day(load: Workload, finishes: Sequence[float]) -> dict[date, float]:
    day, shares = load.at(0).date(), {}
    for _ in range(MOST_DAYS):
        after = datetime.combine(day + timedelta(days=1), time(), load.moment.zone)
        end_s = load.seconds(after)
        shares[day] = sum(finish <= end_s for finish in finishes) / len(finishes)
        if shares[day] == 1:
            break
        day += timedelta(days=1)
    return shares


def add_more(
    outlook: Outlook,
    load: Workload,
    known: KnownChances,
    changed: Callable[..., Workload],
    *,
    seed: int = 1,
    trials: int = HELP_TRIALS,
    from_s: float = 0,
) -> Iterator[str]:
    """Add what needs more trials, one thing at a time. Yields the outlook after each.

    Args:
        outlook: what is known so far; it is added to.
        load: the shop and its jobs.
        known: what the records say.
        changed: makes the shop again, with ``hurry`` or other hours.
        seed: same seed, same luck.
        trials: how many trials for each.
        from_s: nothing begins before this.
    """
    job, due_s = outlook.job, load.due_s[outlook.job]
    assumed = Assumed(known=known, seed=seed, from_s=from_s)
    if not known.sessions.planned:
        outlook.lost_share = _share(load, replace(assumed, lost=0.1), job, trials)
        yield "lost"
    start_s = latest_good_start(load.shop, assumed, job, due_s, want=WANTED, count=trials // 2)
    outlook.latest_start = None if start_s is None else load.at(start_s)
    yield "latest start"
    if outlook.chance.share >= 0.98:
        return
    before = _share(load, assumed, job, trials)

    def share(shop: Workload, how: Assumed = assumed) -> float:
        return _share(shop, how, job, trials)

    tried: list[tuple[str, Callable[[], float]]] = [
        ("--hurry (dwells end at their min)", lambda: share(changed(hurry=True))),
        ("one more hour each session", lambda: share(changed(longer=True))),
    ]
    if outlook.causes:
        part, look = outlook.causes[0].part, outlook.causes[0].look
        words = f"a second blank for {split_identity(part)[1]}, started now"
        never = replace(assumed, never=frozenset({look}))
        tried.append((words, lambda: share(second_blank(load, part))))
        tried.append(
            (f'"{outlook.causes[0].ask}" always answered well', lambda: share(load, never))
        )
    for words, look_at in tried:
        found = look_at()
        if found > max(before, outlook.chance.share) + LEAST_GAIN:
            outlook.helps.append(Help(words, found))
        yield words
    outlook.helps.sort(key=lambda one: -one.share)


def _share(load: Workload, assumed: Assumed, job: str, count: int) -> float:
    trials = Trials(load.shop, assumed)
    trials.more(count)
    return chance_by(trials.finishes[job], load.due_s[job]).share


def second_blank(load: Workload, name: str) -> Workload:
    """The same shop with a second blank for a part: whichever is done first will do."""
    pieces = list(load.shop.pieces)
    number = next(k for k, piece in enumerate(pieces) if piece.name == name)
    first = pieces[number]
    twin = len(pieces)
    pieces = [
        replace(p, needs=tuple((*n, twin) if number in n else n for n in p.needs)) for p in pieces
    ]
    chain = load.shop.chains[first.chain]
    pieces.append(Piece(f"{name} (second)", "", first.chain, latest=first.latest))
    if any(number in need for piece in pieces for need in piece.needs) and len(chain.links):
        pieces[number] = replace(pieces[number], job="")
    return replace(load, shop=replace(load.shop, pieces=pieces))


__all__ = ["Help", "Outlook", "add_more", "outlooks", "plan_jobs", "second_blank"]
