"""What people say at the bench, made into facts: answers, readings, reasons, notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchtimer.quantity import Quantity, QuantityError, parse
from benchtimer.recipe.fields import unsafe_character
from benchtimer.recipe.model import Check, Choice, NoteCheck, ReadingCheck, Station, is_no
from benchtimer.run.refusals import BadValue, as_way_out

MAX_TEXT = 4000


@dataclass(frozen=True, slots=True)
class Told:
    """An answer as the log keeps it."""

    answer: str | bool
    no: bool
    above_ceiling: bool = False

    @property
    def shown(self) -> str:
        """The answer as people say it."""
        if isinstance(self.answer, bool):
            return "yes" if self.answer else "no"
        return self.answer


def ceiling_of(check: Check, properties: Mapping[str, Quantity]) -> Quantity | None:
    """The reading that must not be passed: the check's own, or one that hangs on the part."""
    if not isinstance(check, ReadingCheck):
        return None
    hangs_on = check.ceiling_from
    if hangs_on is None or hangs_on.property not in properties:
        return check.ceiling
    base_c = properties[hangs_on.property].base - hangs_on.margin.base_span
    return Quantity(base_c, "C").to(check.unit_symbol)


def judge_answer(check: Check, answer: str | bool, properties: Mapping[str, Quantity]) -> Told:
    """An answer to a check, read and judged.

    Args:
        check: what was asked.
        answer: what was said.
        properties: what is known of the part, for a ceiling that hangs on it.

    Raises:
        BadValue: the answer has the wrong form.
    """
    what = f"Can't take that answer to {check.id}"
    if isinstance(check, ReadingCheck):
        return _judge_figure(check, answer, what, ceiling_of(check, properties))
    if isinstance(check, Choice):
        if answer not in check.options:
            raise BadValue(
                what, f'"{answer}" is not on offer', f"One of {', '.join(check.options)}"
            )
        return Told(answer, is_no(check, answer))
    if isinstance(check, NoteCheck):
        if not isinstance(answer, str):
            raise BadValue(what, "words are wanted", "Write a few")
        return Told(safe_text("note", answer), no=False)
    if not isinstance(answer, bool):
        raise BadValue(what, f'"{answer}" is neither yes nor no', "Answer yes or no")
    return Told(answer, is_no(check, answer))


def judge_reading(station: Station, text: str) -> tuple[Quantity, str, str]:
    """A station's temperature: the reading, its verdict, and the window as text.

    Raises:
        BadValue: the text is no temperature.
    """
    window = station.temperature
    unit = window.low.unit if window is not None else None
    reading = _figure(text, unit, "temperature", f"Can't take that reading of {station.title}")
    if window is None:
        return reading, "in", "no window"
    limit = f"{window.low} to {window.high}"
    if window.ceiling is not None and reading.base > window.ceiling.base + 1e-9:
        return reading, "above-ceiling", f"{limit}, never above {window.ceiling}"
    if reading.base < window.low.base - 1e-9:
        return reading, "low", limit
    if reading.base > window.high.base + 1e-9:
        return reading, "high", limit
    return reading, "in", limit


def safe_text(kind: str, text: str) -> str:
    """A text that can go into the log and onto any screen.

    Raises:
        BadValue: empty, too long, or with characters that could disturb a screen.
    """
    text = text.strip()
    if not text:
        raise BadValue(f"Bad {kind}", "it is empty", "Write something")
    if len(text) > MAX_TEXT:
        raise BadValue(f"Bad {kind}", f"it is longer than {MAX_TEXT} letters", "Shorten it")
    bad = unsafe_character(text, lines=True)
    if bad is not None:
        raise BadValue(
            f"Bad {kind}", f"the character {bad} could disturb the screen", "Leave it out"
        )
    return text


def _judge_figure(
    check: ReadingCheck, answer: str | bool, what: str, ceiling: Quantity | None
) -> Told:
    if not isinstance(answer, str):
        raise BadValue(what, "a figure is wanted", f"Write it in {check.unit_symbol}")
    figure = _figure(answer, check.unit_symbol, None, what)
    above = ceiling is not None and figure.base > ceiling.base + 1e-9
    return Told(str(figure), above or is_no(check, figure), above)


def _figure(text: str, unit: str | None, kind: str | None, what: str) -> Quantity:
    """A figure with its unit; a bare number is in the unit asked for."""
    if unit is not None:
        kind = Quantity(0, unit).kind.name
        if text.strip().replace(".", "", 1).removeprefix("-").isdecimal():
            text = f"{text.strip()} {unit}"
    try:
        return parse(text, kind)
    except QuantityError as error:
        raise BadValue(what, str(error.reason), as_way_out(error.allowed)) from None
