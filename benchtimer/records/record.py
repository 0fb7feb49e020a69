"""The record of a run: what was planned, what happened, what was read, said and corrected.

A record is made from the log alone. Times of day are local times with their offset;
``elapsed_s`` counts from the moment the run was set up, on the bench's own clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TypeVar

from benchtimer.recipe.checks import Check
from benchtimer.recipe.model import Recipe, Step
from benchtimer.records.alarms import AnsweredAlarm, answered
from benchtimer.records.recorded import (
    Recorded,
    RecordedAlarm,
    RecordedAnswer,
    RecordedBath,
    RecordedCorrection,
    RecordedDeviation,
    RecordedHazard,
    RecordedJudgement,
    RecordedNote,
    RecordedReading,
    RecordedScrap,
    RecordedSend,
)
from benchtimer.records.sentences import Words, sentence
from benchtimer.run import events as e
from benchtimer.run.evolve import fold
from benchtimer.run.run_state import Bench, Part
from benchtimer.store.entries import created_of, local_time
from benchtimer.store.log import LogEntry
from benchtimer.store.standing import standing
from benchtimer.values import dataclass, field, fields

__all__ = ["AccountLine", "PartRecord", "Record", "Visit", "local_time", "make_record", "words_of"]

_R = TypeVar("_R", bound=Recorded)

FORMAT = 2
"""Version of the record's table form. 2 added judgements, alarms, baths and planned begins."""


@dataclass(slots=True)
class Visit:
    """One pass of a part through one step.

    Attributes:
        with_next: its work led into the next without a press; the next one has the time of both.
        due_s: when its work should have begun by the recipe, which is when its dwell reached the
            target; None if the part came out of no station.
        verdict: ``within``, ``early`` or ``overrun``, once the dwell has ended.
    """

    step: str
    title: str
    repeat: int
    planned_hands_s: int
    due_s: float | None = None
    began_s: float | None = None
    held_s: float = 0
    hands_s: float | None = None
    station: str | None = None
    in_s: float | None = None
    out_s: float | None = None
    min_s: int | None = None
    target_s: int | None = None
    max_s: int | None = None
    verdict: str | None = None
    with_next: bool = False

    @property
    def dwell_s(self) -> float | None:
        """Time in the station, if it has ended."""
        if self.in_s is None or self.out_s is None:
            return None
        return round(self.out_s - self.in_s, 3)


@dataclass(slots=True)
class PartRecord:
    """How one part came out; ``verdict`` and ``rating`` are the latest ones.

    A part that was half done has the id of the step it entered at, and what was done before. A
    batch has the count of its pieces at first and the count left.
    """

    name: str
    number: int
    recipe: str
    outcome: str
    verdict: str | None = None
    rating: int | None = None
    sent_back: int = 0
    hands_s: float = 0
    properties: dict[str, str] = field(default_factory=dict)
    entered_at: str | None = None
    before: str | None = None
    count: int | None = None
    count_left: int | None = None
    visits: list[Visit] = field(default_factory=list)

    @property
    def label(self) -> str:
        """Number and name: ``#2 ferrule``."""
        return f"#{self.number} {self.name}"


@dataclass(frozen=True, slots=True)
class AccountLine:
    """One entry of the record."""

    seq: int
    at: str
    noted_at: str
    elapsed_s: float
    by: str
    press: int
    counts: bool
    text: str


