"""Changing a recipe file keeps its comments, its order, and every other line."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.recipe.adjust import adjusted, parse_adjustment
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.problems import RecipeError
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.revise import differences, revised
from benchtimer.recipe.writer import recipe_table

WHOLE = (Path(__file__).parent / "whole.toml").read_text(encoding="utf-8")
PLAIN = WHOLE[: WHOLE.index("\n[lineage]")]
COMMENTS = re.findall(r"#.*", WHOLE)


def _parsed(text: str) -> Recipe:
    return parse_recipe(text.encode(), name="whole.toml", default_id="whole")


def _after(text: str, *changes: str) -> dict[str, Any]:
    """The table of a recipe after changes such as ``brew.target=11 min``."""
    recipe = adjusted(_parsed(text), [parse_adjustment(change) for change in changes])
    return dict(recipe_table(recipe))


DWELL = 'dwell = { min = "8 min", target = "10 min", max = "20 min", source = "card" }'
CHANGES = [
    ("scrub.hands=3 min", 'hands = "3 min"  # long enough'),
    ("brew.min=9 min", DWELL.replace('min = "8 min"', 'min = "9 min"')),
    ("brew.target=12 min", DWELL.replace('target = "10 min"', 'target = "12 min"')),
    ("brew.max=21 min", DWELL.replace('max = "20 min"', 'max = "21 min"')),
    ("wax.target=90 s", 'target = "1 min 30 s"'),
    ("tank.holds=3", "holds = 3"),
    ("tank.holds=1", "holds = 1"),
    ("brew.volume=6 L", 'volume = "6 L"'),
    ("brew.1=100 g/L", 'amount = "100 g/L"  # weigh it'),
    ("brew.3=3 %", 'amount = "3 %"'),
]  # fmt: skip


@pytest.mark.parametrize(("change", "line"), CHANGES, ids=[change for change, _ in CHANGES])
def test_one_line_changes_and_no_other(change: str, line: str) -> None:
    """The new value is in its own line with its comment, and all others stay."""
    found, kept = revised(PLAIN, _after(PLAIN, change))
    old, new = PLAIN.splitlines(), found.splitlines()
    assert kept
    assert [b for a, b in zip(old, new, strict=True) if a != b] == [line]


_MINUTES = st.integers(9, 19).map("{} min".format)
_SOME = st.lists(
    st.one_of(
        _MINUTES.map("brew.target={}".format),
        st.integers(1, 99).map("tank.holds={}".format),
        st.integers(61, 69).map("tank.target={} C".format),
        st.integers(1, 200).map("brew.1={} g/L".format),
        st.integers(1, 300).map("wax.hands={} s".format),
    ),
    max_size=6,
)


@given(_SOME)
def test_comments_survive_any_change(changes: list[str]) -> None:
    """Any changes read back as wanted, with every comment in place."""
    table = _after(PLAIN, *changes)
    found, kept = revised(PLAIN, table)
    assert kept
    assert recipe_table(_parsed(found)) == table
    assert re.findall(r"#.*", found) == COMMENTS


def test_no_change_leaves_everything_as_it_is() -> None:
    """A recipe with no changes comes back as it was."""
    assert revised(PLAIN, recipe_table(_parsed(PLAIN))) == (PLAIN, True)


def test_a_missing_limit_is_added() -> None:
    """A new ceiling goes into the inline table of its station."""
    found, kept = revised(PLAIN, _after(PLAIN, "pot.ceiling=190 F"))
    assert kept
    old = '{ min = "150 F", max = "180 F" }'
    assert found == PLAIN.replace(old, '{ min = "150 F", max = "180 F", ceiling = "190 F" }')


def test_a_value_without_a_line_gets_one() -> None:
    """A new limit in a table with its own header gets a new line, and all comments stay."""
    found, kept = revised(PLAIN, _after(PLAIN, "wax.max=5 min"))
    assert kept
    assert found == PLAIN.replace('target = "2 min"\n', 'target = "2 min"\nmax = "5 min"\n')


def test_a_different_recipe_loses_the_comments() -> None:
    """A recipe with another number of steps is rewritten, and its first line says so."""
    table = _after(PLAIN)
    table["step"] = table["step"][1:]
    found, kept = revised(PLAIN, table)
    assert not kept
    assert found.startswith("# Comments from the original file could not be kept: ")
    assert recipe_table(_parsed(found)) == table


def test_a_missing_file_loses_the_comments_and_says_why() -> None:
    """If the old text is missing, the first line gives the reason."""
    found, kept = revised(None, recipe_table(_parsed(PLAIN)), "the file is gone")
    assert not kept
    assert found.splitlines()[0].endswith("could not be kept: the file is gone.")
    assert _parsed(found) == _parsed(PLAIN)


def test_text_that_is_not_a_recipe_loses_the_comments() -> None:
    """A broken file is not edited; the recipe is rewritten."""
    found, kept = revised("not a recipe", recipe_table(_parsed(PLAIN)))
    assert not kept
    assert _parsed(found) == _parsed(PLAIN)


def test_a_table_that_is_not_a_recipe_is_refused() -> None:
    """A table that could not be read back is refused."""
    with pytest.raises(RecipeError, match="the new revision"):
        revised(PLAIN, {"schema": 1, "title": "x"})


def test_a_revision_is_added_below_the_top_keys() -> None:
    """A file without a revision gets one in its own line, above all headers."""
    bare = PLAIN.replace("revision = 4  # the fourth\n", "")
    table = {**recipe_table(_parsed(bare)), "revision": 2}
    found, kept = revised(bare, table)
    assert kept
    assert found == bare.replace('line about it. "\n', 'line about it. "\nrevision = 2\n')


LINEAGE = {"run": "2026-03-03-1", "uid": "u2", "made_from": "whole, revision 4"}


def test_a_new_lineage_replaces_the_old() -> None:
    """The lineage keeps its position and has only the new values."""
    table = recipe_table(_parsed(WHOLE))
    start, end = WHOLE.index("[lineage]"), WHOLE.index('[[step]]\nid = "wax"')
    middle = f"{WHOLE[:end]}{WHOLE[start:]}# The wax.\n{WHOLE[end:start]}"
    for text in (WHOLE, middle):
        found, kept = revised(text, {**table, "lineage": LINEAGE, "revision": 5})
        old = text[text.index("[lineage]") : text.index("scrub: Which grit? P800")]
        assert kept
        assert found == text.replace("revision = 4 ", "revision = 5 ").replace(
            f'{old}scrub: Which grit? P800"]\n', f"[lineage]\n{_lines(LINEAGE)}"
        )


def _lines(table: dict[str, str]) -> str:
    return "".join(f'{key} = "{value}"\n' for key, value in table.items())


def test_a_first_lineage_goes_to_the_end() -> None:
    """A first lineage goes to the end, and a long list has one entry per line."""
    worked = [f"scrub: Which grit? P{number}" for number in (400, 800, 1200, 2000)]
    found, kept = revised(PLAIN, {**_after(PLAIN), "lineage": {**LINEAGE, "worked": worked}})
    assert kept
    listed = "".join(f'    "{text}",\n' for text in worked)
    assert found == f"{PLAIN}\n[lineage]\n{_lines(LINEAGE)}worked = [\n{listed}]\n"


@pytest.mark.parametrize(
    "line",
    ["target = '65 C'", 'target="65 C"', 'target   =   "65 C"', 'target = "149 F"'],
)
def test_any_way_of_writing_a_value_is_changed(line: str) -> None:
    """Single quotes, no spaces, many spaces and another unit are all replaced."""
    text = PLAIN.replace('target = "65 C"', line)
    found, kept = revised(text, _after(text, "tank.target=66 C"))
    assert kept
    window = _parsed(found).station[1].temperature
    assert window is not None
    assert str(window.target) == "66 C"
    assert re.findall(r"#.*", found) == COMMENTS


def test_a_file_from_another_system_keeps_its_comments() -> None:
    """Lines that end in CR LF keep that ending, and so do new ones."""
    table = {**_after(PLAIN, "wax.max=5 min"), "lineage": LINEAGE}
    found, kept = revised(PLAIN.replace("\n", "\r\n"), table)
    assert kept
    assert found == revised(PLAIN, table)[0].replace("\n", "\r\n")


def test_a_value_like_one_in_a_comment_is_not_mistaken() -> None:
    """A comment that looks like the value stays."""
    text = PLAIN.replace('hands = "45 s"', 'hands = "45 s"  # hands = "30 s" was too short')
    found, kept = revised(text, _after(text, "wax.hands=50 s"))
    assert kept
    assert 'hands = "50 s"  # hands = "30 s" was too short' in found


@given(st.recursive(st.integers(), lambda x: st.lists(x) | st.dictionaries(st.text(), x)))
def test_equal_tables_have_no_differences(table: Any) -> None:
    """Equal tables have no differences, in any form."""
    assert list(differences(table, table)) == []


def test_differences_are_named_by_path() -> None:
    """Changed, removed and new values have paths; lists of different lengths are one value."""
    old = {"a": 1, "b": [1, 2], "c": {"d": 1}, "e": [1], "gone": 3}
    new = {"a": 1, "b": [1, 3], "c": {"d": 2}, "e": [1, 2], "new": 4}
    assert list(differences(old, new)) == [
        (("b", 1), 2, 3), (("c", "d"), 1, 2), (("e",), [1], [1, 2]),
        (("gone",), 3, None), (("new",), None, 4),
    ]  # fmt: skip
