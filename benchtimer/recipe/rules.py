"""What the entries of a recipe must say about each other.

The rules look at the raw tables, not at the model, so that a file with a misspelled key also gets
the message about its undefined station. They skip anything with the wrong shape, because the model
reports that. Some rules are about the quantities in one entry: rising limits, one kind of unit.
Others are about safety: no vessel contains what must not meet, and no danger is without a warning.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any, Final, get_args

from benchtimer.quantity import Quantity, QuantityError, nearest, parse
from benchtimer.recipe.checks import CHECK_KINDS
from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.model import BUILT_IN_SOURCES
from benchtimer.recipe.problems import quoted, value_text
from benchtimer.recipe.raw_tables import Found, Table, at, checks, listed, tables
from benchtimer.trade.compatibility import (
    BURNS_C,
    HAZARDOUS,
    Chemistry,
    conflicts_within,
    said,
)

DWELL = ("min", "target", "max")
WINDOW = ("min", "target", "max", "ceiling")
READING = ("min", "max", "ceiling")


def broken_limits(data: Table) -> Found:
    """Every limit under the one before it, every mixed unit, every unclear amount."""
    for i, step in tables(data.get("step")):
        yield from _rising(data, ("step", i, "dwell"), step.get("dwell"), DWELL, "time")
    for i, station in tables(data.get("station")):
        path: Path = ("station", i, "temperature")
        yield from _rising(data, path, station.get("temperature"), WINDOW, "temperature")
    for path, _, check in checks(data):
        if check.get("kind") == "reading":
            yield from _rising(data, path, check, READING, None)
            yield from _reading_unit(data, path, check)
    for i, mix in tables(data.get("mix")):
        yield from _amounts(data, ("mix", i), mix)


def _limits(
    entry: Table, keys: tuple[str, ...], kind: str | None
) -> Iterator[tuple[str, Quantity]]:
    """The limits of an entry that are readable."""
    for key in keys:
        try:
            yield key, parse(entry[key], kind)
        except (KeyError, TypeError, QuantityError):
            continue


def _rising(
    data: Table, path: Path, entry: object, keys: tuple[str, ...], kind: str | None
) -> Found:
    """Each limit is at least as large as the one before it; kinds aren't compared."""
    last: tuple[str, Quantity] | None = None
    for key, value in _limits(entry, keys, kind) if isinstance(entry, dict) else ():
        comparable = last is not None and last[1].kind is value.kind
        if last is not None and comparable and value.base < last[1].base - 1e-9:
            found = f"{key} {value_text(str(value))} is under {last[0]} {value_text(str(last[1]))}"
            yield at(data, (*path, key), found, " <= ".join(keys))
        last = (key, value)


def _reading_unit(data: Table, path: Path, check: Table) -> Found:
    kinds = {value.kind.name: None for _, value in _limits(check, READING, None)}
    unit = check.get("unit")
    with contextlib.suppress(QuantityError):  # the model checks the unit itself
        kinds |= {parse(f"1 {unit}").kind.name: None}
    if len(kinds) > 1:
        found = f"it mixes {' and '.join(kinds)}"
        yield at(data, path, found, "use one kind of quantity in a reading")
    if "ceiling" in check and "ceiling_from" in check:
        yield at(data, path, "both ceiling and ceiling_from", "use one of the two")
    if not any(key in check for key in ("unit", "ceiling_from", *READING)):
        found = "a reading with no unit and no limits"
        yield at(data, path, found, 'add unit = "C", "pH" or another')


def _amounts(data: Table, path: Path, mix: Table) -> Found:
    """Each ingredient has one amount, from which the dose for any vessel can be calculated."""
    shares = 0.0
    for j, item in tables(mix.get("of")):
        here = (*path, "of", j)
        given = [key for key in ("amount", "parts") if key in item]
        if len(given) != 1:
            found = "both amount and parts" if given else "neither amount nor parts"
            yield at(data, here, found, "give exactly one of the two")
        for key, amount in _limits(item, ("amount",), None):
            shares += amount.value if amount.unit == "%" else 0
            if amount.kind.name in ("mass", "volume") and "volume" not in mix:
                found = f"{value_text(item[key])}, but no volume to relate it to"
                allowed = 'add volume = "4 L" to the mix, or say it per L'
                yield at(data, (*here, "amount"), found, allowed)
    if shares > 100 + 1e-9:
        yield at(data, path, f"its shares add up to {shares:g} %", "at most 100 %")


KNOWN: Final[tuple[Chemistry, ...]] = get_args(Chemistry)


def unsafe_stations(data: Table) -> Found:
    """Vessels and mixes that contain what must not meet; dangerous stations without a warning."""
    mixes = {str(mix.get("id")): mix for _, mix in tables(data.get("mix"))}
    guarded = _guarded(data)
    for i, mix in tables(data.get("mix")):
        for found in _meets(_chemistry(mix)):
            yield at(data, ("mix", i, "chemistry"), found, "mix them separately, or not at all")
    for i, station in tables(data.get("station")):
        own = _chemistry(station)
        mixed = _chemistry(mixes.get(str(station.get("bath")), {}))
        for found in _meets([*own, *mixed]):
            yield at(data, ("station", i), found, "give each its own vessel")
        danger = _danger([*own, *mixed], station)
        if danger is not None and not _warned(data, station.get("id"), guarded):
            name = station.get("id")
            allowed = f'add a [[hazard]] with before = ["{name}"]'
            yield at(data, ("station", i), f"{danger}, but no hazard comes before it", allowed)


