"""New work planned around what is on the bench, as one problem."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from benchtimer.bench.advice import joined, problems_now
from benchtimer.bench.newrun import NewRun
from benchtimer.plan.problem import AwayTime, PlanPart, Problem
from benchtimer.plan.together import together
from benchtimer.recipe.places import ShopPlace
from benchtimer.run.decide import Now
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import RunPhase
from benchtimer.shop.shop_state import Shop, shop_of
from benchtimer.values import replace


def is_busy(shop: Shop) -> bool:
    """Whether something on the bench is in progress, so that new work must fit around it."""
    return any(shop.bench(run).phase is not RunPhase.IDLE for run in shop.runs)


NEW = "new"
"""The name in the problem for the work that is not on the bench yet."""


def beside(
    shop: Shop,
    new: NewRun,
    problem: Problem,
    now_ms: int,
    away: Sequence[AwayTime],
    baths: Mapping[str, str] | None = None,
    places: Sequence[ShopPlace] = (),
) -> Problem:
    """One problem for new work and everything on the bench; its zero is now.

    The new parts keep their names; those on the bench are called ``RUN:PART``. Places are the
    shop's real ones.

    Args:
        shop: the runs on the bench.
        new: the new work.
        problem: its own problem, from now on.
        now_ms: bench time.
        away: when you are away, in seconds from now.
        baths: the bath of the new work's stations, by their addresses.
        places: the shop's places, as its settings declare them.

    Raises:
        ProblemError: no plan can start from this state of the bench.
        Refused: the new work can't be set up.
    """
    created = new.created(Now(now_ms), uid="", baths=baths, shop=places, taken=shop.numbers)
    whole = shop_of({**shop.states, NEW: fold(created)}, shop.book, shop.clock)
    whole.check_vessels(NEW)
    windows = joined([*away, *problem.away])
    runs = {
        run: replace(own, hands=problem.hands, away=tuple(joined([*own.away, *windows])))
        for run, own in problems_now(shop, now_ms, windows).items()
    }
    hours = next(iter(runs.values())).away
    both = together({**runs, NEW: replace(problem, away=hours)}, whole.real)
    return replace(both, parts=tuple(_own_name(part) for part in both.parts))


def _own_name(part: PlanPart) -> PlanPart:
    """A new part under its own name, with the parts that wait for it."""
    after = tuple(name.removeprefix(f"{NEW}:") for name in part.after)
    return replace(part, name=part.name.removeprefix(f"{NEW}:"), after=after)