@dataclass(slots=True)
class Record:
    """The whole record of a run."""

    run: str
    uid: str
    title: str
    phase: str
    speed: float
    hands: int
    created: str
    ended: str | None
    adjustments: tuple[str, ...]
    recipes: dict[str, Recipe]
    parts: list[PartRecord]
    readings: list[RecordedReading]
    answers: list[RecordedAnswer]
    hazards: list[RecordedHazard]
    deviations: list[RecordedDeviation]
    corrections: list[RecordedCorrection]
    notes: list[RecordedNote]
    lines: list[AccountLine]
    baths: list[RecordedBath] = field(default_factory=list)
    sent_back: list[RecordedSend] = field(default_factory=list)
    places: dict[str, str] = field(default_factory=dict)
    judgements: list[RecordedJudgement] = field(default_factory=list)
    some_scrapped: list[RecordedScrap] = field(default_factory=list)
    alarms: list[RecordedAlarm] = field(default_factory=list)
    hands_s: float = 0
    jobs: dict[str, str] = field(default_factory=dict)

    @property
    def practice(self) -> bool:
        """Whether it was practice."""
        return self.speed != 1

    def part(self, name: str) -> PartRecord | None:
        """The part with this name, if the run has it."""
        return next((part for part in self.parts if part.name == name), None)

    def check(self, part: str, step: str, check: str) -> Check | None:
        """A check of the recipe that a part followed; None if the recipe has no such check.

        Args:
            part: the part's name.
            step: the step's id.
            check: the check's id.
        """
        followed = self.part(part)
        recipe = self.recipes.get(followed.recipe) if followed is not None else None
        steps = recipe.step if recipe is not None else ()
        found = (k for s in steps if s.id == step for k in s.check if k.id == check)
        return next(found, None)


def make_record(entries: Sequence[LogEntry], baths: Sequence[RecordedBath] | None = None) -> Record:
    """The record of a run.

    Args:
        entries: the run's whole log, beginning with its setup.
        baths: its baths as they were at the start (``records.record_lookup``); None if only the
            run's own log is available, which has their names.
    """
    first = created_of(entries)
    bench = fold(entry.event for entry in entries).bench
    counted = standing(entries)
    live = [entry for entry in entries if entry.seq in counted]
    at = _Times(entries[0])
    over = [x for x in live if isinstance(x.event, e.Completed | e.Aborted)]
    places = dict(first.places)
    for entry in live:
        if isinstance(entry.event, e.PartAdded) and entry.event.recipe is not None:
            places |= entry.event.places
    parts = [_part_record(part, bench, live, at) for part in bench.parts.values()]
    return Record(
        run=entries[0].run,
        uid=first.uid,
        title=first.title,
        phase=bench.phase.value,
        speed=first.speed,
        hands=first.hands,
        created=at.day(entries[0]),
        ended=at.day(over[-1]) if over else None,
        adjustments=first.adjustments,
        recipes=dict(bench.sources),
        places=places,
        parts=parts,
        readings=_recorded(live, e.ReadingTaken, RecordedReading, at),
        answers=_recorded(live, e.Answered, RecordedAnswer, at),
        hazards=_recorded(live, e.Acknowledged, RecordedHazard, at),
        deviations=_recorded(live, e.Deviated, RecordedDeviation, at),
        corrections=_corrections(entries, bench, at),
        notes=_recorded(live, e.Noted, RecordedNote, at),
        lines=_lines(entries, counted, bench, at),
        baths=list(baths) if baths is not None else _bath_names(first),
        sent_back=_recorded(live, e.Sent, RecordedSend, at),
        judgements=_recorded(live, e.Judged, RecordedJudgement, at),
        some_scrapped=_recorded(live, e.SomeScrapped, RecordedScrap, at),
        alarms=[_alarm(alarm, at) for alarm in answered(live)],
        hands_s=round(sum(part.hands_s for part in parts), 3),
        jobs=dict(first.jobs),
    )


def _bath_names(first: e.Created) -> list[RecordedBath]:
    return [RecordedBath(station=station, bath=name) for station, name in first.baths.items()]


def _alarm(alarm: AnsweredAlarm, at: _Times) -> RecordedAlarm:
    return RecordedAlarm(
        at=at.day(alarm.entry, alarm.rang_ms),
        elapsed_s=at.since_zero_s(alarm.rang_ms),
        what=alarm.what,
        who=alarm.who,
        answered_s=round((alarm.entry.event.t_ms - alarm.rang_ms) / 1000, 3),
    )


