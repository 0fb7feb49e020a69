"""The facts of a try: everything recorded that may explain how it came out.

A fact is the last known value at the end of the try: if a part was not sanded again, its earlier
sanding counts. Each fact has a label, the value as people read it, and, if it is a figure, a number
with its limits.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from benchtimer.learn.fact import REST_SCALE_S, TIME_SCALE_S, Fact, Facts
from benchtimer.quantity import Quantity, parse, show_number
from benchtimer.recipe.answers import said
from benchtimer.recipe.mixing import rate
from benchtimer.records.record import Visit
from benchtimer.records.recorded import RecordedBath
from benchtimer.records.tries import Try
from benchtimer.times import duration
from benchtimer.values import replace


def facts_of(one: Try) -> Facts:
    """All facts about a try."""
    facts: Facts = {}
    for source in (_settings, _properties, _baths, _readings, _answers, _visits, _air):
        for key, fact in source(one):
            facts[fact.kind, key] = fact
    return facts


KeyedFacts = Iterator[tuple[str, Fact]]


def _time(kind: str, label: str, seconds: float, place: int) -> Fact:
    shown = duration(round(seconds))
    return Fact(kind, label, shown, place, seconds, is_time=True)


def _settings(one: Try) -> KeyedFacts:
    """What the recipe said, adjustments included."""
    recipe = one.recipe
    yield "revision", Fact("setting", "recipe revision", f"{recipe.id} {recipe.revision}")
    for place, step in enumerate(recipe.step):
        dwell = step.dwell
        asked: list[tuple[str, int | None]] = [("hands", step.hands_s)]
        if dwell is not None:
            asked += [("min", dwell.min_s), ("target", dwell.target_s), ("max", dwell.max_s)]
        for name, seconds in asked:
            shown = duration(seconds) if seconds is not None else "no limit"
            yield f"{step.id}.{name}", Fact("setting", f"{step.id}: {name} asked", shown, place)
    for station in recipe.station:
        window = station.temperature
        for name in ("min", "target", "max", "ceiling") if window is not None else ():
            value = getattr(window, name)
            if value is not None:
                label = f"{station.title}: {name} asked"
                yield f"{station.id}.{name}", Fact("setting", label, str(value))
    for mix in recipe.mix:
        for number, item in enumerate(mix.of, start=1):
            how = rate(item, mix) or "the whole of it"
            yield f"{mix.id}.{number}", Fact("setting", f"{mix.title}: {item.what}", how)


def _properties(one: Try) -> KeyedFacts:
    for name, text in one.part.properties.items():
        yield name, Fact("part", name, text)


def _baths(one: Try) -> KeyedFacts:
    """The baths of the recipe's own stations, in their state at setup."""
    for bath in one.record.baths:
        for station in one.stations_at(bath.station):
            yield from _bath(station, bath)


def _bath(station: str, bath: RecordedBath) -> KeyedFacts:
    yield station, Fact("bath", f"bath in {station}", bath.bath, is_name=True)
    if bath.age_s is not None:
        label = f"age of the bath in {station}"
        yield f"{station}.age", _time("bath", label, bath.age_s, -1)
    known = {
        "parts_before": ("parts before", bath.parts_before),
        "used_up": ("share used up", bath.used_up),
    }
    for key, (label, number) in known.items():
        if number is not None:
            fact = Fact("bath", f"{label}, bath in {station}", show_number(number, 2),
                        number=number)  # fmt: skip
            yield f"{station}.{key}", fact


def _readings(one: Try) -> KeyedFacts:
    """The median of each station's readings in the try, or the last one before it."""
    for station in one.recipe.station:
        name = station.id
        taken = [
            (r.elapsed_s, parse(r.reading))
            for r in one.record.readings
            if r.station == one.at[name] and r.elapsed_s <= one.until_s
        ]
        if not taken:
            continue
        inside = [q for at_s, q in taken if at_s >= one.began_s] or [taken[-1][1]]
        base = median(q.base for q in inside)
        shown = Quantity(base, inside[0].kind.base.symbol).to(inside[0].unit)
        text = f"{show_number(shown.value, 1)} {shown.unit}"
        window = station.temperature
        limits = (window.min.base, window.max.base) if window is not None else (None, None)
        yield name, Fact("reading", f"{station.title}: temperature", text, -1, base, *limits)


def _answers(one: Try) -> KeyedFacts:
    for place, check, answer in one.last_answers():
        step, finding = one.recipe.step[place].id, check.finding(answer)
        if finding is not None:
            yield f"{step}/{check.id}", Fact(
                finding.kind, f"{check.ask} ({step})", said(answer), place, finding.number,
                finding.low, finding.high,
            )  # fmt: skip


def _until(one: Try) -> list[Visit]:
    return [v for v in one.part.visits if (v.began_s or 0) < one.until_s]


def _own(one: Try, visit: Visit) -> str:
    """The station of a visit by the recipe's own id, because places differ from run to run."""
    return next(iter(one.stations_at(visit.station)), visit.station or "")


def _visits(one: Try) -> KeyedFacts:
    """Hands-on time and time in the station for the last pass, and the number of passes."""
    passes: dict[str, int] = {}
    for visit in _until(one):
        place = one.recipe.step_index(visit.step)
        again = (visit.began_s or 0) >= one.began_s
        passes[visit.step] = passes.get(visit.step, 0) + again
        if visit.hands_s is not None:
            yield visit.step, _time("hands", f"{visit.step}: in hand", visit.hands_s, place)
        if visit.dwell_s is not None:
            rests = visit.target_s == 0
            scale_s = REST_SCALE_S if rests else TIME_SCALE_S
            label = f"{visit.step}: time in {_own(one, visit)}"
            fact = _time("dwell", label, visit.dwell_s, place)
            fact = replace(fact, low=visit.min_s, high=visit.max_s, scale_s=scale_s)
            yield visit.step, fact
    for step, number in passes.items():
        place = one.recipe.step_index(step)
        number = max(1, number)  # not done again in this try, so it is unchanged
        yield step, Fact("passes", f"{step}: passes", str(number), place, float(number))


def _air(one: Try) -> KeyedFacts:
    """Time between stations: out of one, not yet in the next."""
    out: Visit | None = None
    for visit in _until(one):
        if visit.in_s is not None and out is not None and out.out_s is not None:
            seconds = max(0.0, visit.in_s - out.out_s)
            place = one.recipe.step_index(visit.step)
            label = f"out of {_own(one, out)}, not yet in {_own(one, visit)}"
            yield f"{out.step}-{visit.step}", _time("air", label, seconds, place)
        if visit.in_s is not None:
            out = visit
