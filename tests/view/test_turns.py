"""Large line, next line, your hands and lane marks have one order for all due work."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from benchtimer.bench.moment import Moment, moment_of
from benchtimer.bench.plans import Advice, MoveAhead, part_key, stage_of
from benchtimer.run.actions import ActionKind
from benchtimer.shop.shop_state import shop_of
from benchtimer.view.board_text import BoardView, make_board
from benchtimer.view.picture.lane_rows import READ
from benchtimer.view.space import Size
from tests.support import MINUTE, SMALL, Hands, small_recipe
from tests.tui.benches import stamp_at

RUN = "2026-02-02-1"
WIDE = Size(200, 60)


def _late_three() -> Hands:
    """Three parts in a tank that holds three, loaded one after another; all are past max."""
    recipe = small_recipe(SMALL.replace("holds = 1", "holds = 3", 1))
    hands = Hands(names=("bolster", "ferrule", "pin"), recipe=recipe)
    for name in hands.names:
        hands.to_tank(name)
    hands.now_ms += 20 * MINUTE
    return hands


def _moment(hands: Hands, order: tuple[str, ...] = ()) -> Moment:
    """The bench, with a plan that pulls the parts in this order, 40 s each."""
    bench, now_ms = hands.state.bench, hands.now_ms
    starts = {name: now_ms + 40_000 * i for i, name in enumerate(order)}
    advice = Advice(
        begin_ms={part_key(RUN, name): t_ms for name, t_ms in starts.items()},
        stages={part_key(RUN, name): stage_of(bench.parts[name]) for name in order},
        moves=tuple(
            MoveAhead(part_key(RUN, name), t_ms, t_ms + 40_000, None, is_late=True)
            for name, t_ms in starts.items()
        ),
    )
    return moment_of(stamp_at(now_ms), shop_of({RUN: hands.state}), advice)


def _orders(moment: Moment) -> tuple[list[str], list[str], list[str]]:
    """Due parts and readings in the order of large line, next line, hands and lanes."""
    board = make_board(moment, moment.first, WIDE, BoardView(RUN))
    assert moment.first is not None
    part = moment.first.part
    reads = moment.first.kind is ActionKind.READING
    first = READ if reads else str(moment.bench_of(moment.first).parts[part or ""].number)
    due = board.then_line.partition("all done")[0]
    due = re.split(r"   (?=at |in )", due)[0]
    then = [a or READ for a in re.findall(r"PULL #(\d+)|READ \w+", due)]
    hands = [work.label for work in board.scene.hands][: 1 + len(then)]
    lanes = sorted(
        (lane.pull_ms, str(lane.number)) for lane in board.scene.lanes if lane.pull_ms is not None
    )
    return [first, *then], hands, [number for _, number in lanes]


def test_late_parts_are_pulled_in_the_order_of_the_plan() -> None:
    """Late parts follow the plan's order in large line, next line, hands and lanes."""
    moment = _moment(_late_three(), ("pin", "bolster", "ferrule"))
    said, hands, lanes = _orders(moment)
    assert said[:3] == ["3", "1", "2"]
    assert hands[:3] == lanes == ["3", "1", "2"]
    board = make_board(moment, moment.first, WIDE, BoardView(RUN))
    turns = {lane.number: lane.left for lane in board.scene.lanes}
    assert turns == {3: "DO 1st", 1: "DO 2nd", 2: "DO 3rd"}


def test_a_due_reading_is_listed_among_the_next_actions() -> None:
    """A due reading of the tank follows the late pulls, in words and in your hands."""
    moment = _moment(_late_three(), ("pin", "bolster", "ferrule"))
    said, hands, _ = _orders(moment)
    assert said == hands == ["3", "1", "2", READ]


def test_without_a_plan_the_longest_overdue_part_comes_first() -> None:
    """Without a plan the window that ended first comes first."""
    said, hands, _ = _orders(_moment(_late_three()))
    assert said[:3] == ["1", "2", "3"]
    assert hands[0] == READ  # without a plan only readings are drawn


def test_a_due_part_keeps_its_block_as_long_as_you_take() -> None:
    """A planned pull whose time has passed stays in your hands, from now on."""
    hands = _late_three()
    planned = _moment(hands, ("pin", "bolster", "ferrule"))
    later = moment_of(
        stamp_at(hands.now_ms + 5 * MINUTE), shop_of({RUN: hands.state}), planned.advice
    )
    assert _orders(later)[1][:3] == ["3", "1", "2"]


def _doomed(now_to_max_ms: int, *, planned_late: bool, blocked: bool = False) -> Moment:
    """Two parts in a tank of three; the second is near its max, and the plan can't keep it."""
    recipe = small_recipe(SMALL.replace("holds = 1", "holds = 3", 1))
    hands = Hands(names=("bolster", "ferrule", "pin"), recipe=recipe)
    for name in hands.names[:2]:
        hands.to_tank(name)
    ends_ms = hands.part("ferrule").since_ms + 8 * MINUTE
    hands.now_ms = ends_ms - now_to_max_ms
    moment = _moment(hands, ("bolster", "ferrule"))
    moves = tuple(replace(m, is_late=planned_late) for m in moment.advice.moves)
    moment = moment_of(moment.stamp, moment.shop, replace_advice(moment.advice, moves))
    if blocked:
        actions = [
            replace(a, blocked="Rack is full: cap") if a.part == "ferrule" else a
            for a in moment.actions
        ]
        moment = replace(moment, actions=actions)
    return moment


def replace_advice(advice: Advice, moves: tuple[MoveAhead, ...]) -> Advice:
    """The same advice with other moves and a late end."""
    return replace(advice, moves=moves, end_ms=advice.now_ms + 999 * MINUTE)


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize(("late", "blocked"), [(True, False), (False, True), (True, True)])
def test_a_part_that_cant_be_saved_is_named_by_its_max(
    width: int, late: bool, blocked: bool
) -> None:
    """The next line names a part near its max that no plan keeps."""
    moment = _doomed(65_000, planned_late=late, blocked=blocked)
    first = moment.first
    assert first is not None
    assert first.part == "bolster"
    then = make_board(moment, first, Size(width, 24), BoardView(RUN)).then_line
    assert "max in 1 min PULL #2" in then
    assert "PULL #2" not in then.replace("max in 1 min PULL #2", "")


def test_a_part_the_plan_saves_shows_its_time_once() -> None:
    """A part that the plan keeps shows no max, and the large line is not repeated."""
    moment = _doomed(65_000, planned_late=False)
    assert "max" not in make_board(moment, moment.first, WIDE, BoardView(RUN)).then_line
    doomed = _doomed(65_000, planned_late=True)
    ferrule = next(a for a in doomed.actions if a.part == "ferrule")
    assert "PULL #2" not in make_board(doomed, ferrule, WIDE, BoardView(RUN)).then_line


def test_a_planned_move_after_a_reading_is_among_the_next_actions() -> None:
    """The next line names a pick-up that follows a reading of the tank."""
    hands = Hands(names=("bolster",))
    bench, now_ms = hands.state.bench, hands.now_ms
    key = part_key(RUN, "bolster")
    moves = (MoveAhead(key, now_ms + 60_000, now_ms + 90_000, None),)
    advice = Advice(stages={key: stage_of(bench.parts["bolster"])}, moves=moves)
    moment = moment_of(stamp_at(now_ms), shop_of({RUN: hands.state}), advice)
    assert moment.first is not None
    assert moment.first.kind is ActionKind.READING
    board = make_board(moment, moment.first, WIDE, BoardView(RUN))
    assert board.then_line.startswith("then  in 1 min START #1")