class _Times:
    """Times of a run's entries: since setup, and by the wall clock."""

    def __init__(self, first: LogEntry) -> None:
        self._zero_ms = first.event.t_ms

    def elapsed_s(self, entry: LogEntry) -> float:
        return (entry.event.t_ms - self._zero_ms) / 1000

    def since_zero_s(self, t_ms: int) -> float:
        return (t_ms - self._zero_ms) / 1000

    @staticmethod
    def day(entry: LogEntry, t_ms: int | None = None) -> str:
        """When it happened, by the wall clock at the time of writing."""
        back_ms = entry.stamp.noted_ms - (entry.event.t_ms if t_ms is None else t_ms)
        return local_time(entry.stamp.wall_ms - back_ms, entry.stamp.offset_s)

    @classmethod
    def ahead(cls, entry: LogEntry, t_ms: int) -> str:
        """A planned time, to the nearest second: the two clocks drift apart by a moment."""
        return cls.day(entry, t_ms + 500)


def words_of(bench: Bench, clock: Callable[[int], str] | None = None) -> Words:
    """The words of a run's recipes.

    Args:
        bench: the run's bench.
        clock: writes a bench time as a time of day.
    """
    return Words(bench.recipes, {part.name: part.recipe for part in bench.parts.values()}, clock)


def _lines(
    entries: Sequence[LogEntry], counted: set[int], bench: Bench, at: _Times
) -> list[AccountLine]:
    words = words_of(bench, partial(at.ahead, entries[-1]))
    return [
        AccountLine(
            seq=entry.seq,
            at=at.day(entry),
            noted_at=local_time(entry.stamp.wall_ms, entry.stamp.offset_s),
            elapsed_s=at.elapsed_s(entry),
            by=entry.event.by,
            press=entry.event.press,
            counts=entry.seq in counted,
            text=sentence(entry.event, words),
        )
        for entry in entries
    ]


def _recorded(entries: list[LogEntry], kind: type[e.Event], form: type[_R], at: _Times) -> list[_R]:
    """The events of one kind, each with the fields that the record keeps."""
    kept = [field.name for field in fields(form) if field.name not in ("at", "elapsed_s")]
    return [
        form(
            at=at.day(x),
            elapsed_s=at.elapsed_s(x),
            **{name: getattr(x.event, name) for name in kept},
        )
        for x in entries
        if isinstance(x.event, kind)
    ]


def _corrections(entries: Sequence[LogEntry], bench: Bench, at: _Times) -> list[RecordedCorrection]:
    """Each correction with the original entry and, if it was backdated, what replaced it."""
    words = words_of(bench, partial(at.ahead, entries[-1]))
    said: dict[int, list[str]] = {}
    for entry in entries:
        if not isinstance(entry.event, e.CORRECTIONS):
            said.setdefault(entry.event.press, []).append(sentence(entry.event, words))
    return [
        RecordedCorrection(
            at=at.day(entry),
            elapsed_s=at.elapsed_s(entry),
            by=event.by,
            what=sentence(event, words),
            first_said=tuple(said.get(_corrected(event), ())),
            now=tuple(said.get(event.press, ()) if isinstance(event, e.Retimed) else ()),
        )
        for entry in entries
        if isinstance(event := entry.event, e.CORRECTIONS)
    ]


def _corrected(event: e.Event) -> int:
    if isinstance(event, e.Undone):
        return event.undone
    return event.redone if isinstance(event, e.Redone) else getattr(event, "retimed", 0)


