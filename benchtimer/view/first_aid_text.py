"""The first-aid page: what to do for the hazards open now, and how long to rinse.

It depends only on the benches and the time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from benchtimer.run.hazards import hurts_of
from benchtimer.run.run_state import OVER, Bench
from benchtimer.times import elapsed
from benchtimer.trade.first_aid import FirstAid, Hurt, first_aid_for
from benchtimer.values import dataclass, field
from benchtimer.view.letters import fits, large
from benchtimer.view.text import wrapped

KEPT_S = 60.0
"""The rinse timer runs this long after you leave the page; later it restarts from 0, so that
another rinse's time does not stop you too early.
"""

DEFER = (  # the number: poisonhelp.hrsa.gov
    "A strong alkaline cleaner, or not sure what it was: rinse for 60 minutes. Solvent swallowed: "
    "do not induce vomiting, go to a hospital. Burn: cool it for 20 minutes. Clothes on fire: "
    "stop, drop, roll, then water. Poison center in the US: 1-800-222-1222. "
    "The data sheet, the poison center and the ambulance come first."
)


def open_hurts(benches: Iterable[Bench]) -> set[Hurt]:
    """What can hurt at the places of the runs that are open."""
    places = (place for b in benches if b.phase not in OVER for place in b.places.values())
    return hurts_of(place.station for place in places)


def aids_now(benches: Iterable[Bench]) -> tuple[FirstAid, ...]:
    """First aid for what is open now, worst first; all of it if nothing is open."""
    return first_aid_for(open_hurts(benches))


@dataclass(slots=True)
class Rinse:
    """How long you have been rinsing, and the minutes it must last.

    Attributes:
        monotonic: a clock in seconds that never goes back.
        since_s: when the rinse began; None if there is none.
        left_s: when you left the page, if you have.
        reached: minutes already announced.
    """

    monotonic: Callable[[], float]
    since_s: float | None = None
    left_s: float | None = None
    reached: set[int] = field(default_factory=set)

    def open(self) -> None:
        """The page opens: time a new rinse, or continue the one you just left."""
        now = self.monotonic()
        if self.since_s is None or self.left_s is None or now - self.left_s > KEPT_S:
            self.start()
        self.left_s = None

    def start(self) -> None:
        """Restart from 0."""
        self.since_s, self.reached = self.monotonic(), set()

    def leave(self) -> None:
        """The page closes."""
        self.left_s = self.monotonic()

    @property
    def elapsed_s(self) -> float:
        """How long the rinse has lasted."""
        return self.monotonic() - self.since_s if self.since_s is not None else 0.0

    def newly_reached(self, goals: Iterable[int]) -> list[int]:
        """Minutes reached since the last call; each is returned once."""
        minutes = self.elapsed_s / 60
        news = sorted(goal for goal in set(goals) if goal <= minutes and goal not in self.reached)
        self.reached |= set(news)
        return news


def goals_of(aids: Sequence[FirstAid]) -> list[int]:
    """The minutes to rinse, longest first, each once."""
    return sorted({aid.rinse_min for aid in aids if aid.rinse_min}, reverse=True)


def timer_lines(elapsed_s: float, aids: Sequence[FirstAid], width: int) -> list[str]:
    """The rinse time in large digits, and the goal for each kind of injury.

    Args:
        elapsed_s: seconds rinsed so far.
        aids: first aid for what is on the bench.
        width: columns.
    """
    clock = elapsed(elapsed_s)
    words = f"RINSE {clock}"
    shown = large(words) if fits(words, width) else large(clock) if fits(clock, width) else [words]
    goals = "   ".join(_goal(goal, aids, elapsed_s) for goal in goals_of(aids))
    return [*shown, *wrapped(f"rinse at least: {goals}", width)]


def _goal(goal: int, aids: Sequence[FirstAid], elapsed_s: float) -> str:
    names = ", ".join(aid.name for aid in aids if aid.rinse_min == goal)
    done = " DONE" if elapsed_s >= goal * 60 else ""
    return f"{goal} min {names}{done}"


def aid_lines(aids: Sequence[FirstAid], width: int) -> list[str]:
    """Every entry in full: what to do, the signs, what never to do."""
    return [line for aid in aids for line in (*_aid(aid, width), "")] + wrapped(DEFER, width)


def _aid(aid: FirstAid, width: int) -> Iterator[str]:
    minutes = f": {aid.rinse_min} MIN" if aid.rinse_min else ""
    yield from wrapped(f"{aid.title.upper()}{minutes}", width)
    for order in aid.do:
        first, *more = wrapped(order, width - 2)
        yield f"- {first}"
        yield from (f"  {line}" for line in more)
    for label, texts in (("SIGNS", aid.signs), ("NEVER", aid.never)):
        for text in texts:
            yield from wrapped(f"{label}: {text}", width)
