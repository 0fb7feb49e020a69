"""The state of a run: the fold over its events. It is never changed in place.

It has the window of a part's present dwell: min, target and max as the run has them. The time left
for a part is computed only here, because a run may move a target.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from benchtimer.quantity import Quantity
from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Hazard, Recipe, Station, Step, Window
from benchtimer.recipe.places import ShopPlace
from benchtimer.run.events import Event
from benchtimer.values import dataclass, field


class RunPhase(StrEnum):
    """Phases of a run, named as in batch control (ISA-88 / IEC 61512)."""

    IDLE = "idle"
    RUNNING = "running"
    HELD = "held"
    COMPLETE = "complete"
    ABORTED = "aborted"


class PartPhase(StrEnum):
    """Where a part is in its work."""

    WAITING = "waiting"
    IN_HAND = "in hand"
    DWELLING = "dwelling"
    DONE = "done"
    SCRAPPED = "scrapped"


OVER = frozenset({RunPhase.COMPLETE, RunPhase.ABORTED})
OUT = frozenset({PartPhase.DONE, PartPhase.SCRAPPED})

SESSION_GAP_MS = 4 * 3_600_000
"""A longer pause without a press ends the session: gear goes on and baths are read again.

The program's own judgment: longer than a meal, shorter than a night.
"""

KEPT_READINGS = 24
"""How many readings of a place are used for its trend."""


@dataclass(frozen=True, slots=True)
class AnswerGiven:
    """The last answer to a check in this pass through its step."""

    answer: str | bool
    no: bool
    above_ceiling: bool


@dataclass(frozen=True, slots=True)
class TickedItem:
    """A line of the page before the run that is ready: since when, and its note."""

    t_ms: int
    said: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One workpiece on the bench.

    Attributes:
        number: its lane, counted from 1; never changes.
        recipe: key of its recipe in the run.
        step: index of its step: in hand, dwelling, or waiting.
        since_ms: when its phase began; for a dwell, now - since is the time dwelt.
        station: where it is, if it is in a station.
        lifted_from: index of the dwell it was last pulled out of, while it can be put back.
        dwelt_ms: time it already had in that dwell.
        target_s: target of the dwell it is in, or was last pulled out of.
        held: why it is on hold; None if it is not.
        stopped: its recipe put it on hold, so only a decision releases it.
        passes: how often each step was begun.
        sent: how often each answer ("step/check/answer") has sent it, within the current pass of
            the sections around it.
        properties: what is known about it, such as its temper.
        answers: this pass's answers to the checks of the step in hand.
        began_ms: when its very first work began, if it has.
        touched_ms: the last time anything happened to it.
        not_before_ms: bench time before which it must not start, if it is held back.
        entered: index of the step it entered its recipe at.
        before: what was done to it earlier, in the maker's words.
        count: pieces left in a batch, and ``count_begun`` the pieces it began with.
    """

    name: str
    number: int
    recipe: str
    step: int = 0
    phase: PartPhase = PartPhase.WAITING
    since_ms: int = 0
    station: str | None = None
    lifted_from: int | None = None
    dwelt_ms: int = 0
    target_s: int | None = None
    held: str | None = None
    stopped: bool = False
    passes: Mapping[str, int] = field(default_factory=dict)
    sent: Mapping[str, int] = field(default_factory=dict)
    answers: Mapping[str, AnswerGiven] = field(default_factory=dict)
    properties: Mapping[str, Quantity] = field(default_factory=dict)
    began_ms: int | None = None
    touched_ms: int = 0
    not_before_ms: int | None = None
    entered: int = 0
    before: str = ""
    count: int = 1
    count_begun: int = 1

    @property
    def called(self) -> str:
        """Its name on the screen; a batch shows how many pieces are left."""
        return f"{self.name} x{self.count}" if self.count_begun > 1 else self.name

    @property
    def label(self) -> str:
        """Number and name: ``#2 ferrule``."""
        return f"#{self.number} {self.called}"

    @property
    def is_out(self) -> bool:
        """Whether it is done or scrapped, so that nothing more happens to it."""
        return self.phase in OUT

    @property
    def is_in_hand(self) -> bool:
        """Whether it has begun but is in no place: being worked on, or taken out and not loaded."""
        begun = self.phase is PartPhase.WAITING and self.began_ms is not None
        off = begun and self.station is None and self.held is None
        return self.phase is PartPhase.IN_HAND or off


