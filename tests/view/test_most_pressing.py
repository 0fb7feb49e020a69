"""Large line, lanes, alarm and watch agree on the most pressing action.

    python -m tests.view.test_most_pressing 10000

checks that many drawn states.
"""

from __future__ import annotations

import sys

import pytest
from hypothesis import given, settings

from benchtimer.bench.moment import Moment, moment_of
from benchtimer.run import commands as c
from benchtimer.run.actions import Action, ActionKind
from benchtimer.shop.shop_state import shop_of
from benchtimer.view.alarm import OVERDUE, alarms_at
from benchtimer.view.board_text import LATE, NOW, BoardView, make_board
from benchtimer.view.picture.scene import Level
from benchtimer.view.picture.sheet import draw
from benchtimer.view.space import Size
from benchtimer.view.telling import next_words
from benchtimer.view.words import large_line, verb
from tests.support import SMALL, Hands, small_recipe
from tests.tui.benches import FEW, benches, dwelling, stamp_at

SIZE = Size(80, 24)
MOVES = (ActionKind.BEGIN, ActionKind.FINISH)


def moment_at(hands: Hands) -> Moment:
    """The bench of these hands now."""
    return moment_of(stamp_at(hands.now_ms), shop_of({"2026-02-02-1": hands.state}))


def check_agreement(moment: Moment) -> None:
    """Check that all four views of one moment agree."""
    first = moment.first
    if first is None:
        return
    board = make_board(moment, first, SIZE, BoardView("2026-02-02-1"))
    bench = moment.bench_of(first)
    words, at = large_line(bench, first, moment.stamp)
    _line_agrees(first, moment.now_ms, words, at)
    assert (board.urgency == LATE) == first.is_late(moment.now_ms)
    lanes = {lane.name: lane for lane in board.scene.lanes}
    if first.part in lanes:
        lane = lanes[first.part]
        assert (lane.level is Level.LATE) == first.is_late(moment.now_ms)
        drawn = [row for row in draw(board.scene, 80, 14).rows if row.part == lane.number]
        if lane.level is not Level.CALM:
            assert drawn[0].text[0] == lane.level.mark
        if board.urgency == NOW and first.kind in MOVES and first.from_station is not None:
            assert lane.left == "NOW"
    late = [alarm for alarm in alarms_at(moment) if alarm.level == OVERDUE]
    if first.is_late(moment.now_ms) and first.kind in MOVES and first.part is not None:
        assert any(first.part in alarm.words for alarm in late)
    if words != "WAIT":
        assert verb(first) in next_words(bench, first, moment.stamp)


def _line_agrees(first: Action, now_ms: int, words: str, at: str) -> None:
    """NOW shows only for due work, and WAIT only for work that is not due."""
    if at == "NOW":
        assert first.blocked is not None or now_ms >= first.due_ms
    if words == "WAIT":
        assert now_ms < first.due_ms


@given(benches())
@FEW
def test_all_views_agree(hands: Hands) -> None:
    """After any presses all four views mean the same action."""
    check_agreement(moment_at(hands))


@given(benches())
@FEW
def test_they_agree_a_minute_later_too(hands: Hands) -> None:
    """All four views change together as time passes."""
    hands.now_ms += 60_000
    check_agreement(moment_at(hands))


LONG = SMALL.replace(
    'dwell = { min = "4 min", target = "5 min", max = "8 min"',
    'dwell = { min = "2 h", target = "3 h", max = "8 h"',
)
"""The small recipe with a dwell of hours, whose pull is too far away for a countdown."""
PULLS = 'title = "Tank"\ntoo_hot = "Pull the parts. Turn off the heat."'


@pytest.mark.parametrize(
    ("recipe", "reading", "words", "more"),
    [
        (LONG, "75 C", "COOL TANK", "Tank reads 75 C, too hot"),
        (
            LONG,
            "85 C",
            "PULL #1",
            "Tank reads 85 C, too hot. Rinse it if it is wet; start nothing else",
        ),
        (
            LONG.replace('title = "Tank"', PULLS),
            "75 C",
            "PULL #1",
            "too hot. Rinse it if it is wet; start nothing else",
        ),
    ],
)
def test_a_bath_too_hot_leads_with_what_to_do(
    recipe: str, reading: str, words: str, more: str
) -> None:
    """Pull the part first, then cool the bath: all four views say so at once."""
    hands = dwelling(recipe=small_recipe(recipe))
    assert large_line(hands.state.bench, _first(hands), moment_at(hands).stamp)[0] == "WAIT"
    hands(c.Read("tank", reading))
    moment = moment_at(hands)
    first = _first(hands)
    check_agreement(moment)
    assert large_line(hands.state.bench, first, moment.stamp) == (words, "NOW")
    board = make_board(moment, first, SIZE, BoardView("2026-02-02-1"))
    assert more in " ".join(board.next_lines)
    assert board.urgency == NOW
    assert [lane.level for lane in board.scene.lanes] == [Level.NOW]
    assert verb(first) in alarms_at(moment)[0].words
    assert next_words(hands.state.bench, first, moment.stamp).startswith(words.split()[0])


def test_a_hot_bath_is_pulled_first_and_cooled_second() -> None:
    """Each press shows the next step, and the heat is turned down after the pull too."""
    hands = dwelling(recipe=small_recipe(LONG))
    hands(c.Read("tank", "85 C"))
    kinds = []
    for _ in range(2):
        first = _first(hands)
        kinds.append(first.kind)
        assert first.command is not None
        hands(first.command)
    assert kinds == [ActionKind.BEGIN, ActionKind.COOL]
    assert ActionKind.COOL not in [action.kind for action in moment_at(hands).actions]


def _first(hands: Hands) -> Action:
    first = moment_at(hands).first
    assert first is not None
    return first


LATER_MS = (0, 60_000, 600_000)
"""Each drawn bench is checked now, after a minute and after ten minutes."""


def campaign(states: int) -> int:
    """Check a number of drawn states, each again ``LATER_MS`` later; return the count."""
    seen = 0

    @given(benches())
    @settings(FEW, max_examples=states, database=None)
    def agree(hands: Hands) -> None:
        nonlocal seen
        seen += 1
        began_ms = hands.now_ms
        for later_ms in LATER_MS:
            hands.now_ms = began_ms + later_ms
            check_agreement(moment_at(hands))

    agree()
    return seen


def test_the_campaign_counts_what_it_looked_at() -> None:
    """The long campaign checks as many states as it is asked for."""
    assert campaign(20) >= 20


if __name__ == "__main__":
    sys.stdout.write(f"{campaign(int(sys.argv[1]))} states agree\n")
