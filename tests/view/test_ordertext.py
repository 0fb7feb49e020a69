"""One line for a recipe and its parts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.view.ordertext import OrderTextError, completed, fitting, read_order

RECIPES = ["etch-darken", "hot-black", "hot-wax"]
PARTS = ["bolster", "butt cap", "blade"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("hot-black bolster", ("hot-black", "bolster")),
        ("  hot-black  bolster ,  butt cap,, ", ("hot-black", "bolster, butt cap")),
        ("hot-wax blade", ("hot-wax", "blade")),
    ],
)
def test_a_recipe_and_parts_are_read(text: str, expected: tuple[str, str]) -> None:
    """The first word is the recipe; the parts have commas between them."""
    assert read_order(text, RECIPES) == expected


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Type a recipe"),
        ("hot-blak bolster", 'no recipe "hot-blak"; did you mean "hot-black"'),
        ("hot-black", "Now the parts"),
        ("hot-black , ,", "Now the parts"),
    ],
)
def test_a_missing_piece_is_named(text: str, says: str) -> None:
    """An incomplete line says what comes next."""
    with pytest.raises(OrderTextError, match=says):
        read_order(text, RECIPES)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("hot-b", "hot-black "),
        ("hot", "hot-black "),
        ("x", None),
        ("", None),
        ("hot-black bo", "hot-black bolster"),
        ("hot-black bolster, bu", "hot-black bolster, butt cap"),
        ("hot-black bolster", None),
        ("hot-black zz", None),
    ],
)
def test_words_are_completed(typed: str, expected: str | None) -> None:
    """Completion offers recipes first, then earlier part names, newest first."""
    assert completed(typed, RECIPES, PARTS) == expected


@given(st.text(max_size=40))
def test_a_completion_extends_the_typed_text(typed: str) -> None:
    """A completion only adds to the typed text."""
    found = completed(typed, RECIPES, PARTS)
    assert found is None or "".join(found.split()).startswith("".join(typed.split()))


def test_the_list_shows_what_still_fits() -> None:
    """The list narrows to matching recipes, or shows all when none matches."""
    assert fitting("hot", RECIPES) == ["hot-black", "hot-wax"]
    assert fitting("zz", RECIPES) == RECIPES
