"""How the screen looks: in each theme, without color, without box characters, by touch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.color import Color
from textual.widget import Widget

from benchtimer.run import commands as c
from benchtimer.run.run_state import PartPhase
from benchtimer.settings import Settings
from benchtimer.tui.app import BenchApp
from benchtimer.tui.board_screen import BoardScreen
from benchtimer.tui.dialogs import ChoicePage, LinePage, TextPage
from benchtimer.tui.lines import FixedLine, TouchKey
from benchtimer.tui.plain import ascii_text, knows_only_ascii
from benchtimer.tui.themes import THEMES, theme_after
from benchtimer.view.letters import half
from tests.support import MINUTE
from tests.tui.conftest import Shop
from tests.tui.pilots import foot, lane, touch_key

LEAST_CONTRAST = 4.5
"""WCAG 2.2, success criterion 1.4.3 (level AA), for text of any size."""


def _luminance(color: Color) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [c / 255 for c in color.rgb]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: Color, other: Color) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#ff0000", "#ffffff", 4.0)],
)
def test_contrast_is_calculated_as_published(one: str, other: str, ratio: float) -> None:
    """Known pairs: black on white 21, #777 on white 4.48, red on white 4.00 (from memory)."""
    assert contrast(Color.parse(one), Color.parse(other)) == pytest.approx(ratio, abs=0.01)


def poor_contrast(app: BenchApp) -> dict[str, float]:
    """Every field on the screen with too little contrast."""
    found = {}
    for widget in app.screen.query(Widget):
        _, _, ground, ink = widget.colors
        ratio = contrast(ground.blend(ink, ink.a), ground)
        if widget.display and ratio < LEAST_CONTRAST:
            found[str(widget)] = ratio
    return found


def poor_letters(app: BenchApp) -> dict[str, float]:
    """Every drawn text on the screen with too little contrast."""
    found = {}
    for strip in app.screen._compositor.render_strips():
        for text, style, _ in strip:
            if style and style.color and style.bgcolor and any(map(str.isalnum, text)):
                ink, ground = map(Color.from_rich_color, (style.color, style.bgcolor))
                ratio = contrast(ink, ground)
                if ratio < LEAST_CONTRAST:
                    found[text] = ratio
    return found


@pytest.mark.parametrize("theme", [theme.name for theme in THEMES])
async def test_every_theme_keeps_its_contrast(shop: Shop, theme: str) -> None:
    """Waiting, due, late, flashing, question, hazard and each page reach AA or better."""
    shop.set_up("bolster", "ferrule", started=False)
    settings = Settings.model_validate({"screen": {"theme": theme}})
    app = BenchApp(shop.driver, shop.name, guard_s=0, settings=settings)
    poor: dict[str, dict[str, float]] = {}
    async with app.run_test(size=(120, 40)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)

        async def look(when: str) -> None:
            await pilot.pause()
            poor[when] = poor_contrast(app)

        assert app.theme == theme
        await look("hazard")
        shop.press(c.Acknowledge("Hot tank"))
        board.tick()
        await look("idle")
        shop.press(c.Start())
        board.tick()
        await look("figure")
        shop.to_tank("bolster")
        board.desk.pick_number(1)
        board.tick()
        await look("picked")
        board.desk.let_go()
        shop.clock.advance(6 * MINUTE)
        board.tick()
        await look("due")
        shop.clock.advance(6 * MINUTE)
        for beat in ("flash", "no flash"):
            board.tick()
            assert board.query_one("#header", FixedLine).beats == (beat == "flash")
            await look(beat)
        for page in (TextPage("a", "b"), ChoicePage("a", ["b"]), LinePage("a")):
            app.push_screen(page)
            await look(type(page).__name__)
            await pilot.press("escape")
        await pilot.press("ctrl+p")
        await look("palette")
    assert {when: found for when, found in poor.items() if found} == {}


