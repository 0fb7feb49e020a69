"""Drawing only the changes shows the same screen as drawing everything."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual._compositor import ChopsUpdate
from textual.geometry import Region

from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.compositor import NarrowCompositor, runs
from benchtimer.tui.drawing import Drawing
from tests.support import SMALL, small_recipe
from tests.tui.conftest import Shop

PARTS = ("bolster", "ferrule", "pin")


def _changed(update: ChopsUpdate | None) -> dict[int, str]:
    """The text of each row that an update draws."""
    assert update is not None
    rows = {y for y, _, _ in update.spans}
    return {
        y: "".join(strip.text for strip in update.chops[y].values() if strip is not None)
        for y in rows
    }


@pytest.mark.parametrize("size", [(120, 40), (80, 24), (60, 20)], ids=str)
async def test_rows_drawn_alone_are_the_rows_of_the_whole_screen(
    shop: Shop, size: tuple[int, int]
) -> None:
    """Any rows drawn alone match the same rows of the whole screen."""
    shop.set_up(*PARTS, recipe=small_recipe(SMALL.replace("holds = 1", "holds = 3")))
    for part in PARTS:
        shop.to_tank(part)
    app = shop.app()
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        compositor = app.screen._compositor
        assert isinstance(compositor, NarrowCompositor)
        whole = [strip.text for strip in compositor.render_strips()]
        for rows in (*({y} for y in range(size[1])), {0, 3, 4, 12, size[1] - 1}):
            compositor._dirty_regions = {Region(0, y, size[0], 1) for y in rows}
            assert _changed(compositor.render_partial_update()) == {y: whole[y] for y in rows}


@given(st.sets(st.integers(0, 60)))
def test_spans_of_rows_cover_all_rows(rows: set[int]) -> None:
    """Adjacent rows make one group; no row is lost or added, and no two groups touch."""
    found = runs(sorted(rows))
    assert [y for first, height in found for y in range(first, first + height)] == sorted(rows)
    assert all(a + height < b for (a, height), (b, _) in pairwise(found))


async def test_every_countdown_changes_each_second(shop: Shop) -> None:
    """Each second every lane shows one second less, also on the screen that is sent."""
    shop.set_up(*PARTS, recipe=small_recipe(SMALL.replace("holds = 1", "holds = 3")))
    for part in PARTS:
        shop.to_tank(part)
    app = shop.app()
    async with app.run_test(size=(120, 40)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        await pilot.pause()
        for _ in range(12):
            before = _lefts(board)
            shop.clock.advance(1000)
            board.tick()
            assert [was - now for was, now in zip(before, _lefts(board), strict=True)] == [1, 1, 1]
            await pilot.pause()
            assert _lefts(board) == _seen(board)


LEFT = re.compile(r"^.#\d+ .*?TANK +in (\d+):(\d\d) ")


def _lefts(board: BoardScreen) -> list[int]:
    """The seconds left in each lane of the picture."""
    return _seconds([row.text for row in board.query_one(Drawing).rows])


def _seen(board: BoardScreen) -> list[int]:
    """The seconds left in each lane of the screen."""
    return _seconds([strip.text for strip in board._compositor.render_strips()])


def _seconds(rows: list[str]) -> list[int]:
    found = [LEFT.match(row) for row in rows]
    return [60 * int(at[1]) + int(at[2]) for at in found if at is not None]
