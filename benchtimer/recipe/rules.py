"""What the entries of a recipe must say about each other.

The rules look at the raw tables, not at the model, so that a file with a misspelt key
still hears about its undefined station in the same breath. They pass over what has the
wrong shape: the model complains about that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from benchtimer.quantity import QuantityError, nearest, parse, parse_duration
from benchtimer.recipe.lines import Path
from benchtimer.recipe.model import BUILT_IN_SOURCES
from benchtimer.recipe.problems import Problem, quoted

Found = Iterator[tuple[Path, Problem]]
Table = dict[str, Any]


def broken_rules(data: Table) -> Found:
    """Every rule broken between the entries of a recipe, with the place it is broken at."""
    yield from _unique_ids(data)
    yield from _references(data)
    yield from _windows(data)
    yield from _loops(data)
    yield from _amounts(data)


def tables(value: Any) -> list[tuple[int, Table]]:
    """The tables of an array of tables with their index; anything else is passed over."""
    if not isinstance(value, list | tuple):
        return []
    return [(i, entry) for i, entry in enumerate(value) if isinstance(entry, dict)]


def place(path: Path, data: Table) -> str:
    """A path in a maker's words: ``step "rinse", check "water-break", on_no``."""
    words: list[str] = []
    here: Any = data
    for part in path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = None
        if isinstance(part, int):
            name = here.get("id") or here.get("title") if isinstance(here, dict) else None
            words[-1] += f" {quoted(name)}" if isinstance(name, str) else f" number {part + 1}"
        else:
            words.append(part if part.isprintable() else quoted(part))
    return ", ".join(words) or "the file"


def _ids(data: Table, key: str) -> list[str]:
    return [t["id"] for _, t in tables(data.get(key)) if isinstance(t.get("id"), str)]


def _checks(data: Table) -> Iterator[tuple[Path, int, Table]]:
    for i, step in tables(data.get("step")):
        for j, check in tables(step.get("check")):
            yield ("step", i, "check", j), i, check


def _unique_ids(data: Table) -> Found:
    for key in ("source", "property", "station", "mix", "step"):
        yield from _repeats(data, tables(data.get(key)), (key,), "id")
    yield from _repeats(data, tables(data.get("caution")), ("caution",), "title")
    for i, step in tables(data.get("step")):
        yield from _repeats(data, tables(step.get("check")), ("step", i, "check"), "id")
    for name in set(_ids(data, "source")) & set(BUILT_IN_SOURCES):
        path = ("source", _ids(data, "source").index(name), "id")
        yield _at(data, path, f"{quoted(name)} is built in", "leave this entry out")


def _repeats(data: Table, entries: list[tuple[int, Table]], base: Path, key: str) -> Found:
    seen: set[str] = set()
    for i, entry in entries:
        name = entry.get(key)
        if isinstance(name, str) and name in seen:
            path = (*base, i, key)
            yield _at(data, path, f"{quoted(name)} is used twice", f"each {key} once")
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
            yield _at(data, ("step", i), found, 'add at = "a station"')
    for i, station in tables(data.get("station")):
        if mixes:
            yield from _refers(data, ("station", i, "bath"), station.get("bath"), mixes, "mix")
    for i, caution in tables(data.get("caution")):
        before = caution.get("before")
        for name in [before] if isinstance(before, str) else before or ():
            guarded = stations + steps
            yield from _refers(data, ("caution", i, "before"), name, guarded, "station or step")
    for path, _, check in _checks(data):
        hangs_on = check.get("ceiling_from")
        if isinstance(hangs_on, dict):
            here = (*path, "ceiling_from", "property")
            known = _ids(data, "property")
            yield from _refers(data, here, hangs_on.get("property"), known, "property")
    yield from _walks(data, stations)
    yield from _sources(data, (), data, _ids(data, "source") + list(BUILT_IN_SOURCES))


def _refers(data: Table, path: Path, name: Any, known: list[str], kind: str) -> Found:
    if isinstance(name, str) and name not in known:
        found = f"there is no {kind} {quoted(name)}"
        yield _at(data, path, found, f"known: {_some(known)}", nearest(name, known))


def _walks(data: Table, stations: list[str]) -> Found:
    walk = data.get("walk")
    for start, ends in walk.items() if isinstance(walk, dict) else ():
        yield from _refers(data, ("walk", start), start, stations, "station")
        for end in ends if isinstance(ends, dict) else ():
            yield from _refers(data, ("walk", start, end), end, stations, "station")


def _sources(data: Table, path: Path, entry: Any, known: list[str]) -> Found:
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