def _part_record(part: Part, bench: Bench, entries: list[LogEntry], at: _Times) -> PartRecord:
    record = PartRecord(part.name, part.number, part.recipe, _outcome(part))
    record.properties = {name: str(value) for name, value in part.properties.items()}
    recipe = bench.recipe_of(part)
    if part.entered:
        record.entered_at, record.before = recipe.step[part.entered].id, part.before
    if part.count_begun > 1:
        record.count, record.count_left = part.count_begun, part.count
    for entry in _of_part(part, entries):
        _follow(record, recipe, entry, at)
    record.hands_s = round(sum(v.hands_s or 0 for v in record.visits), 3)
    return record


def _of_part(part: Part, entries: list[LogEntry]) -> Iterator[LogEntry]:
    """What happened to a part; for nested holds, its own or the run's, the outermost one."""
    holds = 0
    for entry in entries:
        event = entry.event
        if isinstance(event, e.Held | e.Resumed) and event.part in (None, part.name):
            begins = isinstance(event, e.Held)
            holds += 1 if begins else -1
            if holds == (1 if begins else 0):
                yield entry
        elif getattr(event, "part", None) == part.name:
            yield entry


def _outcome(part: Part) -> str:
    return f"held: {part.held}" if part.held and not part.is_out else part.phase.value


def _follow(record: PartRecord, recipe: Recipe, entry: LogEntry, at: _Times) -> None:
    event, now_s = entry.event, at.elapsed_s(entry)
    visit = record.visits[-1] if record.visits else None
    if isinstance(event, e.WorkBegan):
        step = recipe.step[recipe.step_index(event.step)]
        record.visits.append(_new_visit(record, step, now_s))
    elif isinstance(event, e.Judged):
        record.verdict, record.rating = event.verdict, event.rating
    elif isinstance(event, e.Sent | e.Skipped):
        record.sent_back += isinstance(event, e.Sent)
        if visit is not None and visit.hands_s is None:
            _end_work(visit, now_s)
    elif visit is None:
        return
    elif isinstance(event, e.WorkFinished) and event.with_next:
        visit.with_next = True
    elif isinstance(event, e.WorkFinished):
        _end_work(visit, now_s)
    elif isinstance(event, e.Held | e.Resumed) and visit.hands_s is None:
        # Time on hold is not hands-on time: leave out the span between the two.
        visit.held_s += now_s if isinstance(event, e.Resumed) else -now_s
    elif isinstance(event, e.PutIn):
        if visit.in_s is not None:  # put back: its earlier time still counts
            now_s -= visit.dwell_s or 0
        visit.station, visit.in_s, visit.out_s, visit.verdict = event.station, now_s, None, None
    elif isinstance(event, e.TargetMoved):
        visit.target_s = event.target_s
    elif isinstance(event, e.TakenOut):
        visit.out_s = now_s
        visit.verdict = "within"
    elif isinstance(event, e.Deviated) and event.what in ("early", "overrun"):
        visit.verdict = event.what


def _new_visit(record: PartRecord, step: Step, now_s: float) -> Visit:
    repeat = sum(v.step == step.id for v in record.visits)
    visit = Visit(step.id, step.title, repeat, step.hands_s, _due_s(record), now_s)
    before = record.visits[-1] if record.visits else None
    if before is not None and before.with_next:
        visit.began_s, visit.held_s = before.began_s, before.held_s
        visit.planned_hands_s += before.planned_hands_s
    if step.dwell is not None:
        dwell = step.dwell
        visit.min_s, visit.target_s, visit.max_s = dwell.min_s, dwell.target_s, dwell.max_s
    return visit


def _due_s(record: PartRecord) -> float | None:
    before = record.visits[-1] if record.visits else None
    if before is not None and before.with_next:
        return before.due_s
    if before is None or before.in_s is None or before.target_s is None:
        return None
    return round(before.in_s + before.target_s, 3)


def _end_work(visit: Visit, now_s: float) -> None:
    if visit.held_s < 0:  # held to the end
        visit.held_s += now_s
    if visit.began_s is not None:
        visit.hands_s = round(now_s - visit.began_s - max(0.0, visit.held_s), 3)
