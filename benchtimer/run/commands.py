"""What somebody at the bench can ask for. Each becomes events, or is refused."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Command:
    """A wish; ``decide`` says what comes of it."""


@dataclass(frozen=True, slots=True)
class Start(Command):
    """Begin the run."""


@dataclass(frozen=True, slots=True)
class Acknowledge(Command):
    """The hazard has been read and its gear is on."""

    hazard: str


@dataclass(frozen=True, slots=True)
class Begin(Command):
    """Begin the part's next hands-on work, lifting it out of its station first."""

    part: str


@dataclass(frozen=True, slots=True)
class Finish(Command):
    """The hands-on work is done; the part goes into its station, or on to the next work."""

    part: str


@dataclass(frozen=True, slots=True)
class TakeOut(Command):
    """Lift a part out of its station without beginning anything."""

    part: str


@dataclass(frozen=True, slots=True)
class PutBack(Command):
    """Put a part that was taken out back into the same station; its dwell goes on."""

    part: str


@dataclass(frozen=True, slots=True)
class Answer(Command):
    """Answer a check of the work in hand: True or False, a reading, an option, or words."""

    part: str
    check: str
    answer: str | bool


@dataclass(frozen=True, slots=True)
class Read(Command):
    """Write down a station's temperature, for example ``"290 F"``."""

    station: str
    reading: str


NO_READING = ("read but not typed", "no thermometer", "by eye")
"""Why a part may go into a bath whose temperature nobody has written down."""


@dataclass(frozen=True, slots=True)
class SkipReading(Command):
    """Go on without a reading of a station; ``reason`` is one of ``NO_READING``."""

    station: str
    reason: str


@dataclass(frozen=True, slots=True)
class Heat(Command):
    """A station's heat is on; it is ready when it has been read in its window."""

    station: str


@dataclass(frozen=True, slots=True)
class BeginMakeUp(Command):
    """Heat off: the bath cools for its make-up and takes no part until it is ready again."""

    station: str


@dataclass(frozen=True, slots=True)
class EndMakeUp(Command):
    """The make-up is done and the heat is on again."""

    station: str


@dataclass(frozen=True, slots=True)
class SendBack(Command):
    """Send a part back to this step or an earlier one, by hand."""

    part: str
    to_step: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class Skip(Command):
    """Go on with a later step of the part by hand, or end its work if ``to_step`` is None."""

    part: str
    to_step: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class Hold(Command):
    """Set a part aside, or the whole run if ``part`` is None."""

    part: str | None
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class Resume(Command):
    """Go on with what was held."""

    part: str | None


@dataclass(frozen=True, slots=True)
class Scrap(Command):
    """Give a part up."""

    part: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class AddPart(Command):
    """Let a part join; ``recipe`` is needed if its recipe is new to the run.

    It enters at ``step`` if that is given; ``before`` says what was done before.
    """

    part: str
    key: str
    recipe: dict[str, Any] | None = None
    properties: dict[str, str] = field(default_factory=dict)
    step: str | None = None
    before: str = ""


@dataclass(frozen=True, slots=True)
class Note(Command):
    """Words for the record, about a part or the whole run."""

    text: str
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Prepare(Command):
    """Tick a line of the page before a run, with words such as "at 290 F", or take the tick off."""

    item: str
    ready: bool = True
    said: str = ""


@dataclass(frozen=True, slots=True)
class Postpone(Command):
    """A part that has not begun is not to be begun before this bench time; None: whenever."""

    part: str
    until_ms: int | None


ACCEPTED = "accepted"
VERDICTS = (ACCEPTED, "rework", "rejected")
"""How a part can come out, in the words of inspection: fit for use, to be done again, unfit."""


@dataclass(frozen=True, slots=True)
class Judge(Command):
    """Say how a part came out: one of ``VERDICTS``, and 1 to 5 if a rating is given."""

    part: str
    verdict: str
    rating: int | None = None


@dataclass(frozen=True, slots=True)
class CloseStation(Command):
    """Take a station out of service."""

    station: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class OpenStation(Command):
    """Put a station back into service."""

    station: str


@dataclass(frozen=True, slots=True)
class Undo(Command):
    """Take the last press back."""


@dataclass(frozen=True, slots=True)
class Redo(Command):
    """Make the last press count that was taken back."""


@dataclass(frozen=True, slots=True)
class BackDate(Command):
    """The last press really happened this much earlier."""

    ago_ms: int


@dataclass(frozen=True, slots=True)
class Complete(Command):
    """Every part is done: close the run."""


@dataclass(frozen=True, slots=True)
class Abort(Command):
    """Give the whole run up."""

    reason: str = "by hand"
