"""Texts in limited room."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.view.text import folded, whole_pieces, wrapped

WORDS = st.text(alphabet=st.sampled_from("ab -刃🔪é[]"), max_size=80)


@given(WORDS, st.integers(4, 30))
def test_nothing_is_lost_and_nothing_too_wide(text: str, room: int) -> None:
    """Lines of any width keep every letter in order, and wide letters count double."""
    lines = wrapped(text, room)
    assert all(cell_len(line) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert lines == [line.strip() for line in lines]


def test_words_stay_whole_and_gaps_keep_their_width() -> None:
    """A line breaks between words and keeps the spaces inside it."""
    assert wrapped("one   two three", 9) == ["one   two", "three"]
    assert wrapped("", 9) == [""]
    assert wrapped("late 31 min 6 s, x", 14) == ["late", "31 min 6 s, x"]
    assert wrapped("x abcdefghijk y", 4) == ["x", "abcd", "efgh", "ijk", "y"]


@given(WORDS, st.integers(0, 4), st.integers(12, 30))
def test_a_folded_line_keeps_its_margin(text: str, margin: int, room: int) -> None:
    """A wrapped line continues two columns to the right; one that fits is unchanged."""
    line = " " * margin + text.strip()
    lines = folded(line, room)
    assert all(cell_len(part) <= room for part in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert lines == [line] or all(part.startswith(" " * (margin + 2)) for part in lines[1:])


def test_a_line_of_pieces_loses_whole_pieces() -> None:
    """Where a line is too long, its last pieces go whole; the first one always stays."""
    line = "NEXT: PULL #3  in 0:40   butt cap   Hot alkaline cleaner → Blacking salts"
    assert whole_pieces(line, 80) == line
    assert whole_pieces(line, 60) == "NEXT: PULL #3  in 0:40   butt cap"
    assert whole_pieces(line, 5) == "NEXT: PULL #3  in 0:40"
