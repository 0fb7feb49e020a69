"""Large letters and the large view: legible, and as large as the room allows."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.run.agenda import agenda
from benchtimer.view.glance import glance_lines, scales
from benchtimer.view.letters import ROWS, can_draw, fits, large, largest, width_of
from benchtimer.view.space import Size
from benchtimer.view.words import verb, when
from tests.support import MINUTE, Hands
from tests.tui.benches import FEW, benches, dwelling, stamp_at

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789:.,-+/'!?()&%#"
TEXTS = st.text(LETTERS + " ", min_size=1, max_size=10)

CONFUSED = {("B", "8"), ("I", "1"), ("S", "5"), ("O", "0"), ("Z", "2"), ("G", "6")}
"""Pairs that look alike in any alphabet with so few cells."""


def test_no_two_digits_or_letters_look_alike() -> None:
    """Every figure and letter has its own drawing."""
    drawn = {char: tuple(large(char)) for char in LETTERS}
    same = {pair for pair in combinations(sorted(drawn), 2) if drawn[pair[0]] == drawn[pair[1]]}
    assert same <= {tuple(sorted(pair)) for pair in CONFUSED}
    assert len({drawn[figure] for figure in "0123456789"}) == 10


@given(TEXTS, st.integers(1, 4), st.sampled_from("█#"))
def test_scaled_letters_are_the_same_letters(text: str, scale: int, ink: str) -> None:
    """At twice the scale each cell is twice as wide and high, in any ink."""
    once, more = large(text), large(text, scale, ink)
    assert len(more) == ROWS * scale
    assert {len(row) for row in more} == {width_of(text, scale)}
    assert [row[::scale].replace(ink, "█") for row in more[::scale]] == once
    assert set("".join(more)) <= {ink, " "}


@given(TEXTS, st.integers(1, 250), st.integers(1, 70))
def test_the_largest_scale_fits_and_the_next_does_not(text: str, columns: int, rows: int) -> None:
    """The largest scale that fits is chosen, in columns and in rows."""
    scale = largest(text, columns, rows)
    assert scale == 0 or (fits(text, columns, scale) and ROWS * scale <= rows)
    assert not (fits(text, columns, scale + 1) and ROWS * (scale + 1) <= rows)


@pytest.mark.parametrize("text", ["刃", "a_b", "é", "→"])
def test_a_character_without_a_large_form_is_not_drawn(text: str) -> None:
    """A text with a sign that has no drawing is found in time to use plain letters."""
    assert not can_draw(text)
    assert not fits(text, 1000)
    assert largest(text, 1000, 1000) == 0
    assert largest("", 1000, 1000) == 0
    assert width_of("") == 0


def test_small_letters_are_drawn_as_capitals() -> None:
    """Lowercase letters are drawn as capitals."""
    assert large("Ab") == large("AB")


@given(st.lists(TEXTS, min_size=1, max_size=3), st.integers(1, 200), st.integers(4, 60))
def test_texts_share_the_rows_of_the_large_view(texts: list[str], columns: int, rows: int) -> None:
    """Each text is as large as fits, together they fit the rows, and the first ones go first."""
    found = scales(texts, columns, rows)
    used = sum(ROWS * scale + 1 for scale in found if scale)
    used += 2 * sum(not scale for scale in found[:2])
    assert used <= rows or not any(found)
    assert all(
        fits(text, columns, scale) for text, scale in zip(texts, found, strict=True) if scale
    )
    could = [scale for text, scale in zip(texts, found, strict=True) if fits(text, columns)]
    assert sorted(scale == 0 for scale in could) == [scale == 0 for scale in could]


def test_one_more_row_never_shows_less() -> None:
    """With more rows nothing gets smaller."""
    texts = ["PULL #1", "4:00", "bolster"]
    before = [0, 0, 0]
    for rows in range(6, 80):
        found = scales(texts, 200, rows)
        assert sum(found) >= sum(before)
        before = found
    assert before == [5, 5, 5]


@given(benches(), st.integers(56, 200), st.integers(12, 60))
@FEW
def test_the_large_view_fits_and_shows_action_and_time(
    hands: Hands, width: int, height: int
) -> None:
    """Each line fills the width, and the lines below are complete."""
    for action in agenda(hands.state.bench, hands.now_ms):
        below = ("bolster   Tank → Rack", "Look", "SPACE as you pull #1 bolster")
        stamp = stamp_at(hands.now_ms)
        lines = glance_lines(hands.state.bench, action, stamp, Size(width, height), below)
        assert {cell_len(line) for line in lines if line} == {width}
        assert [line.strip() for line in lines[-3:]] == list(below)
        large_or_plain = "\n".join(lines)
        assert "█" in large_or_plain or verb(action) in large_or_plain


@pytest.mark.parametrize(("size", "inked"), [((56, 8), 0), ((56, 20), 15), ((76, 30), 20)])
def test_verb_and_time_take_precedence_over_the_name(size: tuple[int, int], inked: int) -> None:
    """With few rows the name stays small first; with hardly any, all is plain."""
    hands = dwelling()
    (action, *_) = agenda(hands.state.bench, hands.now_ms)
    stamp = stamp_at(hands.now_ms + MINUTE)
    lines = glance_lines(hands.state.bench, action, stamp, Size(*size), ("a", "b", "c"))
    assert len(lines) <= max(size[1], 7)
    assert sum("█" in line for line in lines) == inked
    if not inked:
        assert [line.strip() for line in lines if line.strip()] == [
            "PULL #1", f"IN {when(action, stamp)}", "a", "b", "c"]  # fmt: skip
