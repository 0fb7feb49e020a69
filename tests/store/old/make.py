"""Make a stored log of the layout of the day: run by the program that is to be remembered.

    python make.py FOLDER

``layout-1.sqlite3`` and ``layout-2.sqlite3`` were made so by the last programs that wrote
those layouts, and ``layout-3.sqlite3`` by the first that wrote it. They are never made anew.
"""

from __future__ import annotations

import sys
from contextlib import closing
from pathlib import Path

from benchtimer.bath.commands import Mix
from benchtimer.bench.driver import Driver
from benchtimer.bench.newrun import NewRun
from benchtimer.clock import ManualClock
from benchtimer.recipe.reader import parse_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c

RECIPE = b"""
schema = 1
title = "Dip"
[[station]]
id = "tank"
title = "Tank"
holds = 1
bath = "brew"
[[mix]]
id = "brew"
title = "Brew"
of = [{ what = "water", parts = 1 }]
[[step]]
id = "dip"
title = "Dip"
at = "tank"
hands = "20 s"
dwell = { least = "4 min", aim = "5 min", most = "8 min" }
[[step]]
id = "look"
title = "Look"
hands = "30 s"
"""


def main(folder: Path) -> None:
    """A run that is over, with a bath, undone presses and a set clock; one in a tank."""
    table = recipe_table(parse_recipe(RECIPE, name="dip.toml", default_id="dip"))
    clock = ManualClock(1_770_000_000_000, boot="old", offset_s=3600)
    with closing(Driver(folder, clock, by="anna")) as driver:
        driver.write_bath("brew 1", Mix("Brew", "brew", "dip", "2 L"))
        names = []
        for part, end in (("bolster", True), ("butt cap", False)):
            names.append(driver.lay_out(NewRun("Old", {"dip": table}, [(part, "dip")])))
            commands = [c.Start(), c.Begin(part), c.Note("cloudy"), c.Undo(), c.Finish(part)]
            commands += [c.Abort("done for today")] if end else []
            for command in commands:
                clock.advance(20_000)
                driver.press(names[-1], command)
        clock.set_wall(clock.wall_ms + 3_600_000)
        driver.notice_clock()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
