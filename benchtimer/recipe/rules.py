"""What the entries of a recipe must say about each other.

The rules look at the raw tables, not at the model, so that a file with a misspelt key
still hears about its undefined station in the same breath. They pass over what has the
wrong shape: the model complains about that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import islice
from typing import Any

from benchtimer.quantity import nearest
from benchtimer.recipe.checks import CHECK_KINDS
from benchtimer.recipe.limit_rules import broken_limits
from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.model import BUILT_IN_SOURCES
from benchtimer.recipe.problems import quoted, value_text
from benchtimer.recipe.raw_tables import Found, Table, at, checks, listed, tables
from benchtimer.recipe.safety import unsafe_stations

Known = Mapping[str, object]
"""Names that are known, in the order of the file; a mapping, because a hostile file has many."""


def broken_rules(data: Table) -> Found:
    """Every rule broken between the entries of a recipe, with the place it is broken at.

    What is dangerous is judged last, and only where names lead where they should: a warning
    before a misspelt step would look like none.
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
            yield at(data, path, f"{quoted(name)} is used twice", f"each {key} once")
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
        before = hazard.get("before")
        for name in [before] if isinstance(before, str) else listed(before):
            here: Path = ("hazard", i, "before")
            yield from _refers(data, here, name, guarded, "station, step or mix")
    for i, prop in tables(data.get("property")):
        yield from _refers(data, ("property", i, "of"), prop.get("of"), mixes, "mix")
    for path, _, check in checks(data):
        hangs_on = check.get("ceiling_from")
        if isinstance(hangs_on, dict):
            here = (*path, "ceiling_from", "property")
            known = _ids(data, "property")
            yield from _refers(data, here, hangs_on.get("property"), known, "property")
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
    """The first place of each step's id in the order of work."""
    order: dict[str, int] = {}
    for i, step in tables(data.get("step")):
        if isinstance(step.get("id"), str):
            order.setdefault(step["id"], i)
    return order


def _answer(data: Table, path: Path, check: Table, answer: Any) -> Found:
    """An answer that sends must be one that the check can get."""
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
        yield at(data, (*path, "options"), f"{quoted(name)} is there twice", "each option once")


def _way_on(data: Table, path: Path, check: Table, sends: Table) -> Found:
    """A check that sends must leave an answer that goes on."""
    options = listed(check.get("options"))
    wrong = all(isinstance(name, str) and name in sends for name in options)
    if check.get("kind") == "choice" and options and wrong:
        found = "every option sends or stops the part: no way on"
        yield at(data, (*path, "send"), found, "leave one option that goes on")


def _twice(values: Iterable[Any]) -> Known:
    seen: set[str] = set()
    twice: dict[str, None] = {}
    for value in values:
        if isinstance(value, str) and value in seen:
            twice[value] = None
        elif isinstance(value, str):
            seen.add(value)
    return twice


def _some(known: Known) -> str:
    shown = ", ".join(quoted(k) for k in islice(known, 8))
    return f"{shown} and {len(known) - 8} more" if len(known) > 8 else shown or "none"
