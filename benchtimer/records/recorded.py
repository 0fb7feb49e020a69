"""What else is in a record: readings, answers, notes and so on, entry by entry.

Fields have the names of the record's JSON and TOML; None is left out there.
"""

from __future__ import annotations

from benchtimer.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One entry.

    Attributes:
        at: local time with its offset.
        elapsed_s: seconds since the run was set up, on the bench's own clock.
    """

    at: str
    elapsed_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedReading(Recorded):
    """A temperature at a place; the verdict is ``in``, ``low``, ``high`` or ``above-ceiling``."""

    station: str
    reading: str
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedAnswer(Recorded):
    """An answer to a check; ``no`` if it is a bad result."""

    part: str
    step: str
    check: str
    answer: str | bool
    no: bool
    above_ceiling: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedHazard(Recorded):
    """A hazard that was acknowledged."""

    hazard: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDeviation(Recorded):
    """Something that differs from the recipe; ``what`` as in ``run.events.Deviated``."""

    part: str | None = None
    step: str | None = None
    station: str | None = None
    what: str
    limit: str
    found: str

    @property
    def where(self) -> str:
        """The part, or else the place, that differs."""
        return self.part or self.station or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedCorrection(Recorded):
    """A press that was taken back or backdated: the original entry, and what replaced it."""

    by: str
    what: str
    first_said: tuple[str, ...]
    now: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedNote(Recorded):
    """A note about a part, or about the run if ``part`` is None."""

    part: str | None = None
    text: str
    by: str

    @property
    def about(self) -> str:
        """The part, or "the run"."""
        return self.part or "the run"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedSend(Recorded):
    """A part that was sent to another step."""

    part: str
    from_step: str
    to_step: str
    reason: str
    answer: str | None = None
    new_try: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedJudgement(Recorded):
    """How a part came out."""

    part: str
    verdict: str
    rating: int | None = None
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedScrap(Recorded):
    """Scrapped pieces of a batch; ``left`` is how many continue."""

    part: str
    number: int
    left: int
    reason: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedAlarm(Recorded):
    """An alarm that rang at ``elapsed_s`` and was answered ``answered_s`` seconds later."""

    what: str
    who: str
    answered_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedBath:
    """A bath as it was when the run was set up; unknown values are None.

    Attributes:
        station: the place it is in.
        parts_before: parts it had, and ``dwell_before_s`` their total time.
        used_up: share of its strength, 0 to 1.
    """

    station: str
    bath: str
    of: str | None = None
    mix: str | None = None
    age_s: float | None = None
    parts_before: int | None = None
    dwell_before_s: float | None = None
    used_up: float | None = None
    volume: str | None = None
