"""The plan of the jobs as sessions: what you do each time you are at the bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchtimer.job.chain import NEVER
from benchtimer.job.order import split_identity
from benchtimer.job.policy import Draws, play
from benchtimer.job.shop_work import OUT, Act, Heating, Played
from benchtimer.job.workload import Workload
from benchtimer.values import dataclass, field

APART_S = 3600
"""Work that begins this long after the last work ended is another session."""


@dataclass(frozen=True, slots=True)
class SessionWork:
    """One piece of work in a session.

    Attributes:
        name: the part, with its job.
        recipe: its recipe.
        steps: ids of its steps, with ``titles`` for their names.
        pulled: it came out of a bath, an oven or a clamp.
        place: where it ends, if anywhere; ``places`` are all it goes to.
        pull_s: when to pull it from there, if it must be pulled.
    """

    start_s: float
    end_s: float
    name: str
    recipe: str
    steps: tuple[str, ...]
    titles: tuple[str, ...]
    pulled: bool
    place: str | None = None
    pull_s: float = NEVER
    places: tuple[str, ...] = ()

    @property
    def job(self) -> str:
        """Its job; empty for a part without one."""
        return split_identity(self.name)[0]

    @property
    def part(self) -> str:
        """Its part's short name."""
        return split_identity(self.name)[1]


@dataclass(slots=True)
class WorkSession:
    """One stretch of work at the bench.

    Attributes:
        heats: places to heat, and when.
    """

    start_s: float
    end_s: float
    works: list[SessionWork] = field(default_factory=list)
    heats: list[Heating] = field(default_factory=list)

    @property
    def begins_s(self) -> float:
        """When it begins: with the first heating, or with the first work."""
        return min([self.start_s, *(heat.at_s for heat in self.heats)])

    @property
    def is_pull(self) -> bool:
        """Whether it is just one pull."""
        return len(self.works) == 1 and self.works[0].pulled

    def jobs(self) -> list[str]:
        """The jobs it works on, in order."""
        return list(dict.fromkeys(work.job for work in self.works if work.job))


@dataclass(slots=True)
class JobsPlan:
    """The plan of all open jobs.

    Attributes:
        played: the policy followed with the recipe's own times and expected sends.
        sessions: its sessions, in order of time.
    """

    load: Workload
    played: Played
    sessions: list[WorkSession]

    def finish_s(self, job: str) -> float:
        """When a job is ready by the plan; ``NEVER`` if it isn't within the hours considered."""
        ends = [
            self.played.ends[k] for k, piece in enumerate(self.load.shop.pieces) if piece.job == job
        ]
        return max(ends, default=0.0)

    def sessions_of(self, job: str) -> list[WorkSession]:
        """The sessions that work on a job, with only its own work."""
        found = []
        for session in self.sessions:
            works = [work for work in session.works if work.job == job]
            if works:
                start_s = min(work.start_s for work in works)
                end_s = max(work.end_s for work in works)
                heats = [heat for heat in session.heats if _is_for(heat, works)]
                found.append(WorkSession(start_s, end_s, works, heats))
        return found

    def is_done(self, job: str) -> bool:
        """Whether a job has no work left."""
        pieces = self.load.shop.pieces
        return all(piece.standing.where == OUT for piece in pieces if piece.job == job)

    def hands_s(self, job: str) -> float:
        """The hands-on time a job still needs, by the plan."""
        works = [work for session in self.sessions for work in session.works if work.job == job]
        return sum(work.end_s - work.start_s for work in works)


def _is_for(heat: Heating, works: Sequence[SessionWork]) -> bool:
    """Whether some of the works go into a place after it is heated."""
    return any(heat.place in work.places and work.start_s >= heat.at_s for work in works)


def plan_jobs(load: Workload, *, from_s: float = 0) -> JobsPlan:
    """The plan of all jobs by the policy, as the trials follow it.

    Args:
        load: the shop and its jobs.
        from_s: nothing begins before this.
    """
    played = play(load.shop, Draws(), from_s=from_s, acts=True)
    works = [_work(load, act) for act in played.acts]
    return JobsPlan(load, played, list(_sessions(works, played.heats)))


def _work(load: Workload, act: Act) -> SessionWork:
    piece = load.shop.pieces[act.piece]
    links = load.shop.chains[piece.chain].links
    # A part that a check sent back ends before the step it began with.
    back = (links[act.first], links[act.last])
    done = links[act.first : act.last + 1] or back
    return SessionWork(
        start_s=act.start_s,
        end_s=act.end_s,
        name=piece.name,
        recipe=links[act.first].recipe,
        steps=tuple(link.step for link in done),
        titles=tuple(link.title for link in done),
        pulled=act.pulled,
        place=links[act.last].place,
        pull_s=act.next_s,
        places=tuple(link.place for link in done if link.place is not None),
    )


def _sessions(works: Sequence[SessionWork], heats: Sequence[Heating]) -> Iterator[WorkSession]:
    todo = sorted(heats)
    current: WorkSession | None = None
    for work in works:
        first_s = work.start_s
        if current is None or first_s - current.end_s > APART_S:
            if current is not None:
                yield current
            current = WorkSession(first_s, work.end_s)
        while todo and todo[0].at_s <= work.start_s:
            current.heats.append(todo.pop(0))
        current.works.append(work)
        current.end_s = max(current.end_s, work.end_s)
    if current is not None:
        yield current
