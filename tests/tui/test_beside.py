"""New work is planned around the work on the bench."""

from __future__ import annotations

from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.planning import PlanScreen, think
from benchtimer.view.draft import Draft
from benchtimer.view.plan_rows import PlanSheet, details, lead_lines, plan_rows
from benchtimer.view.space import Size
from tests.plan.plan_check import check_plan
from tests.support import SMALL, small_recipe
from tests.tui.conftest import Shop
from tests.tui.pilots import press, said, shown, write

OTHER = small_recipe(SMALL.replace('title = "Tank"', 'title = "Other tank"'))
SIZE = Size(100, 40)


def _sheet(shop: Shop, draft: Draft) -> PlanSheet:
    found: list[PlanSheet] = []
    stamp = shop.driver.stamp()
    think(draft, stamp, lambda: False, found.append, shop=shop.driver.shop(stamp))
    return found[-1]


def test_parts_wait_for_a_full_tank(shop: Shop) -> None:
    """The tank holds one, so the new part goes in after the first, and both show their numbers."""
    shop.set_up("bolster").to_tank("bolster")
    draft = Draft().add(small_recipe(), "cap")
    sheet = _sheet(shop, draft)
    plan = sheet.plan
    assert plan is not None
    assert check_plan(sheet.problem, plan) == []
    by_part = {dwell.part: dwell for dwell in plan.dwells if dwell.station == "tank"}
    assert by_part["cap"].in_s >= (by_part[f"{shop.name}:bolster"].out_s or 0)
    stamp = shop.driver.stamp()
    there = shop.driver.shop(stamp)
    for size in (SIZE, Size(57, 20)):
        rows = plan_rows(draft, sheet, size, stamp, there)
        text = "\n".join(line for row in rows for line in row.lines)
        assert " #1 bolster" in text
        assert " #2 cap" in text
    assert "Planned around the runs on the bench" in lead_lines(draft, sheet, False, SIZE, stamp, 1)
    assert "cap" in details(sheet, stamp)


def test_another_tank_is_free(shop: Shop) -> None:
    """Two titles are two tanks, so the new part waits for neither."""
    shop.set_up("bolster").to_tank("bolster")
    draft = Draft().add(OTHER, "cap")

    def tanks(asked: Draft) -> int:
        plan = _sheet(shop, asked).plan
        assert plan is not None
        return len({dwell.station for dwell in plan.dwells if "tank" in dwell.station})

    assert tanks(draft) == 2


def test_a_start_for_later_is_kept_beside_the_bench(shop: Shop) -> None:
    """The new part does not begin before its time, and the page counts from that start."""
    shop.set_up("bolster").to_tank("bolster")
    stamp = shop.driver.stamp()
    draft = Draft().add(small_recipe(), "cap").with_start("in 3 h", stamp)
    sheet = _sheet(shop, draft)
    assert sheet.plan is not None
    assert min(move.start_s for move in sheet.plan.moves if move.part == "cap") >= 3 * 3600
    lead = lead_lines(draft, sheet, False, SIZE, stamp, 1)
    assert ", 2 h 15 min after the start, " in lead
    assert sheet.zero == stamp


def test_a_run_that_is_only_set_up_occupies_no_place(shop: Shop) -> None:
    """With no run under way the new work is planned alone, and the page says so."""
    shop.set_up("bolster", started=False)
    draft = Draft().add(small_recipe(), "cap")
    sheet = _sheet(shop, draft)
    assert [part.name for part in sheet.problem.parts] == ["cap"]
    lead = lead_lines(draft, sheet, False, SIZE, shop.driver.stamp(), 1)
    assert "Not in this plan: the run already on the bench" in lead


async def test_the_same_parts_are_set_up_twice_only_on_a_second_press(shop: Shop) -> None:
    """The page names the run that already has these parts; SPACE again sets up another one."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        for runs in (1, 2):
            await press(pilot, "h p")
            await write(pilot, "hot-black pin")
            await press(pilot, "space")
            if runs == 2:
                words = said(shown(app, PlanScreen))
                assert f"Run {shop.driver.names[0]} has the same parts: pin. SPACE again" in words
                await press(pilot, "space")
            assert len(shop.driver.names) == runs
            assert isinstance(app.screen, BoardScreen)
