"""Builds the workload from open jobs, parts on the bench, recipes and hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, time, timedelta

from benchtimer.job.chain import LONG_S, NEVER, Chain, chain_of, rests_in
from benchtimer.job.job_progress import PartProgress, PartStatus
from benchtimer.job.job_state import Job
from benchtimer.job.order import identity
from benchtimer.job.shop_work import OUT, REST, SOAK, Piece, ShopWork, Standing
from benchtimer.job.starts import SectionStarts, allowing_for_failures, latest_starts, sections_in
from benchtimer.job.workload import (
    Blocked,
    OnBench,
    PlanMoment,
    UnfinishedJob,
    Workload,
    fills_of,
    heats_of,
)
from benchtimer.job.worktime import WorkTime
from benchtimer.learn.learned import NOTHING, Learned
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.run.run_state import Bench, Part, PartPhase
from benchtimer.shop.hours import Hours, open_spans
from benchtimer.times import duration
from benchtimer.values import replace

SLACK_DAYS = 28
"""Latest starts are calculated for the due date plus this many days.

Only their order matters, and whole weeks keep the pattern of the hours.
"""


BEYOND_DAYS = 70
"""How many days past the last due date the trials know the hours."""


MOST_DAYS = 120
"""A due date further away than this is planned as if it were this far away: the work begins now."""


NO_DUE_DAYS = 28
"""A part without a job is planned as if it were due this soon."""


def workload_of(
    jobs: Sequence[UnfinishedJob],
    on_bench: Sequence[OnBench],
    recipes: Mapping[str, Recipe],
    hours: Hours,
    moment: PlanMoment,
    *,
    baths: Mapping[str, str] | None = None,
    learned: Learned = NOTHING,
    hurry: bool = False,
) -> Workload:
    """The shop for the policy.

    Args:
        jobs: the open jobs.
        on_bench: the open runs; parts without a job are worked on, too.
        recipes: all recipes, by id; a missing one blocks its parts.
        hours: when you work.
        moment: now.
        baths: names of baths of the bath book, by station address.
        learned: your own times and rates, by the id of the recipe; a run with its own version of a
            recipe keeps that version's times.
        hurry: let dwells end at their min.
    """
    builder = _Builder(jobs, on_bench, recipes, hours, moment)
    return builder.build(baths or {}, learned, hurry=hurry)


class _Builder:
    def __init__(
        self,
        jobs: Sequence[UnfinishedJob],
        on_bench: Sequence[OnBench],
        recipes: Mapping[str, Recipe],
        hours: Hours,
        moment: PlanMoment,
    ) -> None:
        self.jobs, self.on_bench, self.moment = jobs, on_bench, moment
        self.known = dict(recipes)
        self.due_s = {open_job.job.name: self._due_s(open_job.job) for open_job in jobs}
        furthest = max([*self.due_s.values(), 0.0])
        days = min(MOST_DAYS, int(furthest // 86_400)) + BEYOND_DAYS
        spans = open_spans(hours, moment.zone, moment.unix_s, days)
        self.hours = WorkTime(spans or ((0, days * 86_400),))
        self.blocked: list[Blocked] = []
        self.keys: dict[tuple[str, ...], int] = {}
        self.rows: list[tuple[str, str, tuple[str, ...], Standing, list[str]]] = []

    def _due_s(self, job: Job) -> float:
        after = datetime.combine(job.order.due + timedelta(days=1), time(), self.moment.zone)
        return after.timestamp() - self.moment.unix_s

    def build(self, baths: Mapping[str, str], learned: Learned, *, hurry: bool) -> Workload:
        for open_job in self.jobs:
            self._add_job(open_job)
        for one in self.on_bench:
            self._add_loose(one)
        used = {key for _, _, keys, _, _ in self.rows for key in keys}
        recipes = {key: self.known[key] for key in sorted(used)}
        placed = put(learned.applied(recipes), baths)
        chains: list[Chain] = []
        for _, _, keys, _, _ in self.rows:
            if keys not in self.keys:
                self.keys[keys] = len(chains)
                chains.append(chain_of(keys, placed.recipes, hurry=hurry))
        sections = [sections_in(chain, self.hours) for chain in chains]
        pieces = self._pieces(chains, sections)
        shop = ShopWork(
            hours=self.hours,
            chains=chains,
            sections=sections,
            pieces=pieces,
            fills=fills_of(pieces, chains, placed),
            heats=heats_of(placed),
        )
        load = Workload(
            shop, self.moment, self.due_s, self.blocked, placed.recipes, learned, self._set_up()
        )
        load.blocked += _without_start(load)
        return load

    def _set_up(self) -> frozenset[str]:
        return frozenset(
            identity(one.job.name, mine.name)
            for one in self.jobs
            for mine in one.progress
            if mine.on_bench is not None
        )

    def _add_job(self, open_job: UnfinishedJob) -> None:
        job = open_job.job
        benches = {one.run: one.bench for one in self.on_bench}
        for part, mine in zip(job.order.parts, open_job.progress, strict=True):
            keys, standing = self._where(mine, benches)
            missing = next((key for key in keys if key not in self.known), None)
            name = identity(job.name, part.name)
            if missing is not None and mine.status is not PartStatus.DONE:
                why = "that recipe no longer exists. Put its file back, or change the job"
                self.blocked.append(Blocked(name, missing, "", why))
                continue
            if missing is not None:
                continue
            needs = [identity(job.name, need) for need in part.needs]
            self.rows.append((name, job.name, keys, standing, needs))

    def _where(
        self, mine: PartProgress, benches: Mapping[str, Bench]
    ) -> tuple[tuple[str, ...], Standing]:
        """The recipes a part follows, with its run's own versions if it is in one, and
        where it is.
        """
        keys = mine.chain
        if mine.status is PartStatus.DONE:
            return keys, Standing(OUT)
        if mine.status is PartStatus.SCRAPPED:
            return keys, Standing()
        if mine.on_bench is None or mine.run is None or mine.run not in benches:
            return keys, Standing(REST, self._first(keys, mine.at))
        bench = benches[mine.run]
        key = self._own_key(mine.run, bench, mine.on_bench)
        keys = (*keys[: mine.at], key, *keys[mine.at + 1 :])
        standing = standing_of(bench, mine.on_bench, self.moment.bench_ms)
        return keys, self._moved_on(standing, keys, mine.at)

    def _moved_on(self, standing: Standing, keys: Sequence[str], number: int) -> Standing:
        """A part's position in one recipe, as a position in the whole chain; out if none is
        left.
        """
        step = standing.step + self._first(keys, number)
        if step >= self._first(keys, len(keys)):
            return Standing(OUT, 0, standing.since_s)
        return replace(standing, step=step)

    def _first(self, keys: Sequence[str], number: int) -> int:
        return sum(len(self.known[key].step) for key in keys[:number] if key in self.known)

    def _own_key(self, run: str, bench: Bench, part: Part) -> str:
        """The recipe of a part in its run: the one in the file if it is the same."""
        recipe = bench.sources[part.recipe]
        if self.known.get(recipe.id) == recipe:
            return recipe.id
        key = f"{run} {recipe.id}"
        self.known[key] = recipe
        return key

    def _add_loose(self, one: OnBench) -> None:
        for name, part in one.bench.parts.items():
            if name in one.bench.jobs or part.is_out:
                continue
            key = self._own_key(one.run, one.bench, part)
            standing = standing_of(one.bench, part, self.moment.bench_ms)
            standing = self._moved_on(standing, (key,), 0)
            self.rows.append((name, "", (key,), standing, []))

    def _pieces(
        self, chains: Sequence[Chain], sections: Sequence[Mapping[int, SectionStarts]]
    ) -> list[Piece]:
        number = {name: k for k, (name, job, *_) in enumerate(self.rows) if job}
        pieces = []
        for name, job, keys, standing, needs in self.rows:
            waits = tuple((number[need],) for need in needs if need in number)
            pieces.append(Piece(name, job, self.keys[keys], standing, waits))
        due = {
            k: self.due_s.get(piece.job, NO_DUE_DAYS * 86_400.0) + SLACK_DAYS * 86_400
            for k, piece in enumerate(pieces)
        }
        done: list[Piece] = list(pieces)
        for k in _last_first(pieces):
            chain = pieces[k].chain
            latest = latest_starts(chains[chain], sections[chain], self.hours, due[k])
            done[k] = replace(pieces[k], latest=allowing_for_failures(chains[chain], latest))
            for need in pieces[k].needs:
                for feeder in need:
                    due[feeder] = min(due[feeder], latest.get(0, due[k]))
        return done


def _last_first(pieces: Sequence[Piece]) -> list[int]:
    """The pieces, each after the ones it waits for."""
    order: list[int] = []

    def add(k: int) -> None:
        if k in order:
            return
        for other, piece in enumerate(pieces):
            if any(k in need for need in piece.needs):
                add(other)
        order.append(k)

    for k in range(len(pieces)):
        add(k)
    return order


def standing_of(bench: Bench, part: Part, now_ms: int) -> Standing:
    """Where a part of a run is, in steps of its recipe.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    since_s = (part.since_ms - now_ms) / 1000
    if part.phase is PartPhase.DONE:
        return Standing(OUT, 0, since_s)
    if part.phase is PartPhase.IN_HAND:
        return Standing(REST, part.step, 0, in_hand=part.held is None)
    steps = bench.recipe_of(part).step
    step = steps[part.step]
    if part.phase is PartPhase.DWELLING and step.dwell is not None:
        if rests_in(step) or part.step + 1 == len(steps):
            return Standing(REST, part.step + 1, since_s + step.dwell.target_s)
        return Standing(SOAK, part.step, since_s)
    return Standing(REST, part.step, 0)


