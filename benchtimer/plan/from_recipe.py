"""From recipes and parts to the planning problem.

Consecutive hands-on steps join into one move up to and with the step that has the next
dwell. A check that usually sends a part back (``on_no.expect``) makes the route longer by
that many repeats, rounded to whole ones, half up: 0.15 plans none, 3 plans three. The check
comes after the hands-on work of its step and before its dwell, so a repeat skips that dwell.
A recipe that ends in a dwell gets a last lift of no hands-on time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import permutations

from benchtimer.plan.problem import (
    Away,
    Dwell,
    Move,
    Part,
    Problem,
    ProblemError,
    Route,
    Station,
    Walk,
)
from benchtimer.recipe.model import NoteCheck, Recipe, Step

MOST_VISITS = 1000
"""More steps than this with all repeats, and the expected repeats are a slip of the pen."""

Visit = tuple[int, bool]
"""(index of a step, whether its dwell follows: a part sent back skips it)."""


def visits_of(recipe: Recipe, first: int = 0, made: Mapping[str, int] | None = None) -> list[Visit]:
    """The steps from index ``first`` on, with the repeats still expected.

    ``made`` tells how often each check (by ``step/check``) has sent the part back already.
    Raises ``ProblemError`` where the repeats never end.
    """
    expected = {
        f"{step.id}/{check.id}": int(check.on_no.expect + 0.5)
        for step in recipe.step
        for check in step.check
        if not isinstance(check, NoteCheck) and check.on_no is not None
    }
    left = {key: max(0, n - (made or {}).get(key, 0)) for key, n in expected.items()}
    visits: list[Visit] = []
    index = first
    while index < len(recipe.step):
        back = _sent_back(recipe, index, left, expected)
        visits.append((index, back is None))
        if len(visits) > MOST_VISITS:
            raise ProblemError(
                f"recipe {recipe.id!r}",
                f"more than {MOST_VISITS} steps with expected repeats",
                "lower the expect of its checks",
            )
        index = index + 1 if back is None else back
    return visits


def _sent_back(
    recipe: Recipe, index: int, left: dict[str, int], expected: Mapping[str, int]
) -> int | None:
    """The step a check at this step still sends the part to, None if it goes on."""
    step = recipe.step[index]
    for check in step.check:
        key = f"{step.id}/{check.id}"
        if isinstance(check, NoteCheck) or check.on_no is None or not left[key]:
            continue
        back = recipe.step_index(check.on_no.back_to)
        left[key] -= 1
        _begin_again(recipe, back, index, key, left, expected)
        return back
    return None


def _begin_again(
    recipe: Recipe,
    back: int,
    index: int,
    key: str,
    left: dict[str, int],
    expected: Mapping[str, int],
) -> None:
    """Checks whose whole section lies inside the one that is repeated start counting anew."""
    for step in recipe.step[back : index + 1]:
        for check in step.check:
            inner = f"{step.id}/{check.id}"
            if inner == key:
                return
            if isinstance(check, NoteCheck) or check.on_no is None:
                continue
            if recipe.step_index(check.on_no.back_to) >= back:
                left[inner] = expected[inner]


def _dwell(step: Step) -> Dwell:
    dwell = step.dwell
    if dwell is None or step.at is None:
        raise ProblemError(f"step {step.id!r}", "no dwell at a station", "give it both")
    return Dwell(step.at, dwell.least_s, dwell.most_s, dwell.aim_s, step.id)


def _route(recipe: Recipe, visits: Iterable[Visit], begun: Sequence[Move | Dwell] = ()) -> Route:
    """A route through the visits; ``begun`` is what the part has behind it, as it counts."""
    moves = [item for item in begun if isinstance(item, Move)]
    dwells = [item for item in begun if isinstance(item, Dwell)]
    hands_s, steps = 0, []
    for index, stays in visits:
        step = recipe.step[index]
        hands_s += step.hands_s
        steps.append(step.id)
        if stays and step.dwell is not None:
            moves.append(Move(hands_s, tuple(steps)))
            dwells.append(_dwell(step))
            hands_s, steps = 0, []
    return Route(recipe.id, (*moves, Move(hands_s, tuple(steps))), tuple(dwells))


def route_of(recipe: Recipe) -> Route:
    """The whole route of a part that has not begun."""
    return _route(recipe, visits_of(recipe))


def waiting_part(name: str, recipe: Recipe, release_s: int = 0) -> Part:
    """A part that has not begun and is there from ``release_s`` on."""
    return Part(name, route_of(recipe), release_s)


def resting_part(
    name: str, recipe: Recipe, index: int, *, made: Mapping[str, int] | None = None
) -> Part:
    """A part in no station whose work at step ``index`` comes next: sent back, or lifted out."""
    return Part(name, _route(recipe, visits_of(recipe, index, made)))


def dwelling_part(
    name: str,
    recipe: Recipe,
    index: int,
    entered_s: int,
    *,
    held: bool = False,
    made: Mapping[str, int] | None = None,
) -> Part:
    """A part in the dwell of step ``index`` since ``entered_s``."""
    whole, rest = visits_of(recipe), visits_of(recipe, index + 1, made)
    behind = _before(recipe, whole, [(index, True), *rest])
    if behind is not None:
        route, moves_made = route_of(recipe), behind + 1
    else:
        begun = (Move(0, (recipe.step[index].id,)), _dwell(recipe.step[index]))
        route, moves_made = _route(recipe, rest, begun), 1
    return Part(name, route, moves_made=moves_made, entered_s=entered_s, held=held)


def _before(recipe: Recipe, whole: Sequence[Visit], rest: Sequence[Visit]) -> int | None:
    """How many dwells of the whole route come before its end ``rest``, None if it has another end.

    Parts that share one whole route can be planned as one line, which is much faster.
    """
    start = len(whole) - len(rest)
    if start < 0 or list(whole[start:]) != list(rest):
        return None
    return sum(stays and recipe.step[i].dwell is not None for i, stays in whole[:start])


def handled_part(
    name: str, recipe: Recipe, index: int, spent_s: int, *, made: Mapping[str, int] | None = None
) -> Part:
    """A part in the hands at step ``index``, that step begun ``spent_s`` seconds ago.

    What the move still takes is the hands-on time of the steps up to the next dwell, less
    the time spent; a step that takes longer than thought is about to end.
    """
    rest = visits_of(recipe, index, made)
    short = _route(recipe, rest)
    left_s = max(0, recipe.step[index].hands_s - spent_s)
    left_s += short.moves[0].hands_s - recipe.step[index].hands_s
    behind = _before(recipe, visits_of(recipe), rest)
    if behind is None:
        return Part(name, short, moving_s=left_s)
    return Part(name, route_of(recipe), moves_made=behind, moving_s=left_s)


def problem_of(
    recipes: Sequence[Recipe],
    parts: Sequence[Part],
    *,
    hands: int = 1,
    now_s: int = 0,
    away: Sequence[Away] = (),
    out_of_service: Iterable[str] = (),
    hands_at: str | None = None,
) -> Problem:
    """The problem for parts of these recipes: their stations, walks and the given limits.

    Where recipes share a station, the first one's ``holds`` and walks count.
    """
    shut = set(out_of_service)
    holds: dict[str, int] = {}
    for recipe in recipes:
        for station in recipe.station:
            holds.setdefault(station.id, station.holds)
    for name in shut - set(holds):
        raise ProblemError(
            f"station {name!r} out of service",
            "no recipe has it",
            f"the stations are: {', '.join(sorted(holds))}",
        )
    stations = tuple(Station(name, n, name not in shut) for name, n in holds.items())
    walks = tuple(_walks(recipes, holds))
    return Problem(stations, tuple(parts), walks, tuple(away), hands, now_s, hands_at)


def _walks(recipes: Sequence[Recipe], names: Iterable[str]) -> Iterable[Walk]:
    for a, b in permutations(names, 2):
        seconds = next((s for recipe in recipes if (s := recipe.walk_s(a, b))), 0)
        if seconds:
            yield Walk(a, b, seconds)


def plan_problem(
    assigned: Sequence[tuple[str, Recipe]],
    releases: Mapping[str, int] | None = None,
    *,
    hands: int = 1,
    away: Sequence[Away] = (),
) -> Problem:
    """The problem of a day that has not begun: (part name, its recipe) and release times."""
    known = releases or {}
    recipes = list({recipe.id: recipe for _, recipe in assigned}.values())
    parts = [waiting_part(name, recipe, known.get(name, 0)) for name, recipe in assigned]
    return problem_of(recipes, parts, hands=hands, away=away)
