"""The kinds of check: what each asks, which answers it takes, and what an answer does.

To add a kind, write a class here and add it to ``AnyCheck``. Everything that depends on the kind is
a method of the kind: mypy names each method that a new kind lacks.

- ``verb`` and ``form``: the word of the large line, and how the answer is entered
- ``takes`` and ``sources``: what the recipe's description says about it
- ``sending``: the answers that ``send`` can name
- ``judge``: reads an answer; ``simulate``: what simulated hands answer
- ``finding``: what comparisons use from an answer

There are few forms of entry, and many kinds can share one. Code that enters answers uses ``match``
and ``assert_never`` on the form.
"""

from __future__ import annotations

from collections.abc import Mapping
from random import Random
from typing import Annotated, ClassVar, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

from benchtimer.quantity import Quantity, QuantityError, parse, show_number
from benchtimer.recipe.answers import (
    AnswerError,
    AskFigure,
    AskLine,
    AskOption,
    AskYesNo,
    Finding,
    Form,
    JudgedAnswer,
    parse_figure,
    safe_words,
)
from benchtimer.recipe.fields import (
    Id,
    Number,
    Reading,
    Temperature,
    Text,
    Title,
    UnitSymbol,
    Whole,
)
from benchtimer.recipe.raw_tables import listed
from benchtimer.values import dataclass

NO_PHOTO = "no photo"
"""The answer if a photo was left out."""

LOOK_UP = "look up the {name} and enter it (key K on the board), then answer"
"""What to do if a ceiling depends on a figure that was put off during setup."""

_property = property  # two models below have a field with that name

Properties = Mapping[str, Quantity]
"""What is known about a part, by the name of the property."""


NOTHING_KNOWN: Properties = {}


class RecipeEntry(BaseModel):
    """One entry of a recipe file: an unknown key is an error, and the entry can't change later."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Send(RecipeEntry):
    """What one answer does to the part: sends it to another step, or stops it.

    Attributes:
        to: the step the part goes to, back or forward.
        limit: how often this answer may send the part within one pass of any section around
            it; after that the part is held for you to decide. A way back needs a limit.
        expect: mean number of sends by this answer per part.
        new_try: the send ends this try of the part and begins another.
        stop: why the part is held for you to decide.
        out_of_service: a station that takes no parts until you put it back in service.
    """

    to: Id | None = None
    limit: Whole | None = Field(default=None, ge=1, le=99)
    expect: Number = Field(default=0, ge=0, le=99)
    new_try: bool = False
    stop: Text | None = None
    out_of_service: Id | None = None
    source: Id | None = None


class _Check(RecipeEntry):
    """A question with a recorded answer.

    Attributes:
        send: the answers that don't simply continue, and what each does.
    """

    id: Id
    ask: Title
    send: dict[Title, Send] = Field(default_factory=dict, max_length=9)
    source: Id | None = None

    @_property
    def sources(self) -> tuple[str | None, ...]:
        """Where the check and its figures come from."""
        return (self.source, *(send.source for send in self.send.values()))

    def ceiling_for(self, _known: Properties) -> Quantity | None:
        """The limit on the reading, for kinds that take one."""
        return None

    @classmethod
    def sending(cls, _table: Mapping[str, object]) -> list[str]:
        """The answers that ``send`` can name, from the file's table."""
        return []

    def finding(self, _answer: str | bool) -> Finding | None:
        """What an answer says about how a part came out."""
        return Finding("answer")

    def chance(self, answer: str) -> float:
        """Chance of this answer each time you check: expect / (1 + the sum of all expects)."""
        expects = sum(send.expect for send in self.send.values())
        return self.send[answer].expect / (1 + expects) if answer in self.send else 0.0

    def _drawn(self, draws: Random) -> str | None:
        """A random answer that sends, drawn with its chance; None if the part continues."""
        left = draws.random()
        for answer in self.send:
            left -= self.chance(answer)
            if left < 0:
                return answer
        return None


class YesNo(_Check):
    """A question where yes means continue."""

    kind: Literal["yes-no"]
    verb: ClassVar[str] = "CHECK"
    takes: ClassVar[str] = "yes or no"

    def form(self, _known: Properties = NOTHING_KNOWN) -> Form:
        """How an answer is entered."""
        return AskYesNo()

    @classmethod
    def sending(cls, _table: Mapping[str, object]) -> list[str]:
        """The answers that ``send`` can name, from the file's table."""
        return ["no"]

    def judge(self, answer: str | bool, _known: Properties) -> JudgedAnswer:
        """Read an answer.

        Raises:
            AnswerError: it is neither yes nor no.
        """
        if not isinstance(answer, bool):
            raise AnswerError(f'"{answer}" is neither yes nor no', "answer yes or no")
        return JudgedAnswer(answer, "yes" if answer else "no", bad=not answer)

    def simulate(self, draws: Random, _known: Properties) -> str | bool:
        """What simulated hands answer."""
        return self._drawn(draws) is None


