"""Why a command can't be done. Each refusal names the thing, the place and what to do.

A refused command changes nothing. This module also turns what people enter into facts: answers,
readings, reasons, notes.
"""

from __future__ import annotations

from collections.abc import Mapping

from benchtimer.quantity import Quantity, QuantityError, did_you_mean, parse_typed
from benchtimer.recipe.answers import AnswerError, JudgedAnswer, parse_figure, safe_words
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Station, Window
from benchtimer.run.run_state import OtherHeat


class Refused(Exception):
    """Base of all refusals: ``what`` can't be done, ``why``, and the ``way_out``."""

    def __init__(self, what: str, why: str, way_out: str) -> None:
        self.what = what
        self.why = why
        self.way_out = way_out
        super().__init__(what, why, way_out)

    def __str__(self) -> str:
        return f"{self.what}: {_ended(self.why)} {_ended(self.way_out)}"


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith(("?", ".", "!")) else f"{sentence}."


def as_way_out(allowed: str) -> str:
    """What to enter instead, as the way out of a refusal; units keep their capitals."""
    return allowed[:1].upper() + allowed[1:]


class UnknownName(Refused):
    """A part, station, step, check or hazard that ``owner``, such as a run, does not have."""

    def __init__(self, kind: str, name: str, known: list[str], owner: str = "this run") -> None:
        why = f"{owner} has none with that name"
        hint = did_you_mean(name, known)
        super().__init__(
            f'No {kind} "{name}"',
            f"{why}; {hint}" if hint else why,
            f"Known: {', '.join(known)}",
        )


class WrongPhase(Refused):
    """The run or the part is in a phase in which this can't be done."""

    def __init__(self, what: str, subject: str, phase: str, allowed: list[str]) -> None:
        self.phase = phase
        super().__init__(what, f"{subject} is {phase}", f"It must be {' or '.join(allowed)}")


class OnHold(Refused):
    """The part is held."""

    def __init__(self, what: str, part: str, reason: str) -> None:
        super().__init__(what, f"{part} is held ({reason})", "Resume it first")


class StationFull(Refused):
    """The station has no free place.

    Args:
        what: what can't be done.
        station: the station's title.
        holds: how many parts it holds.
        parts: what is in it, in words; parts of other runs with the run's name.
        until: about when the first of them leaves, as " until about 18:42"; or empty.
    """

    def __init__(
        self, what: str, station: str, holds: int, parts: list[str], until: str = ""
    ) -> None:
        self.station = station
        verb = "is" if len(parts) == 1 else "are"
        super().__init__(
            what,
            f"{station} holds {holds}: {', '.join(parts)} {verb} in it{until}",
            f"Pull {parts[0]} first",
        )


class Crowded(Refused):
    """A correction would put a part where a part of another run is now."""

    def __init__(self, what: str, station: str, holds: int, guest: object) -> None:
        self.station = station
        super().__init__(
            what,
            f"{station} holds {holds}, and {guest} is in it now",
            f"Undo or pull {guest} first",
        )


class HandsFull(Refused):
    """Every hand holds a part, and the new one can wait where it is."""

    def __init__(self, what: str, parts: list[str]) -> None:
        held = ", ".join(parts)
        super().__init__(
            what, f"your hands hold {held}", f"Finish {parts[0]} first, or press E to begin anyway"
        )


class OutOfService(Refused):
    """The station is out of service."""

    def __init__(self, what: str, station: str, reason: str) -> None:
        super().__init__(
            what,
            f"{station} is out of service ({reason})",
            "Put it back into service (M 6), or hold the part",
        )


class TooHot(Refused):
    """A reading above a ceiling prevents this."""

    def __init__(self, what: str, reading: str, ceiling: str) -> None:
        super().__init__(
            what,
            f"the reading {reading} is above the ceiling {ceiling}",
            "Let it cool and read again, hold the part, or abort",
        )