async def test_one_key_changes_the_theme(shop: Shop) -> None:
    """V cycles through the themes, and there is no other choice."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        seen = []
        for _ in THEMES:
            await pilot.press("v")
            seen.append(app.theme)
    assert sorted(seen) == sorted(app.available_themes) == sorted(t.name for t in THEMES)
    assert theme_after("no such theme") == THEMES[0].name


@given(st.text(max_size=60))
def test_ascii_keeps_every_column(text: str) -> None:
    """For any text, the ASCII form has the same number of columns."""
    result = ascii_text(text)
    assert result.isascii()
    assert cell_len(result) == cell_len(text)


async def test_a_terminal_without_boxes_gets_ascii(shop: Shop) -> None:
    """With ASCII only, no other character reaches the terminal, and the words stay."""
    shop.set_up("刃🔪é[b]x", "ferrule").to_tank("刃🔪é[b]x")
    app = BenchApp(shop.driver, shop.name, guard_s=0, ascii_only=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        strips = app.screen._compositor.render_strips()
        filters = app.get_line_filters()
        drawn = []
        for strip in strips:
            segments = list(strip)
            for line_filter in filters:
                segments = line_filter.apply(segments, Color(0, 0, 0))
            drawn.append("".join(segment.text for segment in segments))
    assert all(line.isascii() for line in drawn)
    assert any("????e[b]x" in line for line in drawn)
    assert {cell_len(line) for line in drawn} == {80}


@pytest.mark.parametrize(
    ("environ", "ascii_only"),
    [
        ({}, True),
        ({"LANG": "C"}, True),
        ({"LANG": "en_US.UTF-8"}, False),
        ({"LANG": "C.UTF-8"}, False),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, True),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, True),
        ({"LANG": "C", "LC_CTYPE": "fr_FR.utf8"}, False),
        ({"LANG": "en_GB.ISO-8859-1"}, True),
    ],
)
def test_the_locale_decides_what_the_terminal_shows(
    environ: dict[str, str], ascii_only: bool
) -> None:
    """LC_ALL beats LC_CTYPE, which beats LANG; Python's own setting is ignored."""
    assert knows_only_ascii(environ) == ascii_only


