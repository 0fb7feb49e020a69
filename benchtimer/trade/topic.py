"""What a topic is, and how its parameters are read from texts with units.

A topic never sees raw text: it gets ``Values``, whose numbers are in the base unit of
their kind (see ``benchtimer.quantity``: s, C, L, g, %, Be, mm, Pa, rpm, m/s, deg, cm2).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from benchtimer.quantity import KINDS, Quantity, QuantityError, did_you_mean, parse
from benchtimer.trade.figure import Figure, Given, Origin
from benchtimer.trade.valid_range import TradeError
from benchtimer.values import dataclass, replace

TEXT_KINDS: Final = ("grits", "parts", "choice")
"""Kinds of parameter that are not quantities: grits by comma, parts such as ``1:3``, and one
word of a list."""

DIFFERENCE: Final = "temperature difference"
"""A gap between temperatures: ``"45 F"`` here is 25 C, not 7 C."""

NUMBER: Final = "number"
"""A number without a unit."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One input of a topic.

    Attributes:
        name: its name on the command line.
        kind: a key of ``quantity.KINDS``, several joined by ``" or "``, or one of ``DIFFERENCE``,
            ``NUMBER`` and ``TEXT_KINDS``.
        about: one line on what it is.
        example: a typical value.
        default: the default text; None if there is none.
        needed: whether it is required if there is no default.
        choices: the possible words, for kind ``"choice"``.
    """

    name: str
    kind: str
    about: str
    example: str
    default: str | None = None
    needed: bool = False
    choices: tuple[str, ...] = ()


Value = Quantity | str


@dataclass(frozen=True, slots=True)
class Values:
    """The parameters of one question, read and checked for kind."""

    topic: str
    values: Mapping[str, Value]
    origins: Mapping[str, Origin]

    def has(self, name: str) -> bool:
        """Whether a parameter has a value at all."""
        return name in self.values

    def written(self, name: str) -> bool:
        """Whether the user gave it."""
        return self.origins.get(name) is Origin.WRITTEN

    def quantity(self, name: str) -> Quantity:
        """A parameter with its unit."""
        value = self.values[name]
        if isinstance(value, str):
            raise TypeError(f"{name} is not a quantity")
        return value

    def base(self, name: str) -> float:
        """A parameter in the base unit of its kind."""
        quantity = self.quantity(name)
        return quantity.base if quantity.unit else quantity.value

    def maybe(self, name: str) -> float | None:
        """A parameter in the base unit of its kind, None if it was left out."""
        return self.base(name) if self.has(name) else None

    def text(self, name: str) -> str:
        """A parameter that is a word or a list."""
        return str(self.values[name])

    def exactly(self, count: int, *names: str) -> tuple[str, ...]:
        """The names that were given, if the number is right.

        Raises:
            TopicError: too few or too many.
        """
        given = tuple(name for name in names if self.has(name))
        if len(given) != count:
            found = ", ".join(given) or "none"
            raise TopicError(
                self.topic, [f"give {_COUNT[count]} of {', '.join(names)}; found {found}"]
            )
        return given


_COUNT: Final = {1: "exactly one", 2: "exactly two"}


@dataclass(frozen=True, slots=True)
class Topic:
    """A question the trade package can answer.

    Attributes:
        name: its name.
        about: one line on what it answers.
        parameters: its inputs, most important first.
        build: works the figure out.
        example: arguments that give a sensible figure.
    """

    name: str
    about: str
    parameters: tuple[Parameter, ...]
    build: Callable[[Values], Figure]
    example: Mapping[str, str]

    def figure(self, arguments: Mapping[str, str], shop: Mapping[str, str] | None = None) -> Figure:
        """The answer for arguments as typed.

        Args:
            arguments: text by parameter name.
            shop: the shop's own settings, by parameter name, used where an argument is
                missing and ignored where the topic has no such parameter.

        Raises:
            TopicError: unknown, missing or unreadable arguments, all in one message.
            TradeError: readable arguments that have no answer.
        """
        values, given = self._read(arguments, shop or {})
        return replace(self.build(values), topic=self.name, given=given)

    def _read(
        self, arguments: Mapping[str, str], shop: Mapping[str, str]
    ) -> tuple[Values, tuple[Given, ...]]:
        problems = list(self._unknown(arguments))
        values: dict[str, Value] = {}
        given: list[Given] = []
        for parameter in self.parameters:
            text, origin = _choose(parameter, arguments, shop)
            if text is None:
                if parameter.needed:
                    problems.append(
                        f"{parameter.name} is missing: {parameter.about}, "
                        f'for example {parameter.name}="{parameter.example}"'
                    )
                continue
            try:
                values[parameter.name] = read(parameter, text)
            except ValueError as error:
                problems.append(f"{parameter.name}: {error}")
            given.append(Given(parameter.name, text, origin))
        if problems:
            raise TopicError(self.name, problems)
        return Values(self.name, values, {g.name: g.origin for g in given}), tuple(given)

    def _unknown(self, arguments: Iterable[str]) -> Iterable[str]:
        known = [parameter.name for parameter in self.parameters]
        for name in arguments:
            if name not in known:
                hint = did_you_mean(name, known, f"it has {', '.join(known)}")
                yield f'"{name}" is not one of its parameters; {hint}'


class TopicError(TradeError):
    """A question that can't be read.

    Attributes:
        topic: the topic.
        problems: everything wrong, one line each.
    """

    def __init__(self, topic: str, problems: Iterable[str]) -> None:
        self.topic = topic
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{topic}: {problem}" for problem in self.problems))


def read(parameter: Parameter, text: str) -> Value:
    """Read one parameter's text.

    Raises:
        QuantityError: not a quantity of its kind.
        ValueError: not a number, or none of the words allowed.
    """
    if parameter.kind == "choice":
        return _choice(text, parameter.choices)
    if parameter.kind in TEXT_KINDS:
        return text.strip()
    if parameter.kind == NUMBER:
        return _number(text)
    if parameter.kind == DIFFERENCE:
        gap = parse(text, "temperature")
        return Quantity(gap.value * KINDS["temperature"].units[gap.unit].factor, "")
    return _quantity(text, parameter.kind.split(" or "))


def _choose(
    parameter: Parameter, arguments: Mapping[str, str], shop: Mapping[str, str]
) -> tuple[str | None, Origin]:
    if parameter.name in arguments:
        return arguments[parameter.name], Origin.WRITTEN
    if parameter.name in shop:
        return shop[parameter.name], Origin.SHOP
    return parameter.default, Origin.DEFAULT


def _quantity(text: str, kinds: list[str]) -> Quantity:
    if len(kinds) == 1:
        return parse(text, kinds[0])
    found = parse(text)
    if found.kind.name in kinds:
        return found
    examples = " or ".join(KINDS[kind].example for kind in kinds)
    reason = f'"{found.unit}" is a unit of {found.kind.name}'
    raise QuantityError(text, " or ".join(kinds), reason, f"write it like {examples}")


def _number(text: str) -> Quantity:
    try:
        return Quantity(float(text), "")
    except ValueError:
        raise ValueError(f'"{text}" is not a plain number') from None


def _choice(text: str, choices: tuple[str, ...]) -> str:
    word = text.strip().casefold()
    if word not in choices:
        raise ValueError(f'"{text}" is none of {", ".join(choices)}')
    return word
