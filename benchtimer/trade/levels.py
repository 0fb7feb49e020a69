"""How bad a hazard is: the signal words of ANSI Z535 and what each one means."""

from __future__ import annotations

from typing import Final, Literal

Level = Literal["danger", "warning", "caution"]

LEVELS: Final[dict[Level, str]] = {
    "danger": "will cause death or serious injury if not avoided",
    "warning": "could cause death or serious injury if not avoided",
    "caution": "could cause minor or moderate injury if not avoided",
}
"""The levels, worst first. Source: ANSI Z535.4-2007, 4.14.1 to 4.14.3, as quoted by
safetylabel.com."""

BOTTLES: Final = (
    "The word on a bottle (GHS: Danger or Warning) rates what is in it. The word here rates this "
    "step (ANSI Z535: danger, warning or caution). They can differ: follow the stricter one."
)


def headed(level: Level, title: str) -> str:
    """A title behind its signal word: ``DANGER: Boiling caustic salts``."""
    return f"{level.upper()}: {title}"


def level_line(level: Level) -> str:
    """The signal word with its meaning: ``DANGER: will cause death or serious injury ...``."""
    return f"{level.upper()}: this {LEVELS[level]}."
