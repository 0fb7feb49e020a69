"""The events of a run. They are facts: never changed, never removed.

Every event says when it happened (``t_ms``, on the bench's own clock, which counts through
sleep and ignores jumps of the wall clock), by whom, and which press caused it. All events
of one press happen together or not at all. A correction is an event that names the press
it corrects.

Bodies hold only text, numbers, truth values and plain tables, so that an event written
today can be read in twenty years without this program.
"""

from __future__ import annotations

from typing import ClassVar

from pydantic import ConfigDict

from benchtimer.recipe.raw_tables import Table
from benchtimer.values import dataclass, field

PROGRAM = "benchtimer"
"""The author of entries that no person made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """The fields that all events have.

    Attributes:
        press: number of the press that caused it; 0 if none did.
        t_ms: bench time at which it happened, in milliseconds.
        by: who did it.
    """

    __pydantic_config__: ClassVar = ConfigDict(extra="forbid")

    press: int
    t_ms: int
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Created(Event):
    """A run is set up: its parts, and the recipes as they will be run.

    Attributes:
        uid: an identity that no other run on any machine has.
        recipes: each recipe's table by its key in this run, adjustments included.
        parts: name and recipe key of each part, in order of their numbers.
        properties: what is known about each part, such as its temper, as text.
        away: hours when you are away, every day, such as "22:00-07:00".
        adjustments: the changes to the recipes for this run, as text.
        speed: how many times faster than real it runs; 1 is real, more is practice.
        places: id of the place where each station is, by its address ``RECIPE.STATION``. Every
            other event names places.
        baths: name of the bath of the bath book in each place that has one, by place id.
        files: file of each recipe given by a path, by its key in this run.
        numbers: each part's number on the bench, in the order of ``parts``; empty for 1, 2, 3...
        shop: the places that the shop's settings declared, as tables by id.
        enters: parts that enter their recipe at a later step: its id under ``step``, and under
            ``before``, in the maker's words, what was done to the part before.
        counts: pieces of each part that is a batch, such as six pins on one wire.
        jobs: what each part of a job is called in the log, such as "petty knife/bolster", by its
            name in this run.
    """

    uid: str
    title: str
    recipes: dict[str, Table]
    parts: tuple[tuple[str, str], ...]
    properties: dict[str, dict[str, str]] = field(default_factory=dict)
    away: tuple[str, ...] = ()
    adjustments: tuple[str, ...] = ()
    hands: int = 1
    speed: float = 1
    places: dict[str, str] = field(default_factory=dict)
    baths: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    numbers: tuple[int, ...] = ()
    shop: dict[str, Table] = field(default_factory=dict)
    enters: dict[str, dict[str, str]] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    jobs: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Started(Event):
    """The run started, so work can begin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledged(Event):
    """A hazard was read and its gear is on."""

    hazard: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkBegan(Event):
    """Hands-on work on a part for a step began.

    Attributes:
        with_last: whether it began earlier, after other work that also ended with this press.
    """

    part: str
    step: str
    with_last: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkFinished(Event):
    """The hands-on work of a step ended.

    Attributes:
        with_next: whether it ended earlier: the next step began without a press in between, so only
            the time of both together is known.
    """

    part: str
    step: str
    with_next: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PutIn(Event):
    """A part went into a station and its dwell runs."""

    part: str
    step: str
    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenOut(Event):
    """A part left a station; ``dwelt_ms`` is how long it was there."""

    part: str
    step: str
    station: str
    dwelt_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviated(Event):
    """Something differs from the recipe.

    Attributes:
        what: ``early`` or ``overrun`` (a dwell), ``reading`` (out of its window),
            ``ceiling`` (a part's reading above its ceiling), ``check`` (a no without a
            consequence), ``tries`` (sent too often), ``stop`` (an answer that stops the part),
            ``no-reading`` (a bath was not read), ``skipped`` (steps left out by hand).
        limit: what the recipe asks for, as text.
        found: what it was, as text.
    """

    part: str | None
    step: str | None
    station: str | None = None
    what: str
    limit: str
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered(Event):
    """A check was answered.

    Attributes:
        key: the answer as the recipe's ``send`` names it, such as ``no`` or ``below``.
        no: whether it is a bad result.
    """

    part: str
    step: str
    check: str
    answer: str | bool
    no: bool
    above_ceiling: bool = False
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingTaken(Event):
    """A station's temperature was read: ``in``, ``low``, ``high`` or ``above-ceiling``."""

    station: str
    reading: str
    verdict: str

    @property
    def taken_ms(self) -> int:
        """Bench time at which it was read."""
        return self.t_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingShared(ReadingTaken):
    """A reading that another run took, valid when a part of this run went in.

    Attributes:
        read_ms: bench time at which it was read.
    """

    read_ms: int

    @property
    def taken_ms(self) -> int:
        """Bench time at which it was read."""
        return self.read_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeRead(ReadingTaken):
    """A probe's reading of a station's temperature; it is not a press.

    Attributes:
        probe: its name.
    """

    probe: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSkipped(Event):
    """You continued without a reading of a station, for one of ``commands.NO_READING``."""

    station: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heated(Event):
    """A station's heat was turned on."""

    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeUpBegan(Event):
    """A bath's heat was turned off for its make-up; it takes no part until it is ready again."""

    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeUp(Event):
    """A bath's make-up is done and its heat is on again; earlier readings no longer count."""

    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent(Event):
    """A part goes to another step, by a check's answer or by hand (``check`` is None).

    Attributes:
        answer: the answer that sent it, as the recipe's ``send`` names it.
        count: how often this answer has sent it by now.
        new_try: whether this try of the part is over and another begins.
    """

    part: str
    from_step: str
    to_step: str
    check: str | None
    count: int
    reason: str
    answer: str | None = None
    new_try: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Event):
    """A part, or the whole run if ``part`` is None, is set aside; its clocks keep running.

    Attributes:
        by_recipe: whether an answer stopped the part, or sent it as often as the recipe allows.
    """

    part: str | None
    reason: str
    by_recipe: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(Event):
    """What was held continues."""

    part: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrapped(Event):
    """A part is scrapped."""

    part: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BathTied(Event):
    """A bath from the bath book is in a place from now on."""

    station: str
    bath: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving(Event):
    """You are away between two bench times; both None: you stay after all."""

    from_ms: int | None
    to_ms: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SomeScrapped(Event):
    """Some pieces of a batch are scrapped; ``left`` continue."""

    part: str
    number: int
    left: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAdded(Event):
    """A part is added; ``recipe`` is the table of a recipe that is new to this run.

    ``places`` are the places of that recipe's stations, as in ``Created``; ``number`` is the part's
    number on the bench, 0 for the next one of the run; ``step`` is the id of the step it enters at,
    if that is not the first, and ``before`` what was done before; ``count`` is the pieces of a
    batch.
    """

    part: str
    key: str
    recipe: Table | None = None
    properties: dict[str, str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    step: str | None = None
    before: str = ""
    number: int = 0
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped(Event):
    """A part continues with a later step by hand, or with its end (``to_step`` is None).

    Attributes:
        from_step: the step that came next, or was in hand.
        left_out: the steps that are not done.
    """

    part: str
    from_step: str
    to_step: str | None
    left_out: list[str]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDone(Event):
    """A part has finished its last step."""

    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted(Event):
    """A note for the record."""

    part: str | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared(Event):
    """A line of the page before a run was checked off, or that was undone (``ready`` false).

    Attributes:
        item: the line, as on the page.
        said: the note with it, such as "at 290 F"; empty if none.
    """

    item: str
    ready: bool
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Postponed(Event):
    """A part must not start before bench time ``until_ms``; None: any time."""

    part: str
    until_ms: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetMoved(Event):
    """A part's present dwell has a new target: ``target_s`` seconds; it was ``was_s``."""

    part: str
    step: str
    target_s: int
    was_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsChanged(Event):
    """From now on ``hands`` people work on the run, ``was`` before."""

    hands: int
    was: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursChanged(Event):
    """From now on ``away`` are the hours away, every day, such as "22:00-07:00"."""

    away: tuple[str, ...] = ()
    was: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged(Event):
    """Your verdict on a part; the last one for a part counts.

    Attributes:
        verdict: one of ``commands.VERDICTS``.
        rating: 1 (poor) to 5 (flawless), if one was given.
    """

    part: str
    verdict: str
    rating: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationClosed(Event):
    """Nothing can go into this station until it is opened."""

    station: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationOpened(Event):
    """The station is back in service."""

    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone(Event):
    """A press is undone; its effects no longer count, but stay in the log."""

    undone: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Redone(Event):
    """An undone press counts again."""

    redone: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Retimed(Event):
    """A press gets an earlier time; the same events follow with their real time."""

    retimed: int
    ago_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Completed(Event):
    """Every part is done or scrapped and the run is over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aborted(Event):
    """The run was aborted."""

    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reopened(Event):
    """The program was started again in the middle of a run.

    Attributes:
        elapsed_from: ``counting clock`` if the machine's own count of seconds continued, ``wall
            clock`` if only the wall clock gives the time away, ``nothing`` if the wall clock had
            gone back and was useless, ``wall clock set since`` if it was useless at first and then
            corrected.
        away_ms: how long the program was away.
    """

    elapsed_from: str
    away_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockJumped(Event):
    """The wall clock was set, by this much; no timer changed."""

    by_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSilenced(Event):
    """You silenced alarms for a while; the work is still due.

    Attributes:
        for_ms: how long.
        due: the due work, in words.
    """

    for_ms: int
    due: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLate(Event):
    """Earlier entries were kept in memory for a while, because the log could not be written.

    Attributes:
        entries: how many entries.
        late_ms: how long the first of them waited.
        why: what was wrong with the disk.
    """

    entries: int
    late_ms: int
    why: str


KINDS: dict[str, type[Event]] = {
    "created": Created,
    "started": Started,
    "acknowledged": Acknowledged,
    "work-began": WorkBegan,
    "work-finished": WorkFinished,
    "put-in": PutIn,
    "taken-out": TakenOut,
    "deviated": Deviated,
    "answered": Answered,
    "reading-taken": ReadingTaken,
    "reading-shared": ReadingShared,
    "probe-read": ProbeRead,
    "reading-skipped": ReadingSkipped,
    "heated": Heated,
    "make-up-began": MakeUpBegan,
    "made-up": MadeUp,
    "sent": Sent,
    "held": Held,
    "resumed": Resumed,
    "scrapped": Scrapped,
    "bath-tied": BathTied,
    "leaving": Leaving,
    "some-scrapped": SomeScrapped,
    "part-added": PartAdded,
    "part-done": PartDone,
    "skipped": Skipped,
    "noted": Noted,
    "judged": Judged,
    "prepared": Prepared,
    "postponed": Postponed,
    "target-moved": TargetMoved,
    "hands-changed": HandsChanged,
    "hours-changed": HoursChanged,
    "station-closed": StationClosed,
    "station-opened": StationOpened,
    "undone": Undone,
    "redone": Redone,
    "retimed": Retimed,
    "completed": Completed,
    "aborted": Aborted,
    "reopened": Reopened,
    "clock-jumped": ClockJumped,
    "alarm-silenced": AlarmSilenced,
    "written-late": WrittenLate,
}
"""The name of each kind of event in the log. Names never change."""

CORRECTIONS = (Undone, Redone, Retimed)
"""Events that change how earlier ones count."""

BYSTANDERS = (Reopened, ClockJumped, AlarmSilenced, WrittenLate)
"""Events that change nothing on the bench."""
