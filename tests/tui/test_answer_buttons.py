"""Answers that can be touched are whole, or only their digits are shown."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.view.board_text import BUTTON_GAP, _whole
from benchtimer.view.text import wrapped

OPTIONS = st.lists(st.text("abcdef ,", min_size=1, max_size=40), min_size=2, max_size=9)


@given(OPTIONS, st.sampled_from([60, 80, 120, 200]), st.sampled_from([1, 3]))
def test_no_answer_is_cut(options: list[str], width: int, rows: int) -> None:
    """Each answer keeps its key, and its words fit into the room of its button."""
    answers = tuple((str(i), f"{i} {option}") for i, option in enumerate(options, 1))
    shown = _whole(answers, width, rows)
    assert [key for key, _ in shown] == [key for key, _ in answers]
    room = width // len(answers) - BUTTON_GAP
    if rows == 1:
        assert sum(cell_len(words) + BUTTON_GAP for _, words in shown) <= width
    else:
        assert all(len(wrapped(words, room)) <= rows for _, words in shown)
    assert all(words in (key, text) for (key, words), (_, text) in zip(shown, answers, strict=True))


def test_answers_that_fit_keep_their_words() -> None:
    """Yes and no are words at every size."""
    answers = (("y", "1  YES"), ("n", "2  NO"))
    assert _whole(answers, 60, 1) == answers
