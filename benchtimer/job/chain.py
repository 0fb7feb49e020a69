"""The recipes of a part in sequence: its steps, where it can rest, and what each dwell allows.

A part rests where the maker chooses when to continue: before its first step, between two recipes,
in a dwell without a max, and for a while in one with no target and a long max, such as a sanded
blade on the rack. A section runs from rest to rest; its dwells change the part and have a max. The
recipes are placed (``recipe.places``): the ids of their stations are those of places.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, inf

from benchtimer.plan.spread import SPREAD
from benchtimer.recipe.model import Recipe, Step
from benchtimer.values import dataclass, field

LONG_S = 3600
"""A dwell with a target longer than this is one the maker can leave the bench for."""

SLOW = exp(0.84 * SPREAD)
"""How much longer than the recipe says four of five moves take at most: the 80 % quantile."""

STOP = -1
"""The target of an answer that stops the part: a new blank starts the chain over."""

PREVIEW_STEPS = 400
"""A path through a section that is longer than this is a loop."""


@dataclass(frozen=True, slots=True)
class SendingAnswer:
    """An answer that sends a part.

    Attributes:
        key: ``recipe/step/check/answer``, under which it is counted and learned.
        expect: mean number of sends per part.
        limit: the limit on its sends.
        to: index of the step it sends to, or ``STOP``.
        far: whether it costs more than hands-on time: it leads to a rest, or ends the try.
    """

    key: str
    expect: float
    limit: int
    to: int
    far: bool


@dataclass(frozen=True, slots=True)
class SendingCheck:
    """A check of a step that can send a part.

    Attributes:
        key: ``recipe/step/check``.
        ask: its question.
        answers: the answers that send.
    """

    key: str
    ask: str
    answers: tuple[SendingAnswer, ...]

    @property
    def chances(self) -> tuple[float, ...]:
        """The chance of each answer each time you check: expect / (1 + the sum of all expects)."""
        whole = 1 + sum(answer.expect for answer in self.answers)
        return tuple(answer.expect / whole for answer in self.answers)


@dataclass(frozen=True, slots=True)
class Soak:
    """A dwell with a max, in seconds.

    Attributes:
        need_s: work that follows right away: hands-on time and short dwells up to the next rest or
            long dwell.
    """

    place: str
    min_s: int
    target_s: int
    max_s: float
    need_s: int


@dataclass(frozen=True, slots=True)
class Link:
    """One step of the chain.

    Attributes:
        recipe: id of its recipe, and ``number`` that recipe's position in the chain.
        place: the place it leads to, if any.
        soak: its dwell, if that has a max.
        rest_s: the target of its dwell if the part can rest there.
        waits_s: how long the part can rest before it: ``NEVER`` for as long as you like, 0 if
            it can't.
        ends_recipe: whether the part rests after it because its recipe ends.
    """

    recipe: str
    number: int
    step: str
    title: str
    hands_s: int
    place: str | None
    soak: Soak | None
    rest_s: int | None
    waits_s: float
    ends_recipe: bool
    looks: tuple[SendingCheck, ...]

    @property
    def begins_at_rest(self) -> bool:
        """Whether the part rests before it."""
        return self.waits_s > 0


@dataclass(frozen=True, slots=True)
class PlaceNeed:
    """A place that a section needs, and how long after the section's start."""

    place: str
    from_s: int


@dataclass(frozen=True, slots=True)
class Chain:
    """All steps of a part.

    Attributes:
        recipes: the keys of its recipes.
        starts: the index of the first step of each recipe.
        section: for each step the index of the first step of its section.
        home: for each step the index of the last step before it where the part can wait as long as
            you like; it starts over there if a pull was missed.
        uses: for each step that begins at rest, the places that its section needs, and those of
            later sections up to an unlimited rest or a long dwell.
        slow_s: for each step, hands-on time up to the next dwell or rest with slow hands, and
            ``left_s`` up to an unlimited rest or a long dwell.
    """

    recipes: tuple[str, ...]
    links: tuple[Link, ...]
    starts: tuple[int, ...]
    # Values derived from the links don't count when chains are compared or hashed.
    section: tuple[int, ...] = field(default=(), compare=False)
    home: tuple[int, ...] = field(default=(), compare=False)
    uses: Mapping[int, tuple[PlaceNeed, ...]] = field(default_factory=dict, compare=False)
    slow_s: tuple[float, ...] = field(default=(), compare=False)
    left_s: tuple[float, ...] = field(default=(), compare=False)

    @property
    def rests(self) -> list[int]:
        """The steps that begin at rest."""
        return [i for i, link in enumerate(self.links) if link.begins_at_rest]

    def index(self, number: int, step: int) -> int:
        """The index of a step, given its recipe's position in the chain."""
        return self.starts[number] + step


