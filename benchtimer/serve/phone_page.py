"""The second screen as HTML: everything in one page, nothing loaded from outside."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator
from functools import cache
from html import escape
from pathlib import Path

from benchtimer.records.inert import visible
from benchtimer.view.alarm import DUE, OVERDUE, REPEAT_S
from benchtimer.view.picture.scene import DwellTimes, LaneView, PlaceView, Scene
from benchtimer.view.secondscreen import SecondScreen


def whole_page(shown: SecondScreen) -> str:
    """The page as first loaded; its script requests the rest."""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="dark"><title>benchtimer</title>'
        '<link rel="icon" href="data:,">'
        f"<style>{_asset('second.css')}</style>"
        '<noscript><meta http-equiv="refresh" content="5"></noscript></head>'
        f'<body data-due="{REPEAT_S[DUE]:g}" data-overdue="{REPEAT_S[OVERDUE]:g}">'
        f'<div id="lost" hidden></div><main>{body(shown)}</main>'
        '<button id="sound" type="button">TURN ON THE SOUND</button>'
        f"<script>{_asset('second.js')}</script></body></html>\n"
    )


def security_policy() -> str:
    """What a browser lets the page do: use its own style and script, and request data from its
    origin.
    """
    style, script = _hash("second.css"), _hash("second.js")
    return (
        f"default-src 'none'; style-src '{style}'; script-src '{script}'; "
        "connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )


@cache
def _asset(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


@cache
def _hash(name: str) -> str:
    digest = hashlib.sha256(_asset(name).encode()).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def body(shown: SecondScreen) -> str:
    """The part that changes from second to second."""
    return "".join(
        (
            _header(shown),
            _tag("p", shown.calls, f"calls {shown.level}") if shown.calls else "",
            _large(shown),
            _list("then", shown.then),
            *(_tag("p", text, "trouble") for _, text in shown.scene.trouble),
            _lanes(shown.scene),
            _places(shown.scene),
        )
    )


def _tag(name: str, text: str, kind: str = "") -> str:
    """An element with its text escaped."""
    classes = f' class="{kind}"' if kind else ""
    return f"<{name}{classes}>{escape(visible(text))}</{name}>"


def _header(shown: SecondScreen) -> str:
    marks = "".join(_tag("b", mark, "mark") for mark in shown.marks)
    return f"<header>{marks}{_tag('time', shown.time)}</header>"


def _large(shown: SecondScreen) -> str:
    details = "".join(_tag("p", line) for line in shown.details)
    words = _tag("h1", shown.large) + (_tag("strong", shown.at) if shown.at else "")
    return f'<section id="next" class="{escape(shown.urgency)}">{words}{details}</section>'


def _list(name: str, lines: Iterable[str]) -> str:
    rows = "".join(_tag("li", line) for line in lines)
    return f'<ol id="{name}">{rows}</ol>' if rows else ""


def _lanes(scene: Scene) -> str:
    drawn = []
    for group in scene.groups:
        rows = "".join(_lane(lane, scene.now_ms) for lane in group.lanes)
        title = _tag("h2", group.title) if len(scene.groups) > 1 else ""
        waiting = _tag("p", f"Not started: {group.not_begun}") if group.not_begun else ""
        drawn.append(f"{title}<ul>{rows}</ul>{waiting}")
    return f'<section id="lanes">{"".join(drawn)}</section>' if drawn else ""


def _lane(lane: LaneView, now_ms: int) -> str:
    name = lane.name + (f" (try {lane.tries})" if lane.tries > 1 else "")
    next_words = f"{lane.verb} {lane.left}".strip()
    cells = (
        _tag("b", f"{lane.level.mark}{lane.number}"),
        f"<div>{_tag('span', name, 'name')}{_tag('span', next_words, 'left')}</div>",
        f"<div>{_tag('span', lane.place, 'place')}{_tag('span', lane.by, 'by')}</div>",
    )
    bar = _bar(lane.window, now_ms) if lane.window is not None else ""
    return f'<li class="{lane.level.value}">{"".join(cells)}{bar}</li>'


def _bar(window: DwellTimes, now_ms: int) -> str:
    """The dwell as a drawing: done so far, min, target and max."""
    end_ms = window.max_ms or max(window.target_ms, now_ms)
    whole = max(1, end_ms - window.in_ms)

    def x(t_ms: int) -> float:
        return round(min(100.0, max(0.0, 100 * (t_ms - window.in_ms) / whole)), 1)

    marks = "".join(
        f'<line class="{name}" x1="{x(t)}" x2="{x(t)}" y1="0" y2="8"/>'
        for name, t in (("min", window.min_ms), ("target", window.target_ms))
    )
    return (
        '<svg viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="all" width="100" height="8"/>'
        f'<rect class="done" width="{x(now_ms)}" height="8"/>{marks}</svg>'
    )


def _places(scene: Scene) -> str:
    rows = "".join(_place(place) for place in scene.places)
    empty = _tag("p", f"Empty: {scene.empty}") if scene.empty else ""
    table = f"<table>{rows}</table>" if rows else ""
    return f'<section id="places">{table}{empty}</section>' if table or empty else ""


def _place(place: PlaceView) -> str:
    limit = f"{place.limit} {place.limit_left}".strip()
    cells = (
        _tag("th", f"{place.level.mark}{place.short}"), _tag("td", f"{place.inside}/{place.holds}"),
        _tag("td", place.closed or place.reading), _tag("td", place.limits),
        f"<td>{_curve(place.trend)}</td>", _tag("td", limit),
    )  # fmt: skip
    return f'<tr class="{place.level.value}">{"".join(cells)}</tr>'


def _curve(trend: tuple[float, ...]) -> str:
    """The last readings between min and max, as a line."""
    if len(trend) < 2:
        return ""
    points = " ".join(_points(trend))
    return (
        '<svg viewBox="0 -2 40 14" aria-hidden="true"><rect class="all" width="40" height="10"/>'
        f'<polyline points="{points}"/></svg>'
    )


def _points(trend: tuple[float, ...]) -> Iterator[str]:
    step = 40 / (len(trend) - 1)
    for number, value in enumerate(trend):
        yield f"{number * step:.1f},{10 - 10 * min(1.2, max(-0.2, value)):.1f}"
