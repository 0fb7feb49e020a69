"""One recipe in readable form, for a person at a desk."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator
from typing import TypeVar

from benchtimer.quantity import Quantity, show_duration, show_number
from benchtimer.recipe.mixing import scaled
from benchtimer.recipe.model import (
    Caution,
    Check,
    Choice,
    Dwell,
    Lineage,
    Mix,
    NoteCheck,
    ReadingCheck,
    Recipe,
    Station,
    Step,
    Window,
)

WIDTH = 78

_T = TypeVar("_T")


def describe(recipe: Recipe) -> str:
    """The whole recipe as text: stations, cautions, mixes, steps, sources."""
    lines = [*_wrap(recipe.title), f"{recipe.id}, revision {recipe.revision}"]
    if recipe.lineage:
        lines += _lineage(recipe.lineage)
    if recipe.about:
        lines += ["", *_wrap(recipe.about)]
    lines += ["", "Cautions", *_each(recipe, recipe.caution, _caution)] if recipe.caution else []
    lines += ["", "Stations", *_each(recipe, recipe.station, _station)] if recipe.station else []
    lines += ["", "Mixes", *_each(recipe, recipe.mix, _mix)] if recipe.mix else []
    if recipe.property:
        lines += ["", "To be known of each part", *(f"  {p.id}: {p.ask}" for p in recipe.property)]
    lines += ["", "Steps"]
    for number, step in enumerate(recipe.step, start=1):
        lines += _step(recipe, number, step)
    if recipe.walk:
        lines += ["", "Walks", *_walks(recipe)]
    if recipe.source:
        lines += ["", "Sources"]
        lines += [line for s in recipe.source for line in _wrap(f"{s.id}: {s.cite}")]
    return "\n".join(lines)


def _lineage(lineage: Lineage) -> list[str]:
    """Which run made this revision, and what it changed."""
    of = f", {lineage.part}" if lineage.part else ""
    verdict = f", {lineage.verdict}" if lineage.verdict else ""
    lines = _wrap(f"made from {lineage.made_from} by run {lineage.run}{of}{verdict}")
    lines += [line for text in lineage.changed for line in _wrap(f"changed {text}", "  ", "    ")]
    return lines + [
        line for text in lineage.worked for line in _wrap(f"worked with {text}", "  ", "    ")
    ]


def show_window(window: Window) -> str:
    """A temperature window on one line: ``285 F to 295 F, aim 290 F, read every 10 min``."""
    text = f"{window.low} to {window.high}"
    text += f", aim {window.aim}" if window.aim else ""
    text += f", never above {window.ceiling}" if window.ceiling else ""
    return text + (f", read every {show_duration(window.every_s)}" if window.every_s else "")


def show_dwell(dwell: Dwell) -> str:
    """A dwell on one line: ``8 min, aim 10 min, 20 min at most``."""
    most = f"{show_duration(dwell.most_s)} at most" if dwell.most_s is not None else "no limit"
    return f"{show_duration(dwell.least_s)} at least, aim {show_duration(dwell.aim_s)}, {most}"


def _each(
    recipe: Recipe, entries: tuple[_T, ...], shown: Callable[[Recipe, _T], Iterator[str]]
) -> Iterator[str]:
    for entry in entries:
        yield from shown(recipe, entry)


def _caution(recipe: Recipe, caution: Caution) -> Iterator[str]:
    yield from _wrap(f"! {caution.title} (before {', '.join(caution.before)})", "  ", "    ")
    yield from _wrap(caution.text, "    ")
    if caution.wear:
        yield from _wrap(f"wear: {', '.join(caution.wear)}", "    ")
    if caution.first_aid:
        yield from _wrap(f"first aid: {caution.first_aid}", "    ")
    for never in caution.never:
        yield from _wrap(f"never: {never}", "    ")
    yield from _cite(recipe, caution.source)


def _station(recipe: Recipe, station: Station) -> Iterator[str]:
    bath = f", bath {station.bath}" if station.bath else ""
    bath += f", {station.hazard}" if station.hazard else ""
    yield from _wrap(f"{station.id}: {station.title}, holds {station.holds}{bath}", "  ", "    ")
    if station.text:
        yield from _wrap(station.text, "    ")
    yield from _cite(recipe, station.source)
    if station.temperature:
        yield from _wrap(show_window(station.temperature), "    ")
        yield from _cite(recipe, station.temperature.source)


def _walks(recipe: Recipe) -> Iterator[str]:
    for start, ends in recipe.walk.items():
        for end, seconds in ends.items():
            yield from _wrap(f"{start} to {end}: {show_duration(seconds)}", "  ", "    ")


def _measured(amount: Quantity) -> str:
    """An amount to weigh or pour: a tenth of its unit, finer where little is wanted."""
    places = next((n for n in range(1, 9) if round(abs(amount.value), n) * 10**n >= 10), 9)
    return f"{show_number(amount.value, places)} {amount.unit}"


def _parts(parts: float) -> str:
    return f"{show_number(parts)} part{'s' if parts != 1 else ''}"


def _mix(recipe: Recipe, mix: Mix) -> Iterator[str]:
    vessel = mix.volume or Quantity(1, "L")
    yield from _wrap(f"{mix.id}: {mix.title}, for {vessel}", "  ", "    ")
    for (what, amount), item in zip(scaled(mix, vessel), mix.of, strict=True):
        how = item.amount if item.amount is not None else _parts(item.parts or 0)
        yield from _wrap(f"{_measured(amount)} {what} ({how})", "    ", "      ")
        yield from _cite(recipe, item.source, "      ")
    if mix.text:
        yield from _wrap(mix.text, "    ")
    yield from _cite(recipe, mix.source)


def _step(recipe: Recipe, number: int, step: Step) -> Iterator[str]:
    at = f", at {step.at}" if step.at else ""
    head = f"{number}. {step.title} [{step.id}]: hands-on {show_duration(step.hands_s)}{at}"
    yield from _wrap(head, "  ", "     ")
    if step.text:
        yield from _wrap(step.text, "     ")
    yield from _cite(recipe, step.source, "     ")
    for check in step.check:
        yield from _wrap(f"? {check.ask} {_answers(check)}", "     ", "       ")
        for source in _sources_of(check):
            yield from _cite(recipe, source, "       ")
    if step.dwell:
        yield from _wrap(f"dwell {show_dwell(step.dwell)}", "     ", "       ")
        yield from _cite(recipe, step.dwell.source, "     ")


def _sources_of(check: Check) -> list[str]:
    """Where a check comes from, and the figures in it that may have a source of their own."""
    own = [check.source]
    if isinstance(check, ReadingCheck) and check.ceiling_from is not None:
        own.append(check.ceiling_from.source)
    if not isinstance(check, NoteCheck) and check.on_no is not None:
        own.append(check.on_no.source)
    return list(dict.fromkeys(source for source in own if source is not None))


def _answers(check: Check) -> str:
    if isinstance(check, NoteCheck):
        return "(words)"
    text = "(yes or no)"
    if isinstance(check, Choice):
        text = f"({' / '.join(_option(check, option) for option in check.options)})"
    elif isinstance(check, ReadingCheck):
        limits: list[tuple[str, object]] = [
            ("from", check.low),
            ("to", check.high),
            ("never above", check.ceiling),
        ]
        hangs_on = check.ceiling_from
        if hangs_on is not None:
            below = f"its {hangs_on.property} less {hangs_on.margin}"
            limits.append(("never above", below))
        said = ", ".join(f"{word} {limit}" for word, limit in limits if limit is not None)
        text = f"({said or check.unit_symbol})"
    if check.on_no is not None:
        most = check.on_no.at_most
        often = "once" if most == 1 else f"{most} times"
        text += f" no: back to {check.on_no.back_to}, {often} at most"
    return text


def _option(check: Choice, option: str) -> str:
    return f"{option} [no]" if option in check.no else option


def _cite(recipe: Recipe, source: str | None, indent: str = "    ") -> Iterator[str]:
    if source is not None:
        yield from _wrap(f"source: {recipe.citation(source)}", indent)


def _wrap(text: str, indent: str = "", later: str | None = None) -> list[str]:
    return textwrap.wrap(
        " ".join(text.split()),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=later or indent,
        break_on_hyphens=False,  # ids stay whole
    )
