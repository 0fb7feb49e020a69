"""The next action of the shop on one line, for every page."""

from __future__ import annotations

from benchtimer.bench.moment import Moment
from benchtimer.view.words import AT_PLACE, IN_WORD, large_line, then_words, way


def next_words(moment: Moment) -> str:
    """The large line in plain letters, ``NEXT: PULL #2  in 4:10``; empty if there is none."""
    action = moment.first
    if action is None:
        return ""
    bench = moment.bench_of(action)
    words, at = large_line(bench, action, moment.stamp)
    if words == "WAIT":
        return f"WAIT {at}. {then_words(bench, action, moment.stamp)}"
    return f"NEXT: {words}  {at.replace(IN_WORD, IN_WORD.lower(), 1)}".rstrip()


def next_line(moment: Moment) -> str:
    """The same with the part's name and where it goes."""
    action = moment.first
    if action is None:
        return ""
    bench = moment.bench_of(action)
    named = action.part is not None and action.kind not in AT_PLACE
    name = bench.parts[action.part or ""].called if named else ""
    return "   ".join(piece for piece in (next_words(moment), name, way(bench, action)) if piece)
