"""A real headless browser, driven over a pipe by its debugging protocol."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--hide-scrollbars", "--remote-debugging-pipe",
)  # fmt: skip


def found() -> str | None:
    """The path of an installed browser, or None."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One page of a browser, at the size of a phone or a tablet.

    Args:
        folder: an empty folder for the browser's files.
        width: the width of the page.
        height: the height of the page.
    """

    def __init__(self, folder: Path, width: int, height: int) -> None:
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()

        def place() -> None:  # the protocol expects these two numbers
            os.dup2(to_read, 3)
            os.dup2(to_write, 4)

        path = found()
        assert path is not None
        self._process = subprocess.Popen(
            [path, *FLAGS, f"--user-data-dir={folder}", f"--window-size={width},{height}"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, preexec_fn=place,
            pass_fds=(3, 4, to_read, to_write),
        )  # fmt: skip
        os.close(to_read)
        os.close(to_write)
        self._rest, self._number, self._session = b"", 0, ""
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        result = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self._session = result["sessionId"]
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=width < 600,
        )  # fmt: skip

    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        """Send a command and return the answer."""
        self._number += 1
        result: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self._session:
            result["sessionId"] = self._session
        os.write(self._write, json.dumps(result).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                found: dict[str, Any] = answer["result"]
                return found

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._read, 65536)
            assert more, "the browser is gone"
            self._rest += more
        one, self._rest = self._rest.split(b"\0", 1)
        result: dict[str, Any] = json.loads(one)
        return result

    def open(self, address: str) -> None:
        """Load a page and wait until it is ready."""
        self.ask("Page.enable")
        self.ask("Page.navigate", url=address)
        self.until("document.readyState === 'complete'")

    def says(self, script: str) -> Any:
        """The result of a script on the page."""
        result = self.ask(
            "Runtime.evaluate", expression=script, returnByValue=True, userGesture=True
        )
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def until(self, script: str, seconds: float = 20) -> None:
        """Wait until a script returns true."""
        self.wait(lambda: bool(self.says(script)), script, seconds)

    @staticmethod
    def wait(good: Callable[[], bool], what: str, seconds: float) -> None:
        """Wait until a condition is true."""
        end = time.monotonic() + seconds
        while not good():
            assert time.monotonic() < end, f"waited for {what}"
            time.sleep(0.05)

    def touch(self, selector: str) -> None:
        """Press the middle of an element, as a finger does."""
        box = self.says(
            f"(() => {{ const b = document.querySelector({selector!r}).getBoundingClientRect();"
            "return [b.x + b.width / 2, b.y + b.height / 2] })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.ask(
                "Input.dispatchMouseEvent", type=kind, x=box[0], y=box[1], button="left",
                clickCount=1,
            )  # fmt: skip

    def picture(self, path: Path) -> None:
        """Save a picture of the page."""
        data = self.ask("Page.captureScreenshot", format="png")["data"]
        path.write_bytes(base64.b64decode(data))

    def close(self) -> None:
        """Close the browser."""
        with suppress(OSError, AssertionError):
            self._session = ""
            self.ask("Browser.close")
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        os.close(self._write)
        os.close(self._read)
