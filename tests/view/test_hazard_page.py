"""A hazard page: its head is legible from across the room, and its text is complete."""

from __future__ import annotations

import pytest

from benchtimer.recipe.model import Hazard
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.trade.dangers import headed, level_line
from benchtimer.view.hazard_page import hazard_page
from benchtimer.view.letters import HALF_ROWS, QUADRANTS, half, half_lines, large

FILES = RecipeFiles()
HAZARDS = {
    f"{name}: {hazard.title}": hazard
    for name in FILES.paths()
    for hazard in FILES.find(name).hazard
}
ROOM, LOW, TALL = 77, 19, 27
"""Columns of a hazard at 80x24, rows of a page there, and rows at 120x40."""


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_every_word_of_a_hazard_is_on_its_page(hazard: Hazard) -> None:
    """Words that are not drawn large are in the text, and none is cut."""
    page = hazard_page(hazard, ROOM, LOW)
    words = " ".join(" ".join(line.strip(QUADRANTS) for line in page).split())
    gear = f"WEAR: {', '.join(hazard.wear)}"
    assert gear in words or "\n".join(half_lines(gear, ROOM) or ["?"]) in "\n".join(page)
    head = half_lines(headed(hazard.level, hazard.title), ROOM)
    assert head is not None
    assert hazard.title in words or page[: len(head)] == tuple(head)
    texts = (level_line(hazard.level), f"FIRST AID: {hazard.first_aid}", hazard.text)
    for text in (*texts, *(f"NEVER: {never}" for never in hazard.never)):
        assert " ".join(text.split()) in words


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_a_hazard_is_read_without_turning_a_page(hazard: Hazard) -> None:
    """At 80x24 the signal word is large, and each shipped hazard fits on one page."""
    page = hazard_page(hazard, ROOM, LOW)
    assert all(
        row.startswith(sign.rstrip()) for row, sign in zip(page, half(hazard.level), strict=False)
    )
    assert len(page) <= LOW


@pytest.mark.parametrize("hazard", HAZARDS.values(), ids=list(HAZARDS))
def test_the_large_view_draws_danger_and_gear(hazard: Hazard) -> None:
    """On request, and on a large screen, danger and gear come first in large letters."""
    head = half_lines(headed(hazard.level, hazard.title), ROOM) or []
    gear = half_lines(f"WEAR: {', '.join(hazard.wear)}", ROOM) or []
    assert hazard_page(hazard, ROOM, LOW, largest=True)[: len(head + gear)] == (*head, *gear)
    wide = hazard_page(hazard, 117, TALL)
    head = half_lines(headed(hazard.level, hazard.title), 117) or []
    assert wide[: len(head)] == tuple(head)


def test_a_half_size_letter_is_the_large_one_in_quarter_blocks() -> None:
    """Each cell of a half-size letter covers four cells of the large one."""
    drawn, wanted = half("GAUNTLETS 5"), large("GAUNTLETS 5")
    assert len(drawn) == HALF_ROWS
    for y, row in enumerate(wanted):
        for x, cell in enumerate(row):
            quarters = QUADRANTS.index(drawn[(y + 1) // 2][x // 2])
            assert bool(quarters >> (2 * ((y + 1) % 2) + x % 2) & 1) == (cell == "█")


def test_a_word_without_large_letters_stays_plain() -> None:
    """A sign without a large form and a word wider than the screen stay in plain letters."""
    assert half_lines("刃", ROOM) is None
    assert half_lines("x" * 200, ROOM) is None
