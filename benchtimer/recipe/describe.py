"""One recipe as readable text."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from typing import TypeVar

from benchtimer.quantity import Quantity, show_number
from benchtimer.recipe.checks import Check, Send
from benchtimer.recipe.mixing import dose, scaled
from benchtimer.recipe.model import (
    Dwell,
    Hazard,
    Lineage,
    Mix,
    Property,
    Recipe,
    Station,
    Step,
    Window,
)
from benchtimer.times import duration
from benchtimer.trade.compatibility import said
from benchtimer.trade.dangers import headed

WIDTH = 78

_T = TypeVar("_T")


def describe(recipe: Recipe) -> str:
    """The whole recipe as text: stations, hazards, mixes, steps, sources."""
    lines = [*_wrap(recipe.title), f"{recipe.id}, revision {recipe.revision}"]
    if recipe.lineage:
        lines += _lineage(recipe.lineage)
    if recipe.about:
        lines += ["", *_wrap(recipe.about)]
    lines += ["", "Hazards", *_each(recipe, recipe.hazard, _hazard)] if recipe.hazard else []
    lines += ["", "Stations", *_each(recipe, recipe.station, _station)] if recipe.station else []
    lines += ["", "Mixes", *_each(recipe, recipe.mix, _mix)] if recipe.mix else []
    if recipe.part_properties:
        lines += ["", "What to know about each part"]
        lines += [f"  {show_property(p)}" for p in recipe.part_properties]
    if of_mixes := [p for p in recipe.property if p.of is not None]:
        lines += ["", "What to know about a mix"]
        lines += [f"  {show_property(p)} ({p.of})" for p in of_mixes]
    lines += ["", "Steps"]
    for number, step in enumerate(recipe.step, start=1):
        lines += _step(recipe, number, step)
    if recipe.walk:
        lines += ["", "Walks", *_walks(recipe)]
    if recipe.source:
        lines += ["", "Sources"]
        lines += [line for s in recipe.source for line in _wrap(f"{s.id}: {s.cite}")]
    return "\n".join(lines)


def show_property(prop: Property) -> str:
    """What you must know: ``Flash point of your oil? [flash-point], at least 131 F``."""
    least = f", at least {prop.min}" if prop.min is not None else ""
    return f"{prop.ask} [{prop.id}]{least}"


def _lineage(lineage: Lineage) -> list[str]:
    """The run that made this revision, and what it changed."""
    of = f", {lineage.part}" if lineage.part else ""
    verdict = f", {lineage.verdict}" if lineage.verdict else ""
    lines = _wrap(f"made from {lineage.made_from} by run {lineage.run}{of}{verdict}")
    lines += _wrap(f"based on {lineage.rests_on}") if lineage.rests_on else []
    lines += [line for text in lineage.changed for line in _wrap(f"changed {text}", "  ", "    ")]
    return lines + [
        line for text in lineage.worked for line in _wrap(f"worked with {text}", "  ", "    ")
    ]


def show_window(window: Window, unit: str | None = None) -> str:
    """A temperature window on one line: ``285 F to 295 F, target 290 F, read every 10 min``.

    Args:
        window: the window.
        unit: another unit to add after each temperature.
    """

    def limit_text(limit: Quantity) -> str:
        return str(limit) if unit in (None, limit.unit) else f"{limit} ({_in(limit, unit)})"

    text = f"{window.min} to {window.max}"
    if unit is not None and (window.min.unit, window.max.unit) != (unit, unit):
        low, high = (_in(limit, unit) for limit in (window.min, window.max))
        text += f" ({low.removesuffix(f' {unit}')} to {high})"
    text += f", target {limit_text(window.target)}" if window.target else ""
    text += f", never above {limit_text(window.ceiling)}" if window.ceiling else ""
    return text + (f", read every {duration(window.every_s)}" if window.every_s else "")


def _in(limit: Quantity, unit: str | None) -> str:
    """A temperature in another unit, to the nearest degree."""
    value = limit.to(unit or limit.unit)
    return f"{show_number(value.value, 0)} {value.unit}"


def show_dwell(dwell: Dwell) -> str:
    """A dwell on one line: ``dwell 8 min at least, target 10 min, 20 min at most``."""
    most = f"{duration(dwell.max_s)} at most" if dwell.max_s is not None else "no limit"
    if dwell.target_s == 0:
        return f"can wait here, {most}"
    least, aim = duration(dwell.min_s), duration(dwell.target_s)
    return f"dwell {least} at least, target {aim}, {most}"


def _each(
    recipe: Recipe, entries: tuple[_T, ...], shown: Callable[[Recipe, _T], Iterator[str]]
) -> Iterator[str]:
    for entry in entries:
        yield from shown(recipe, entry)


def _hazard(recipe: Recipe, hazard: Hazard) -> Iterator[str]:
    yield from _wrap(
        f"! {headed(hazard.level, hazard.title)} (before {', '.join(hazard.before)})", "  ", "    "
    )
    yield from _wrap(hazard.text, "    ")
    if hazard.wear:
        yield from _wrap(f"wear: {'; '.join(hazard.wear)}", "    ")
    if hazard.first_aid:
        yield from _wrap(f"first aid: {hazard.first_aid}", "    ")
    for never in hazard.never:
        yield from _wrap(f"never: {never}", "    ")
    yield from _cite(recipe, hazard.source)


def _station(recipe: Recipe, station: Station) -> Iterator[str]:
    bath = f", bath {station.bath}" if station.bath else ""
    bath += f", {' and '.join(said(c) for c in station.chemistry)}" if station.chemistry else ""
    bath += f", {station.purpose}" if station.purpose else ""
    yield from _wrap(f"{station.id}: {station.title}, holds {station.holds}{bath}", "  ", "    ")
    if station.text:
        yield from _wrap(station.text, "    ")
    yield from _cite(recipe, station.source)
    if station.temperature:
        yield from _wrap(show_window(station.temperature), "    ")
        yield from _cite(recipe, station.temperature.source)
    if station.heat_up_s is not None:
        yield from _wrap(f"heats up in {duration(station.heat_up_s)}", "    ")
    for label, text in (("too hot", station.too_hot), ("too cold", station.too_cold)):
        yield from _wrap(f"{label}: {text}", "    ", "      ") if text else ()
    if station.make_up:
        needs = station.make_up
        yield from _wrap(
            f"make-up every {duration(needs.after_s)}: cool {duration(needs.cool_s)}, "
            f"work {duration(needs.hands_s)}. {needs.text}", "    ", "      ",
        )  # fmt: skip
        yield from _cite(recipe, needs.source)


def _walks(recipe: Recipe) -> Iterator[str]:
    for start, ends in recipe.walk.items():
        for end, seconds in ends.items():
            yield from _wrap(f"{start} to {end}: {duration(seconds)}", "  ", "    ")


def _measured(amount: Quantity) -> str:
    """An amount to weigh or pour, to a tenth of its unit, or finer for small amounts."""
    places = next((n for n in range(1, 9) if round(abs(amount.value), n) * 10**n >= 10), 9)
    return f"{show_number(amount.value, places)} {amount.unit}"


def _mix(recipe: Recipe, mix: Mix) -> Iterator[str]:
    vessel = mix.volume or Quantity(1, "L")
    yield from _wrap(f"{mix.id}: {mix.title} ({vessel})", "  ", "    ")
    for item, amount in scaled(mix, vessel):
        yield from _wrap(dose(_measured(amount), item, mix), "    ", "      ")
        yield from _cite(recipe, item.source, "      ")
    if mix.text:
        yield from _wrap(mix.text, "    ")
    yield from _cite(recipe, mix.source)


def _step(recipe: Recipe, number: int, step: Step) -> Iterator[str]:
    at = f", at {step.at}" if step.at else ""
    head = f"{number}. {step.title} [{step.id}]: hands-on {duration(step.hands_s)}{at}"
    yield from _wrap(head, "  ", "     ")
    if step.text:
        yield from _wrap(step.text, "     ")
    yield from _cite(recipe, step.source, "     ")
    for check in step.check:
        yield from _wrap(f"? {check.ask} {_answers(check)}", "     ", "       ")
        for source in dict.fromkeys(check.sources):
            yield from _cite(recipe, source, "       ")
    if step.dwell:
        yield from _wrap(show_dwell(step.dwell), "     ", "       ")
        yield from _cite(recipe, step.dwell.source, "     ")


def _answers(check: Check) -> str:
    sends = "".join(f"; {answer}: {_sends(send)}" for answer, send in check.send.items())
    return f"({check.takes}){sends}"


def _sends(send: Send) -> str:
    """What an answer does: ``to scrub, 3 times at most``."""
    if send.to is None:
        text = f"stop. {send.stop}"
    else:
        often = "" if send.limit is None else "once" if send.limit == 1 else f"{send.limit} times"
        text = f"to {send.to}" + (f", {often} at most" if often else "")
    text += ", a new try" if send.new_try else ""
    return text + (f" {send.out_of_service} goes out of service" if send.out_of_service else "")


def _cite(recipe: Recipe, source: str | None, indent: str = "    ") -> Iterator[str]:
    if source is not None:
        yield from _wrap(f"source: {recipe.citation(source)}", indent)


def _wrap(text: str, indent: str = "", later: str | None = None) -> list[str]:
    return textwrap.wrap(
        " ".join(text.split()),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=later or indent,
        break_on_hyphens=False,  # ids are never broken
    )
