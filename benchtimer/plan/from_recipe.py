"""From recipes and parts to the planning problem.

Consecutive hands-on steps form one move, through the step that has the next dwell. An answer that
is expected to send a part (``expect``) makes the route longer by that many repeats, rounded half
up: 0.15 plans none, 3 plans three. The check comes after the hands-on work of its step and before
its dwell, so a repeat skips that dwell. A recipe that ends in a dwell gets a last pull that takes
no time. The recipes are placed (``recipe.places``): their station ids are place ids.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import permutations

from benchtimer.plan.problem import (
    AwayTime,
    DwellLimits,
    Heating,
    Move,
    PlanPart,
    PlanStation,
    Problem,
    ProblemError,
    Route,
    Walk,
)
from benchtimer.recipe.checks import SendRoute
from benchtimer.recipe.model import Recipe, Step
from benchtimer.recipe.model import Station as PlaceStation
from benchtimer.recipe.places import Placed
from benchtimer.values import replace

MOST_VISITS = 1000
"""If there are more steps than this with all repeats, the expected repeats are a typing error."""

Visit = tuple[int, bool]
"""(index of a step, whether its dwell follows: a part sent back skips it)."""


def visits_of(recipe: Recipe, first: int = 0, made: Mapping[str, int] | None = None) -> list[Visit]:
    """The steps from index ``first`` on, with the repeats still expected.

    ``made`` says how often each answer (``step/check/answer``) has already sent the part.
    Raises ``ProblemError`` if the repeats never end.

    Args:
        recipe: the recipe.
        first: index of the first step.
        made: how often each answer has sent the part, by ``step/check/answer``.
    """
    ways = [way for way in recipe.ways if way.to_index is not None]
    expected = {way.key: int(way.send.expect + 0.5) for way in ways}
    left = {key: max(0, n - (made or {}).get(key, 0)) for key, n in expected.items()}
    visits: list[Visit] = []
    index = first
    while index < len(recipe.step):
        way = next((way for way in ways if way.index == index and left[way.key]), None)
        visits.append((index, way is None))
        if len(visits) > MOST_VISITS:
            raise ProblemError(
                f"recipe {recipe.id!r}",
                f"more than {MOST_VISITS} steps with expected repeats",
                "lower the expect of its checks",
            )
        if way is None or way.to_index is None:
            index += 1
            continue
        left[way.key] -= 1
        for inner in ways[: ways.index(way)]:
            if _is_inside(inner, way):
                left[inner.key] = expected[inner.key]
        index = way.to_index
    return visits


def _is_inside(inner: SendRoute, way: SendRoute) -> bool:
    """Whether one send's whole loop is inside another's, so its count restarts there.

    A loop over exactly the same steps is not inside: two answers of one check share its passes.
    """
    first = way.to_index or 0
    if (inner.to_index, inner.index) == (way.to_index, way.index):
        return False
    return inner.index >= first and inner.to_index is not None and inner.to_index >= first


def _dwell(step: Step) -> DwellLimits:
    dwell = step.dwell
    if dwell is None or step.at is None:
        raise ProblemError(f"step {step.id!r}", "no dwell at a station", "give it both")
    return DwellLimits(step.at, dwell.min_s, dwell.max_s, dwell.target_s, step.id)


def _route(recipe: Recipe, visits: Iterable[Visit]) -> Route:
    """A route through the visits."""
    moves, dwells, steps = list[Move](), list[DwellLimits](), list[Step]()
    for index, stays in visits:
        step = recipe.step[index]
        steps.append(step)
        if stays and step.dwell is not None:
            moves.append(_move(steps))
            dwells.append(_dwell(step))
            steps = []
    return Route(recipe.id, (*moves, _move(steps)), tuple(dwells))


def _move(steps: Sequence[Step]) -> Move:
    step_s = tuple(step.hands_s for step in steps)
    return Move(sum(step_s), tuple(step.id for step in steps), step_s=step_s)


def route_of(recipe: Recipe) -> Route:
    """The whole route of a part that has not started."""
    return _route(recipe, visits_of(recipe))


def waiting_part(
    name: str,
    recipe: Recipe,
    index: int = 0,
    *,
    release_s: int = 0,
    made: Mapping[str, int] | None = None,
) -> PlanPart:
    """A part in no station: not yet started, sent back, or pulled out.

    Args:
        name: the part's name.
        recipe: its recipe.
        index: the step whose work comes next.
        release_s: when it is available, in seconds.
        made: how often each answer has sent it; see ``visits_of``.
    """
    return PlanPart(name, _route(recipe, visits_of(recipe, index, made)), release_s)


def dwelling_part(
    name: str,
    recipe: Recipe,
    index: int,
    entered_s: int,
    *,
    held: bool = False,
    made: Mapping[str, int] | None = None,
    target_s: int | None = None,
) -> PlanPart:
    """A part in the dwell of step ``index``.

    Args:
        name: its name.
        recipe: its recipe.
        index: the step it dwells in.
        entered_s: when it went in.
        held: whether it is on hold.
        made: how often each answer has already sent it.
        target_s: the target of this dwell, if a run has moved it.
    """
    present = _dwell(recipe.step[index])
    if target_s is not None:
        present = replace(present, target_s=target_s)
    whole, rest = visits_of(recipe), visits_of(recipe, index + 1, made)
    behind = _before(recipe, whole, [(index, True), *rest])
    if behind is not None:
        route, moves_made = route_of(recipe), behind + 1
        if route.dwells[behind] != present:
            route = route.with_dwell(behind, present)
    else:
        ahead, entry = _route(recipe, rest), Move(0, (recipe.step[index].id,))
        route = Route(recipe.id, (entry, *ahead.moves), (present, *ahead.dwells))
        moves_made = 1
    return PlanPart(name, route, moves_made=moves_made, entered_s=entered_s, held=held)


def _before(recipe: Recipe, whole: Sequence[Visit], rest: Sequence[Visit]) -> int | None:
    """How many dwells of the whole route come before the rest of it; None if that is not its end.

    Parts that share a whole route can be planned as one line, which is much faster.
    """
    start = len(whole) - len(rest)
    if start < 0 or list(whole[start:]) != list(rest):
        return None
    return sum(stays and recipe.step[i].dwell is not None for i, stays in whole[:start])


def handled_part(
    name: str, recipe: Recipe, index: int, spent_s: int, *, made: Mapping[str, int] | None = None
) -> PlanPart:
    """A part in the hands at step ``index``, that step begun ``spent_s`` seconds ago.

    The rest of the move is the hands-on time of the steps up to the next dwell, less the time
    spent; a step that takes longer than expected counts as about to end.

    Args:
        name: the part's name.
        recipe: its recipe.
        index: the step in hand.
        spent_s: seconds since that step began.
        made: how often each answer has sent it; see ``visits_of``.
    """
    rest = visits_of(recipe, index, made)
    short = _route(recipe, rest)
    left_s = short.moves[0].hands_s - min(spent_s, recipe.step[index].hands_s)
    behind = _before(recipe, visits_of(recipe), rest)
    if behind is None:
        return PlanPart(name, short, moving_s=left_s)
    return PlanPart(name, route_of(recipe), moves_made=behind, moving_s=left_s)


def problem_of(
    recipes: Sequence[Recipe],
    parts: Sequence[PlanPart],
    *,
    hands: int = 1,
    away: Sequence[AwayTime] = (),
    out_of_service: Iterable[str] = (),
    heating: Mapping[str, Heating] | None = None,
) -> Problem:
    """The problem for parts of these placed recipes: places, walks and the given limits.

    ``heating`` gives the state of places that are heating or cooling now; the others are cold. If
    recipes share a place, the smaller ``holds`` and the first one's walks count.

    Args:
        recipes: the recipes, with their places.
        parts: the parts.
        hands: pairs of hands.
        away: when you are away.
        out_of_service: places that take no part.
        heating: places that are heating or cooling now; the others are cold.
    """
    shut = set(out_of_service)
    holds: dict[str, int] = {}
    hot: dict[str, Heating] = {}
    for recipe in recipes:
        for place in recipe.station:
            holds[place.id] = min(place.holds, holds.get(place.id, place.holds))
            if (heat := heating_of(place)) is not None:
                hot.setdefault(place.id, heat)
    hot |= heating or {}
    for name in shut - set(holds):
        raise ProblemError(
            f"station {name!r} out of service",
            "no recipe has it",
            f"the stations are: {', '.join(sorted(holds))}",
        )
    stations = tuple(
        PlanStation(name, n, name not in shut, heating=hot.get(name)) for name, n in holds.items()
    )
    walks = tuple(_walks(recipes, holds))
    return Problem(stations, tuple(parts), walks, tuple(away), hands)


def heating_of(station: PlaceStation) -> Heating | None:
    """How a station is heated and what it needs; None if it is never heated."""
    needs, heat_up_s = station.make_up, station.heat_up_s
    if needs is not None:
        return Heating(heat_up_s or 0, needs.after_s, needs.cool_s, needs.hands_s)
    return None if heat_up_s is None else Heating(heat_up_s)


def _walks(recipes: Sequence[Recipe], names: Iterable[str]) -> Iterable[Walk]:
    for a, b in permutations(names, 2):
        seconds = next((s for recipe in recipes if (s := recipe.walk_s(a, b))), 0)
        if seconds:
            yield Walk(a, b, seconds)


def plan_problem(
    placed: Placed,
    assigned: Sequence[tuple[str, str]],
    releases: Mapping[str, int] | None = None,
    *,
    hands: int = 1,
    away: Sequence[AwayTime] = (),
    enters: Mapping[str, int] | None = None,
) -> Problem:
    """The problem of a day that has not started.

    Args:
        placed: the recipes at their places.
        assigned: each part with the key of its recipe.
        releases: seconds from the start until a part is available.
        hands: people who work.
        away: times without work.
        enters: index of the step at which a half-done part enters, by its name.
    """
    known, recipes, first = releases or {}, placed.recipes, enters or {}
    parts = [
        waiting_part(name, recipes[key], first.get(name, 0), release_s=known.get(name, 0))
        for name, key in assigned
    ]
    used = [recipes[key] for key in dict.fromkeys(key for _, key in assigned)]
    return problem_of(used, parts, hands=hands, away=away)
