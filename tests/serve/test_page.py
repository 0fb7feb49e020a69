"""The page of the second screen is valid HTML with the board's words, and loads nothing."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable
from pathlib import Path

import html5lib
import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.run_state import Bench
from benchtimer.serve.phone_page import body, security_policy, whole_page
from benchtimer.serve.server import address_of
from benchtimer.view.board_text import BoardView, make_board
from benchtimer.view.secondscreen import IDLE, NO_DRIVER, second_screen
from benchtimer.view.space import Size
from tests.tui.conftest import NOON, Shop
from tests.tui.scenes import Scene, dwelling


@pytest.fixture(name="shop")
def _shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path / "bench")


def test_the_page_says_what_the_board_says(tmp_path: Path) -> None:
    """Large line, parts, places and next actions are there, with names as text, not markup."""
    scene = Scene(tmp_path / "bench").work("hot-black", ["bolster", "<b>pin & co"], dwelling(2))
    watcher = look_on(tmp_path / "bench", scene.clock)
    shown = second_screen(watcher, watcher.stamp())
    text = body(shown)
    assert shown.large in text
    assert "&lt;b&gt;pin &amp; co" in text
    assert "<b>pin" not in text
    assert "RACK" in text
    assert shown.then[0] in text
    assert NO_DRIVER not in text
    watcher.close()
    scene.close()


@pytest.mark.parametrize("until", [dwelling(1), dwelling(3)])
def test_what_comes_next_reads_as_on_the_board(
    tmp_path: Path, until: Callable[[Bench], bool]
) -> None:
    """Large line and next actions match the board word for word."""
    scene = Scene(tmp_path / "bench").work("hot-black", ["bolster", "pin", "guard"], until)
    watcher = look_on(tmp_path / "bench", scene.clock)
    shown = second_screen(watcher, watcher.stamp())
    moment = watcher.moment(watcher.stamp())
    board = make_board(moment, moment.first, Size(400, 60), BoardView(scene.name))
    said = board.then_line.removeprefix("then  ").partition("  all done")[0].split("   ")
    assert list(shown.then) == [piece.strip() for piece in said[:4]]
    assert [lane.left for lane in shown.scene.lanes] == [lane.left for lane in board.scene.lanes]
    watcher.close()
    scene.close()


def test_the_page_is_valid_and_loads_nothing(tmp_path: Path) -> None:
    """The page passes a strict parser, has no address, and runs only its own script."""
    scene = Scene(tmp_path / "bench").work("hot-black", ["bolster"], dwelling(1))
    watcher = look_on(tmp_path / "bench", scene.clock)
    page = whole_page(second_screen(watcher, watcher.stamp()))
    html5lib.HTMLParser(strict=True).parse(page)
    assert not re.search(r"https?:|//[a-z]|@import|url\(", page)
    for tag in ("style", "script"):
        (inside,) = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in security_policy()
    assert "unsafe" not in security_policy()
    assert " style=" not in page
    watcher.close()
    scene.close()


def test_an_alarm_is_on_the_page(shop: Shop) -> None:
    """The alarm comes first, with its urgency; practice and a missing driver are shown."""
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(12 * 60_000)
    watcher = look_on(shop.folder, shop.clock)
    shown = second_screen(watcher, watcher.stamp())
    assert shown.level == "overdue"
    assert shown.calls.startswith("LATE")
    assert (shown.large, shown.urgency) == ("PULL #1", "late")
    assert '<p class="calls overdue">LATE' in body(shown)
    watcher.close()
    shop.driver.close()
    watcher = look_on(shop.folder, shop.clock)
    assert NO_DRIVER in second_screen(watcher, watcher.stamp()).marks
    watcher.close()


def test_the_most_pressing_of_all_runs_is_large(shop: Shop) -> None:
    """With two runs the large line belongs to the late one."""
    shop.set_up("bolster").to_tank("bolster")
    shop.clock.advance(12 * 60_000)
    shop.set_up("ferrule", started=False)
    watcher = look_on(shop.folder, shop.clock)
    shown = second_screen(watcher, watcher.stamp())
    assert shown.large.startswith("PULL")
    assert len(shown.scene.groups) == 2
    assert body(shown).count("<h2>") == 2
    watcher.close()
    shop.driver.close()


def test_an_empty_bench_says_so(shop: Shop) -> None:
    """After the last run there is no alarm and no large line."""
    shop.set_up("bolster")
    shop.press(c.Abort("no gas"))
    watcher = look_on(shop.folder, ManualClock(NOON + 10_000))
    shown = second_screen(watcher, watcher.stamp())
    assert (shown.large, shown.level, shown.calls) == (IDLE, "", "")
    assert IDLE in body(shown)
    watcher.close()
    shop.driver.close()


@pytest.mark.parametrize(
    ("text", "address"),
    [
        ("192.168.1.20", ("192.168.1.20", 8765)), ("127.0.0.1:80", ("127.0.0.1", 80)),
        ("::1", ("::1", 8765)), ("[::1]:9000", ("::1", 9000)), ("[fe80::1]", ("fe80::1", 8765)),
    ],
)  # fmt: skip
def test_an_address_with_or_without_a_port(text: str, address: tuple[str, int]) -> None:
    """IPv6 with a port has brackets."""
    assert address_of(text) == address


@pytest.mark.parametrize("text", ["", "shop", "1.2.3", "127.0.0.1:", "127.0.0.1:65536", "a:b"])
def test_a_bad_address_is_refused(text: str) -> None:
    """A host name is refused, because it can mean another address than you expect."""
    with pytest.raises(ValueError, match=r"is not an? (address|port)"):
        address_of(text)
