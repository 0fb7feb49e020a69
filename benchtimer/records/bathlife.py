"""A bath over time: readings, coupons, additions, parts through it, and how they came out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from benchtimer.bath.bath_state import Bath
from benchtimer.records.bathpage import wall_time
from benchtimer.store.log import LogEntry
from benchtimer.times import rough_duration
from benchtimer.values import dataclass

CameOut = Callable[[str, str], bool | None]
"""Whether a part of a run came out well, by run and part name; None if unknown."""

BAR = 20


@dataclass(frozen=True, slots=True)
class BathLifeEntry:
    """One thing that happened to a bath.

    Attributes:
        at: local time, ``age_s`` the bath's age then.
        what: what it was, in words.
        parts: how many parts had been through the bath by then.
        good: parts of this run that came out well, and ``bad`` that failed.
        bite: from a coupon, how fast it etches compared with the first one.
    """

    at: str
    age_s: float
    what: str
    parts: int
    good: int = 0
    bad: int = 0
    bite: float | None = None


def bath_life(bath: Bath, entries: Sequence[LogEntry], came_out: CameOut) -> list[BathLifeEntry]:
    """What happened to a bath, in order of time.

    Args:
        bath: the bath, with what open runs have done so far.
        entries: its own log.
        came_out: how a part of a run came out.
    """
    happenings: list[tuple[int, str, tuple[str, ...], str, float | None]] = []
    happenings += [(t_ms, f"added: {what}", (), "", None) for t_ms, what in bath.top_ups]
    happenings += [(r.t_ms, f"read {r.quantity}", (), "", None) for r in bath.by_hand]
    first: dict[str, float] = {}
    for coupon in bath.coupons:
        fresh = first.setdefault(coupon.loss.kind.name, coupon.per_min)
        words = f"coupon {coupon.loss} in {rough_duration(coupon.dwell_s)}"
        happenings.append((coupon.t_ms, words, (), "", coupon.per_min / fresh))
    ends = _ends(entries)
    for run, use in bath.used.items():
        read = ", ".join(str(reading.quantity) for reading in use.readings)
        words = f"run {run}" + (f", read {read}" if read else "")
        last_ms = max((reading.t_ms for reading in use.readings), default=bath.mixed_ms)
        happenings.append((ends.get(run, last_ms), words, use.parts, run, None))
    return list(_moments(bath, entries, sorted(happenings, key=lambda row: row[0]), came_out))


def _ends(entries: Sequence[LogEntry]) -> dict[str, int]:
    """Bench time at which each run was entered."""
    runs = ((getattr(entry.event, "run", None), entry.event.t_ms) for entry in entries)
    return {run: t_ms for run, t_ms in runs if run is not None}


def _moments(
    bath: Bath,
    entries: Sequence[LogEntry],
    happenings: Sequence[tuple[int, str, tuple[str, ...], str, float | None]],
    came_out: CameOut,
) -> Iterator[BathLifeEntry]:
    parts = 0
    for t_ms, what, names, run, bite in happenings:
        parts += len(names)
        outcomes = [came_out(run, name) for name in names]
        yield BathLifeEntry(
            wall_time(entries, t_ms), max(0, t_ms - bath.mixed_ms) / 1000, what, parts,
            outcomes.count(True), outcomes.count(False), bite,
        )  # fmt: skip


def last_good(life: Sequence[BathLifeEntry]) -> str:
    """When parts last came out well, and how many failed since; empty if none ever did."""
    good = [n for n, moment in enumerate(life) if moment.good]
    if not good:
        return ""
    moment = life[good[-1]]
    failed = sum(each.bad for each in life[good[-1] + 1 :]) + moment.bad
    since = f"; {failed} failed in it since" if failed else ""
    return f"last good: {moment.what}, {moment.at[:10]}, {moment.parts} parts through it{since}"


def life_lines(life: Sequence[BathLifeEntry]) -> list[str]:
    """A bath over time as a table with a picture: bars for etching speed, or for parts
    through it.
    """
    most = max((moment.parts for moment in life), default=0) or 1
    lines = ["over time: age, parts through it, and how they came out (+ well, - failed)"]
    for moment in life:
        bite = moment.bite
        full = round(BAR * (bite if bite is not None else moment.parts / most))
        mark = "=" if bite is not None else "#"
        bar = (mark * min(full, BAR)).ljust(BAR)
        outcome = "+" * moment.good + "-" * moment.bad
        share = "" if bite is None else f", {bite:.0%} of the first"
        lines.append(
            f"  {moment.at[:10]} {rough_duration(moment.age_s):>11} {moment.parts:>4}  {bar} "
            f"{moment.what}{share} {outcome}".rstrip()
        )
    found = last_good(life)
    return [*lines, *([f"  {found}"] if found else [])]


def life_table(life: Sequence[BathLifeEntry]) -> list[dict[str, object]]:
    """A bath over time for programs."""
    return [
        {
            "at": moment.at, "age_s": moment.age_s, "what": moment.what, "parts": moment.parts,
            "good": moment.good, "failed": moment.bad, "bite": moment.bite,
        }
        for moment in life
    ]  # fmt: skip