def _windows(data: Table) -> Found:
    for i, step in tables(data.get("step")):
        dwell = step.get("dwell")
        if isinstance(dwell, dict):
            path: Path = ("step", i, "dwell")
            yield from _rising(data, path, dwell, ("least", "aim", "most"), parse_duration)
    for i, station in tables(data.get("station")):
        window = station.get("temperature")
        if isinstance(window, dict):
            path = ("station", i, "temperature")
            yield from _rising(data, path, window, ("low", "aim", "high", "ceiling"), _base)
    for path, _, check in _checks(data):
        if check.get("kind") == "reading":
            yield from _rising(data, path, check, ("low", "high", "ceiling"), _base)
            yield from _reading_unit(data, path, check)


def _base(text: str) -> float:
    return parse(text).base


def _rising(
    data: Table, path: Path, entry: Table, keys: tuple[str, ...], read: Callable[[str], float]
) -> Found:
    """Each limit is at least as large as the one before it."""
    last: tuple[str, float] | None = None
    for key in keys:
        try:
            value = read(entry[key])
        except (KeyError, TypeError, QuantityError):
            continue
        if last is not None and value < last[1] - 1e-9:
            found = f"{key} {quoted(entry[key])} is under {last[0]} {quoted(entry[last[0]])}"
            yield _at(data, (*path, key), found, f"{' <= '.join(keys)}")
        last = (key, value)


def _reading_unit(data: Table, path: Path, check: Table) -> Found:
    units = set()
    for key in ("low", "high", "ceiling"):
        try:
            units.add(parse(check[key]).kind.name)
        except (KeyError, TypeError, QuantityError):
            continue
    unit = check.get("unit")
    if isinstance(unit, str):
        try:
            units.add(parse(f"1 {unit}").kind.name)
        except QuantityError as error:
            yield _at(data, (*path, "unit"), error.reason, error.allowed)
    if len(units) > 1:
        kinds = " and ".join(sorted(units))
        yield _at(data, path, f"its limits mix {kinds}", "one kind of quantity a reading")
    if "ceiling" in check and "ceiling_from" in check:
        yield _at(data, path, "both ceiling and ceiling_from", "one of the two")
    if not units and "unit" not in check and "ceiling_from" not in check:
        found = "a reading with no unit and no limits"
        yield _at(data, path, found, 'add unit = "C", "pH" or another')


def _loops(data: Table) -> Found:
    order = {name: i for i, name in reversed(list(enumerate(_step_ids(data))))}
    for path, index, check in _checks(data):
        on_no = check.get("on_no")
        if not isinstance(on_no, dict):
            continue
        here = (*path, "on_no")
        target = on_no.get("back_to")
        yield from _refers(data, (*here, "back_to"), target, list(order), "step")
        if isinstance(target, str) and order.get(target, -1) > index:
            found = f"it sends the part forward, to {quoted(target)}"
            yield _at(data, here, found, "this step or one before it")
        if "at_most" not in on_no:
            found = "it sends the part back without a limit: a loop with no way out"
            yield _at(data, here, found, "add at_most = a number")
        yield from _no_way_out(data, path, check)
        expect, most = on_no.get("expect"), on_no.get("at_most")
        if isinstance(expect, int | float) and isinstance(most, int) and expect > most:
            found = f"expect {expect} is over at_most {most}"
            yield _at(data, (*here, "expect"), found, "expect <= at_most")


def _step_ids(data: Table) -> list[str]:
    steps = data.get("step")
    return [
        step["id"] if isinstance(step, dict) and isinstance(step.get("id"), str) else ""
        for step in (steps if isinstance(steps, list | tuple) else ())
    ]


def _no_way_out(data: Table, path: Path, check: Table) -> Found:
    """A choice whose every option sends back, or a bad option that isn't on offer."""
    options, bad = check.get("options"), check.get("no")
    if not isinstance(options, list | tuple) or not isinstance(bad, list | tuple):
        if check.get("kind") == "choice":
            found = "no option is named that counts as no"
            yield _at(data, path, found, 'add no = ["the options that send back"]')
        return
    known = [o for o in options if isinstance(o, str)]
    for name in bad:
        yield from _refers(data, (*path, "no"), name, known, "option")
    if known and all(option in bad for option in known):
        found = "every option sends the part back: a loop with no way out"
        yield _at(data, (*path, "no"), found, "leave one option that goes on")


def _amounts(data: Table) -> Found:
    for i, mix in tables(data.get("mix")):
        for j, item in tables(mix.get("of")):
            given = [key for key in ("amount", "parts") if key in item]
            if len(given) != 1:
                found = "both amount and parts" if given else "neither amount nor parts"
                yield _at(data, ("mix", i, "of", j), found, "exactly one of the two")


def _at(
    data: Table, path: Path, found: str, allowed: str, near: str | None = None
) -> tuple[Path, Problem]:
    return path, Problem(place(path, data), found, allowed, near=near)


def _some(known: list[str]) -> str:
    shown = ", ".join(quoted(k) for k in known[:8])
    return f"{shown} and {len(known) - 8} more" if len(known) > 8 else shown or "none"
