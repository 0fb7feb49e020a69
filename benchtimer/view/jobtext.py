"""A job typed line by line: its name, the day it is due, then its parts."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from benchtimer.job.order import Order, OrderPart, name_problem, parse_join, parse_part
from benchtimer.quantity import did_you_mean
from benchtimer.times import parse_date
from benchtimer.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class JobDraft:
    """What you have typed of a job so far.

    Attributes:
        name: its name; empty until it is typed.
        due: the day it is due.
        parts: its parts.
        taken: the names of all jobs there ever were.
    """

    name: str = ""
    due: date | None = None
    parts: tuple[OrderPart, ...] = ()
    taken: tuple[str, ...] = ()

    @property
    def asks(self) -> str:
        """What to type next."""
        if not self.name:
            return "Name of the job, such as petty knife"
        if self.due is None:
            return "Due: 2026-12-11 or Fri"
        if not self.parts:
            return "A part and its recipes in order: blade=etch-darken > hot-wax"
        return "Next part, or knife=edge-and-assembly: blade for a join; ENTER alone saves the job"

    @property
    def lines(self) -> list[str]:
        """What you have typed, as text."""
        lines = [f"{self.name}, due {self.due}" if self.due else self.name] if self.name else []
        for part in self.parts:
            needs = f": {', '.join(part.needs)}" if part.needs else ""
            lines.append(f"  {part.name} = {' > '.join(part.recipes)}{needs}")
        return lines

    @property
    def order(self) -> Order | None:
        """The order, if it is complete."""
        return Order(self.due, self.parts) if self.due is not None and self.parts else None

    def typed(self, text: str, recipes: Sequence[str], today: date) -> JobDraft:
        """The draft with one more line; a part with the same name replaces the earlier one.

        Args:
            text: the line.
            recipes: names of all recipes.
            today: today's date in the shop.

        Raises:
            ValueError: what is wrong with it, and how to write it.
        """
        text = text.strip()
        if not text:
            raise ValueError(self.asks)
        if not self.name:
            if (wrong := name_problem("job", text)) is not None:
                raise ValueError(str(wrong))
            if text.casefold() in map(str.casefold, self.taken):
                raise ValueError(f'There is already a job "{text}"; use another name')
            return replace(self, name=text)
        if self.due is None:
            due = parse_date(text, today)
            if due < today:
                raise ValueError(f"{due} is past; type a day to come")
            return replace(self, due=due)
        part = parse_join(text) if ":" in text else parse_part(text)
        for recipe in part.recipes:
            if recipe not in recipes:
                hint = did_you_mean(recipe, recipes, "the list below has them all")
                raise ValueError(f'There is no recipe "{recipe}"; {hint}')
        others = tuple(p for p in self.parts if p.name.casefold() != part.name.casefold())
        return replace(self, parts=(*others, part))

    def completed(self, text: str, recipes: Sequence[str]) -> str | None:
        """The line with the word at its end completed: a recipe, or a part after the colon.

        Args:
            text: what you have typed so far.
            recipes: names of all recipes.
        """
        if self.due is None or "=" not in text:
            return None
        known = [part.name for part in self.parts] if ":" in text else sorted(recipes)
        cut = max(text.rfind(sign) for sign in ("=", ">", ":", ",")) + 1
        word = text[cut:].strip()
        found = next((name for name in known if word and name.startswith(word)), None)
        if found is None or found == word:
            return None
        space = " " if text[cut - 1] != "=" else ""
        return f"{text[:cut]}{space}{found}"

    def fitting(self, text: str, recipes: Sequence[str]) -> list[str]:
        """The recipes that the last word of the line can mean; none before the parts."""
        if self.due is None:
            return []
        cut = max(text.rfind(sign) for sign in ("=", ">")) + 1
        word = text[cut:].strip() if cut else ""
        return [name for name in recipes if name.startswith(word)] or list(recipes)
