"""What a job asks for: parts, the chain of recipes of each, and which parts wait for which."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from datetime import date
from graphlib import CycleError, TopologicalSorter

from benchtimer.quantity import nearest
from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.problems import RecipeProblem, quoted
from benchtimer.values import dataclass, replace

MAX_NAME = 60
MAX_PARTS = 60
MAX_CHAIN = 20
MAX_NOTE = 2000

NOT_IN_NAMES = "/=>:,"
"""Characters that addresses and options use."""


@dataclass(frozen=True, slots=True)
class OrderPart:
    """One part of a job.

    Attributes:
        name: its short name, as the board shows it.
        recipes: the ids of its recipes, in the order of the work.
        needs: parts of the job that must be done before its first recipe begins.
    """

    name: str
    recipes: tuple[str, ...]
    needs: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The part as the command line takes it, without its needs."""
        return f"{self.name}={' > '.join(self.recipes)}"


@dataclass(frozen=True, slots=True)
class Order:
    """One order.

    Attributes:
        due: the day it is due; the work of that day still counts.
        note: words for the maker, such as who ordered it.
    """

    due: date
    parts: tuple[OrderPart, ...]
    note: str = ""

    def part(self, name: str) -> OrderPart | None:
        """The part with this name, whatever its capitals; None if there is none."""
        return next((p for p in self.parts if p.name.casefold() == name.casefold()), None)

    def with_part(self, part: OrderPart) -> Order:
        """The order with one more part, or with another in place of the one with its name."""
        before = self.part(part.name)
        others = (part if p is before else p for p in self.parts)
        return replace(self, parts=tuple(others) if before else (*self.parts, part))


def identity(job: str, part: str) -> str:
    """What a part of a job is called in the log: ``petty knife/bolster``."""
    return f"{job}/{part}"


def split_identity(name: str) -> tuple[str, str]:
    """The job and the part in an identity; the job is empty for a part without one."""
    job, slash, part = name.partition("/")
    return (job.strip(), part.strip()) if slash else ("", name.strip())


def name_problem(kind: str, name: str) -> RecipeProblem | None:
    """What is wrong with the name of a job or a part; None if it is valid."""
    where = f"{kind} {quoted(name)}"
    allowed = f"use one line of up to {MAX_NAME} characters, without {' '.join(NOT_IN_NAMES)}"
    if not name.strip() or name != name.strip():
        return RecipeProblem(where, "the name is empty or has spaces around it", allowed)
    if len(name) > MAX_NAME:
        return RecipeProblem(where, "the name is too long", allowed)
    bad = unsafe_character(name)
    if bad is not None:
        return RecipeProblem(where, f"the character {bad} could garble the screen", "leave it out")
    found = next((c for c in NOT_IN_NAMES if c in name), None)
    return None if found is None else RecipeProblem(where, f'"{found}" is in the name', allowed)


def order_problems(
    order: Order, recipes: Collection[str] | None = None, today: date | None = None
) -> Iterator[tuple[tuple[str | int, ...], RecipeProblem]]:
    """Everything wrong with an order, each with its path in a job file.

    Args:
        order: the order.
        recipes: all recipes; None if they are not known here.
        today: refuses a due date before it; None for an order that was already accepted.
    """
    if today is not None and order.due < today:
        found = f"the due date {order.due} is past; today is {today}"
        yield ("due",), RecipeProblem("due", found, "give a future date")
    if not 1 <= len(order.parts) <= MAX_PARTS:
        found = f"the job has {len(order.parts)} parts"
        yield ("part",), RecipeProblem("part", found, f"use 1 to {MAX_PARTS}")
    if len(order.note) > MAX_NOTE or unsafe_character(order.note, lines=True):
        yield (
            ("note",),
            RecipeProblem("note", "it is too long or could garble the screen", "shorten it"),
        )
    seen: set[str] = set()
    for number, part in enumerate(order.parts):
        at = ("part", number)
        wrong = name_problem("part", part.name)
        if wrong is not None:
            yield (*at, "name"), wrong
        if part.name.casefold() in seen:
            found = "the job has another part with that name"
            yield (
                (*at, "name"),
                RecipeProblem(f"part {quoted(part.name)}", found, "name each part once"),
            )
        seen.add(part.name.casefold())
        yield from (((*at, key), p) for key, p in _part_problems(part, order, recipes))
    yield from _circle(order)


def _part_problems(
    part: OrderPart, order: Order, recipes: Collection[str] | None
) -> Iterator[tuple[str, RecipeProblem]]:
    where = f"part {quoted(part.name)}"
    if not 1 <= len(part.recipes) <= MAX_CHAIN:
        found = f"it has {len(part.recipes)} recipes"
        yield "recipes", RecipeProblem(where, found, f"1 to {MAX_CHAIN}, in the order of the work")
    for name in part.recipes if recipes is not None else ():
        if name not in (recipes or ()):
            known = sorted(recipes or ())
            yield (
                "recipes",
                RecipeProblem(
                    where,
                    f"there is no recipe {quoted(name)}",
                    f"known: {', '.join(known) or 'none'}",
                    near=nearest(name, known),
                ),
            )
    names = [p.name for p in order.parts]
    for need in part.needs:
        if need not in names:
            found = f"it needs {quoted(need)}, and the job has no such part"
            others = [name for name in names if name != part.name]
            near, listed = nearest(need, others), ", ".join(others) or "none"
            yield "needs", RecipeProblem(where, found, f"known: {listed}", near=near)


def _circle(order: Order) -> Iterator[tuple[tuple[str | int, ...], RecipeProblem]]:
    graph = {part.name: set(part.needs) for part in order.parts}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        names: list[str] = list(error.args[1])
        circle = " needs ".join(quoted(name) for name in reversed(names))
        number = next(i for i, part in enumerate(order.parts) if part.name == names[0])
        problem = RecipeProblem("needs", f"they form a loop: {circle}", "remove one of them")
        yield ("part", number, "needs"), problem


PART_FORM = 'like "blade=temper-cycles > etch-darken > hot-wax"'
JOIN_FORM = 'like "knife=edge-and-assembly: blade, bolster"'


def parse_part(text: str) -> OrderPart:
    """The part that ``NAME=RECIPE > RECIPE`` means.

    Raises:
        ValueError: it has another form; the message says which one to use.
    """
    name, equals, chain = text.partition("=")
    recipes = tuple(piece.strip() for piece in chain.split(">"))
    if not (equals and name.strip() and all(recipes)):
        raise ValueError(f"{quoted(text)} is not NAME=RECIPE > RECIPE; write it {PART_FORM}")
    return OrderPart(name.strip(), recipes)


def parse_join(text: str) -> OrderPart:
    """The part that ``NAME=RECIPE: PART, PART`` means.

    Raises:
        ValueError: it has another form; the message says which one to use.
    """
    chain, colon, names = text.partition(":")
    needs = tuple(piece.strip() for piece in names.split(","))
    if not (colon and all(needs)):
        raise ValueError(f"{quoted(text)} is not NAME=RECIPE: PART, PART; write it {JOIN_FORM}")
    part = parse_part(chain)
    return OrderPart(part.name, part.recipes, tuple(dict.fromkeys(needs)))


def slug(name: str) -> str:
    """A file name in lower-case letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "job"
