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
from benchtimer.recipe.limits import broken_limits
from benchtimer.recipe.lines import Path
from benchtimer.recipe.model import BUILT_IN_SOURCES
from benchtimer.recipe.problems import quoted, told
from benchtimer.recipe.tables import Found, Table, at, checks, listed, tables

Known = Mapping[str, object]
"""Names that are known, in the order of the file; a mapping, because a hostile file has many."""


def broken_rules(data: Table) -> Found:
    """Every rule broken between the entries of a recipe, with the place it is broken at."""
    yield from _unique_ids(data)
    yield from _references(data)
    yield from _loops(data)
    yield from broken_limits(data)


def _ids(data: Table, key: str) -> Known:
    return dict.fromkeys(t["id"] for _, t in tables(data.get(key)) if isinstance(t.get("id"), str))


def _unique_ids(data: Table) -> Found:
    for key in ("source", "property", "station", "mix", "step"):
        yield from _repeats(data, tables(data.get(key)), (key,), "id")
    yield from _repeats(data, tables(data.get("caution")), ("caution",), "title")
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
    guarded = dict.fromkeys([*stations, *steps])
    for i, caution in tables(data.get("caution")):
        before = caution.get("before")
        for name in [before] if isinstance(before, str) else listed(before):
            yield from _refers(data, ("caution", i, "before"), name, guarded, "station or step")
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


def _loops(data: Table) -> Found:
    order = _order(data)
    for path, index, check in checks(data):
        yield from _options(data, path, check)
        on_no = check.get("on_no")
        if isinstance(on_no, dict):
            yield from _way_back(data, (*path, "on_no"), on_no, order, index)
            yield from _way_out(data, path, check)


def _order(data: Table) -> dict[str, int]:
    """The first place of each step's id in the order of work."""
    order: dict[str, int] = {}
    for i, step in tables(data.get("step")):
        if isinstance(step.get("id"), str):
            order.setdefault(step["id"], i)
    return order


def _way_back(data: Table, path: Path, on_no: Table, order: dict[str, int], index: int) -> Found:
    target = on_no.get("back_to")
    yield from _refers(data, (*path, "back_to"), target, order, "step")
    if isinstance(target, str) and order.get(target, -1) > index:
        found = f"it sends the part forward, to {quoted(target)}"
        yield at(data, (*path, "back_to"), found, "this step or one before it")
    if "at_most" not in on_no:
        found = "it sends the part back without a limit: a loop with no way out"
        yield at(data, path, found, "add at_most = a number")
    expect, most = on_no.get("expect"), on_no.get("at_most")
    if isinstance(expect, int | float) and isinstance(most, int) and expect > most:
        found = f"expect {told(expect)} is over at_most {told(most)}"
        yield at(data, (*path, "expect"), found, "expect <= at_most")


def _options(data: Table, path: Path, check: Table) -> Found:
    """A choice's answers: each once, and each bad one among them."""
    if check.get("kind") != "choice" or not isinstance(check.get("options"), list | tuple):
        return
    options = dict.fromkeys(o for o in check["options"] if isinstance(o, str))
    for name in _twice(check["options"]):
        yield at(data, (*path, "options"), f"{quoted(name)} is there twice", "each option once")
    for i, name in enumerate(listed(check.get("no"))):
        yield from _refers(data, (*path, "no", i), name, options, "option")


def _twice(values: Iterable[Any]) -> Known:
    seen: set[str] = set()
    twice: dict[str, None] = {}
    for value in values:
        if isinstance(value, str) and value in seen:
            twice[value] = None
        elif isinstance(value, str):
            seen.add(value)
    return twice


def _way_out(data: Table, path: Path, check: Table) -> Found:
    """A check that sends back must be able to fail, and to pass."""
    kind = check.get("kind")
    if kind == "reading" and "low" not in check and "high" not in check:
        found = "nothing counts as no, so on_no never sends a part back"
        yield at(data, path, found, "add low or high")
    if kind != "choice":
        return
    options, bad = listed(check.get("options")), listed(check.get("no"))
    if not bad:
        found = "no option is named that counts as no"
        yield at(data, path, found, 'add no = ["the options that send back"]')
    wrong = {name for name in bad if isinstance(name, str)}
    if options and all(isinstance(name, str) and name in wrong for name in options):
        found = "every option sends the part back: a loop with no way out"
        yield at(data, (*path, "no"), found, "leave one option that goes on")


def _some(known: Known) -> str:
    shown = ", ".join(quoted(k) for k in islice(known, 8))
    return f"{shown} and {len(known) - 8} more" if len(known) > 8 else shown or "none"
