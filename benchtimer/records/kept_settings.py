"""From a run that worked to the next revision of its recipe: which settings are kept.

The revision keeps the adjustments from the run's setup, and the actual values of the try that came
out well: the time in each station and the temperature of each bath, if they were inside their
limits and clearly off target. Limits never change automatically, nor does a target change because a
dwell was cut short. The answers (how the part was cleaned, what the etchant read) go into the
lineage, for the next run.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from statistics import median

from benchtimer.quantity import Quantity, did_you_mean, parse, show_number
from benchtimer.recipe.answers import said
from benchtimer.recipe.raw_tables import Table
from benchtimer.recipe.writer import recipe_table
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.records.tries import WELL, Try, tries_of
from benchtimer.run.commands import ACCEPTED
from benchtimer.times import duration, rounded_s
from benchtimer.values import dataclass

CLEARLY = 0.1
"""An actual setting is kept if it is off target by more than this share of its limits' width."""


class NothingToKeep(Exception):
    """The run has nothing to make a revision from.

    Attributes:
        reason: why not, and what to do.
    """

    def __init__(self, run: str, reason: str) -> None:
        self.reason = reason
        super().__init__(f"nothing to keep from run {run}: {reason}")


@dataclass(frozen=True, slots=True)
class SettingChange:
    """One setting whose actual value differed from the recipe as run.

    Attributes:
        name: its short name, as ``--set`` takes it, for example ``hang.target``.
        old: the recipe's value and ``new`` the actual one.
        is_shorter: a dwell that ended before its target.
    """

    name: str
    old: str
    new: str
    is_shorter: bool = False

    def __str__(self) -> str:
        return f"{self.name}: {self.old} -> {self.new} (as it actually was)"


@dataclass(frozen=True, slots=True)
class Revision:
    """A recipe to keep.

    Attributes:
        recipe: its id.
        ran: the revision that was run.
        table: the recipe with the settings that worked, without its new number.
        lineage: where it comes from.
        left: dwells that were shorter than their target, which did not change.
    """

    recipe: str
    ran: int
    table: Table
    lineage: Table
    left: tuple[SettingChange, ...] = ()


def revision_from(
    record: Record,
    part: str | None = None,
    leave: Collection[str] = (),
    take: Collection[str] = (),
) -> Revision:
    """The revision that a run gives.

    A dwell that was shorter than its target moves no target by itself: the plan may have cut it
    short for a tight pull or for closing time.

    Args:
        record: the run's record.
        part: the part whose settings to keep; None for the best one.
        leave: short names of real settings that are not kept.
        take: short names of dwells that are kept though they were shorter.

    Raises:
        NothingToKeep: no part came out well, or there is no such part.
    """
    one = _worked(record, _chosen(record, part))
    key = one.part.recipe
    table = recipe_table(record.recipes[key])
    table.pop("lineage", None)
    real = [change for change in real_changes(one) if change.name not in leave]
    changes = [change for change in real if not change.is_shorter or change.name in take]
    for change in changes:
        _set(table, change)
    ran = int(table.get("revision", 1))
    lineage = {
        "run": record.run,
        "uid": record.uid,
        "made_from": f"{table['id']}, revision {ran}",
        "part": one.part.name,
        "try": one.number,
        "verdict": one.part.verdict,
        "rating": one.part.rating,
        "changed": [
            *(f"{text} (set for the run)" for text in _adjustments(record, key)),
            *(str(change) for change in changes),
        ],
        "worked": list(_worked_with(one)),
    }
    left = tuple(change for change in real if change not in changes)
    origin = {k: v for k, v in lineage.items() if v not in (None, [])}
    return Revision(table["id"], ran, table, origin, left)


def _chosen(record: Record, name: str | None) -> PartRecord:
    if name is not None:
        part = record.part(name)
        if part is None:
            known = [p.name for p in record.parts]
            hint = did_you_mean(name, known, f"its parts: {', '.join(known)}")
            raise NothingToKeep(record.run, f'it has no part "{name}"; {hint}')
        return part
    # Judged parts first, then by rating, then by number.
    return min(
        record.parts,
        key=lambda p: (
            p.outcome == "scrapped",
            p.verdict != ACCEPTED,
            -(p.rating or 0),
            p.outcome != "done",
        ),
    )


def _worked(record: Record, part: PartRecord) -> Try:
    last = tries_of(record, part)[-1]
    if last.outcome != WELL:
        way = f"benchtimer judge {record.run} PART --verdict {ACCEPTED}, if it did"
        if part.outcome == "scrapped":
            way = "--part NAME names another part"
        raise NothingToKeep(record.run, f"{part.name} did not come out well ({last.words}); {way}")
    return last


def _adjustments(record: Record, key: str) -> Iterator[str]:
    for text in record.adjustments:
        if text.startswith(f"{key}: "):
            yield text.removeprefix(f"{key}: ")


def real_changes(one: Try) -> Iterator[SettingChange]:
    """Actual values that differed from the recipe as run, inside its limits."""
    yield from _dwells(one)
    yield from _temperatures(one)


def _dwells(one: Try) -> Iterator[SettingChange]:
    last: dict[str, Visit] = {v.step: v for v in one.part.visits if v.dwell_s is not None}
    for step in one.recipe.step:
        visit = last.get(step.id)
        dwell = step.dwell
        if visit is None or visit.dwell_s is None or dwell is None or dwell.target_s == 0:
            continue
        real_s = rounded_s(visit.dwell_s)
        most = dwell.max_s
        width = (most - dwell.min_s) if most is not None else dwell.target_s
        # the value in the recipe, and the actual one
        shorter, longer = sorted((real_s, visit.dwell_s))
        inside = dwell.min_s <= shorter and (most is None or longer <= most)
        if inside and abs(real_s - dwell.target_s) > CLEARLY * width:
            before, after = duration(dwell.target_s), duration(real_s)
            yield SettingChange(f"{step.id}.target", before, after, real_s < dwell.target_s)


def _temperatures(one: Try) -> Iterator[SettingChange]:
    for station in one.recipe.station:
        window, place = station.temperature, one.at[station.id]
        taken = [
            parse(r.reading).base
            for r in one.record.readings
            if r.station == place and one.began_s <= r.elapsed_s <= one.until_s
        ]
        if window is None or window.target is None or not taken:
            continue
        real, width = median(taken), window.max.base - window.min.base
        inside = window.min.base <= real <= window.max.base
        if inside and abs(real - window.target.base) > CLEARLY * width:
            reading = Quantity(real, "C").to(window.target.unit)
            new = f"{show_number(reading.value, 0)} {reading.unit}"
            yield SettingChange(f"{station.id}.target", str(window.target), new)


def _set(table: Table, change: SettingChange) -> None:
    entry, _, field = change.name.partition(".")
    for kind, inner in (("step", "dwell"), ("station", "temperature")):
        for item in table.get(kind, ()):
            if item["id"] == entry and str(item.get(inner, {}).get(field)) == change.old:
                item[inner][field] = change.new
                return
    for step in table["step"]:  # the same time, written another way
        if step["id"] == entry and "dwell" in step:
            step["dwell"][field] = change.new


def _worked_with(one: Try) -> Iterator[str]:
    """The last answers of the try, in the order of the work."""
    for index, check, answer in one.last_answers():
        if not isinstance(answer, bool):
            yield f"{one.recipe.step[index].id}: {check.ask} {said(answer)}"
