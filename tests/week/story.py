"""The story of the week from ``week.toml``: what happens when, and the answers."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

STORY = Path(__file__).with_name("week.toml")


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Span(_Table):
    """A reading between two values, drawn by the seed."""

    low: float = Field(alias="from")
    high: float = Field(alias="to")
    places: int = 0


Scripted = str | Span
"""An answer: its words, or a figure from a span."""


class Errand(_Table):
    """An errand done once at the screen, beside the work.

    Attributes:
        when: words on the screen that start it.
        calm: only while nothing is due for an hour.
        keys: the keys that open it.
        choose: beginnings of the lines to choose from the lists that follow.
        write: the text for the line that follows.
        ends: keys that lead back to the board.
        presses: how many presses of the run it makes.
    """

    when: str
    calm: bool = False
    keys: tuple[str, ...]
    choose: tuple[str, ...] = ()
    write: str = ""
    ends: tuple[str, ...] = ()
    presses: int = 0


class Deed(_Table):
    """One thing the maker sits down to do.

    Attributes:
        at: day and time of day, ``Monday 08:05``.
        why: the reason, in the maker's words.
        command: arguments of a command; ``screen`` those that open the bench, ``[]`` for none.
        process: whether the command runs in its own process.
        code: its exit code.
        says: words its output has; ``not_says`` are words it lacks.
        home: when the maker leaves the screen if nothing is due before.
        tick: whether to tick the whole checklist before the start.
        start: whether to start the run or only set it up.
        errands: the errands beside the work.
        slip: a question that is first answered wrongly, then undone.
        unread: a station whose first reading is left out.
        killed_when: the work at which the machine fails; it is on again ``away_s`` later.
    """

    at: str
    why: str
    command: tuple[str, ...] | None = None
    screen: tuple[str, ...] | None = None
    process: bool = False
    code: int = 0
    says: tuple[str, ...] = ()
    not_says: tuple[str, ...] = ()
    home: str = "23:59"
    tick: bool = False
    start: bool = True
    errands: tuple[Errand, ...] = Field((), alias="errand")
    slip: str = ""
    unread: str = ""
    killed_when: str = ""
    away_s: int = 40


class Verdict(_Table):
    """How a part came out, in the screen's words."""

    verdict: str
    rating: str


class Story(_Table):
    """The week.

    Attributes:
        monday: its first day; ``offset_h`` is the shop's hours ahead of UTC.
        readings: thermometer readings, by station title.
        answers: the answers to each question, by part and in order; the last one repeats.
            ``any part`` applies to all.
        verdicts: how each part came out.
        cause: what the maker changed between the failed and the good darkening, as the
            comparison names it.
        late: what the story makes late, as (part, step).
    """

    monday: str
    offset_h: int
    cause: str
    readings: Mapping[str, Scripted]
    answers: Mapping[str, Mapping[str, Scripted | tuple[Scripted, ...]]]
    verdicts: Mapping[str, Verdict]
    deeds: tuple[Deed, ...] = Field(alias="do")
    late: tuple[tuple[str, str], ...] = ()

    def moment_ms(self, text: str) -> int:
        """Unix time of ``Tuesday 08:05`` in this week."""
        day, _, clock = text.partition(" ")
        week = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
        begins = datetime.fromisoformat(f"{self.monday}T00:00:00+00:00").timestamp()
        hours, minutes = map(int, clock.split(":"))
        seconds = 86_400 * week.index(day) + 3600 * (hours - self.offset_h) + 60 * minutes
        return round((begins + seconds) * 1000)


def read_story(path: Path = STORY, **changes: Any) -> Story:
    """The story in a file, with some entries replaced."""
    with path.open("rb") as file:
        return Story.model_validate({**tomllib.load(file), **changes})