class WrongHeat(Refused):
    """Two runs need one bath at incompatible temperatures.

    Args:
        what: what can't be done.
        title: the bath's title.
        heat: the run that keeps it at another temperature.
    """

    def __init__(self, what: str, title: str, heat: OtherHeat) -> None:
        needs = f"; this run needs {span(heat.own)}" if heat.own is not None else ""
        way_out = f"Pull {heat.guest} first"
        if heat.guest is None:
            way_out = (
                f"Wait until its parts are past {title}, or give each recipe a bath of its own"
            )
        super().__init__(
            what, f"{title} is kept at {span(heat.window)} for run {heat.run}{needs}", way_out
        )


def span(window: Window) -> str:
    """A temperature window in words: ``285 to 295 F``."""
    low, high = window.min, window.max
    first = str(low).removesuffix(f" {high.unit}") if low.unit == high.unit else str(low)
    return f"{first} to {high}"


class HazardFirst(Refused):
    """A hazard for this has not been acknowledged."""

    def __init__(self, what: str, hazard: str) -> None:
        self.hazard = hazard
        super().__init__(what, f'the hazard "{hazard}" comes first', "Read and acknowledge it")


class ReadingFirst(Refused):
    """A bath has to be read before a part goes into it.

    Attributes:
        place: id of the bath's place.
    """

    def __init__(self, what: str, place: str, title: str, why: str) -> None:
        self.place = place
        super().__init__(what, f"{title}: {why}", "Read it, or press E and say why not")


class NotReady(Refused):
    """A bath that is heating, cooling or being made up takes no parts."""

    def __init__(self, what: str, station: str, why: str) -> None:
        super().__init__(what, f"{station} {why}", "Wait until it is ready and read it")


class ChecksFirst(Refused):
    """Checks of this work have no answer yet."""

    def __init__(self, what: str, asks: list[str]) -> None:
        super().__init__(what, f"not answered yet: {'; '.join(asks)}", "Answer first")


class BadValue(Refused):
    """An invalid answer, reading, name or text."""


class PropertyMissing(Refused):
    """A recipe needs to know something about a part.

    Attributes:
        part: which part.
        name: the property.
        ask: the recipe's question.
    """

    def __init__(self, part: str, name: str, ask: str) -> None:
        self.part = part
        self.name = name
        self.ask = ask
        way_out = f'Give it as --about "{part}.{name}=VALUE"'
        super().__init__(f"The {name} of {part} is not known", ask, way_out)


class NothingTo(Refused):
    """There is no press to undo, redo or backdate."""

    def __init__(self, verb: str) -> None:
        super().__init__(f"Can't {verb}", f"there is no press to {verb}", "Nothing was changed")


class TimeConflict(Refused):
    """A time would put one event before another that really came earlier."""


class PartsLeft(Refused):
    """The run can't be completed while parts are in process."""

    def __init__(self, parts: list[str]) -> None:
        super().__init__(
            "Can't complete the run",
            f"still under way: {', '.join(parts)}",
            "Finish or scrap them, or abort the run",
        )


def judge_answer(check: Check, answer: str | bool, known: Mapping[str, Quantity]) -> JudgedAnswer:
    """An answer to a check, read and judged.

    Args:
        check: the check.
        answer: the answer.
        known: what is known about the part, for a ceiling that depends on it.

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

    A bare number is in the window's unit. Without a window its unit is unknown.

    Raises:
        BadValue: the text is not a temperature.
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
    """The verdict on a temperature: ``in``, ``low``, ``high`` or ``above-ceiling``."""
    window = station.temperature
    if window is None:
        return "in"
    if window.ceiling is not None and reading.base > window.ceiling.base + 1e-9:
        return "above-ceiling"
    if reading.base < window.min.base - 1e-9:
        return "low"
    return "high" if reading.base > window.max.base + 1e-9 else "in"


def safe_text(kind: str, text: str) -> str:
    """Text that is safe in the log and on any screen.

    Raises:
        BadValue: empty, too long, or with characters that could garble a screen.
    """
    try:
        return safe_words(text)
    except AnswerError as error:
        raise BadValue(f"Bad {kind}", error.reason, as_way_out(error.allowed)) from None
