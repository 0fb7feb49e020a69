"""Board, watch, plain watch, second screen, home and alarms agree at every moment."""

from __future__ import annotations

from contextlib import closing, suppress
from pathlib import Path
from random import Random

import pytest

from benchtimer.bench.advice import advise
from benchtimer.bench.moment import Moment
from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench, look_on
from benchtimer.bench.writer import drive
from benchtimer.clock import ManualClock
from benchtimer.run import commands as c
from benchtimer.run.actions import ActionKind
from benchtimer.run.refusals import Refused
from benchtimer.view.alarm import alarms_at, message_of
from benchtimer.view.board_text import Board, make_board
from benchtimer.view.desk import Desk
from benchtimer.view.home_rows import lead_rows
from benchtimer.view.letters import large
from benchtimer.view.secondscreen import second_screen
from benchtimer.view.space import Size
from benchtimer.view.telling import Teller, next_words
from benchtimer.view.words import large_line
from tests.faults.obey import drawn_run
from tests.support import SMALL, small_recipe, table

MOMENTS, SEEDS = 250, 4
"""A thousand moments in all."""

SIZE, ROWS = Size(120, 40), 5
"""A screen with room for the large letters, and the rows of those letters."""


def _set_up(driver: OpenBench, seed: int) -> None:
    """Three runs: two with tight windows in the same tanks, and one with checks."""
    drawn = drawn_run(seed)
    for number in range(2):
        driver.set_up(NewRun("drawn", drawn.recipes, drawn.parts[number::2]))
    small = table(small_recipe(SMALL))
    driver.set_up(NewRun("small", {"small": small}, [("bolster", "small"), ("cap", "small")]))


def _work(driver: OpenBench, moment: Moment, draws: Random) -> None:
    """Do what the agenda says once it is due."""
    action = moment.first
    if action is None or action.blocked is not None or action.due_ms > moment.now_ms:
        return
    with suppress(Refused):
        if action.kind is ActionKind.READING:
            driver.press(action.run, c.Read(action.to_station or "", "65 C"))
        elif action.check is not None and action.part is not None:
            known = moment.bench_of(action).parts[action.part].properties
            answer = action.check.simulate(draws, known)
            driver.press(action.run, c.Answer(action.part, action.check.id, answer))
        elif action.command is not None:
            driver.press(action.run, action.command)
        if draws.random() < 0.5:
            driver.plans.keep(advise(driver.moment().shop, driver.stamp().noted_ms, nodes=20))
            driver.plans.publish()


def _board(bench: OpenBench | OpenBench, moment: Moment) -> Board:
    look = Desk(bench).look(moment.first, moment)
    return make_board(moment, moment.first, SIZE, look)


def _differs(driver: OpenBench, watcher: OpenBench) -> str:
    """The views that differ now; empty if all agree."""
    lines = list(Teller(watcher).lines())  # it reads what is new for the watcher's board too
    stamp = driver.stamp()
    mine, theirs = driver.moment(stamp), watcher.moment(stamp)
    if theirs.actions != mine.actions:
        return "the watcher has another agenda"
    first = mine.first
    if first is None:
        return ""
    ours, seen = _board(driver, mine), _board(watcher, theirs)
    if (ours.next_lines[:5], ours.then_line, ours.scene) != (
        seen.next_lines[:5], seen.then_line, seen.scene,
    ):  # fmt: skip
        return "the watcher's board is another one"
    words, at = large_line(mine.bench_of(first), first, stamp)
    drawn = list(zip(ours.next_lines, large(words), large(at), strict=False))
    if not all(r.startswith(a.rstrip()) and r.rstrip().endswith(b.rstrip()) for r, a, b in drawn):
        return f"the board does not draw {words} {at}"
    home = zip(lead_rows(mine, SIZE)[1 : 1 + ROWS], large(words), large(at), strict=True)
    if not all(
        r[3:].startswith(a.rstrip()) and r.rstrip().endswith(b.rstrip()) for r, a, b in home
    ):
        return f"home does not lead with {words} {at}"
    second = second_screen(watcher, stamp)
    if (second.large, second.at) != (words, at):
        return f"the second screen says {second.large} {second.at}"
    if second.calls != message_of(alarms_at(mine)):
        return "the second screen calls for something else"
    said = next_words(mine.bench_of(first), first, stamp)
    if not any("NEXT  " in line and line.endswith(said) for line in lines):
        return f"the plain watch says {lines}, and not {said}"
    return ""


@pytest.mark.parametrize("seed", range(SEEDS))
def test_every_view_agrees_at_every_moment(tmp_path: Path, seed: int) -> None:
    """At 250 moments of a day with three runs, all views agree to the millisecond."""
    clock, draws, found = ManualClock(1_770_000_000_000), Random(seed), set()
    with closing(drive(tmp_path, clock)) as driver:
        _set_up(driver, seed)
        with closing(look_on(tmp_path, clock)) as watcher:
            for _ in range(MOMENTS):
                clock.advance(draws.choice((500, 1000, 5000, 20_000, 60_000)))
                _work(driver, driver.moment(), draws)
                assert not _differs(driver, watcher)
                first = driver.moment().first
                found.add((first.run, first.kind) if first is not None else None)
    assert len({each[0] for each in found if each is not None}) > 1  # more than one run has led