async def test_without_color_urgency_still_shows(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With NO_COLOR a due action is reversed and says NOW."""
    monkeypatch.setenv("NO_COLOR", "1")
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(6 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        field = app.screen.query_one("#next")
        assert field.styles.text_style.reverse
        assert "NOW" in lane(app, 1)


async def test_silence_and_the_large_view_take_one_key(shop: Shop) -> None:
    """G turns the large view on and off, and X stops the flashing for a while."""
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(12 * MINUTE)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        board = app.screen
        assert isinstance(board, BoardScreen)
        board.tick()
        assert board.query_one("#header", FixedLine).beats
        assert (
            "LATE 1 part, NOW 1 reading: first PULL #1 bolster"
            in board.query_one("#header", FixedLine).said
        )
        await pilot.press("g")
        assert not board.query_one("#picture").display
        assert board.query_one("#next").size.height >= 17
        await pilot.press("x")
        board.tick()
        assert not board.query_one("#header", FixedLine).beats
        await pilot.press("g")
        assert board.query_one("#picture").display
    assert "alarm silenced" in shop.driver.record(shop.name).lines[-1].text


async def test_a_run_can_be_done_by_touch_alone(shop: Shop) -> None:
    """Figures, answers and the bottom keys all work by touch."""
    shop.set_up("bolster")
    app = shop.app()
    async with app.run_test(size=(120, 40)) as pilot:

        async def touch(*keys: str) -> None:
            for key in keys:
                shop.clock.advance(1000)
                app.screen.refresh_board()  # type: ignore[attr-defined]
                await pilot.pause()
                answers = [t for t in app.screen.query(TouchKey) if t.key == key and t.display]
                assert await pilot.click(answers[0] if answers else foot(app)[key])
            await pilot.pause()

        await touch("5", "6", "backspace", "backspace", "6", "5")
        place = shop.driver.state(shop.name).bench.places["tank"]
        assert place.reading is not None
        assert place.reading.quantity.value == 65
        await touch("space", "space", "u")
        assert shop.driver.state(shop.name).bench.parts["bolster"].phase is PartPhase.IN_HAND
        await touch("space")
        shop.clock.advance(5 * MINUTE)
        await touch("space", "n")
        assert shop.driver.state(shop.name).bench.parts["bolster"].step == 0


async def test_keys_for_fingers_are_large_where_there_is_room(shop: Shop) -> None:
    """Answers are three rows high on every screen, bottom keys where the lanes leave room."""
    shop.set_up("bolster", "ferrule", "guard", "pin").to_tank("bolster")
    shop.press(c.Begin("bolster"), 5 * MINUTE)
    for width, height, rows in ((80, 24, 1), (200, 60, 3)):
        app = shop.app()
        async with app.run_test(size=(width, height)) as pilot:
            await pilot.pause()
            answers = [t for t in app.screen.query(TouchKey) if t.key in ("y", "n")]
            assert [answer.outer_size.height for answer in answers] == [3, 3]
            assert foot(app)["u"].outer_size.height == rows


async def test_commands_are_found_by_their_names(shop: Shop) -> None:
    """^P opens the palette; typed words find a key's command and run it."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+p")
        await pilot.pause()
        await pilot.press(*"full screen")
        await pilot.pause(0.4)
        await pilot.press("down", "enter")
        await pilot.pause(0.2)
        board = app.screen
        assert isinstance(board, BoardScreen)
        assert board.desk.glance


async def test_a_touch_closes_a_page(shop: Shop) -> None:
    """A touch on ESC at the foot leaves each page."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        for page in (TextPage("a", "b"), ChoicePage("a", ["b"]), LinePage("a")):
            app.push_screen(page)
            await pilot.pause()
            await touch_key(pilot, "escape")
            assert isinstance(app.screen, BoardScreen)


async def test_the_stations_page_shows_each_in_full(shop: Shop) -> None:
    """I shows each station, with its parts and its reading below it."""
    app = shop.set_up("bolster").app()
    shop.to_tank("bolster")
    shop.press(c.CloseStation("rack", "broken"))
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("i")
        text = str(app.screen.query_one("VerticalScroll Static").render())
    assert text.split("\n") == [
        "Tank   1/1",
        "    #1 bolster",
        "    65 C 1:22 ago (60 C to 70 C), read in 8 min",
        "Rack   0/4   OUT OF SERVICE: broken",
    ]


async def test_commands_of_a_page_are_found_too(shop: Shop) -> None:
    """On a page around a run the palette finds that page's own keys."""
    app = shop.set_up("bolster").app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("h")
        await pilot.pause()
        await pilot.press("ctrl+p")
        await pilot.pause()
        await pilot.press(*"list of all runs")
        await pilot.pause(0.4)
        await pilot.press("down", "enter")
        await pilot.pause(0.2)
        assert type(app.screen).__name__ == "RunsScreen"


async def test_a_hazard_replaces_the_large_view(shop: Shop) -> None:
    """In the large view a due hazard is shown in full before you acknowledge it."""
    shop.set_up("bolster", started=False)
    app = shop.app()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("g")
        await pilot.pause()
        assert not app.screen.has_class("glance")
        hazard = app.screen.query_one("#hazard")
        assert hazard.region.height >= 3
        assert hazard.region.y < 24
        assert "\n".join(half("WEAR: gloves")) in str(hazard.render())
        assert not shop.driver.state(shop.name).bench.acknowledged
        await pilot.press("space")
        await pilot.pause()
        assert shop.driver.state(shop.name).bench.acknowledged
        assert app.screen.has_class("glance")
