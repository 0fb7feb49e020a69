"""The commands at the bench. Each becomes events, or is refused."""

from __future__ import annotations

from typing import ClassVar

from benchtimer.recipe.raw_tables import Table
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.values import dataclass, field

OPEN = frozenset({RunPhase.IDLE, RunPhase.RUNNING, RunPhase.HELD})
AT_WORK = frozenset({RunPhase.RUNNING})
BEGUN = frozenset({RunPhase.RUNNING, RunPhase.HELD})
ANY = frozenset(RunPhase)
LIVE = frozenset({PartPhase.WAITING, PartPhase.IN_HAND, PartPhase.DWELLING})


@dataclass(frozen=True, slots=True)
class Command:
    """One command; ``decide`` returns its events. Each command says when it is allowed.

    Undo, redo and backdating are open in every phase, so that a slip on the last press of a run
    can be undone.

    Attributes:
        run_phases: the phases of the run in which it is allowed.
        part_phases: the same for the part it names.
    """

    run_phases: ClassVar[frozenset[RunPhase]]
    part_phases: ClassVar[frozenset[PartPhase]] = frozenset(PartPhase)


@dataclass(frozen=True, slots=True)
class Start(Command):
    """Start the run."""

    run_phases = frozenset({RunPhase.IDLE})


@dataclass(frozen=True, slots=True)
class Acknowledge(Command):
    """The hazard has been read and its gear is on."""

    run_phases = OPEN

    hazard: str


@dataclass(frozen=True, slots=True)
class Begin(Command):
    """Begin the part's next hands-on work, pulling it out of its station first.

    Attributes:
        anyway: begin even if every hand holds another part.
        loads: the part is already in its next place, where one press covers both
            (``guards.is_one_press``) and nothing keeps it out.
    """

    run_phases = AT_WORK
    part_phases = frozenset({PartPhase.WAITING, PartPhase.DWELLING})

    part: str
    anyway: bool = False
    loads: bool = False


@dataclass(frozen=True, slots=True)
class Finish(Command):
    """End the hands-on work; the part goes into its station, or on to the next work.

    Attributes:
        through: id of a later step of the same move that is also done; None for none.
    """

    run_phases = AT_WORK
    part_phases = frozenset({PartPhase.IN_HAND})

    part: str
    through: str | None = None


@dataclass(frozen=True, slots=True)
class TakeOut(Command):
    """Pull a part out of its station without beginning anything."""

    # A part must be able to leave a tank, and its state be recorded, even on hold.
    run_phases = BEGUN
    part_phases = frozenset({PartPhase.DWELLING})

    part: str


@dataclass(frozen=True, slots=True)
class PutBack(Command):
    """Put a part that was taken out back into the same station; its dwell continues."""

    run_phases = BEGUN
    part_phases = frozenset({PartPhase.WAITING})

    part: str


@dataclass(frozen=True, slots=True)
class Answer(Command):
    """Answer a check of the work in hand: True or False, a reading, an option, or words.

    A check of later work in the same move ends the work before it, if that has no checks.
    """

    run_phases = BEGUN
    part_phases = frozenset({PartPhase.IN_HAND})

    part: str
    check: str
    answer: str | bool


@dataclass(frozen=True, slots=True)
class Read(Command):
    """Record a station's temperature, for example ``"290 F"``."""

    run_phases = OPEN

    station: str
    reading: str


NO_READING = ("read but not entered", "no thermometer", "by eye")
"""Why a part may go into a bath without a recorded temperature."""


@dataclass(frozen=True, slots=True)
class SkipReading(Command):
    """Go on without a reading of a station; ``reason`` is one of ``NO_READING``."""

    run_phases = OPEN

    station: str
    reason: str


@dataclass(frozen=True, slots=True)
class Heat(Command):
    """Turn on a station's heat; it is ready once it has been read in its window."""

    run_phases = OPEN

    station: str


@dataclass(frozen=True, slots=True)
class BeginMakeUp(Command):
    """Turn the heat off for a make-up; the bath takes no part until it is ready again."""

    run_phases = OPEN

    station: str


@dataclass(frozen=True, slots=True)
class EndMakeUp(Command):
    """The make-up is done and the heat is on again."""

    run_phases = OPEN

    station: str


@dataclass(frozen=True, slots=True)
class SendBack(Command):
    """Send a part back to this step or an earlier one, by hand."""

    run_phases = BEGUN
    part_phases = LIVE

    part: str
    to_step: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class Skip(Command):
    """Continue with a later step of the part by hand, or end its work if ``to_step`` is None."""

    run_phases = BEGUN
    part_phases = LIVE

    part: str
    to_step: str | None
    reason: str


