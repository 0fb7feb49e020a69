"""A simple timer: one dwell without a recipe file. It is a run like any other, with a recipe made
here, so that it has a lane, a record and an alarm. It starts the moment you set it.
"""

from __future__ import annotations

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.quantity import QuantityError, parse_duration
from benchtimer.recipe.reader import build_recipe
from benchtimer.recipe.writer import recipe_table
from benchtimer.run.commands import Begin, Finish, Start
from benchtimer.times import duration

TIMER = "timer"
"""Key of the recipe, and id of its one station."""

MOST = 24
"""How many timers run at once."""

ALLOWED = "enter a name and a time, such as glue 24 h"


class TimerError(ValueError):
    """Words that are not a name with a time."""


def read_timer(words: str) -> tuple[str, int]:
    """Name and seconds from words such as ``glue 24 h`` or ``second coat 1 h 30 min``.

    Raises:
        TimerError: no name, or no time at the end.
    """
    pieces = words.split()
    for first in range(1, len(pieces)):
        try:
            seconds = parse_duration(" ".join(pieces[first:]))
        except QuantityError:
            continue
        if seconds >= 1:
            return " ".join(pieces[:first]), seconds
    raise TimerError(f'"{words.strip()}" is not a name followed by a time; {ALLOWED}')


def timer_run(name: str, seconds: int) -> NewRun:
    """What a timer is set up from.

    Args:
        name: what it is for.
        seconds: how long.
    """
    table = {
        "schema": 1,
        "id": TIMER,
        "title": f"Timer, {duration(seconds)}",
        "revision": 1,
        "about": "A simple timer.",
        "station": [{"id": TIMER, "title": "Timer", "holds": MOST}],
        "step": [
            {
                "id": TIMER,
                "title": f"Timer, {duration(seconds)}",
                "at": TIMER,
                "hands": "1 s",
                "source": "common-practice",
                "dwell": {
                    "min": f"{seconds} s",
                    "target": f"{seconds} s",
                    "source": "common-practice",
                },
            }
        ],
    }
    recipe = build_recipe(table, name=TIMER)
    return NewRun(recipe.title, {TIMER: recipe_table(recipe)}, [(name, TIMER)])


def set_timer(bench: OpenBench, name: str, seconds: int) -> str:
    """Set a timer; it starts right away.

    Args:
        bench: the bench.
        name: what it is for.
        seconds: how long.

    Returns:
        The name of its run.

    Raises:
        Refused: the name can't be used.
        StoreError: it could not be written.
    """
    run = bench.set_up(timer_run(name, seconds))
    for command in (Start(), Begin(name, anyway=True), Finish(name)):
        bench.press(run, command)
    return run
