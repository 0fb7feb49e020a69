"""A hazard in full: first what you can read across the room, then every word."""

from __future__ import annotations

from math import ceil

from benchtimer.recipe.model import Hazard
from benchtimer.trade.dangers import headed, level_line
from benchtimer.view.letters import half, half_lines
from benchtimer.view.text import wrapped

WIDE = 80
"""On a narrower screen, large letters would leave no room for the words."""

WAS_ROWS = 3
"""Rows that large letters can fill if another page of words would begin anyway."""


def hazard_page(hazard: Hazard, room: int, rows: int, *, largest: bool = False) -> tuple[str, ...]:
    """A hazard in full, with as much of its head in large letters as fits without another page:
    signal word, danger and gear if there is room, otherwise the danger or the gear. The signal word
    is always large.

    Args:
        hazard: the hazard.
        room: available columns. rows: rows of a page. largest: draw all of it large, even if it
            takes more pages.
    """
    plain = hazard_lines(hazard, room)
    name = headed(hazard.level, hazard.title)
    title, gear = half_lines(name, room), half_lines(_wear(hazard), room) if hazard.wear else []
    least = (*half(hazard.level), *wrapped(name, room), *plain)
    pages = max(ceil(len(plain) / max(1, rows - WAS_ROWS)), ceil(len(least) / rows))
    words = hazard_lines(hazard, room, wear=False)
    heads = []
    if title is not None and gear is not None:
        heads.append((*title, *gear, *words))
        if largest:
            return heads[0]
    if title is not None:
        heads.append((*title, *plain))
    if gear is not None:
        heads.append((*half(hazard.level), *wrapped(name, room), *gear, *words))
    return next((head for head in heads if len(head) <= pages * rows), least)


def _wear(hazard: Hazard) -> str:
    return f"WEAR: {', '.join(hazard.wear)}"


def hazard_lines(hazard: Hazard, width: int, *, wear: bool = True) -> tuple[str, ...]:
    """A hazard in full; level, gear and first aid first, so that no small screen hides them.

    Args:
        hazard: the hazard.
        width: available columns. wear: include the gear in the words instead of drawing it above
            them.
    """
    pieces = [level_line(hazard.level)]
    pieces += [_wear(hazard)] if hazard.wear and wear else []
    pieces += [f"FIRST AID: {hazard.first_aid}"] if hazard.first_aid else []
    pieces.append(hazard.text)
    pieces += [f"NEVER: {never}" for never in hazard.never]
    pieces.append("Follow the supplier's data sheet and local rules first.")
    return tuple(line for piece in pieces for line in wrapped(piece, width))