def _chemistry(entry: Table) -> list[Chemistry]:
    written = listed(entry.get("chemistry"))
    return [chemistry for chemistry in KNOWN if chemistry in written]


def _meets(held: list[Chemistry]) -> Iterator[str]:
    for conflict in conflicts_within(held):
        pair = f"{said(conflict.first)} and {said(conflict.second)}"
        yield f"{pair} in one vessel: {conflict.effect} ({conflict.source.cite})"


def _danger(held: list[Chemistry], station: Table) -> str | None:
    """What is dangerous about a station, in words; None if nothing is."""
    hurts = [said(c) for c in held if c in HAZARDOUS]
    if hurts:
        return f"it holds {' and '.join(dict.fromkeys(hurts))}"
    window = station.get("temperature")
    try:
        top = parse(window["max"], "temperature") if isinstance(window, dict) else None
    except (KeyError, TypeError, QuantityError):
        return None
    return f"it is as hot as {quoted(str(top))}" if top and top.base >= BURNS_C else None


def _guarded(data: Table) -> set[Any]:
    """Everything a hazard applies to."""
    return {
        name
        for _, hazard in tables(data.get("hazard"))
        for name in _names(hazard.get("before"))
        if isinstance(name, str)
    }


def _names(before: Any) -> list[Any]:
    return [before] if isinstance(before, str) else listed(before)


def _warned(data: Table, station_id: Any, guarded: set[Any]) -> bool:
    """Whether the station, or every step at it, has a hazard before it."""
    steps = [s.get("id") for _, s in tables(data.get("step")) if s.get("at") == station_id]
    return station_id in guarded or (bool(steps) and all(step in guarded for step in steps))


Known = Mapping[str, object]
"""Known names, in the order of the file; a mapping, because a hostile file can have many."""


def broken_rules(data: Table) -> Found:
    """Every broken rule between the entries of a recipe, with its place. Dangers are checked last,
    and only if all names are valid: a warning before a misspelled step would look like no warning.
    """
    named = [*_unique_ids(data), *_references(data), *_sends(data)]
    yield from named
    yield from broken_limits(data)
    if not named:
        yield from unsafe_stations(data)


def _ids(data: Table, key: str) -> Known:
    return dict.fromkeys(t["id"] for _, t in tables(data.get(key)) if isinstance(t.get("id"), str))


def _unique_ids(data: Table) -> Found:
    for key in ("source", "property", "station", "mix", "step"):
        yield from _repeats(data, tables(data.get(key)), (key,), "id")
    yield from _repeats(data, tables(data.get("hazard")), ("hazard",), "title")
    for i, step in tables(data.get("step")):
        yield from _repeats(data, tables(step.get("check")), ("step", i, "check"), "id")
    for i, source in tables(data.get("source")):
        name = source.get("id")
        if isinstance(name, str) and name in BUILT_IN_SOURCES:
            path = ("source", i, "id")
            yield at(data, path, f"{quoted(name)} is built in", "leave this entry out")


def _repeats(data: Table, entries: list[tuple[int, Table]], base: Path, key: str) -> Found:
    seen: set[str] = set()
    for i, entry in entries:
        name = entry.get(key)
        if isinstance(name, str) and name in seen:
            path = (*base, i, key)
            yield at(data, path, f"{quoted(name)} is used twice", f"use each {key} once")
        elif isinstance(name, str):
            seen.add(name)


def _references(data: Table) -> Found:
    stations = _ids(data, "station")
    steps = _ids(data, "step")
    mixes = _ids(data, "mix")
    for i, step in tables(data.get("step")):
        yield from _refers(data, ("step", i, "at"), step.get("at"), stations, "station")
        if "dwell" in step and "at" not in step:
            found = "a dwell, but no station to dwell at"
            yield at(data, ("step", i), found, 'add at = "a station"')
    for i, station in tables(data.get("station")):
        if mixes:
            yield from _refers(data, ("station", i, "bath"), station.get("bath"), mixes, "mix")
    guarded = dict.fromkeys([*stations, *steps, *mixes])
    for i, hazard in tables(data.get("hazard")):
        for name in _names(hazard.get("before")):
            here: Path = ("hazard", i, "before")
            yield from _refers(data, here, name, guarded, "station, step or mix")
    for i, prop in tables(data.get("property")):
        yield from _refers(data, ("property", i, "of"), prop.get("of"), mixes, "mix")
    for path, _, check in checks(data):
        depends_on = check.get("ceiling_from")
        if isinstance(depends_on, dict):
            here = (*path, "ceiling_from", "property")
            known = _ids(data, "property")
            yield from _refers(data, here, depends_on.get("property"), known, "property")
    yield from _walks(data, stations)
    sources = dict.fromkeys([*_ids(data, "source"), *BUILT_IN_SOURCES])
    yield from _sources(data, (), data, sources)