def _without_start(load: Workload) -> list[Blocked]:
    """Sections that never fit the hours; of those that end in a short rest, the first one."""
    found = []
    for piece in load.shop.pieces:
        chain, sections = load.shop.chains[piece.chain], load.shop.sections[piece.chain]
        if piece.standing.where == OUT:
            continue
        reported = set[int]()
        for first, section in sections.items():
            if first < chain.section[min(piece.standing.step, len(chain.links) - 1)]:
                continue
            if section.next_safe and section.next_safe[0] == len(section.next_safe) - 1:
                home = chain.home[first]
                if home not in reported:
                    why = _too_short(chain, first, load.shop.hours)
                    link = chain.links[first]
                    found.append(Blocked(piece.name, link.recipe, link.step, why))
                reported.add(home)
    return found


def _too_short(chain: Chain, first: int, hours: WorkTime) -> str:
    """The work or dwell too long for the hours, up to where the part can rest at will."""
    links = [chain.links[first]]
    for link in chain.links[first + 1 :]:
        if link.waits_s == NEVER:
            break
        links.append(link)
    soaks = [(link.step, link.soak) for link in links if link.soak is not None]
    step, soak = max(soaks, key=lambda row: row[1].min_s, default=("", None))
    if soak is not None and soak.target_s > LONG_S:
        before_s = sum(link.hands_s for link in links[: [x.step for x in links].index(step) + 1])
        window = f"{duration(soak.min_s)} to {duration(round(soak.max_s))}"
        return (
            f"your hours are too short: {step} lasts {window}, with {duration(before_s)} of work "
            f"before it, and no start time puts every pull inside your hours"
        )
    work_s = sum(link.hands_s + (link.soak.min_s if link.soak else 0) for link in links)
    spans = zip(hours.opens, hours.closes, strict=True)
    most_s = max((closes - opens for opens, closes in spans), default=0)
    if work_s > most_s:
        return f"the {duration(work_s)} from there to the next long rest fit in none of your hours"
    return (
        f"the {duration(work_s)} from there to the next long rest fit in your hours in less than "
        f"half of the trials, failed checks included"
    )
