"""Tonight: what fits into the hours left, what to heat first, and what not to start."""

from __future__ import annotations

from benchtimer.job.better import best_plan
from benchtimer.job.chain import NEVER
from benchtimer.job.policy import Draws, play
from benchtimer.job.sessions import SessionWork, WorkSession
from benchtimer.job.shop_work import OUT, REST, Heating
from benchtimer.job.workload import Workload
from benchtimer.values import dataclass, field

MOST_S = 12 * 3600
"""An evening is no longer than the next 12 hours, even if your hours have no end."""


@dataclass(frozen=True, slots=True)
class NotTonight:
    """A part that is ready but must not be started in the hours left.

    Attributes:
        why: in words.
        from_s: when it can be started; ``NEVER`` if that is unknown.
    """

    name: str
    recipe: str
    why: str
    from_s: float = NEVER


@dataclass(slots=True)
class Evening:
    """The hours left of this session, or the next ones.

    Attributes:
        opens_s: when the hours begin; 0 if they have begun.
        closes_s: when they end.
        sessions: the work that fits, by the plan.
        not_now: parts that must not be started.
    """

    load: Workload
    opens_s: float
    closes_s: float
    sessions: list[WorkSession] = field(default_factory=list)
    not_now: list[NotTonight] = field(default_factory=list)

    @property
    def session_works(self) -> list[SessionWork]:
        """All its work, in order."""
        return [work for session in self.sessions for work in session.works]

    @property
    def heats(self) -> list[Heating]:
        """What to heat, and when."""
        return [heat for session in self.sessions for heat in session.heats]

    def recipes(self) -> list[str]:
        """The recipes used in these hours, each once, in the order of the work."""
        return list(dict.fromkeys(work.recipe for work in self.session_works))

    def begins(self) -> dict[str, list[str]]:
        """The parts to set up now, by the recipe's key, in the order of their work.

        They are at the first step of a recipe, have what they need, and are in no run yet. The next
        recipe is set up when that one is done.
        """
        pieces = {piece.name: piece for piece in self.load.shop.pieces}
        found: dict[str, list[str]] = {}
        for name in dict.fromkeys(work.name for work in self.session_works):
            piece = pieces[name]
            chain, standing = self.load.shop.chains[piece.chain], piece.standing
            ready = standing.where == REST and standing.step in chain.starts
            needs = [self.load.shop.pieces[n] for some in piece.needs for n in some]
            ready = ready and (standing.step > 0 or all(n.standing.where == OUT for n in needs))
            if ready and piece.job and name not in self.load.set_up:
                found.setdefault(chain.links[standing.step].recipe, []).append(name)
        return found


def evening_of(load: Workload) -> Evening:
    """What to do in the hours left, or in your next hours if you aren't working now."""
    hours = load.shop.hours
    number = max(0, hours.span(0))
    while number < len(hours) and hours.closes[number] <= 0:
        number += 1
    opens_s = float(hours.opens[number])
    closes_s = min(float(hours.closes[number]), max(0.0, opens_s) + MOST_S)
    plan = best_plan(load)
    load = plan.load
    sessions = [session for session in plan.sessions if session.start_s < closes_s]
    evening = Evening(load, max(0.0, opens_s), closes_s, sessions)
    worked = {work.name for work in evening.session_works}
    after = play(load.shop, Draws(), until_s=opens_s)
    for k, piece in enumerate(load.shop.pieces):
        standing = piece.standing
        if piece.name in worked or standing.where != REST or after.ends[k] != NEVER:
            continue
        if any(load.shop.pieces[n].standing.where != OUT for need in piece.needs for n in need):
            continue
        found = _not_now(load, k, evening.opens_s, closes_s)
        if found is not None:
            evening.not_now.append(found)
    return evening


def _not_now(load: Workload, k: int, opens_s: float, closes_s: float) -> NotTonight | None:
    piece = load.shop.pieces[k]
    chain, hours = load.shop.chains[piece.chain], load.shop.hours
    index = piece.standing.step
    section = load.shop.sections[piece.chain].get(index)
    link = chain.links[index]
    if piece.standing.since_s >= closes_s:
        return NotTonight(piece.name, link.recipe, "it is still resting", piece.standing.since_s)
    if section is None:
        return None
    slot = max(0, hours.slot(max(opens_s, piece.standing.since_s)))
    safe = section.next_safe[slot]
    if safe == len(hours.slots):
        return None  # no hours fit it: the plan says so
    from_s = float(hours.slots[safe])
    if from_s < closes_s:
        return NotTonight(piece.name, link.recipe, "there is no time left for it", NEVER)
    return NotTonight(piece.name, link.recipe, "its pull would fall outside your hours", from_s)
