"""A hazard in full: its head carries across the room, and no word of it is lost."""

from __future__ import annotations

from math import ceil

import pytest

from benchtimer.recipe.model import Hazard
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.trade.dangers import headed
from benchtimer.view.hazard_page import WAS_ROWS, hazard_lines, hazard_page
from benchtimer.view.letters import HALF_ROWS, QUADRANTS, half, half_lines, large

FILES = RecipeFiles()
HAZARDS = {
    f"{name}: {hazard.title}": hazard
    for name in FILES.paths()
    for hazard in FILES.find(name).hazard
}
ROOM, LOW, TALL = 77, 20, 27
"""Columns of a hazard at 80x24, rows of a page there, and at 120x40."""


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_every_word_of_a_hazard_is_on_its_page(hazard: Hazard) -> None:
    """What is not drawn large is there in words; nothing is cut."""
    page = hazard_page(hazard, ROOM, LOW)
    words = hazard_lines(hazard, ROOM)
    gear = half_lines(f"WEAR: {', '.join(hazard.wear)}", ROOM) or []
    drawn = "\n".join(gear) in "\n".join(page)
    missing = [line for line in words if line not in page]
    assert not missing or (drawn and missing[0].startswith("WEAR: "))
    title = headed(hazard.level, hazard.title)
    head = half_lines(title, ROOM)
    assert head is not None
    assert page[: len(head)] == tuple(head) or title in " ".join(page)


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_large_letters_cost_no_page_more(hazard: Hazard) -> None:
    """At 80x24 the signal word is always large; more of the head only where no page is added."""
    page = hazard_page(hazard, ROOM, LOW)
    word = half(hazard.level)
    assert all(row.startswith(sign) for row, sign in zip(page, word, strict=False))
    words = len(hazard_lines(hazard, ROOM))
    least = HALF_ROWS + 1 + words
    assert ceil(len(page) / LOW) <= max(ceil(words / (LOW - WAS_ROWS)), ceil(least / LOW))


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_the_large_view_draws_danger_and_gear(hazard: Hazard) -> None:
    """On request, and on a large screen, danger and gear are drawn large, before anything else."""
    head = half_lines(headed(hazard.level, hazard.title), ROOM) or []
    gear = half_lines(f"WEAR: {', '.join(hazard.wear)}", ROOM) or []
    assert hazard_page(hazard, ROOM, LOW, largest=True)[: len(head + gear)] == (*head, *gear)
    wide = hazard_page(hazard, 117, TALL)
    head = half_lines(headed(hazard.level, hazard.title), 117) or []
    assert wide[: len(head)] == tuple(head)


def test_a_half_size_letter_is_the_large_one_in_quarters() -> None:
    """Each cell of a half-size letter is four cells of the large one."""
    drawn, wanted = half("GAUNTLETS 5"), large("GAUNTLETS 5")
    assert len(drawn) == HALF_ROWS
    for y, row in enumerate(wanted):
        for x, cell in enumerate(row):
            quarters = QUADRANTS.index(drawn[y // 2][x // 2])
            assert bool(quarters >> (2 * (y % 2) + x % 2) & 1) == (cell == "█")


def test_a_word_that_has_no_letters_is_left_to_the_words() -> None:
    """A sign without a large form, or a word wider than the screen, is not drawn."""
    assert half_lines("刃", ROOM) is None
    assert half_lines("x" * 200, ROOM) is None
