"""A maker at the screen in their own process, which is killed in the middle of the work."""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path
from random import Random

from tests.week.acts import Memory
from tests.week.maker import Maker
from tests.week.parents_clock import parents_clock
from tests.week.shop import Shop
from tests.week.story import read_story


def main(text: str) -> None:
    """Work at a deed of the story until the machine fails, which ends this process."""
    job, clock, story = json.loads(text), parents_clock(), read_story()
    shop = Shop(Path(os.environ["BENCHTIMER_DATA"]).parent, clock.wall_ms, clock.offset_s)
    shop.clock = clock
    deed = next(deed for deed in story.deeds if deed.at == job["deed"])
    maker = Maker(story, deed, Random(f"{job['seed']} {deed.at}"), Memory(**job["memory"]))

    def fail() -> None:
        left = {"memory": vars(maker.memory), "clock": vars(clock)}
        os.write(1, f"\n{json.dumps(left)}\n".encode())
        os.kill(os.getpid(), signal.SIGKILL)

    shop.fail = fail
    said = shop.screen(maker, *(deed.screen or ()))
    raise AssertionError(f"nothing failed: {said.text}")


if __name__ == "__main__":
    main(sys.argv[1])
