"""Jobs on the screen: tonight's work at the top of home, and the page of one job."""

from __future__ import annotations

from contextlib import suppress
from datetime import date

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static
from textual.worker import WorkerFailed

from benchtimer.job.job_decide import OpenJob
from benchtimer.job.order import Order, OrderPart
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.tui.app import BenchApp
from benchtimer.tui.dialogs import HelpPage, LinePage
from benchtimer.tui.home_page import HomeScreen
from benchtimer.tui.joborderpage import JobOrderPage
from benchtimer.tui.jobpage import JobScreen
from benchtimer.tui.row_page import RowPage
from tests.tui.conftest import Shop
from tests.tui.pilots import planned, press, said, shown

RECIPES = list(RecipeFiles().paths())


@pytest.fixture(autouse=True)
def _few_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test here depends on how exact a chance is."""
    monkeypatch.setattr("benchtimer.tui.jobpage.TRIALS", 40)


def _with_job(shop: Shop) -> Shop:
    order = Order(
        date(2026, 3, 20),
        (
            OrderPart("bolster", ("fittings-polish", "hot-black")),
            OrderPart("ferrule", ("fittings-polish",)),
        ),
    )
    shop.driver.write_job("petty knife", OpenJob(order), RECIPES)
    return shop


async def test_space_on_home_sets_up_tonights_first_run(shop: Shop) -> None:
    """Home starts with tonight's work; SPACE sets the run up, and the run has its job."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        home = shown(app, HomeScreen)
        assert home.rows.text.startswith(" TONIGHT")
        assert "SPACE sets up fittings-polish: bolster, ferrule" in home.rows.text
        assert "petty knife  due Fri Mar 20" in home.rows.text
        await press(pilot, "space")
        (name,) = shop.driver.names
    bench = shop.driver.state(name).bench
    assert bench.jobs == {
        "bolster": "petty knife/bolster",
        "ferrule": "petty knife/ferrule",
    }


@pytest.mark.parametrize(
    ("page", "work"), [("home", "job.evening.evening_of"), ("job", "tui.jobpage.better")]
)
async def test_a_calculation_that_fails_is_reported(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, page: str, work: str
) -> None:
    """If tonight's work or the trials fail, the page says so, and its keys still work."""

    def fails(*_: object) -> None:
        raise RuntimeError("a bug")

    monkeypatch.setattr(f"benchtimer.{work}", fails)
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        if page == "job":
            app.show_job("petty knife")
            await pilot.pause()
        with suppress(WorkerFailed):
            await planned(pilot)
        await pilot.pause()
        front = app.screen
        assert isinstance(front, RowPage)
        assert "could not be worked out: a bug" in said(front)
        await press(pilot, "question_mark")
        assert isinstance(app.screen, HelpPage)


async def test_without_a_job_home_is_unchanged(shop: Shop) -> None:
    """Without a job, home shows nothing of jobs."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        assert "TONIGHT" not in shown(app, HomeScreen).rows.text


async def test_the_page_of_a_job(shop: Shop) -> None:
    """The page shows parts, chance and calendar; a delivery too early is refused with why."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        home = shown(app, HomeScreen)
        home.rows.point_at_key("job:petty knife")
        await press(pilot, "space")
        await planned(pilot)
        page = shown(app, JobScreen)
        assert "bolster: ready for fittings-polish" in page.rows.text
        assert "Ready by Fri Mar 20" in page.rows.text
        page.rows.point_at_key("deliver")
        await press(pilot, "space")
        await press(pilot, "m e enter")
        assert "not done yet: bolster, ferrule" in _wrong(app)
        await press(pilot, "escape")
        page.rows.point_at_key("due")
        await press(pilot, "space")
        await press(pilot, "2 0 2 6 minus 0 3 minus 2 5 enter")
        await planned(pilot)
        assert "Due Wed Mar 25" in page.rows.text
        await press(pilot, "u")
        await planned(pilot)
        assert "Due Fri Mar 20" in page.rows.text


async def test_a_scrapped_part_asks_for_a_replacement(shop: Shop) -> None:
    """The row of a scrapped part asks for a replacement, and the answer restarts its chain."""
    _with_job(shop)
    app: BenchApp = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        await press(pilot, "space")
        (name,) = shop.driver.names
        shop.driver.press(name, c.Scrap("ferrule", "dropped"))
        app.show_job("petty knife")
        await planned(pilot)
        page = shown(app, JobScreen)
        assert "ferrule: scrapped" in page.rows.text
        assert "What replaces it?" in page.rows.text
        page.rows.point_at_key("part:ferrule")
        await press(pilot, "space")
        await press(pilot, "n e w enter")
        await planned(pilot)
        assert "ferrule: ready for fittings-polish again: new" in page.rows.text


