"""A bench at work, and a server that shows it."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from benchtimer.bench.open_bench import look_on
from benchtimer.serve.server import Server
from benchtimer.view.secondscreen import SecondScreen, second_screen
from tests.tui.scenes import Scene, dwelling

KEY = "a-key-for-tests"


class Served:
    """A bench with two parts in stations, and a server that polls it ten times a second."""

    def __init__(self, folder: Path) -> None:
        self.scene = Scene(folder).work("hot-black", ["bolster", "<b>pin & co"], dwelling(2))
        self.clock = self.scene.clock
        self.watcher = look_on(folder, self.clock)
        self.looks = True
        self.server = Server(("127.0.0.1", 0), KEY, self._look)
        self.port = int(self.server.server_address[1])
        self._goes_on = True
        self._threads = [
            threading.Thread(target=self.server.serve_forever, args=(0.05,)),
            threading.Thread(target=self._refresh),
        ]
        for thread in self._threads:
            thread.start()

    def _look(self) -> SecondScreen:
        self.watcher.refresh()
        return second_screen(self.watcher, self.watcher.stamp())

    def _refresh(self) -> None:
        while self._goes_on:
            if self.looks:
                with suppress(KeyError):
                    self.server.refresh()
            time.sleep(0.1)

    def close(self) -> None:
        """Close everything."""
        self._goes_on = False
        self.server.shutdown()
        for thread in self._threads:
            thread.join()
        self.server.server_close()
        self.watcher.close()
        self.scene.driver.close()


@pytest.fixture(name="served")
def _served(tmp_path: Path) -> Iterator[Served]:
    served = Served(tmp_path / "bench")
    yield served
    served.close()
