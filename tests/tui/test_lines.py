"""Lines of text, drawn row by row."""

from __future__ import annotations

import asyncio

from hypothesis import given, settings
from hypothesis import strategies as st
from textual.app import App, ComposeResult
from textual.geometry import Region
from textual.widget import Widget

from benchtimer.tui.lines import FixedLine

TEXT = st.lists(st.sampled_from(["late 0:01", "late 0:02", "█ █", ""]), min_size=1, max_size=4)


class OneLine(App[None]):
    """A screen with one line of text, as high as its rows."""

    CSS = "FixedLine { height: auto; }"

    def compose(self) -> ComposeResult:
        """One line."""
        yield FixedLine("text")


def _rows(app: App[None]) -> list[str]:
    """What the screen shows, row by row."""
    return [strip.text.rstrip() for strip in app.screen._compositor.render_strips()]


async def _say_all(texts: list[list[str]]) -> None:
    app = OneLine()
    async with app.run_test(size=(20, 6)) as pilot:
        for rows in texts:
            app.query_one(FixedLine).say("\n".join(rows))
            await pilot.pause()
            assert _rows(app)[: len(rows)] == rows
            assert not any(_rows(app)[len(rows) :])


@settings(max_examples=15, deadline=None)
@given(st.lists(TEXT, min_size=1, max_size=5))
def test_the_screen_shows_the_latest_text(texts: list[list[str]]) -> None:
    """Each row shows the latest text, and nothing of an earlier one is left."""
    asyncio.run(_say_all(texts))


async def test_only_rows_that_differ_are_drawn_again(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """A new second draws its own row again, not the bar below it."""
    app = OneLine()
    async with app.run_test(size=(20, 6)) as pilot:
        line = app.query_one(FixedLine)
        line.say("late 0:01\n████")
        await pilot.pause()
        drawn: list[Region] = []
        monkeypatch.setattr(Widget, "refresh", lambda _self, *regions: drawn.extend(regions))
        line.say("late 0:02\n████")
        assert [(region.y, region.height) for region in drawn] == [(0, 1)]
        assert line.said == "late 0:02\n████"