@dataclass(frozen=True, slots=True)
class Hold(Command):
    """Set a part aside, or the whole run if ``part`` is None."""

    run_phases = BEGUN
    part_phases = LIVE

    part: str | None
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class Resume(Command):
    """Continue with what was held."""

    run_phases = BEGUN
    part_phases = LIVE

    part: str | None


@dataclass(frozen=True, slots=True)
class Scrap(Command):
    """Scrap a part."""

    run_phases = OPEN
    part_phases = LIVE

    part: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class TieBath(Command):
    """Put a bath of the bath book into a place, replacing the bath that was there."""

    run_phases = OPEN

    station: str
    bath: str


@dataclass(frozen=True, slots=True)
class Leave(Command):
    """Leave at one bench time and come back at another; both None: you stay after all."""

    run_phases = OPEN

    from_ms: int | None
    to_ms: int | None


@dataclass(frozen=True, slots=True)
class ScrapSome(Command):
    """Scrap some pieces of a batch; the rest continues."""

    run_phases = OPEN
    part_phases = LIVE

    part: str
    number: int
    reason: str


@dataclass(frozen=True, slots=True)
class AddPart(Command):
    """Add a part; ``recipe`` is needed if its recipe is new to the run.

    The part enters at ``step`` if given; ``before`` says what was done earlier. ``count`` is the
    number of pieces in a batch.
    """

    run_phases = OPEN

    part: str
    key: str
    recipe: Table | None = None
    properties: dict[str, str] = field(default_factory=dict)
    step: str | None = None
    before: str = ""
    count: int = 1


@dataclass(frozen=True, slots=True)
class Note(Command):
    """A note for the record, about a part or the whole run."""

    run_phases = ANY

    text: str
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Prepare(Command):
    """Check off a line of the page before a run, with a note such as "at 290 F", or undo that."""

    # Some of it is set up after the first parts have started.
    run_phases = OPEN

    item: str
    ready: bool = True
    said: str = ""


@dataclass(frozen=True, slots=True)
class Postpone(Command):
    """Don't start a part before this bench time; None: any time.

    Without a part it applies to all that have not started: the run's planned start.
    """

    run_phases = OPEN
    part_phases = frozenset({PartPhase.WAITING})

    part: str | None
    until_ms: int | None


@dataclass(frozen=True, slots=True)
class MoveTarget(Command):
    """Move the target of a part's present dwell ``by_s`` seconds later (earlier if negative)."""

    run_phases = BEGUN
    part_phases = frozenset({PartPhase.DWELLING})

    part: str
    by_s: int


HANDS = range(1, 10)
"""How many people can work on a run."""


@dataclass(frozen=True, slots=True)
class ChangeHands(Command):
    """Change the number of people who work on the run."""

    run_phases = OPEN

    hands: int


@dataclass(frozen=True, slots=True)
class ChangeHours(Command):
    """Change the daily hours away, such as "22:00-07:00"; empty for none."""

    run_phases = OPEN

    away: tuple[str, ...]


ACCEPTED = "accepted"
VERDICTS = (ACCEPTED, "rework", "rejected")
"""The verdicts, in inspection terms: fit for use, to be reworked, unfit."""


@dataclass(frozen=True, slots=True)
class Judge(Command):
    """Judge a part: one of ``VERDICTS``, and 1 to 5 if there is a rating."""

    # Many finishes can be judged only a day after the run.
    run_phases = ANY

    part: str
    verdict: str
    rating: int | None = None


@dataclass(frozen=True, slots=True)
class CloseStation(Command):
    """Take a station out of service."""

    run_phases = OPEN

    station: str
    reason: str = "by hand"


@dataclass(frozen=True, slots=True)
class OpenStation(Command):
    """Put a station back into service."""

    run_phases = OPEN

    station: str


@dataclass(frozen=True, slots=True)
class Undo(Command):
    """Take the last press back."""

    run_phases = ANY


@dataclass(frozen=True, slots=True)
class Redo(Command):
    """Redo the press that was taken back."""

    run_phases = ANY


@dataclass(frozen=True, slots=True)
class BackDate(Command):
    """Move the last press to this much earlier."""

    run_phases = ANY

    ago_ms: int


@dataclass(frozen=True, slots=True)
class Complete(Command):
    """Close the run, with every part done."""

    run_phases = BEGUN


@dataclass(frozen=True, slots=True)
class Abort(Command):
    """Abort the whole run."""

    run_phases = OPEN

    reason: str = "by hand"
