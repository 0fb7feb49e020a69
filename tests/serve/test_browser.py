"""The second screen in a real browser, at phone and tablet size, with sound."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from benchtimer.run import commands as c
from tests.serve.browser import Browser, found
from tests.serve.conftest import Served

pytestmark = pytest.mark.skipif(
    found() is None, reason="no chromium is installed: the page was NOT tried"
)

SIZES = {"phone": (390, 844), "tablet": (1024, 768)}


@pytest.fixture(name="browser", params=SIZES)
def _browser(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Browser]:
    browser = Browser(tmp_path / "profile", *SIZES[request.param])
    yield browser
    browser.close()


PHONE = pytest.mark.parametrize("browser", ["phone"], indirect=True)


def _late(served: Served) -> None:
    served.clock.advance(5 * 3_600_000)


def test_the_page_updates_itself(served: Served, browser: Browser, tmp_path: Path) -> None:
    """The page fits the width, refreshes, shows an alarm, and rings when its sound is on."""
    browser.open(served.server.url)
    browser.until("document.body.innerText.includes('bolster')")
    assert browser.says("document.querySelector('#lanes b + div .name').innerText") == "bolster"
    assert "<b>pin & co" in browser.says("document.body.innerText")
    assert browser.says("document.documentElement.scrollWidth <= innerWidth")
    time = "document.querySelector('header time').innerText"
    before = browser.says(time)
    served.clock.advance(61_000)
    browser.until(f"{time} !== {before!r}")
    assert browser.says("rings.length") == 0

    browser.touch("#sound")
    browser.until("document.querySelector('#sound').classList.contains('on')")
    assert browser.says("rings.join()") == "due"  # you hear it as you turn it on

    _late(served)
    browser.until("rings.includes('overdue')")
    browser.until("document.querySelector('.calls.overdue') !== null")
    assert browser.says("document.title").startswith("!!!")
    assert browser.says("document.documentElement.scrollWidth <= innerWidth")
    picture = tmp_path / "late.png"
    browser.picture(picture)
    assert picture.stat().st_size > 5000


@PHONE
def test_a_phone_that_loses_the_bench_says_so_and_rings(served: Served, browser: Browser) -> None:
    """When the phone loses the bench, a band covers old data and the alarm sounds."""
    browser.open(served.server.url)
    browser.until("document.body.innerText.includes('bolster')")
    browser.touch("#sound")
    browser.until("rings.length === 1")
    served.looks = False
    browser.until("!document.getElementById('lost').hidden", 30)
    assert "What you see is old" in browser.says("document.body.innerText")
    assert browser.says("rings.at(-1)") == "overdue"
    served.looks = True
    browser.until("document.getElementById('lost').hidden", 30)


@PHONE
def test_the_tones_are_in_the_band(served: Served, browser: Browser) -> None:
    """The browser's own tones are between 500 and 2500 Hz and rise when overdue."""
    browser.open(served.server.url)
    script = """
      window.heard = [];
      const create = AudioContext.prototype.createOscillator;
      AudioContext.prototype.createOscillator = function () {
        const made = create.call(this), set = made.frequency.setValueAtTime.bind(made.frequency);
        const ramp = made.frequency.linearRampToValueAtTime.bind(made.frequency);
        made.frequency.setValueAtTime = (hz, at) => { heard.push(hz); return set(hz, at); };
        made.frequency.linearRampToValueAtTime =
          (hz, at) => { heard.push(hz); return ramp(hz, at); };
        return made;
      };
    """
    browser.says(script)
    browser.touch("#sound")
    browser.until("heard.length > 0")
    assert sorted(set(browser.says("heard"))) == [800, 1200]
    _late(served)
    browser.until("heard.includes(600)")
    assert set(browser.says("heard")) == {800, 1200, 600, 900, 1500, 2250}


@PHONE
def test_nothing_on_the_page_changes_the_bench(served: Served, browser: Browser) -> None:
    """No press on the page requests anything but the page or adds to the log."""
    browser.open(served.server.url)
    browser.until("document.body.innerText.includes('bolster')")
    before = served.watcher._log.last_seq()
    for selector in ("#next", "#lanes li", "header", "#sound"):
        browser.touch(selector)
    browser.until("rings.length > 0")
    addresses = browser.says("performance.getEntriesByType('resource').map(r => r.name)")
    assert {a for a in addresses if not a.startswith("data:")} == {f"{served.server.url}now"}
    assert served.watcher._log.last_seq() == before


@PHONE
def test_a_scrapped_part_goes_away(served: Served, browser: Browser) -> None:
    """The phone shows what the bench does without a reload."""
    browser.open(served.server.url)
    browser.until("document.body.innerText.includes('bolster')")
    served.scene.driver.press(served.scene.name, c.Scrap("bolster", "cracked"))
    browser.until("!document.querySelector('main').innerText.includes('bolster')")
