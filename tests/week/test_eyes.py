"""The reader of the screen decodes large letters correctly."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtimer.view.letters import large, with_word
from tests.week.eyes import Unreadable, choices, decoded, seconds_of

VERBS = (
    "PULL #2",
    "LOAD #12",
    "DONE #3",
    "CHECK #1",
    "READ SALTS",
    "GEAR UP: SALTS",
    "NOTE #10",
    "PICK UP #7",
)
TIMES = ("NOW", "LATE 0:42", "12:05", "7:12:04", "0:00", "LATE 100:08:00")


@given(st.sampled_from(VERBS), st.sampled_from(TIMES), st.integers(7, 60))
def test_large_letters_read_back(verb: str, at: str, apart: int) -> None:
    """Every verb, number and time reads back from its cells."""
    rows = [left + " " * apart + right for left, right in zip(large(verb), large(at), strict=True)]
    assert decoded(rows) == f"{verb}|{at.upper()}"


@given(
    st.sampled_from(VERBS),
    st.sampled_from(["12:05", "0:07"]),
    st.integers(7, 60),
    st.booleans(),
    st.sampled_from(["IN", "LATE"]),
)
def test_a_time_is_read_with_its_word(
    verb: str, at: str, apart: int, plain: bool, word: str
) -> None:
    """The IN or LATE before a time reads the same at each of its sizes."""
    right = with_word(word, large(at), len(large(at)[0]) + apart - 1, plain=plain)
    rows = [left + row.rjust(apart + len(large(at)[0])) for left, row in
            zip(large(verb), right, strict=True)]  # fmt: skip
    assert decoded(rows) == (f"{verb}|LATE {at}" if word == "LATE" else f"{verb}|{at}")


def test_an_unknown_shape_is_not_guessed() -> None:
    """A screen that can't be read raises an error, so the week ends."""
    with pytest.raises(Unreadable, match="column 0"):
        decoded(["██████"] * 5)


@pytest.mark.parametrize(
    ("at", "seconds"), [("NOW", 0), ("12:05", 725), ("7:12:04", 25_924), ("LATE 0:42", 0)]
)
def test_the_reader_waits_for_countdowns(at: str, seconds: int) -> None:
    """A countdown gives its seconds; due or late gives zero."""
    assert seconds_of(at) == seconds


def test_answers_are_recognized_by_their_words() -> None:
    """The number before an answer is its key."""
    assert choices("1 dish soap   2 solvent, then soap") == {
        "dish soap": "1",
        "solvent, then soap": "2",
    }
