"""Lines that are still being typed, read the way a shell reads them."""

from __future__ import annotations

import shlex

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.cli.typed import Typed, as_typed, words_of

BREAKS = " \t\n\"'><=;|&(:"
"""bash's own word breaks."""

NAMES = st.text(st.characters(min_codepoint=32, exclude_characters="\x7f"), min_size=1, max_size=20)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", [""]),
        ("benchtimer ", ["benchtimer", ""]),
        ("benchtimer  run ho", ["benchtimer", "run", "ho"]),
        ('part "petty kn', ["part", "petty kn"]),
        ("part 'petty kn", ["part", "petty kn"]),
        ("part petty\\ kn", ["part", "petty kn"]),
        ('part "" x', ["part", "", "x"]),
        ('a"b c"d', ["ab cd"]),
        ("'it'\\''s", ["it's"]),
        ('"a\\"b\\x"', ['a"b\\x']),
        ("end\\", ["end"]),
    ],
)
def test_words_are_read_as_a_shell_reads_them(line: str, words: list[str]) -> None:
    """Quotation marks and backslashes are taken off, and the last word may be unfinished."""
    assert [word.text for word in words_of(line)] == words


@pytest.mark.parametrize(
    ("line", "last"),
    [
        ("compare last:pet", Typed("last:pet", 5)),
        ('compare "last:pet', Typed("last:pet", 0, '"')),
        ("run x pin=ho", Typed("pin=ho", 4)),
        ("run x 'butt cap'=ho", Typed("butt cap=ho", 9)),
        ("part 'x", Typed("x", 0, "'")),
    ],
)
def test_what_bash_replaces_is_known(line: str, last: Typed) -> None:
    """After a word break or an open quotation mark, only the rest is replaced."""
    assert words_of(line, BREAKS)[-1] == last


@given(st.lists(NAMES, max_size=5))
def test_finished_words_are_split_as_a_shell_splits_them(words: list[str]) -> None:
    """Anything the standard library quotes comes back unchanged."""
    line = shlex.join(words) + " "
    assert [word.text for word in words_of(line)] == [*words, ""]


@given(NAMES, st.sampled_from(["", "'", '"']), st.integers(0, 20))
def test_an_inserted_completion_reads_as_one_word(name: str, quote: str, typed: int) -> None:
    """However much of a name is typed, in any quotation marks, the completed word is the name."""
    start = name[:typed] if quote else ""
    if quote and any(letter in "'\"\\$`" for letter in start):
        return
    line = f"part {quote}{start}"
    word = words_of(line, BREAKS)[-1]
    whole = line[: len(line) - len(start)] + as_typed(name, word) + quote
    assert words_of(f"{whole} ")[1].text == name
    if quote != '"' or not set(name) & set("$`"):  # which the library doesn't know there
        assert shlex.split(whole, comments=False)[1] == name


@given(st.text(max_size=60))
def test_anything_can_be_read(line: str) -> None:
    """Any line, however broken, is just words with one at the end."""
    words = words_of(line, BREAKS)
    assert words
    assert 0 <= words[-1].kept <= len(words[-1].text)
