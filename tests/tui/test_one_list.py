"""The setup at the start and the checklist share their check marks."""

from __future__ import annotations

from benchtimer.bench.newrun import NewRun
from benchtimer.check_list import CheckList, make_page
from benchtimer.recipe.model import Recipe
from benchtimer.recipe.places import put
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from benchtimer.run.agenda import agenda
from benchtimer.run.run_state import Bench
from benchtimer.run.setup import PUT_OFF, items_of, setup_items, setup_pages, ticks_of
from benchtimer.settings import Settings
from benchtimer.tui.dialogs import LinePage
from benchtimer.tui.preparing import PrepareScreen
from benchtimer.tui.rows import Rows
from benchtimer.view.preparation import count_words, is_ready, keys_of
from benchtimer.view.words import action_words
from tests.tui.conftest import Shop
from tests.tui.pilots import press, said, shown, text

SETUP = [
    "mix cleaner", "mix salts", "mix oil", "flash-point of oil",
    "heat cleaner", "heat salts", "heat boil",
]  # fmt: skip


def _page(name: str = "hot-black", baths: dict[str, str] | None = None) -> CheckList:
    placed = put({name: RecipeFiles().find(name)}).recipes
    return make_page(placed, Settings(), baths)


def _salts(shop: Shop, *, geared: bool = True) -> Shop:
    table = recipe_table(RecipeFiles().find("hot-black"))
    shop.name = shop.driver.set_up(
        NewRun("Salts", {"hot-black": table}, [("cap", "hot-black")], {})
    )
    if geared:
        for page in setup_pages(_bench(shop)):
            shop.press(c.Acknowledge(page.title))
    return shop


def _bench(shop: Shop) -> Bench:
    return shop.driver.state(shop.name).bench


def _open(shop: Shop) -> list[str]:
    return [item.key for item in setup_items(_bench(shop))]


def test_every_line_of_the_set_up_is_on_the_page() -> None:
    """In every recipe, mixes, questions and heat have the same keys in both, in order."""
    for name in RecipeFiles().paths():
        recipe: Recipe = RecipeFiles().find(name)
        keys = [key for key in keys_of(_page(name)) if ": " not in key]
        assert keys == [item.key for item in items_of(put({name: recipe}).recipes)], name


def test_gear_and_first_aid_come_first() -> None:
    """The page begins with gear, first aid and hazards; mixing and heating follow."""
    titles = [section.title for section in _page().sections]
    assert titles[:3] == ["Gear", "First aid", "Hazards"]
    assert titles.index("Mixes") > titles.index("Hazards")
    assert titles.index("Heat") == titles.index("Mixes") + 1
    (first_aid,) = (s for s in _page().sections if s.title == "First aid")
    assert first_aid.items[0].more[0].startswith("Rinse at once")


def test_a_bath_from_the_bath_book_is_not_mixed_again() -> None:
    """The mix of a bath in the book says so and is not in the setup."""
    page = _page(baths={"salts": "black-salts 1, 3 d old"})
    keys = [key for key in keys_of(page) if key in SETUP]
    assert keys == [key for key in SETUP if key != "mix salts"]
    (line,) = (i for s in page.sections for i in s.items if i.text.startswith("Blacking salts for"))
    assert line.more == ("nothing to mix: black-salts 1, 3 d old",)


async def test_ticks_on_the_page_count_in_the_set_up(shop: Shop) -> None:
    """A tick on the page takes mixes and heat off the setup, with the heat really on."""
    app = _salts(shop).app()
    async with app.run_test(size=(80, 40)) as pilot:
        await press(pilot, "k")
        page = shown(app, PrepareScreen)
        for key in SETUP:
            page.query_one(Rows).point_at_key(key)
            await press(pilot, "space")
            if isinstance(app.screen, LinePage):
                await press(pilot, "1 5 0 enter")
        assert _open(shop) == []
        bench = _bench(shop)
        assert bench.places["salts"].heated_ms is not None
        assert bench.prepared["flash-point of oil"].said == "150 F"
        assert all(is_ready(page._ticks, key) for key in SETUP)


