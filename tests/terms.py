"""The terms that people read or type, gathered from the code for the word list."""

from __future__ import annotations

import argparse
import inspect
import re
from collections.abc import Iterator
from typing import Any

from benchtimer.cli.parser import Parser, whole_line
from benchtimer.recipe.json_schema import recipe_schema
from benchtimer.tui import home_page, planning, preparing, recordpage, runs_page
from benchtimer.tui.row_page import RowPage
from benchtimer.view import menu
from benchtimer.view.pagekeys import PAGES, PLAN_MORE, RUNS_FILTERS
from benchtimer.view.space_label import LABELS


def options() -> set[str]:
    """Every long option of every command and verb, without its dashes."""
    return {
        option.removeprefix("--").replace("-", " ")
        for action in _actions(whole_line())
        for option in action.option_strings
        if option.startswith("--")
    }


def _actions(parser: Parser) -> Iterator[argparse.Action]:
    for action in parser.actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for name in action.choices:
                yield from _actions(action.choices[name])


def key_labels() -> set[str]:
    """The labels of the keys at the foot of all pages."""
    labels = {key.label for keys in PAGES.values() for key in keys if key.label}
    return labels | set(LABELS.values())


LOADED = (home_page, planning, preparing, recordpage, runs_page)
"""The modules of all pages: a title counts once its module is loaded."""


def page_titles() -> set[str]:
    """The titles of the pages around a run."""
    return {
        kind.TITLE_WORDS.lower().removeprefix("benchtimer: ")
        for kind in _kinds(RowPage)
        if kind.TITLE_WORDS
    }


def _kinds(kind: type[RowPage]) -> Iterator[type[RowPage]]:
    yield kind
    for below in kind.__subclasses__():
        yield from _kinds(below)


def menu_items() -> set[str]:
    """The names of menu items; for the board's menu, the first word of each line."""
    named = {name.replace("_", " ") for name, _ in (*PLAN_MORE, *RUNS_FILTERS)}
    offered = re.findall(r'Offer\(\s*f?"([A-Z][a-z]+)', inspect.getsource(menu))
    return named | {word.lower() for word in offered}


def recipe_keys() -> set[str]:
    """Every key that a recipe may have."""
    return {key.replace("_", " ") for key in _keys(recipe_schema())}


def _keys(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            yield from schema["properties"]
        for value in schema.values():
            yield from _keys(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from _keys(value)


def words_of(source: str) -> set[str]:
    """The words in capitals in a piece of code, as the large line has them."""
    return {word.lower() for word in re.findall(r'"([A-Z][A-Z ]+[A-Z])"', source)}
