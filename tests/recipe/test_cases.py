"""Bad recipes, each with all its expected problems."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from benchtimer.recipe.problems import RecipeError, RecipeProblem
from benchtimer.recipe.reader import read_recipe

CASES = Path(__file__).parent / "cases"
BAD = sorted(p for p in CASES.glob("*.toml") if not p.name.endswith(".expect.toml"))
ABOUT_THE_WHOLE = ("deeper-arrays", "deep-arrays", "empty", "missing-keys")


def expected(case: Path) -> list[RecipeProblem]:
    """The problems listed with a case."""
    text = case.with_suffix(".expect.toml").read_text(encoding="utf-8")
    return [RecipeProblem(**entry) for entry in tomllib.loads(text)["problem"]]


def problems_of(case: Path) -> list[RecipeProblem]:
    """The problems found in a case."""
    with pytest.raises(RecipeError) as caught:
        read_recipe(case)
    return caught.value.problems


@pytest.mark.parametrize("case", BAD, ids=lambda path: path.stem)
def test_a_bad_recipe_gets_all_its_problems_at_once(case: Path) -> None:
    """Each problem has the expected place, finding, fix, line and nearest spelling."""
    assert problems_of(case) == expected(case)


@pytest.mark.parametrize(
    "case", [p for p in BAD if p.stem not in ABOUT_THE_WHOLE], ids=lambda path: path.stem
)
def test_every_problem_of_an_entry_has_its_line(case: Path) -> None:
    """A problem with a place in the file gives its line."""
    lines = case.read_bytes().count(b"\n") + 1
    assert all(p.line is not None and 1 <= p.line <= lines for p in problems_of(case))


@pytest.mark.parametrize("case", BAD, ids=lambda path: path.stem)
def test_messages_can_be_printed_anywhere(case: Path) -> None:
    """Messages have no control codes and a limited length."""
    with pytest.raises(RecipeError) as caught:
        read_recipe(case)
    lines = str(caught.value).split("\n")
    assert len(lines) == len(caught.value.problems) + 1
    assert all(line.isprintable() and len(line) < 500 for line in lines)


def test_every_expectation_belongs_to_a_case() -> None:
    """Every list of expected problems belongs to a recipe."""
    expectations = {p.name.removesuffix(".expect.toml") for p in CASES.glob("*.expect.toml")}
    assert expectations == {p.stem for p in BAD}