async def test_a_job_is_opened_with_few_keys(shop: Shop) -> None:
    """Name, day and parts, then ENTER alone, save the job and show its page."""
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await planned(pilot)
        await press(pilot, "a")
        await press(pilot, "p slash n enter")
        (page,) = [s for s in app.screen_stack if isinstance(s, JobOrderPage)]
        assert '"/" is in the name' in str(page.query_one(".hint", Static).content)
        await press(pilot, "backspace backspace e n enter")
        await press(pilot, "2 0 2 5 minus 0 1 minus 0 1 enter")
        (page,) = [s for s in app.screen_stack if isinstance(s, JobOrderPage)]
        field, hint = page.query_one(Input), page.query_one(".hint", Static)
        assert "2025-01-01 is past" in str(hint.content)
        field.value = ""
        await press(pilot, "F r i enter")
        await press(pilot, "b o x equals_sign s o o t enter")
        assert 'There is no recipe "soot"' in str(hint.content)
        field.value = ""
        await press(pilot, "b o x equals_sign f i t tab space greater_than_sign h o t minus b tab")
        assert field.value == "box=fittings-polish > hot-black"
        await press(pilot, "enter")
        await press(pilot, "p e n equals_sign h o t minus w a x colon c a p enter enter")
        assert "cap" in str(hint.content)
        assert shop.driver.writer.jobs.names() == []
        await press(pilot, "p e n equals_sign h o t minus w a x colon b tab enter enter")
        await planned(pilot)
        assert "box: ready for fittings-polish" in shown(app, JobScreen).rows.text
        app.show_home()
        await planned(pilot)
        await press(pilot, "a")
        await press(pilot, "P e n enter")
        (page,) = [s for s in app.screen_stack if isinstance(s, JobOrderPage)]
        words = str(page.query_one(".hint", Static).content)
        assert words == 'There is already a job "Pen"; use another name'
        await press(pilot, "escape")
    (job,) = shop.driver.writer.jobs.jobs()
    assert [(p.name, p.recipes, p.needs) for p in job.order.parts] == [
        ("box", ("fittings-polish", "hot-black"), ()),
        ("pen", ("hot-wax",), ("box",)),
    ]


async def test_the_page_lists_the_sessions_and_what_would_help(shop: Shop) -> None:
    """Below the calendar are the sessions, and the chance names the latest day to start."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _page(app, pilot)
        assert " SESSIONS" in page.rows.text
        assert "bolster: fittings-polish, prepare to final (50 min)" in page.rows.text
        assert "Latest start for 90%" in page.rows.text
        await pilot.resize_terminal(50, 20)
        await pilot.pause()
        assert max(map(len, page.rows.text.splitlines())) <= 50
        assert "…" not in page.rows.text.partition("SESSIONS")[2]


async def test_a_part_is_added_and_changed_on_the_page(shop: Shop) -> None:
    """A line adds a part; the same name again changes it; a line without recipes says why."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _page(app, pilot)
        page.rows.point_at_key("change")
        await press(pilot, "space")
        await press(pilot, "p i n enter")
        assert '"pin" is not NAME=RECIPE > RECIPE' in _wrong(app)
        await press(pilot, "equals_sign h o t minus w a s enter")
        assert 'there is no recipe "hot-was"' in _wrong(app)
        await press(pilot, "backspace x enter")
        await planned(pilot)
        assert "pin: ready for hot-wax" in page.rows.text
        page.rows.point_at_key("change")
        await press(pilot, "space")
        await press(pilot, "P i n equals_sign h o t minus b l a c k enter")
        await planned(pilot)
    (job,) = shop.driver.writer.jobs.jobs()
    assert [part.words for part in job.order.parts[1:]] == [
        "ferrule=fittings-polish",
        "Pin=hot-black",
    ]


async def test_a_dropped_job_has_no_plan(shop: Shop) -> None:
    """The page of a dropped job shows its reason and no calendar; undo brings the plan back."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _page(app, pilot)
        page.rows.point_at_key("drop")
        await press(pilot, "space")
        await press(pilot, "s o l d enter")
        await planned(pilot)
        assert "It is dropped. sold" in page.rows.text
        assert "SESSIONS" not in page.rows.text
        await press(pilot, "u")
        await planned(pilot)
        assert "SESSIONS" in page.rows.text


async def test_undo_on_the_page_keeps_the_job(shop: Shop) -> None:
    """U takes no opening of a job back: a slip of the finger loses no order."""
    app = _with_job(shop).app()
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _page(app, pilot)
        await press(pilot, "u")
        assert "Nothing to undo" in said(page)
    assert [job.name for job in shop.driver.writer.jobs.jobs()] == ["petty knife"]


async def test_a_part_that_can_not_be_planned_says_why(shop: Shop) -> None:
    """With hours too short for a step, the page names the part and the step."""
    app = _with_job(shop).app()
    app.settings = app.settings.model_copy(update={"hours": "Mon 18:00-18:05"})
    async with app.run_test(size=(80, 24)) as pilot:
        page = await _page(app, pilot)
        assert "CAN'T BE PLANNED" in page.rows.text
        assert "bolster, ferrule: fittings-polish, prepare: the 50 min 30 s" in page.rows.text


def _wrong(app: BenchApp) -> str:
    """What the line in front says is wrong."""
    (page,) = [screen for screen in app.screen_stack if isinstance(screen, LinePage)]
    return str(page.query_one(".wrong", Static).content)


async def _page(app: BenchApp, pilot: Pilot[None]) -> JobScreen:
    """The page of the job, with its plan and its trials."""
    await planned(pilot)
    app.show_job("petty knife")
    await pilot.pause()  # the page starts its trials when it comes to the front
    await planned(pilot)
    return shown(app, JobScreen)