@dataclass(frozen=True, slots=True)
class StationReading:
    """A temperature reading of a place, with its verdict.

    The verdict is ``in``, ``low``, ``high`` or ``above-ceiling``. ``probe`` names the probe that
    took it; empty if you did.
    """

    quantity: Quantity
    t_ms: int
    verdict: str
    probe: str = ""


@dataclass(frozen=True, slots=True)
class SkippedReading:
    """A reading that was skipped, and why."""

    t_ms: int
    reason: str


@dataclass(frozen=True, slots=True)
class Guest:
    """A part of another run that is in one of this run's places, or in the hands.

    Attributes:
        run: name of its run.
        name: the part, and ``number`` its number on the bench.
        since_ms: since when it has been there.
        until_ms: when its dwell reaches its target, or its work its planned time.
        until: the same as a time of day; empty if unknown.
    """

    run: str
    name: str
    number: int
    since_ms: int
    until_ms: int
    until: str = ""

    def __str__(self) -> str:
        return f"{self.name} of run {self.run}"


@dataclass(frozen=True, slots=True)
class OtherHeat:
    """Another run that needs a bath at a temperature outside this run's own window.

    Attributes:
        run: name of that run.
        window: where it keeps the bath.
        is_open: whether its baths may be hot already, because it has started or heated something.
        own: what this run needs instead.
        guest: the first of its parts in the bath; None if there is none.
    """

    run: str
    window: Window
    is_open: bool
    own: Window | None = None
    guest: Guest | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the run: a tank, a rack, a sink.

    Attributes:
        station: the station there, from the recipes.
        closed: why it is out of service, if it is.
        closed_ms: when it was last closed or opened.
        guests: parts of other runs that are in it; empty for a run by itself.
        other_heats: other runs that need it at a temperature outside its own window.
        readings: its readings since the last make-up, newest last.
        skipped: the last reading that was left out, if none came after it.
        heated_ms: when its heat was last turned on.
        cooling_ms: since when it cools for a make-up that is not done yet.
        ready_ms: when it was first read in its window since it was heated.
    """

    station: Station
    closed: str | None = None
    closed_ms: int = 0
    guests: tuple[Guest, ...] = ()
    other_heats: tuple[OtherHeat, ...] = ()
    readings: tuple[StationReading, ...] = ()
    skipped: SkippedReading | None = None
    heated_ms: int | None = None
    cooling_ms: int | None = None
    ready_ms: int | None = None
    touched_ms: int = 0

    @property
    def reading(self) -> StationReading | None:
        """The newest reading since the last make-up."""
        return self.readings[-1] if self.readings else None

    @property
    def turned_ms(self) -> int:
        """When its heat was last turned on, or off for a make-up; 0 if never."""
        return max(self.heated_ms or 0, self.cooling_ms or 0)


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything that undo restores: the run's phase, parts, places, hazards.

    Attributes:
        recipes: the recipes by key; their station ids are those of places.
        sources: the same recipes with the station ids of their files.
        at: the id of the place of each station, by its address ``RECIPE.STATION``.
        shop: places that the shop's settings declared when the run was set up.
        clashes: pages about what its recipes bring to the bench and must not meet.
        carried: by recipe, pages about drops that a part carries into the wrong bath.
        acknowledged: when each hazard was last acknowledged, by its title.
        gone: bench times between which you are away, in addition to the usual hours.
        session_ms: when this session at the bench began, and ``active_ms`` its last press.
    """

    phase: RunPhase = RunPhase.IDLE
    title: str = ""
    uid: str = ""
    hands: int = 1
    speed: float = 1
    away: tuple[str, ...] = ()
    baths: Mapping[str, str] = field(default_factory=dict)
    jobs: Mapping[str, str] = field(default_factory=dict)
    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    sources: Mapping[str, Recipe] = field(default_factory=dict)
    at: Mapping[str, str] = field(default_factory=dict)
    shop: tuple[ShopPlace, ...] = ()
    clashes: tuple[Hazard, ...] = ()
    carried: Mapping[str, tuple[Hazard, ...]] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    acknowledged: Mapping[str, int] = field(default_factory=dict)
    held: str | None = None
    prepared: Mapping[str, TickedItem] = field(default_factory=dict)
    touched_ms: int = 0
    gone: tuple[int, int] | None = None
    session_ms: int = 0
    active_ms: int = 0

    def recipe_of(self, part: Part) -> Recipe:
        """The recipe a part follows."""
        return self.recipes[part.recipe]

    def step_of(self, part: Part) -> Step:
        """The step a part is at."""
        return self.recipe_of(part).step[part.step]

    def next_index(self, part: Part) -> int | None:
        """Index of the step whose work comes next; None if only the end comes next."""
        index = part.step + 1 if part.phase is PartPhase.DWELLING else part.step
        return index if index < len(self.recipe_of(part).step) else None

    def inside(self, station: str) -> list[Part]:
        """The run's own parts in a station, by number."""
        return [p for p in self.parts.values() if p.station == station]

    def has_begun(self) -> bool:
        """Whether its baths may be open, because it has started, mixed or heated something."""
        hot = any(place.turned_ms for place in self.places.values())
        return self.phase is not RunPhase.IDLE or hot or bool(self.prepared)

    def occupants(self, station: str, but: Part | None = None) -> list[str]:
        """Everything in a station, in words: the run's own parts, and those of other runs.

        Args:
            station: id of the place.
            but: a part to leave out.
        """
        own = [p.called for p in self.inside(station) if but is None or p.name != but.name]
        return own + [str(guest) for guest in self.places[station].guests]

    def open_checks(self, part: Part) -> list[Check]:
        """Checks of the work in hand that must be answered before it can end."""
        checks = self.step_of(part).check
        given = part.answers
        return [c for c in checks if c.id not in given or given[c.id].above_ceiling]

    def session_began_ms(self, now_ms: int) -> int:
        """When the session at ``now_ms`` began: now, if the last press was too long ago."""
        return now_ms if now_ms - self.active_ms >= SESSION_GAP_MS else self.session_ms

    def is_acknowledged(self, title: str, now_ms: int) -> bool:
        """Whether a hazard was acknowledged in this session."""
        return self.acknowledged.get(title, -1) >= self.session_began_ms(now_ms)

    def try_number(self, part: Part) -> int:
        """Which pass through its step the part is in or is about to begin, from 1."""
        done = part.passes.get(self.step_of(part).id, 0)
        return done + 1 if part.phase is PartPhase.WAITING else max(done, 1)


