"""The problems of a recipe file, one ``RecipeProblem`` each, all in one message."""

from __future__ import annotations

from benchtimer.quantity import meant, printable
from benchtimer.values import dataclass

MAX_SHOWN = 60
"""Longest piece of a file quoted in a message."""

MAX_DIGITS = 20
"""Longest whole number that a message repeats digit by digit."""

MAX_PROBLEMS = 50
"""How many problems of one file are shown; the rest are only counted."""


@dataclass(frozen=True, slots=True)
class RecipeProblem:
    """One thing wrong in one place.

    Attributes:
        where: the place in the recipe, for example ``step "rinse", check "water-break"``.
        found: what is there.
        allowed: what can be there.
        line: the line of the file, counted from 1, if known.
        near: the nearest correct spelling, if there is one.
    """

    where: str
    found: str
    allowed: str
    line: int | None = None
    near: str | None = None

    def __str__(self) -> str:
        hint = f"; {meant(printable(self.near))}" if self.near else ""
        return f"{self.where}: {self.found}; {self.allowed}{hint}"


class RecipeError(ValueError):
    """Everything wrong with one recipe.

    Attributes:
        name: the file's path or the recipe's name.
        problems: one entry each, in the order of the file.
    """

    def __init__(self, name: str, problems: list[RecipeProblem]) -> None:
        self.name = name
        self.problems = sorted(problems, key=lambda p: p.line or 0)
        super().__init__(name, problems)

    def __str__(self) -> str:
        count = len(self.problems)
        name = printable(self.name)
        head = f"{name}: {count} problem{'s' if count != 1 else ''}"
        lines = [
            f"  {name}:{p.line}: {p}" if p.line else f"  {name}: {p}"
            for p in self.problems[:MAX_PROBLEMS]
        ]
        if count > MAX_PROBLEMS:
            lines.append(f"  and {count - MAX_PROBLEMS} more")
        return "\n".join([head, *lines])


def quoted(text: str) -> str:
    """Text from a file, quoted for a message: short, on one line, without control codes."""
    short = printable(text[:MAX_SHOWN])
    return f'"{short}..."' if len(text) > MAX_SHOWN else f'"{short}"'


def value_text(value: object) -> str:
    """A value from a file, as TOML writes it, or a description of it."""
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**MAX_DIGITS else f"a number over {MAX_DIGITS} digits"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return str(value)  # a float, a date, a time