def chain_of(ids: Sequence[str], recipes: Mapping[str, Recipe], *, hurry: bool = False) -> Chain:
    """The chain of some recipes.

    Args:
        ids: the keys of the recipes in order.
        recipes: the placed recipes, by key.
        hurry: let every dwell end at its min.
    """
    links: list[Link] = []
    starts: list[int] = []
    for number, name in enumerate(ids):
        starts.append(len(links))
        links += _links(number, recipes[name], len(links), hurry=hurry)
    section, home = [0] * len(links), [0] * len(links)
    for i, link in enumerate(links):
        section[i] = i if link.begins_at_rest else section[i - 1]
        home[i] = i if link.waits_s == NEVER else home[i - 1]
    rests = [i for i, link in enumerate(links) if link.begins_at_rest]
    return Chain(
        recipes=tuple(ids),
        links=tuple(links),
        starts=tuple(starts),
        section=tuple(section),
        home=tuple(home),
        uses={i: tuple(_uses(links, i)) for i in rests},
        slow_s=tuple(SLOW * _to_dwell_s(links, i) for i in range(len(links))),
        left_s=tuple(SLOW * _to_home_s(links, i) for i in range(len(links))),
    )


def _links(number: int, recipe: Recipe, base: int, *, hurry: bool) -> list[Link]:
    links = []
    waits_s = NEVER
    for index, step in enumerate(recipe.step):
        dwell, last = step.dwell, index == len(recipe.step) - 1
        rests = rests_in(step)
        target_s = 0 if dwell is None else dwell.min_s if hurry else dwell.target_s
        soak = None
        if dwell is not None and dwell.max_s is not None and not rests and not last:
            need_s = _need_s(recipe.step[index + 1 :])
            place = step.at or ""
            soak = Soak(place, dwell.min_s, target_s, float(dwell.max_s), need_s)
        links.append(
            Link(
                recipe=recipe.id,
                number=number,
                step=step.id,
                title=step.title,
                hands_s=step.hands_s,
                place=step.at,
                soak=soak,
                rest_s=target_s if rests or (last and dwell is not None) else None,
                waits_s=waits_s,
                ends_recipe=last,
                looks=tuple(_looks(recipe, index, base)),
            )
        )
        waits_s = 0.0
        if rests and dwell is not None:
            waits_s = NEVER if dwell.max_s is None else float(dwell.max_s)
    return links


def rests_in(step: Step) -> bool:
    """Whether a part can rest in the dwell of a step: it has no max, or does not change the
    part.
    """
    dwell = step.dwell
    if dwell is None:
        return False
    return dwell.max_s is None or (dwell.target_s == 0 and dwell.max_s >= LONG_S)


def _need_s(steps: Sequence[Step]) -> int:
    """Work that follows right away, up to a rest or a long dwell."""
    need_s = 0
    for step in steps:
        need_s += step.hands_s
        if step.dwell is not None:
            if rests_in(step) or step.dwell.target_s > LONG_S:
                break
            need_s += step.dwell.min_s
    return need_s


def _looks(recipe: Recipe, index: int, base: int) -> list[SendingCheck]:
    name, step, looks = recipe.id, recipe.step[index], []
    for check in step.check:
        answers = []
        for answer, send in check.send.items():
            if not send.expect:
                continue
            to = STOP if send.to is None else base + recipe.step_index(send.to)
            before = recipe.step[to - base - 1] if to > base else None
            rests = before is None or (before.dwell is not None and before.dwell.max_s is None)
            key = f"{name}/{step.id}/{check.id}/{answer}"
            limit = send.limit if send.limit is not None else 99
            far = to == STOP or rests or send.new_try
            answers.append(SendingAnswer(key, send.expect, limit, to, far))
        if answers:
            looks.append(SendingCheck(f"{name}/{step.id}/{check.id}", check.ask, tuple(answers)))
    return looks


def _to_dwell_s(links: Sequence[Link], index: int) -> int:
    total = 0
    for link in links[index:]:
        total += link.hands_s
        if link.soak is not None or link.rest_s is not None or link.ends_recipe:
            break
    return total


def _to_home_s(links: Sequence[Link], index: int) -> int:
    total = 0
    for link, following in zip(links[index:], [*links[index + 1 :], None], strict=True):
        total += link.hands_s
        long_soak = link.soak is not None and link.soak.target_s > LONG_S
        if long_soak or following is None or following.waits_s == NEVER:
            break
    return total


def _uses(links: Sequence[Link], index: int) -> list[PlaceNeed]:
    at_s, found = 0, dict[str, int]()
    for link_at, link in enumerate(links[index:], start=index):
        at_s += link.hands_s
        if link.place is not None:
            found.setdefault(link.place, at_s)
        following = links[link_at + 1] if link_at + 1 < len(links) else None
        if following is None or following.waits_s == NEVER:
            break
        if link.soak is not None:
            at_s += link.soak.target_s
            if link.soak.target_s > LONG_S:
                break
    return [PlaceNeed(place, from_s) for place, from_s in found.items()]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One move and where it ends.

    Attributes:
        soak: the dwell it ends in; None where the part rests or is done.
        to: the step it rests before, if it can only rest there for a while.
    """

    hands_s: float
    soak: Soak | None
    to: int | None = None


NEVER = inf
"""The time of something that never happens."""
