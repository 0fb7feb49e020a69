"""A hazard in full: first what you can read across the room, then every word."""

from __future__ import annotations

from itertools import zip_longest
from math import ceil

from benchtimer.recipe.model import Hazard
from benchtimer.trade.dangers import headed, level_line
from benchtimer.view.letters import half, half_lines
from benchtimer.view.text import wrapped

WIDE = 80
"""On a narrower screen, large letters would leave no room for the words."""

APART = 3
"""Columns between the large signal word and the words beside it."""


def hazard_page(hazard: Hazard, room: int, rows: int, *, largest: bool = False) -> tuple[str, ...]:
    """A hazard in full, with as much of its head in large letters as fits without another page.

    The head is signal word, danger and gear if there is room, otherwise the danger or the gear. The
    signal word is always large.

    Args:
        hazard: the hazard.
        room: available columns.
        rows: rows of a page.
        largest: draw all of it large, even if it takes more pages.
    """
    name = headed(hazard.level, hazard.title)
    title, gear = half_lines(name, room), half_lines(_wear(hazard), room) if hazard.wear else []
    words = hazard_lines(hazard, room, wear=False)
    least = (*_beside(hazard, room), *hazard_lines(hazard, room)[1:])
    heads = []
    if title is not None and gear is not None:
        heads.append((*title, *gear, *words))
        if largest:
            return heads[0]
    if title is not None:
        heads.append((*title, *hazard_lines(hazard, room)))
    if gear is not None:
        heads.append((*_beside(hazard, room), *gear, *words[1:]))
    return next(
        (head for head in heads if ceil(len(head) / rows) <= ceil(len(least) / rows)), least
    )


def _beside(hazard: Hazard, room: int) -> list[str]:
    """The signal word in large letters, with the danger and the word's meaning beside it."""
    drawn = half(hazard.level)
    indent = len(drawn[0]) + APART
    texts = hazard.title, level_line(hazard.level)
    words = [line for text in texts for line in wrapped(text, room - indent)]
    pairs = zip_longest(drawn, words, fillvalue="")
    return [f"{large:<{indent}}{line}".rstrip() for large, line in pairs]


def _wear(hazard: Hazard) -> str:
    return f"WEAR: {', '.join(hazard.wear)}"


def hazard_lines(hazard: Hazard, width: int, *, wear: bool = True) -> tuple[str, ...]:
    """A hazard in full; level, gear and first aid first, so that no small screen hides them.

    Args:
        hazard: the hazard.
        width: available columns.
        wear: include the gear in the words instead of drawing it above them.
    """
    pieces = [level_line(hazard.level)]
    pieces += [_wear(hazard)] if hazard.wear and wear else []
    pieces += [f"FIRST AID: {hazard.first_aid}"] if hazard.first_aid else []
    pieces.append(hazard.text)
    pieces += [f"NEVER: {never}" for never in hazard.never]
    pieces.append("Follow the supplier's data sheet and local rules first.")
    return tuple(line for piece in pieces for line in wrapped(piece, width))
