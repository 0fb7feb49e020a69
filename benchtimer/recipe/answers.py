"""Answers to checks: the forms they are entered in, how they are read, and what they say."""

from __future__ import annotations

from math import floor
from typing import Literal

from benchtimer.quantity import Quantity, QuantityError, parse_typed
from benchtimer.recipe.fields import (
    unsafe_character,
)
from benchtimer.values import dataclass

MAX_WORDS = 4000
"""Longest answer in words."""


@dataclass(frozen=True, slots=True)
class AskYesNo:
    """Entered with one of two keys: yes or no."""


@dataclass(frozen=True, slots=True)
class AskOption:
    """Entered with the digit of one of the options."""

    options: tuple[str, ...]


HOTTEST = 5
"""A part this many times as hot as its limit, in the limit's unit, is a slip of the fingers (the
program's own guess): at most 104 F, but typed 950."""


@dataclass(frozen=True, slots=True)
class AskFigure:
    """Typed as a figure in ``unit``; ``limits`` in words: ``from 6 pH to 9 pH``.

    ``most`` is the temperature that must not be passed where it is the only limit.
    """

    unit: str
    limits: str
    most: float | None = None

    @property
    def whole_from(self) -> int | None:
        """The least figure that is whole at its last digit: another digit makes it a slip."""
        return floor(HOTTEST * self.most / 10) + 1 if self.most is not None else None

    def is_whole(self, typed: str) -> bool:
        """Whether what is typed is a figure in range that no other figure begins with."""
        least = self.whole_from
        if self.most is None or least is None or not typed.isdecimal():
            return False
        return least <= int(typed) <= self.most


@dataclass(frozen=True, slots=True)
class AskLine:
    """Written on a line that opens:

    ``purpose`` says what for, ``skip`` how to continue without it.
    """

    purpose: str
    skip: str = ""


Form = AskYesNo | AskOption | AskFigure | AskLine
"""How an answer is entered."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What an answer says about how a part came out.

    Attributes:
        kind: how it is compared.
        number: the figure in its base unit, if it is one; ``low`` and ``high`` its limits.
    """

    kind: Literal["answer", "reading", "words"]
    number: float | None = None
    low: float | None = None
    high: float | None = None


class AnswerError(ValueError):
    """An answer that a check can't take: what is wrong with it, and what to enter instead."""

    def __init__(self, reason: str, allowed: str) -> None:
        super().__init__(reason, allowed)
        self.reason = reason
        self.allowed = allowed


@dataclass(frozen=True, slots=True)
class JudgedAnswer:
    """An answer as the record keeps it.

    Attributes:
        answer: yes or no, an option, a figure with its unit, or words.
        key: the name that ``send`` has for it: an option, ``no``, ``below`` or ``above``.
        bad: it is a bad result.
        above_ceiling: a figure above the check's ceiling; the work can't be confirmed.
    """

    answer: str | bool
    key: str
    bad: bool = False
    above_ceiling: bool = False

    @property
    def shown(self) -> str:
        """The answer as text."""
        return said(self.answer)


def said(answer: str | bool) -> str:
    """An answer as text."""
    return ("yes" if answer else "no") if isinstance(answer, bool) else answer


def parse_figure(text: str, unit: str) -> Quantity:
    """A figure with its unit; a bare number is in ``unit``.

    Raises:
        AnswerError: no figure, or in a unit of another kind.
    """
    if text.strip().replace(".", "", 1).removeprefix("-").isdecimal():
        text = f"{text.strip()} {unit}"
    try:
        return parse_typed(text, Quantity(0, unit).kind.name)
    except QuantityError as error:
        raise AnswerError(str(error.reason), error.allowed) from None


def safe_words(text: str) -> str:
    """Text that is safe in the log and on any screen.

    Raises:
        AnswerError: none, too many, or characters that could disturb a screen.
    """
    text = text.strip()
    if not text:
        raise AnswerError("it is empty", "write something")
    if len(text) > MAX_WORDS:
        raise AnswerError(f"it is longer than {MAX_WORDS} characters", "shorten it")
    bad = unsafe_character(text, lines=True)
    if bad is not None:
        raise AnswerError(f"the character {bad} could garble the screen", "leave it out")
    return text
