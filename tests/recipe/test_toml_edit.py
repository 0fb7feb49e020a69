"""Setting a value in a TOML text changes nothing else, in every layout."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchtimer.recipe.line_finder import Path
from benchtimer.recipe.toml_edit import NotEdited, with_values
from tests.recipe.layouts import KEYS, VALUES, Layout, layouts


def _set(table: Any, path: Path, value: Any) -> Any:
    """A copy of a table with one value set."""
    new = copy.deepcopy(table)
    here = new
    for key in path[:-1]:
        here = here.setdefault(key, {}) if isinstance(here, dict) else here[key]
    here[path[-1]] = value
    return new


@given(layouts())
def test_the_generated_layouts_read_back(layout: Layout) -> None:
    """The drawn texts are valid and match the table they came from."""
    assert tomllib.loads(layout.text) == layout.table


@given(layouts(), VALUES, st.data())
def test_a_value_is_set_in_its_place(layout: Layout, value: Any, data: st.DataObject) -> None:
    """Every byte around the value stays, and the text has the new value."""
    assume(layout.spans)
    path = data.draw(st.sampled_from(sorted(layout.spans, key=repr)))
    start, end = layout.spans[path]
    new = with_values(layout.text, {path: value})
    assert tomllib.loads(new) == _set(layout.table, path, value)
    assert new.startswith(layout.text[:start])
    assert new[start:].endswith(layout.text[end:])


def _same(one: str, other: str) -> int:
    """The length of the common start of two texts."""
    pairs = enumerate(zip(one, other, strict=False))
    return next((i for i, (a, b) in pairs if a != b), min(len(one), len(other)))


def _paths(table: Any, path: Path = ()) -> list[Path]:
    """The paths of all tables in a table, itself first."""
    found = [path] if isinstance(table, dict) else []
    entries = table.items() if isinstance(table, dict) else enumerate(table)
    return found + [
        inner
        for key, value in entries
        if isinstance(value, dict | list)
        for inner in _paths(value, (*path, key))
    ]


@given(layouts(), VALUES, st.lists(KEYS, min_size=1, max_size=3), st.data())
def test_a_new_value_is_inserted(
    layout: Layout, value: Any, names: list[str], data: st.DataObject
) -> None:
    """A new key is inserted in one place, and everything else stays."""
    table = data.draw(st.sampled_from(_paths(layout.table)))
    assume(names[0] not in _get(layout.table, table))
    path = (*table, *names)
    new = with_values(layout.text, {path: value})
    assert tomllib.loads(new) == _set(layout.table, path, value)
    same = _same(layout.text, new) + _same(layout.text[::-1], new[::-1])
    assert same >= len(layout.text)


@given(layouts(), st.data())
def test_a_value_is_removed(layout: Layout, data: st.DataObject) -> None:
    """A removed key takes only its own line with it."""
    own = [
        path for path in layout.spans if not any(path[:n] in layout.spans for n in range(len(path)))
    ]
    named = [path for path in own if len(_get(layout.table, path[:-1])) > 1]
    assume(named)
    path = data.draw(st.sampled_from(sorted(named, key=repr)))
    wanted = copy.deepcopy(layout.table)
    del _get(wanted, path[:-1])[path[-1]]
    new = with_values(layout.text, {path: None})
    assert tomllib.loads(new) == wanted
    assert _same(layout.text, new) + _same(layout.text[::-1], new[::-1]) >= len(new)


def _get(table: Any, path: Path) -> Any:
    for key in path:
        table = table[key]
    return table


def test_separate_tables_stay_separate() -> None:
    """Entries of one list with other tables between them keep their order."""
    text = "[[a]]\nx = 1\n[b]\ny = 2\n[[a]]\nx = 3 # c\n"
    assert with_values(text, {("a", 1, "x"): 4}) == text.replace("x = 3", "x = 4")
    assert with_values(text, {("a", 0, "z"): 4}) == text.replace("[b]", "z = 4\n[b]")


def test_several_values_are_set_at_once() -> None:
    """Several changes are applied in the order given."""
    text = "x = 1\r\n\r\n[a]\r\n# b\r\n"
    new = with_values(text, {("x",): 2, ("a", "b"): [1, {"c": "d"}], ("e", "f"): True})
    assert new == ('x = 2\r\n\r\n[a]\r\nb = [1, {c = "d"}]\r\n# b\r\n\r\n[e]\r\nf = true\r\n')


REFUSED: list[tuple[str, Path, Any, str]] = [
    ("a = 3\n", ("a", "b"), 1, "a is not a table"),
    ("a = [1]\n", ("a", 1), 1, "a has no entry number 1"),
    ("[a]\nb = 1\n", ("a",), None, "a is a table: only keys can be taken out"),
    ("a.b = 1\n", ("a", "b"), None, "would touch something else"),
    ("[[a]]\nb = 1\n", ("a",), [], "would touch something else"),
    ("a = [2026-01-02 ]\nb = 1\n", ("b",), 2, "can't write this text back unchanged"),
]


@pytest.mark.parametrize(("text", "path", "value", "words"), REFUSED)
def test_a_value_without_a_place_is_refused(text: str, path: Path, value: Any, words: str) -> None:
    """A change that would affect anything else is refused with its reason."""
    with pytest.raises(NotEdited, match=words):
        with_values(text, {path: value})
