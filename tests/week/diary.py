"""The week as a diary: what happened when, how long it took, how it came out.

It uses what people can see: the records of the runs and the maker's own watch.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from benchtimer.times import duration
from tests.week.week import Done, Week

SLOW_STEPS = 6


def records(week: Week) -> list[dict[str, Any]]:
    """Every run's record as JSON, oldest first, from the command line."""
    listed = week.shop.command("record").out.splitlines()
    names = sorted(line.split()[0] for line in listed if line[:4].isdecimal())
    return [json.loads(week.shop.command("record", name, "--as", "json").out) for name in names]


def diary(week: Week) -> str:
    """The week as text."""
    records_found = records(week)
    lines = [f"A week in the shop, seed {week.seed}", ""]
    for done in week.done:
        lines += _deed(week, done)
    lines += ["", "Runs", *(line for record in records_found for line in _run(record))]
    lines += ["", "Where the time went", *_hours(records_found)]
    return "\n".join(lines) + "\n"


def _deed(week: Week, done: Done) -> Iterator[str]:
    began, ended = (_clock(week, ms) for ms in (done.began_ms, done.ended_ms))
    yield f"{began}  {done.deed.why}"
    if done.deed.command is not None:
        yield f"           $ benchtimer {' '.join(done.deed.command)}"
    else:
        yield f"           at the screen until {ended}: {done.keys} keys, {done.presses} presses"


def _run(record: dict[str, Any]) -> Iterator[str]:
    presses = max(line["press"] for line in record["lines"])
    yield f"  {record['run']}  {record['title']}, {record['phase']}, {presses} presses"
    for part in record["parts"]:
        came = f"{part['verdict']}, rating {part['rating']}" if part.get("verdict") else "-"
        times = "1 time" if part["sent_back"] == 1 else f"{part['sent_back']} times"
        back = f", sent back {times}" if part["sent_back"] else ""
        yield f"    {part['name']}: {came}{back}, hands-on {duration(part['hands_s'])}"
    for back in record["sent_back"]:
        words = f"{back['part']} back to {back['to_step']}: {back['reason']}"
        yield f"      {back['at'][5:16]}  {words}"
    for late in late_in(record):
        yield f"      LATE: {late}"


def late_in(record: dict[str, Any]) -> list[tuple[str, str]]:
    """Part and step of each overrun."""
    stays = [d for d in record["deviations"] if d["what"] == "overrun"]
    return [(d["part"], d["step"]) for d in stays]


def _hours(found: list[dict[str, Any]]) -> Iterator[str]:
    steps: Counter[str] = Counter()
    dwell = 0.0
    for record in found:
        for part in record["parts"]:
            for visit in part["visits"]:
                steps[visit["title"]] += round(visit.get("hands_s") or 0)
                dwell += (visit.get("out_s") or 0) - (visit.get("in_s") or 0)
    work, rest = duration(steps.total()), duration(dwell)
    yield f"  hands-on {work}, in baths and on racks {rest}, most of it in:"
    for title, seconds in steps.most_common(SLOW_STEPS):
        yield f"    {duration(seconds):>14}  {title}"


def summary(week: Week) -> str:
    """A summary of the week, with a checksum over every entry and its time."""
    records_found = records(week)
    lines = [line for done in week.done for line in _deed(week, done)]
    for record in records_found:
        lines += [*_run(record), f"    every entry: {fingerprint(record)}"]
    return "\n".join([*lines, "", *_hours(records_found)]) + "\n"


def fingerprint(record: dict[str, Any]) -> str:
    """A checksum over all events and times, without the identity, which is new each time."""
    kept = {key: value for key, value in record.items() if key not in ("uid", "recipes")}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()[:16]


def _clock(week: Week, wall_ms: int) -> str:
    zone = timezone(timedelta(hours=week.story.offset_h))
    moment = datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=wall_ms)
    return moment.astimezone(zone).strftime("%a %H:%M")
