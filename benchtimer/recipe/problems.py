"""What can be wrong with a recipe file, one ``Problem`` each, told all at once."""

from __future__ import annotations

from dataclasses import dataclass

MAX_SHOWN = 60
"""Longest piece of a file that is quoted back."""

MAX_PROBLEMS = 50
"""How many problems of one file are told; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in one place.

    Attributes:
        where: the place in the recipe, for example ``step "rinse", check "water-break"``.
        found: what stands there.
        allowed: what may stand there.
        line: the line of the file, counted from 1, if it could be found.
        near: the nearest right spelling, if one is near.
    """

    where: str
    found: str
    allowed: str
    line: int | None = None
    near: str | None = None

    def __str__(self) -> str:
        hint = f'; did you mean "{self.near}"?' if self.near else ""
        return f"{self.where}: {self.found}; {self.allowed}{hint}"


class RecipeError(ValueError):
    """All that is wrong with one recipe.

    Attributes:
        name: the file's path or the recipe's name.
        problems: one entry each, in the order of the file.
    """

    def __init__(self, name: str, problems: list[Problem]) -> None:
        self.name = name
        self.problems = sorted(problems, key=lambda p: p.line or 0)
        super().__init__(name, problems)

    def __str__(self) -> str:
        count = len(self.problems)
        head = f"{self.name}: {count} problem{'s' if count != 1 else ''}"
        lines = [
            f"  {self.name}:{p.line}: {p}" if p.line else f"  {self.name}: {p}"
            for p in self.problems[:MAX_PROBLEMS]
        ]
        if count > MAX_PROBLEMS:
            lines.append(f"  and {count - MAX_PROBLEMS} more")
        return "\n".join([head, *lines])


def quoted(value: object) -> str:
    """A piece of a file, quoted for a message: short, on one line, without control codes."""
    text = value if isinstance(value, str) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text[: MAX_SHOWN + 1])
    if len(text) > MAX_SHOWN:
        text = text[:MAX_SHOWN] + "..."
    return f'"{text}"' if isinstance(value, str) else text
