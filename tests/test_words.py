"""Every word that you read or type has its origin in the word list."""

from __future__ import annotations

import inspect
import re
from pathlib import Path

import pytest

from benchtimer.cli import COMMANDS
from benchtimer.plan.outcome import Feasible, Infeasible, Optimal, Undecided
from benchtimer.recipe.checks import CHECK_KINDS
from benchtimer.run.commands import VERDICTS
from benchtimer.run.run_state import PartPhase, RunPhase
from benchtimer.tui.themes import THEMES
from benchtimer.view import words
from tests import terms

GUIDE = Path(__file__).with_name("words.md")


def _rows() -> list[list[str]]:
    table = GUIDE.read_text(encoding="utf-8").partition("| words | mean here | come from |")[2]
    rows = table.partition("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]


def _listed() -> set[str]:
    return {word for row in _rows() for word in re.split(r"[,:] ", row[0])}


SAID = {
    "commands": COMMANDS,
    "states of a run": [phase.value for phase in RunPhase],
    "states of a part": [phase.value for phase in PartPhase],
    "verbs of the large line": terms.words_of(inspect.getsource(words)),
    "kinds of checks": CHECK_KINDS,
    "verbs of checks": [kind.verb.lower() for kind in CHECK_KINDS.values() if kind.verb],
    "verdicts": VERDICTS,
    "answers of the planner": [kind.status for kind in (Optimal, Feasible, Infeasible, Undecided)],
    "themes": [theme.name for theme in THEMES],
    "options": sorted(terms.options()),
    "key labels": sorted(terms.key_labels()),
    "page titles": sorted(terms.page_titles()),
    "menu items": sorted(terms.menu_items()),
    "recipe keys": sorted(terms.recipe_keys()),
}


@pytest.mark.parametrize("what", SAID)
def test_every_word_has_its_origin(what: str) -> None:
    """Every term of the program is in the word list."""
    listed = _listed()
    plural = {word.removesuffix("s") for word in listed} | {f"{word}s" for word in listed}
    missing = [word for word in SAID[what] if word not in listed | plural]
    assert not missing


def test_every_origin_is_explained() -> None:
    """Every word in the list has a meaning and an origin."""
    assert all(len(row) == 3 and all(row) for row in _rows())


def test_no_word_is_listed_twice() -> None:
    """No word is in the list twice."""
    listed = [word for row in _rows() for word in row[0].split(", ")]
    twice = {word for word in listed if listed.count(word) > 1}
    assert not twice


@pytest.mark.parametrize("what", SAID)
def test_a_missing_word_is_found(what: str) -> None:
    """Removing a word from the list makes the check fail."""
    assert len(list(SAID[what])) >= 2
    assert "xyzzy" not in _listed()
