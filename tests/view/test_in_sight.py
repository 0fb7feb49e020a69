"""The large line in plain letters, in sight on every page."""

from __future__ import annotations

import pytest
from hypothesis import given

from benchtimer.view.in_sight import next_line, next_words
from benchtimer.view.words import large_line
from tests.support import MINUTE, Hands
from tests.tui.benches import FEW, benches, dwelling, hung_up
from tests.view.test_most_pressing import moment_at


@pytest.mark.parametrize(
    ("minutes", "line"),
    [
        (0, "NEXT: PULL #1  in 5:00   bolster   Tank → Rack"),
        (5, "NEXT: PULL #1  NOW   bolster   Tank → Rack"),
        (10, "NEXT: PULL #1  LATE 2:00   bolster   Tank → Rack"),
    ],
)
def test_the_next_action_is_in_one_line(minutes: int, line: str) -> None:
    """Verb, number and time as on the board, then the part and its way."""
    hands = dwelling()
    hands.now_ms = hands.part().since_ms + minutes * MINUTE
    assert next_line(moment_at(hands)) == line


def test_a_wait_says_what_comes() -> None:
    """With nothing to do for hours, the line says what comes next."""
    assert next_words(moment_at(hung_up())).startswith("WAIT ")
    assert "Then " in next_words(moment_at(hung_up()))


@given(benches())
@FEW
def test_it_never_disagrees_with_the_large_line(hands: Hands) -> None:
    """After any presses the line has the words and the time of the large line."""
    moment = moment_at(hands)
    if moment.first is None:
        assert next_line(moment) == ""
        return
    words, at = large_line(moment.bench_of(moment.first), moment.first, moment.stamp)
    assert words in next_line(moment)
    assert at.replace("IN ", "in ") in next_line(moment)
