"""What people say at the bench, made into facts: answers, readings, reasons, notes."""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.quantity import Quantity, QuantityError, parse_typed
from benchtimer.recipe.checks import AnswerError, Check, JudgedAnswer, parse_figure, safe_words
from benchtimer.recipe.model import Station
from benchtimer.run.refusals import BadValue, as_way_out


def judge_answer(check: Check, answer: str | bool, known: Mapping[str, Quantity]) -> JudgedAnswer:
    """An answer to a check, read and judged.

    Args:
        check: what was asked.
        answer: what was said.
        known: what is known of the part, for a ceiling that depends on it.

    Raises:
        BadValue: the answer has the wrong form.
    """
    try:
        return check.judge(answer, known)
    except AnswerError as error:
        what = f"Can't take that answer to {check.id}"
        raise BadValue(what, error.reason, as_way_out(error.allowed)) from None


def judge_reading(station: Station, text: str) -> tuple[Quantity, str, str]:
    """A station's temperature: the reading, its verdict, and the window as text.

    A bare number is in the window's unit. Without a window its unit is not known.

    Raises:
        BadValue: the text is no temperature.
    """
    window = station.temperature
    try:
        reading = (
            parse_figure(text, window.min.unit)
            if window is not None
            else parse_typed(text, "temperature")
        )
    except (AnswerError, QuantityError) as error:
        what = f"Can't take that reading of {station.title}"
        raise BadValue(what, str(error.reason), as_way_out(error.allowed)) from None
    if window is None:
        return reading, "in", "no window"
    verdict, limit = verdict_of(station, reading), f"{window.min} to {window.max}"
    never = f", never above {window.ceiling}" if verdict == "above-ceiling" else ""
    return reading, verdict, f"{limit}{never}"


def verdict_of(station: Station, reading: Quantity) -> str:
    """What a temperature is to a station: ``in``, ``low``, ``high`` or ``above-ceiling``."""
    window = station.temperature
    if window is None:
        return "in"
    if window.ceiling is not None and reading.base > window.ceiling.base + 1e-9:
        return "above-ceiling"
    if reading.base < window.min.base - 1e-9:
        return "low"
    return "high" if reading.base > window.max.base + 1e-9 else "in"


def safe_text(kind: str, text: str) -> str:
    """A text that can go into the log and onto any screen.

    Raises:
        BadValue: empty, too long, or with characters that could disturb a screen.
    """
    try:
        return safe_words(text)
    except AnswerError as error:
        raise BadValue(f"Bad {kind}", error.reason, as_way_out(error.allowed)) from None