async def test_set_up_work_is_ticked_on_the_page(shop: Shop) -> None:
    """Presses of the setup tick the page, except for what was put off."""
    _salts(shop)
    shop.press(c.Prepare("mix cleaner"))
    shop.press(c.Prepare("mix salts", said=PUT_OFF))
    shop.press(c.Heat("salts"))
    ticks = ticks_of(_bench(shop))
    assert is_ready(ticks, "mix cleaner")
    assert not is_ready(ticks, "mix salts")
    assert is_ready(ticks, "heat salts")
    assert count_words(_page(), ticks).startswith("2 of ")
    app = shop.app()
    async with app.run_test(size=(80, 40)) as pilot:
        await press(pilot, "k")
        found = shown(app, PrepareScreen).query_one(Rows).text
        assert "[x] Heavy-duty alkaline soak cleaner" in found
        assert "[ ] Blacking salts for a single bath" in found
        assert "put off" in found
        assert "[x] Blacking salts: about 1 h to heat up" in found
        assert "[ ] Hot alkaline cleaner: about 30 min to heat up" in found


async def test_gear_that_is_on_is_ticked(shop: Shop) -> None:
    """Confirming a hazard ticks that hazard and its gear, and no other gear."""
    _salts(shop, geared=False)
    app = shop.app()
    async with app.run_test(size=(80, 40)) as pilot:
        await press(pilot, "k")
        page = shown(app, PrepareScreen)
        assert "[x]" not in page.query_one(Rows).text
        await press(pilot, "escape")
        first = next(setup_pages(_bench(shop)))
        shop.press(c.Acknowledge(first.title))
        await press(pilot, "k")
        page = shown(app, PrepareScreen)
        worn = {row.key for row in page.make_rows() if row.lines[0].startswith(" [x]")}
        assert len(worn) == len(first.wear) > 0
        assert {key.partition(" (")[0] for key in worn} == {f"Gear: {x}" for x in first.wear}
        assert said(page, "lead").startswith(f" {len(worn)} of ")
        await press(pilot, "space")
        assert said(page, "lead").startswith(f" {len(worn)} of ")
        assert len(ticks_of(_bench(shop))) == 1


def test_each_bath_to_mix_is_named(shop: Shop) -> None:
    """The large line names each bath to mix."""
    bench = _bench(_salts(shop))
    found = [action_words(bench, action) for action in agenda(bench, 0)]
    assert found[0] == "MIX CLEANER"
    shop.press(c.Prepare("mix cleaner"))
    bench = _bench(shop)
    assert action_words(bench, agenda(bench, 0)[0]) == "MIX SALTS"


async def test_heat_is_not_turned_off_by_a_second_press(shop: Shop) -> None:
    """A ticked line of heat says how to take it back."""
    app = _salts(shop).app()
    async with app.run_test(size=(80, 40)) as pilot:
        await press(pilot, "k")
        page = shown(app, PrepareScreen)
        page.query_one(Rows).point_at_key("heat salts")
        await press(pilot, "space")
        page.query_one(Rows).point_at_key("heat salts")
        await press(pilot, "space")
        assert "U takes the last press back" in said(page)
        await press(pilot, "u")
        assert "heat salts" in _open(shop)


async def test_nothing_is_ticked_before_its_pages_are_read(shop: Shop) -> None:
    """Without the gear on, the page refuses a mix and says which page comes first."""
    app = _salts(shop, geared=False).app()
    async with app.run_test(size=(80, 40)) as pilot:
        await press(pilot, "k")
        page = shown(app, PrepareScreen)
        for key in ("mix salts", "heat salts"):
            page.query_one(Rows).point_at_key(key)
            await press(pilot, "space")
            assert "Before any heat" in said(page)
        assert _open(shop) == SETUP


async def test_the_board_asks_for_the_flash_point(shop: Shop) -> None:
    """The large line asks for the flash point; digits and SPACE answer, E puts it off."""
    app = _salts(shop).app()
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "space")
        await press(pilot, "space")
        await press(pilot, "space")
        assert "Flash point on the data sheet of your oil?" in text(app, "next")
        assert "Type it (F)" in text(app, "next")
        await press(pilot, "1 4 4 space")
        assert _bench(shop).prepared["flash-point of oil"].said == "144 F"
        await press(pilot, "u e")
        assert _bench(shop).prepared["flash-point of oil"].said == PUT_OFF
