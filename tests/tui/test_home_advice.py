"""Home and the board name the same next action."""

from __future__ import annotations

from benchtimer.bench.plans import Advice, part_key, stage_of
from benchtimer.run import commands as c
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.home_page import HomeScreen
from tests.support import MINUTE
from tests.tui.conftest import Shop


async def test_home_says_what_the_planner_advises(shop: Shop) -> None:
    """When the planner puts the second part first, both board and home say so."""
    app = shop.set_up("bolster", "ferrule").app()
    shop.press(c.Read("tank", "65"))
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        stamp = shop.driver.stamp()
        parts = board.desk.state.bench.parts
        keys = {name: part_key(shop.name, name) for name in parts}
        shop.driver.plans.keep(
            Advice(
                begin_ms={
                    keys["bolster"]: stamp.noted_ms + 10 * MINUTE,
                    keys["ferrule"]: stamp.noted_ms,
                },
                stages={keys[name]: stage_of(part) for name, part in parts.items()},
            ),
        )
        first = shop.driver.moment(stamp).actions[0]
        await pilot.press("h")
        await pilot.pause()
        home = app.screen
        assert isinstance(home, HomeScreen)
        assert first.part == "ferrule"
        assert "START #2 ferrule" in home.rows.text
