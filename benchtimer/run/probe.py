"""A probe's readings: checked like yours, and recorded now and then.

A probe sends a reading every few seconds for hours. The log keeps what matters: a new verdict, a
clear change, and one reading a minute. A reading is not a press, so undo skips it.
"""

from __future__ import annotations

from benchtimer.quantity import Quantity
from benchtimer.run import events as e
from benchtimer.run.refusals import judge_reading
from benchtimer.run.run_state import OVER, Bench, Place, StationReading

KEEP_MS = 60_000
"""A reading is recorded at least this often, even if nothing changes."""

MOVE_SHARE = 0.25
"""... or when it has changed by this share of the range from min to max ..."""

SOONEST_MS = 10_000
"""... but for a change no sooner than this."""


def read_by_probe(
    bench: Bench, station: str, text: str, *, probe: str, now_ms: int
) -> list[e.Event]:
    """The entry for a probe's reading; nothing if it is not new.

    Args:
        bench: the run's bench.
        station: the place.
        text: the reading, such as ``290.4 F``.
        probe: its name.
        now_ms: bench time.

    Raises:
        BadValue: the text is not a temperature.
    """
    place = bench.places[station]
    reading, verdict, limit = judge_reading(place.station, text)
    last = place.reading
    if bench.phase in OVER or not _is_news(place, last, reading, verdict, now_ms):
        return []
    by = f"probe {probe}"
    found: list[e.Event] = [
        e.ProbeRead(
            press=0, t_ms=now_ms, by=by, station=station, reading=str(reading), verdict=verdict,
            probe=probe,
        )
    ]  # fmt: skip
    if verdict != "in" and (last is None or last.verdict != verdict):
        found.append(
            e.Deviated(
                press=0, t_ms=now_ms, by=by, part=None, step=None, station=station,
                what="reading", limit=limit, found=str(reading),
            )
        )  # fmt: skip
    return found


def _is_news(
    place: Place, last: StationReading | None, reading: Quantity, verdict: str, now_ms: int
) -> bool:
    if last is None or verdict != last.verdict or now_ms - last.t_ms >= KEEP_MS:
        return True
    window = place.station.temperature
    if window is None or now_ms - last.t_ms < SOONEST_MS:
        return False
    room = window.max.base - window.min.base
    return room > 0 and bool(abs(reading.base - last.quantity.base) >= MOVE_SHARE * room)


def places_called(bench: Bench, name: str) -> list[str]:
    """The places of a run that a name means: id, short name, title, or the bath in it."""
    wanted = name.strip().casefold()
    return [
        place
        for place, here in bench.places.items()
        if here.station.temperature is not None
        and wanted
        in {
            text.casefold()
            for text in (place, here.station.short_name, here.station.title, bench.baths.get(place))
            if text
        }
    ]