class CeilingFrom(RecipeEntry):
    """A ceiling that depends on a ``property`` of the part or of a mix, less a ``margin``.

    Until the property is known, which can be later for a mix, the check takes no answer.

    Attributes:
        margin: a difference: ``"45 F"`` is as much as ``"25 C"``.
    """

    property: Id
    margin: Temperature
    source: Id | None = None


class ReadingCheck(_Check):
    """A measured figure that should be between ``min`` and ``max``.

    Above ``ceiling`` the step can't be confirmed at all: correct it, hold or abort.
    """

    kind: Literal["reading"]
    unit: UnitSymbol | None = None
    min: Reading | None = None
    max: Reading | None = None
    ceiling: Reading | None = None
    ceiling_from: CeilingFrom | None = None
    verb: ClassVar[str] = "READ"

    @_property
    def takes(self) -> str:
        """Which answers it takes, in words."""
        ceilings: list[object] = [self.ceiling] if self.ceiling is not None else []
        depends_on = self.ceiling_from
        if depends_on is not None:
            ceilings.append(f"its {depends_on.property} less {depends_on.margin}")
        asked = [self.limits, *(f"never above {ceiling}" for ceiling in ceilings)]
        unit = "pH" if self.unit_symbol == "pH" else f"in {self.unit_symbol}"
        return ", ".join(filter(None, asked)) or unit

    @_property
    def limits(self) -> str:
        """What it should be: ``6 pH to 9 pH``, ``up to 65 C``; empty if anything is right."""
        if self.min is None:
            return "" if self.max is None else f"up to {self.max}"
        return f"{self.min} at least" if self.max is None else f"{self.min} to {self.max}"

    def form(self, known: Properties = NOTHING_KNOWN) -> Form:
        """How an answer is entered."""
        ceiling = self.ceiling_for(known)
        limits = [("from", self.min), ("to", self.max), ("never above", ceiling)]
        words = " ".join(f"{word} {limit}" for word, limit in limits if limit is not None)
        return AskFigure(self.unit_symbol, words, self._most(ceiling))

    def _most(self, ceiling: Quantity | None) -> float | None:
        """The temperature that must not be passed; None if there is a least one, or no limit."""
        limits = [q.to(self.unit_symbol) for q in (self.max, ceiling) if q is not None]
        if self.min is not None or self.unit_symbol not in ("C", "F") or not limits:
            return None
        return min(limit.value for limit in limits)

    @_property
    def sources(self) -> tuple[str | None, ...]:
        """Where the check and its figures come from."""
        own = (self.ceiling_from.source,) if self.ceiling_from is not None else ()
        return (self.source, *own, *(send.source for send in self.send.values()))

    @classmethod
    def sending(cls, table: Mapping[str, object]) -> list[str]:
        """The answers that ``send`` can name, from the file's table."""
        return [word for word, key in (("below", "min"), ("above", "max")) if key in table]

    @_property
    def unit_symbol(self) -> str:
        """The unit the figure is entered in."""
        limits = (self.min, self.max, self.ceiling)
        given = [limit.unit for limit in limits if limit is not None]
        return self.unit or (given[0] if given else "C")

    def ceiling_for(self, known: Properties) -> Quantity | None:
        """The limit on the reading: the check's own, or one from a property."""
        depends_on = self.ceiling_from
        if depends_on is None:
            return self.ceiling
        if depends_on.property not in known:
            return None
        base_c = known[depends_on.property].base - depends_on.margin.base_span
        return Quantity(base_c, "C").to(self.unit_symbol)

    def judge(self, answer: str | bool, known: Properties) -> JudgedAnswer:
        """Read a figure; a bare number is in the check's own unit.

        Raises:
            AnswerError: it is not a figure, or has a unit of another kind; or its ceiling depends
                on something unknown.
        """
        if not isinstance(answer, str):
            raise AnswerError("a number is needed", f"write it in {self.unit_symbol}")
        depends_on = self.ceiling_from
        if depends_on is not None and depends_on.property not in known:
            name = depends_on.property.replace("-", " ")
            raise AnswerError(f"the {name} is not known", LOOK_UP.format(name=name))
        figure = parse_figure(answer, self.unit_symbol)
        ceiling = self.ceiling_for(known)
        above = ceiling is not None and figure.base > ceiling.base + 1e-9
        key = self._key(figure)
        return JudgedAnswer(str(figure), key, bad=above or key != "in", above_ceiling=above)

    def _key(self, figure: Quantity) -> str:
        if self.min is not None and figure.base < self.min.base - 1e-9:
            return "below"
        if self.max is not None and figure.base > self.max.base + 1e-9:
            return "above"
        return "in"

    def simulate(self, draws: Random, known: Properties) -> str | bool:
        """A figure inside the limits, or a little outside if the draw sends the part."""
        ceiling = self.ceiling_for(known)
        high = self.max or ceiling or self.min
        if high is not None and ceiling is not None and ceiling.base < high.base:
            high = ceiling
        low = self.min or high
        if low is None or high is None:
            return f"1 {self.unit_symbol}"
        outside = 0.1 * (abs(high.base - low.base) or abs(low.base) or 1.0)
        sent = self._drawn(draws)
        base = draws.uniform(low.base, high.base)
        if sent is not None:
            base = low.base - outside if sent == "below" else high.base + outside
        figure = Quantity(base, low.kind.base.symbol).to(self.unit_symbol)
        return f"{show_number(figure.value, 2)} {figure.unit}"

    def finding(self, answer: str | bool) -> Finding | None:
        """What an answer says about how a part came out."""
        try:
            number = parse(str(answer)).base
        except QuantityError:
            return Finding("answer")
        low, high = (limit.base if limit is not None else None for limit in (self.min, self.max))
        return Finding("reading", number, low, high)


