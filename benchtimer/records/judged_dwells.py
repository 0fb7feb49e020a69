"""Dwells of a record against their windows, baths against their limits, and what went wrong."""

from __future__ import annotations

from benchtimer.quantity import QuantityError, parse
from benchtimer.records.record import PartRecord, Record, Visit
from benchtimer.times import duration


def worst_first(record: Record) -> list[tuple[PartRecord, Visit]]:
    """Each dwell that had a window and has ended, the worst first."""
    found = [
        (part, visit)
        for part in record.parts
        for visit in part.visits
        if visit.dwell_s is not None and visit.min_s is not None and (visit.min_s or visit.max_s)
    ]
    return sorted(found, key=lambda pair: -badness(pair[1]))


def badness(visit: Visit) -> float:
    """How bad a dwell was: past max, then cut short, then by how much of its window it used.

    A dwell that nothing ends comes last.
    """
    took, least = visit.dwell_s or 0.0, visit.min_s or 0
    if visit.verdict == "overrun" and visit.max_s is not None:
        return 10 + (took - visit.max_s) / max(1, visit.max_s - least)
    if visit.verdict == "early":
        return 5 + (least - took) / max(1, least)
    if visit.max_s is None:
        return -1.0
    return (took - least) / max(1, visit.max_s - least)


def window_words(visit: Visit) -> str:
    """The window of a dwell: ``5 min to 20 min``."""
    least = duration(visit.min_s or 0)
    return f"{least} or more" if visit.max_s is None else f"{least} to {duration(visit.max_s)}"


def troubles_first(record: Record) -> list[str]:
    """What went wrong, worst first, a line each: dwells, then parts sent back and scrapped."""
    wrong = [
        (badness(visit), part, visit)
        for part in record.parts
        for visit in part.visits
        if visit.verdict in ("overrun", "early")
    ]
    lines = [_wrong_dwell(part, visit) for _, part, visit in sorted(wrong, key=lambda w: -w[0])]
    lines += [f" ! {part.label}: scrapped" for part in record.parts if part.outcome == "scrapped"]
    for sent in record.sent_back:
        who = record.part(sent.part)
        label = who.label if who is not None else sent.part
        lines.append(f" ! {label}: sent back to {sent.to_step}: {sent.reason}")
    return lines


def _wrong_dwell(part: PartRecord, visit: Visit) -> str:
    where = f"{visit.title}, {visit.station}"
    took = visit.dwell_s or 0.0
    if visit.verdict == "overrun" and visit.max_s is not None:
        over = duration(round(took - visit.max_s))
        return f"!! {part.label}: OVERRUN by {over} ({where})"
    short = duration(round((visit.min_s or 0) - took))
    return f"!! {part.label}: CUT SHORT by {short} ({where})"


def limits_of(record: Record, station: str) -> tuple[str, str] | None:
    """Min and max of a bath, from the recipe that has it; None if it has none."""
    for key, recipe in record.recipes.items():
        for entry in recipe.station:
            window = entry.temperature
            if record.places.get(f"{key}.{entry.id}", entry.id) == station and window is not None:
                return str(window.min), str(window.max)
    return None


def share_of(reading: str, low: str, high: str) -> float:
    """A reading as a share of the range from min to max."""
    try:
        bottom, top, value = (parse(text).base for text in (low, high, reading))
    except QuantityError:
        return 0.0
    return (value - bottom) / (top - bottom) if top > bottom else 0.0
