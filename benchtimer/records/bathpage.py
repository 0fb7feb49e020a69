"""A bath's page in the book: its state as plain values, and its history entry by entry."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from benchtimer.bath import bath_events as b
from benchtimer.bath.bath_state import Bath, fold
from benchtimer.bath.bath_wear import NO_LIMITS, WearLimits, complaints, percent, wear_of
from benchtimer.records.record import local_time
from benchtimer.store.log import LogEntry
from benchtimer.times import duration, rough_duration

FORMAT = 1
"""Version of the page's table form."""


def bath_table(
    bath: Bath,
    entries: Sequence[LogEntry],
    now_ms: int,
    *,
    limits: WearLimits = NO_LIMITS,
    busy: str | None = None,
) -> dict[str, object]:
    """The state of a bath as plain values; what is unknown is left out.

    Args:
        bath: the bath, with what open runs have done so far.
        entries: its own log.
        now_ms: bench time.
        limits: the shop's own limits for its mix.
        busy: the open run that uses it, if one does.
    """
    worn = wear_of(bath, limits)
    table = {
        "format": FORMAT,
        "name": bath.name,
        "open": bath.is_open,
        "of": bath.of,
        "mix": bath.mix,
        "recipe": bath.recipe,
        "mixed": wall_time(entries, bath.mixed_ms),
        "age_s": round(bath.age_s(now_ms)),
        "volume": _text(bath.volume),
        "fecl3_when_fresh": _text(bath.fecl3),
        "window": None if bath.window is None else [str(limit) for limit in bath.window],
        "in_run": busy,
        "runs": list(bath.used),
        "parts": bath.parts,
        "immersions": bath.immersions,
        "dwell_s": round(bath.dwell_s),
        "metal_removed_g": bath.removed_g,
        "bite": bath.bite,
        "used_up": worn.exhaustion,
        "share_of_limit": worn.share,
        "wear": worn.words,
        "readings": _readings(bath, entries),
        "retired": None if bath.retired_ms is None else wall_time(entries, bath.retired_ms),
        "disposed": bath.how or None,
        "warnings": complaints(bath, limits, now_ms) if bath.is_open else [],
    }
    return {key: value for key, value in table.items() if value is not None}


def _readings(bath: Bath, entries: Sequence[LogEntry]) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for reading in bath.readings:
        rows.append({"at": wall_time(entries, reading.t_ms), "reading": str(reading.quantity)})
        if reading.run is not None:
            rows[-1]["run"] = reading.run
    return rows


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def wall_time(entries: Sequence[LogEntry], t_ms: int) -> str:
    """Local time of a moment in bench time, from the stamp written nearest to it."""
    stamp = min((x.stamp for x in entries), key=lambda s: abs(s.noted_ms - t_ms))
    return local_time(stamp.wall_ms - (stamp.noted_ms - t_ms), stamp.offset_s)


def bath_account(name: str, entries: Sequence[LogEntry]) -> list[dict[str, object]]:
    """Every entry of a bath's log in words, and whether it still counts."""
    counts = fold(name, (entry.event for entry in entries)).counts
    return [
        {
            "seq": entry.seq,
            "at": wall_time([entry], entry.event.t_ms),
            "by": entry.event.by,
            "counts": isinstance(entry.event, b.BathEntryTakenBack)
            or any(entry.event is event for event in counts),
            "text": bath_sentence(entry.event),
        }
        for entry in entries
        if isinstance(entry.event, b.BathEvent)
    ]


def bath_sentence(event: b.BathEvent) -> str:
    """One event of a bath in words."""
    return _SAY[type(event)](event)


def _mixed(event: b.BathMixed) -> str:
    volume = f"{event.volume} of " if event.volume is not None else ""
    recipe = f", recipe {event.recipe}" if event.recipe is not None else ""
    mix = f" (mix {event.mix}{recipe})" if event.mix is not None else ""
    strength = f", ferric chloride of {event.fecl3} when fresh" if event.fecl3 is not None else ""
    return f"mixed: {volume}{event.of}{mix}{strength}"


def _topped_up(event: b.BathToppedUp) -> str:
    volume = f"; {event.volume} in the vessel now" if event.volume is not None else ""
    return f"topped up: {event.what}{volume}"


def _coupon(event: b.BathCoupon) -> str:
    return f"coupon: {event.loss} off a strip of steel in {duration(event.dwell_s)}"


def _used(event: b.BathUsed) -> str:
    parts = ", ".join(event.parts) or "no parts"
    dwell = duration(round(event.dwell_ms / 1000))
    readings = ", ".join(text for _, text in event.readings)
    read = f"; read {readings}" if readings else ""
    times = "" if event.immersions == len(event.parts) else f" in {event.immersions} immersions"
    return f"run {event.run}: {parts}{times}, {dwell} of dwell{read}"


_SAY: Mapping[type[b.BathEvent], Callable[[Any], str]] = {
    b.BathMixed: _mixed,
    b.BathToppedUp: _topped_up,
    b.BathReading: lambda event: f"read {event.reading}",
    b.BathWorn: lambda event: f"{event.removed} of metal dissolved, by weighing the parts",
    b.BathCoupon: _coupon,
    b.BathUsed: _used,
    b.BathRetired: lambda event: f"retired: {event.how}",
    b.BathEntryTakenBack: lambda event: f"taken back: entry {event.undone} made by hand",
}


def bath_line(table: Mapping[str, Any]) -> str:
    """A bath on one line of the list."""
    state = "" if table["open"] else "  RETIRED"
    busy = f"  in run {table['in_run']}" if "in_run" in table else ""
    volume = f", {table['volume']}" if "volume" in table else ""
    age = rough_duration(table["age_s"])
    bite = table.get("bite")
    coupon = "" if bite is None else f"; coupon: bites {percent(bite)} as fast as fresh"
    return (
        f"{table['name']:<14} {table['of']}{volume}, {age} old{state}{busy}\n"
        f"{'':<14} {table['wear']}{coupon}"
    )