class Choice(_Check):
    """One of a few options."""

    kind: Literal["choice"]
    options: tuple[Title, ...] = Field(min_length=2, max_length=9)
    verb: ClassVar[str] = "CHECK"

    @_property
    def takes(self) -> str:
        """Which answers it takes, in words."""
        return " / ".join(self.options)

    def form(self, _known: Properties = NOTHING_KNOWN) -> Form:
        """How an answer is entered."""
        return AskOption(self.options)

    @classmethod
    def sending(cls, table: Mapping[str, object]) -> list[str]:
        """The answers that ``send`` can name, from the file's table."""
        return [option for option in listed(table.get("options")) if isinstance(option, str)]

    def judge(self, answer: str | bool, _known: Properties) -> JudgedAnswer:
        """Read an answer.

        Raises:
            AnswerError: it is not one of the options.
        """
        if not isinstance(answer, str) or answer not in self.options:
            offered = f"one of {', '.join(self.options)}"
            raise AnswerError(f'"{answer}" is not one of the answers', offered)
        return JudgedAnswer(answer, answer, bad=answer in self.send)

    def simulate(self, draws: Random, _known: Properties) -> str | bool:
        """An option: a sending one with its chance, otherwise any of the others."""
        good = [option for option in self.options if option not in self.send]
        return self._drawn(draws) or draws.choice(good or self.options)


class NoteCheck(_Check):
    """A question answered with a note."""

    kind: Literal["note"]
    verb: ClassVar[str] = "NOTE"
    takes: ClassVar[str] = "words"

    def form(self, _known: Properties = NOTHING_KNOWN) -> Form:
        """How an answer is entered."""
        return AskLine("to write")

    def judge(self, answer: str | bool, _known: Properties) -> JudgedAnswer:
        """Read an answer.

        Raises:
            AnswerError: no words, too many, or characters that could disturb a screen.
        """
        if not isinstance(answer, str):
            raise AnswerError("text is needed", "write a few")
        return JudgedAnswer(safe_words(answer), "words")

    def simulate(self, _draws: Random, _known: Properties) -> str | bool:
        """What simulated hands write."""
        return "(rehearsed)"

    def finding(self, _answer: str | bool) -> Finding | None:
        """What an answer says about how a part came out."""
        return Finding("words")


class PhotoCheck(_Check):
    """A photo to take; the record keeps the path of its file, or that there is none."""

    kind: Literal["photo"]
    verb: ClassVar[str] = "PHOTO"
    takes: ClassVar[str] = "a photo's file, or none"

    def form(self, _known: Properties = NOTHING_KNOWN) -> Form:
        """How an answer is entered."""
        return AskLine("for its file", "no photo")

    def judge(self, answer: str | bool, _known: Properties) -> JudgedAnswer:
        """Read a path; no (False) leaves the photo out.

        Raises:
            AnswerError: no path, more than one line, or characters that could disturb a screen.
        """
        if answer is False:
            return JudgedAnswer(NO_PHOTO, "none")
        if not isinstance(answer, str):
            raise AnswerError("a file path is needed", "write it, or leave the photo out")
        path = safe_words(answer).strip("'\"")  # a terminal puts quotes around a file dropped on it
        if "\n" in path:
            raise AnswerError("it has several lines", "write the path of one file")
        return JudgedAnswer(path, "file")

    def simulate(self, _draws: Random, _known: Properties) -> str | bool:
        """Simulated hands take no photos."""
        return False

    def finding(self, _answer: str | bool) -> Finding | None:
        """A photo's path says nothing about how a part came out."""
        return None


AnyCheck = YesNo | ReadingCheck | Choice | NoteCheck | PhotoCheck
Check = Annotated[AnyCheck, Field(discriminator="kind")]

CHECK_KINDS: Mapping[str, type[AnyCheck]] = {
    get_args(kind.model_fields["kind"].annotation)[0]: kind for kind in get_args(AnyCheck)
}
"""The kinds by the names that recipes use."""


@dataclass(frozen=True, slots=True)
class SendRoute:
    """A send with its position in the recipe.

    Attributes:
        index: index of the step that asks.
        key: what its sends are counted under, ``step/check/answer``.
        answer: the answer that sends.
        to_index: index of the step the part goes to; None if the answer stops the part.
    """

    index: int
    key: str
    answer: str
    send: Send
    to_index: int | None
