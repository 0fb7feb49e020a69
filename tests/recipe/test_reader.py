"""Reading files: ids, line ends, byte-order marks, unreadable paths, and line numbers."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from benchtimer.recipe.line_finder import LineFinder
from benchtimer.recipe.problems import MAX_PROBLEMS, RecipeError, RecipeProblem, quoted, value_text
from benchtimer.recipe.reader import MAX_BYTES, parse_recipe, read_recipe
from tests.recipe.drawn import SHIPPED, SMALLEST, problems, read

LINES = """\
# one
title = "T"            # 2

[[step]]               # 4
id = "a"
"quoted key" = 1       # 6
dwell.min = "1 s"    # 7
text = \"""
title = "not a key"
[not.a.table]
\"""
options = [            # 12
  "foo = bar",
  [1, 2,
   3],                 # 15
  "x",
]
[[step.check]]         # 18
id = 'c#'
[[step.check]]
send = { to = "a", inner = { x = 1 } }  # 21
[[step]]
id = "b"
[step.dwell]           # 24
target = 2024-01-01 10:00:00.5
max = 1.5
[walk.a]
b = "5 s"              # 28
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("step",), 4),
        (("step", 0), 4),
        (("step", 0, "quoted key"), 6),
        (("step", 0, "dwell"), 7),
        (("step", 0, "dwell", "min"), 7),
        (("step", 0, "text"), 8),
        (("step", 0, "options"), 12),
        (("step", 0, "options", 0), 13),
        (("step", 0, "options", 1, 2), 15),
        (("step", 0, "options", 2), 16),
        (("step", 0, "check", 0), 18),
        (("step", 0, "check", 0, "id"), 19),
        (("step", 0, "check", 1, "send", "inner", "x"), 21),
        (("step", 0, "check", 1, "send", "missing"), 21),
        (("step", 0, "missing"), 4),
        (("step", 1, "id"), 23),
        (("step", 1, "dwell", "target"), 25),
        (("step", 1, "dwell", "max"), 26),
        (("walk",), 27),
        (("walk", "a", "b"), 28),
        (("missing",), None),
        ((), None),
    ],
)
def test_an_entry_is_found_on_its_line(path: tuple[str | int, ...], line: int | None) -> None:
    """Tables, dotted keys, multi-line arrays and texts like keys give correct lines."""
    assert LineFinder(LINES).line_of(path) == line


def test_only_a_line_feed_ends_a_line() -> None:
    """Other separators that TOML allows in a text don't shift later line numbers."""
    text = 'title = "a\x85b\N{LINE SEPARATOR}c"\nrevision = 1\n'
    assert LineFinder(text).line_of(("revision",)) == 2


@pytest.mark.parametrize(
    ("stem", "found"),
    [
        ("hot-black", "hot-black"),
        ("Hot Black (2)", "hot-black-2"),
        ("-_-", "recipe"),
        ("чернение", "recipe"),
        ("a" * 100, "a" * 40),
        ("a" * 39 + " b", "a" * 39),
    ],
)
def test_the_id_comes_from_the_file_name(stem: str, found: str, tmp_path: Path) -> None:
    """A file without an id gets one from its name, for any name."""
    path = tmp_path / f"{stem}.toml"
    path.write_text(SMALLEST, encoding="utf-8")
    assert read_recipe(path).id == found


def test_the_files_own_id_takes_precedence() -> None:
    """An id in the file wins."""
    assert read(f'id = "own"\n{SMALLEST}').id == "own"


def test_line_ends_and_byte_order_marks_of_other_systems_are_accepted() -> None:
    """Carriage returns and a byte-order mark change nothing."""
    windows = b"\xef\xbb\xbf" + SMALLEST.replace("\n", "\r\n").encode()
    assert read(windows) == read(SMALLEST)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_recipes_have_no_problem(path: Path) -> None:
    """Every shipped recipe is valid and has its file's name as id."""
    assert read_recipe(path).id == path.stem


def test_an_unreadable_file_gets_a_message(tmp_path: Path) -> None:
    """A missing file, a folder and an impossible name get three plain messages."""
    for path, words in (
        (tmp_path / "none.toml", "No such file"),
        (tmp_path, "directory"),
        (Path("a\0b.toml"), "no file can have that name"),
    ):
        with pytest.raises(RecipeError, match=words) as caught:
            read_recipe(path)
        assert caught.value.problems[0].allowed == "check the path"


def test_an_unprintable_name_is_escaped(tmp_path: Path) -> None:
    """Control codes and stray bytes in a file's name don't reach the terminal."""
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\x1b[31m\xff.toml"))
    with pytest.raises(RecipeError) as caught:
        read_recipe(path)
    str(caught.value).encode("utf-8")
    assert all(line.isprintable() for line in str(caught.value).split("\n"))


def test_a_file_may_be_as_large_as_the_limit_and_no_larger() -> None:
    """A file at the size limit is read, and one byte more is refused."""
    filled = SMALLEST + "#" * (MAX_BYTES - len(SMALLEST))
    assert problems(filled) == []
    assert "larger than 256 KiB" in problems(filled + "#")[0].found


def test_problems_come_in_the_order_of_the_file() -> None:
    """Problems come in the order of the file."""
    text = SMALLEST.replace("20 s", "20").replace('"Wipe"', "1") + "x = 1\n"
    lines = [problem.line for problem in problems(text)]
    assert lines == [2, 7, 8]


def test_a_message_has_file_line_place_finding_remedy_and_spelling() -> None:
    """One line has file, line number, place, finding, fix and spelling, in this order."""
    with pytest.raises(RecipeError) as caught:
        parse_recipe(
            SMALLEST.replace("hands", "hnads").encode(), name="wipe.toml", default_id="wipe"
        )
    head, *lines = str(caught.value).splitlines()
    assert head == "wipe.toml: 2 problems"
    assert lines[1] == (
        '  wipe.toml:7: step "wipe": unknown key "hnads"; known here: id, title, text, at, hands, '
        'rinse, dwell, check, source; did you mean "hands"?'
    )


def test_a_long_list_of_problems_is_cut_and_counted() -> None:
    """Fifty problems are shown, and the rest are counted."""
    error = RecipeError("x", [RecipeProblem("here", "this", "that", line=i) for i in range(60)])
    lines = str(error).splitlines()
    assert len(lines) == MAX_PROBLEMS + 2
    assert lines[-1] == "  and 10 more"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("a\nb", '"a?b"'),
        ("x" * 61, f'"{"x" * 60}..."'),
        ("x" * 60, f'"{"x" * 60}"'),
        (True, "true"),
        (12, "12"),
        (10**30, "a number over 20 digits"),
        (1.5, "1.5"),
        ([1], "a list"),
        ({"a": 1}, "a table"),
    ],
)
def test_values_are_quoted_as_the_maker_wrote_them(value: object, words: str) -> None:
    """Values appear in TOML's own spelling, short and safe."""
    assert value_text(value) == words
    assert not isinstance(value, str) or quoted(value) == words