@dataclass(frozen=True, slots=True)
class Press:
    """One press that can be undone.

    Attributes:
        number: its number.
        before: the bench that undo restores.
        events: its events.
        base: the bench its events were applied to. It equals ``before``, except for a backdated
            press: that one replaces an earlier press, which undo restores.
        made_ms: when the key was pressed, even if its events have another time since.
    """

    number: int
    before: Bench
    events: tuple[Event, ...]
    base: Bench
    made_ms: int = 0


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A press that was undone, with the bench as it was with the press."""

    press: Press
    after: Bench
    made_ms: int = 0


@dataclass(frozen=True, slots=True)
class RunState:
    """A run: the bench, the presses that can be undone, and the ones that were.

    Attributes:
        presses: how many presses have been made.
        last_ms: latest bench time in the log; time never goes back before it.
        past: presses that count, oldest first; at most ``UNDO_DEPTH``.
        future: undone presses, the next one to redo last.
    """

    bench: Bench = field(default_factory=Bench)
    presses: int = 0
    last_ms: int = 0
    past: tuple[Press, ...] = ()
    future: tuple[TakenBack, ...] = ()


UNDO_DEPTH = 100
"""How many presses can be undone."""


@dataclass(frozen=True, slots=True)
class DwellWindow:
    """When a part may leave its station.

    Attributes:
        since_ms: bench time at which the dwell began, less what it had before a pull by mistake.
        min_s: seconds after which it may leave; ``target_s`` when it should, ``max_s`` when it
            must; None: no limit.
    """

    since_ms: int
    min_s: int
    target_s: int
    max_s: int | None

    @property
    def min_ms(self) -> int:
        """Bench time before which it is too early."""
        return self.since_ms + self.min_s * 1000

    @property
    def target_ms(self) -> int:
        """Bench time at which the part should leave."""
        return self.since_ms + self.target_s * 1000

    @property
    def max_ms(self) -> int | None:
        """Bench time after which it is too late, if there is one."""
        return self.since_ms + self.max_s * 1000 if self.max_s is not None else None


def window_of(bench: Bench, part: Part) -> DwellWindow | None:
    """The window of a part's present dwell; None if it is in none."""
    dwell = bench.step_of(part).dwell
    if part.phase is not PartPhase.DWELLING or dwell is None:
        return None
    target_s = part.target_s if part.target_s is not None else dwell.target_s
    return DwellWindow(part.since_ms, dwell.min_s, target_s, dwell.max_s)
