"""How far along the parts of a job are, from their runs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum

from benchtimer.job.job_state import HandOverride, Job
from benchtimer.job.order import OrderPart, identity
from benchtimer.run.commands import ACCEPTED
from benchtimer.run.run_state import OVER, Bench, Part, PartPhase
from benchtimer.values import dataclass, field, replace


class PartStatus(StrEnum):
    """The state of a part of a job."""

    DONE = "done"
    IN_WORK = "in progress"
    HELD = "held"
    READY = "ready"
    WAITING = "waiting"
    SCRAPPED = "scrapped"


@dataclass(frozen=True, slots=True)
class JobRun:
    """A run that parts of a job were in.

    Attributes:
        created_ms: bench time at which it was set up.
        verdicts: the last verdict of each part that was judged.
        scrapped: why each scrapped part was scrapped.
    """

    name: str
    created_ms: int
    bench: Bench
    verdicts: Mapping[str, str]
    scrapped: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PartProgress:
    """How far along one part is.

    Attributes:
        chain: its recipes, in order.
        at: how many of the recipes are done.
        run: the open run that it is in now, and ``on_bench`` its name and state there.
        waits_for: the parts it needs that are not done yet.
        why: why it was scrapped, held or sent back, in words.
        blanks: how many blanks it took, including this one.
    """

    name: str
    chain: tuple[str, ...]
    status: PartStatus
    at: int = 0
    run: str | None = None
    on_bench: Part | None = None
    waits_for: tuple[str, ...] = ()
    why: str = ""
    blanks: int = 1

    @property
    def recipe(self) -> str:
        """The recipe it is at, or the last one if it is done."""
        return self.chain[min(self.at, len(self.chain) - 1)]

    @property
    def words(self) -> str:
        """The part's state for people: ``ready for hot-black``, ``waiting for blade``."""
        if self.status is PartStatus.DONE:
            return "done"
        if self.status is PartStatus.IN_WORK:
            return f"in progress: {self.recipe} ({self.run})"
        if self.status is PartStatus.HELD:
            return f"held in {self.run}: {self.why}"
        if self.status is PartStatus.WAITING:
            return f"waiting for {', '.join(self.waits_for)}"
        if self.status is PartStatus.SCRAPPED:
            return f"scrapped: {self.why}. What replaces it?"
        return f"ready for {self.recipe}" + (f" again: {self.why}" if self.why else "")


def progress_of(job: Job, runs: Iterable[JobRun]) -> list[PartProgress]:
    """How far along each part of a job is, in the order of the job.

    Args:
        job: the job.
        runs: the runs that its parts were in, in any order.
    """
    ordered = sorted(runs, key=lambda run: (run.created_ms, run.name))
    alone = [_alone(job, part, ordered) for part in job.order.parts]
    done = {p.name for p in alone if p.status is PartStatus.DONE}
    found = []
    for part, mine in zip(job.order.parts, alone, strict=True):
        missing = tuple(name for name in part.needs if name not in done)
        if mine.status is PartStatus.READY and not mine.at and missing:
            mine = replace(mine, status=PartStatus.WAITING, waits_for=missing)
        found.append(mine)
    return found


def unfinished(progress: Sequence[PartProgress]) -> list[str]:
    """The names of the parts that are not done."""
    return [part.name for part in progress if part.status is not PartStatus.DONE]


def _alone(job: Job, part: OrderPart, runs: Sequence[JobRun]) -> PartProgress:
    """How far along a part is, without looking at what it waits for."""
    turns = [turn for turn in job.turns if turn.part == part.name]
    history: list[tuple[int, JobRun | HandOverride]] = [(run.created_ms, run) for run in runs]
    history += [(turn.t_ms, turn) for turn in turns]
    history.sort(key=lambda pair: pair[0])
    mine = PartProgress(part.name, part.recipes, PartStatus.READY)
    called = identity(job.name, part.name).casefold()
    ahead: list[tuple[JobRun, Part]] = []
    for _, what in history:
        if isinstance(what, HandOverride):
            mine = _turned(mine, what)
            ahead = []
            continue
        for name, who in what.bench.jobs.items():
            if who.casefold() == called and name in what.bench.parts:
                found = what.bench.parts[name]
                if found.began_ms is None and not found.is_out:
                    ahead.append((what, found))
                else:
                    mine = _worked(mine, what, found)
    for run, found in ahead:  # set up but not started: it counts once the recipe is due
        if _place_in_chain(mine, run.bench.sources[found.recipe].id) == mine.at:
            mine = _worked(mine, run, found)
    return mine


def _turned(mine: PartProgress, turn: HandOverride) -> PartProgress:
    fresh = replace(mine, run=None, on_bench=None, status=PartStatus.READY, why=turn.why)
    if turn.kind == "replaced":
        return replace(fresh, at=0, blanks=mine.blanks + 1)
    if turn.recipe not in mine.chain:
        return mine  # the chain has changed since then
    if turn.kind == "sent back":
        return replace(fresh, at=mine.chain.index(turn.recipe))
    return _passed(fresh, mine.chain.index(turn.recipe, min(mine.at, _last(mine, turn.recipe))))


def _last(mine: PartProgress, recipe: str) -> int:
    return max(i for i, name in enumerate(mine.chain) if name == recipe)


def _passed(mine: PartProgress, index: int) -> PartProgress:
    """The part after one of its recipes."""
    at = max(mine.at, index + 1)
    status = PartStatus.DONE if at == len(mine.chain) else PartStatus.READY
    return replace(mine, at=at, status=status, run=None, on_bench=None, why="")


def _place_in_chain(mine: PartProgress, recipe: str) -> int | None:
    """Which recipe of the chain a run's recipe is: the one that is due, or an earlier one."""
    if recipe not in mine.chain:
        return None
    ahead = [i for i, name in enumerate(mine.chain) if name == recipe and i >= mine.at]
    return ahead[0] if ahead else _last(mine, recipe)


def _worked(mine: PartProgress, run: JobRun, part: Part) -> PartProgress:
    """What one run changed."""
    index = _place_in_chain(mine, run.bench.sources[part.recipe].id)
    if index is None:
        return mine  # work outside its chain, such as stripping
    if part.phase is PartPhase.SCRAPPED:
        why = run.scrapped.get(part.name, "by hand")
        return replace(mine, status=PartStatus.SCRAPPED, run=run.name, why=why)
    verdict = run.verdicts.get(part.name)
    if part.phase is PartPhase.DONE:
        if verdict is None or verdict == ACCEPTED:
            return _passed(replace(mine, at=index), index)
        why = f"judged {verdict} in {run.name}"
        return replace(mine, at=index, status=PartStatus.READY, run=None, on_bench=None, why=why)
    if run.bench.phase in OVER:  # aborted partway: repeat the recipe
        why = f"run {run.name} was aborted"
        return replace(mine, at=index, status=PartStatus.READY, run=None, on_bench=None, why=why)
    if part.held:
        why, status = part.held, PartStatus.HELD
    else:
        why, status = "", PartStatus.IN_WORK
    return replace(mine, at=index, status=status, run=run.name, on_bench=part, why=why)