def _refers(data: Table, path: Path, name: Any, known: Known, kind: str) -> Found:
    if isinstance(name, str) and name not in known:
        found = f"there is no {kind} {quoted(name)}"
        yield at(data, path, found, f"known: {_some(known)}", nearest(name, known))


def _walks(data: Table, stations: Known) -> Found:
    walk = data.get("walk")
    for start, ends in walk.items() if isinstance(walk, dict) else ():
        yield from _refers(data, ("walk", start), start, stations, "station")
        for end in ends if isinstance(ends, dict) else ():
            yield from _refers(data, ("walk", start, end), end, stations, "station")


def _sources(data: Table, path: Path, entry: Any, known: Known) -> Found:
    """Every ``source = "..."`` anywhere, except the list of sources itself."""
    if isinstance(entry, dict):
        for key, value in entry.items():
            if key == "source" and isinstance(value, str):
                yield from _refers(data, (*path, key), value, known, "source")
            elif (*path, key) != ("source",):
                yield from _sources(data, (*path, key), value, known)
    elif isinstance(entry, list | tuple):
        for i, item in enumerate(entry):
            yield from _sources(data, (*path, i), item, known)


def _sends(data: Table) -> Found:
    order = _order(data)
    stations = _ids(data, "station")
    for path, index, check in checks(data):
        yield from _options(data, path, check)
        sends = check.get("send")
        if not isinstance(sends, dict) or not sends:
            continue
        yield from _way_on(data, path, check, sends)
        for answer, send in sends.items():
            here = (*path, "send", answer)
            yield from _answer(data, here, check, answer)
            if isinstance(send, dict):
                yield from _send(data, here, send, order, index)
                closes = (*here, "out_of_service")
                yield from _refers(data, closes, send.get("out_of_service"), stations, "station")


def _order(data: Table) -> dict[str, int]:
    """The first index of each step's id in the order of work."""
    order: dict[str, int] = {}
    for i, step in tables(data.get("step")):
        if isinstance(step.get("id"), str):
            order.setdefault(step["id"], i)
    return order


def _answer(data: Table, path: Path, check: Table, answer: Any) -> Found:
    """An answer that sends must be one that the check can give."""
    kind = CHECK_KINDS.get(str(check.get("kind")))
    known = kind.sending(check) if kind is not None else [answer]
    if answer in known:
        return
    found = f"the check never gets the answer {quoted(answer)}"
    allowed = f"known here: {_some(dict.fromkeys(known))}"
    if check.get("kind") == "reading" and not known:
        allowed = "add min or max to the check: below min and above max can send"
    yield at(data, path, found, allowed, nearest(answer, known))


def _send(data: Table, path: Path, send: Table, order: dict[str, int], index: int) -> Found:
    target, limit = send.get("to"), send.get("limit")
    yield from _refers(data, (*path, "to"), target, order, "step")
    if ("to" in send) == ("stop" in send):
        found = "both to and stop" if "to" in send else "neither to nor stop"
        yield at(data, path, found, 'to = "a step", or stop = "why the part stops"')
    elif "stop" in send and "limit" in send:
        yield at(data, (*path, "limit"), "a limit on a stop", "leave it out: a stop is final")
    elif isinstance(target, str) and order.get(target, index + 1) <= index and limit is None:
        found = "it sends the part back without a limit: a loop with no way out"
        yield at(data, path, found, "add limit = a number")
    expect = send.get("expect")
    if isinstance(expect, int | float) and isinstance(limit, int) and expect > limit:
        found = f"expect {value_text(expect)} is over limit {value_text(limit)}"
        yield at(data, (*path, "expect"), found, "expect <= limit")


def _options(data: Table, path: Path, check: Table) -> Found:
    """A choice's answers: each once."""
    if check.get("kind") != "choice" or not isinstance(check.get("options"), list | tuple):
        return
    for name in _twice(check["options"]):
        yield at(
            data, (*path, "options"), f"{quoted(name)} is listed twice", "list each option once"
        )


def _way_on(data: Table, path: Path, check: Table, sends: Table) -> Found:
    """A check that sends must leave an answer that continues."""
    options = listed(check.get("options"))
    wrong = all(isinstance(name, str) and name in sends for name in options)
    if check.get("kind") == "choice" and options and wrong:
        found = "every option sends the part back or stops it"
        yield at(data, (*path, "send"), found, "leave one option that continues")


def _twice(values: Iterable[Any]) -> list[str]:
    counts = Counter(value for value in values if isinstance(value, str))
    return [value for value, count in counts.items() if count > 1]


def _some(known: Known) -> str:
    shown = ", ".join(quoted(k) for k in islice(known, 8))
    return f"{shown} and {len(known) - 8} more" if len(known) > 8 else shown or "none"
