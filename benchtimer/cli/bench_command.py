"""The commands that open a screen: the bench, a new run, watching."""

from __future__ import annotations

import argparse
import gc
import os
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import LEAVE_BY, NO, STORE, USAGE, YES, Wrong, job_options, pair_of
from benchtimer.cli.shop_context import (
    base_folder,
    data_path,
    ordered,
    settings_or_none,
    shop_recipes,
    shop_settings,
    who,
)
from benchtimer.pasted import command_line
from benchtimer.values import replace

LOOK_AGAIN_S = 0.5
"""How often the plain view checks for changes."""

LEAST_REST_S = 0.05
"""... and the shortest rest between two checks, however fast the practice."""

YOUNG = 20_000
"""Collect garbage after this many new objects: an idle board makes few."""

TURN_S = 0.0005
"""The longest time the planner's thread delays a key, each time the key needs the processor."""

if TYPE_CHECKING:
    from benchtimer.bench.newrun import NewRun
    from benchtimer.bench.open_bench import OpenBench
    from benchtimer.settings import Settings


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... --bath STATION=NAME --like RUN."""
    job_options(parser, needed=False)
    parser.add_argument(
        "--start",
        metavar="TIME",
        help='start at: 08:30, "Sat 09:00" or 2026-12-05T18:30; an alarm goes off in '
        "time for the setup, and again at the start",
    )
    parser.add_argument("--leave-by", metavar="TIME", help=LEAVE_BY)
    parser.add_argument(
        "--like",
        metavar="RUN",
        help="set up a run again, with its recipes, parts and settings. You can name its parts, in "
        "order; if you don't, they get new names",
    )
    parser.add_argument(
        "--bath",
        dest="baths",
        action="append",
        default=[],
        metavar="STATION=NAME",
        help="the bath to use in a station, from the bath book (default: the newest that matches)",
    )


def open_bench(arguments: argparse.Namespace) -> int:
    """Open the bench with its current runs."""
    return _on_screen(arguments, None)


def run(arguments: argparse.Namespace) -> int:
    """Open the bench with a new run ready to start."""
    return _on_screen(arguments, arguments)


def timer_options(parser: argparse.ArgumentParser) -> None:
    """NAME TIME."""
    parser.add_argument("name", metavar="NAME", help="what it is for, such as glue")
    parser.add_argument("time", metavar="TIME", nargs="+", help="how long, such as 24h")


def timer(arguments: argparse.Namespace) -> int:
    """Open the bench with a simple timer running."""
    from benchtimer.bench.plain_timer import TimerError, read_timer

    try:
        words = read_timer(" ".join([arguments.name, *arguments.time]))
    except TimerError as error:
        raise Wrong(str(error), USAGE) from None
    return _on_screen(arguments, None, words)


def _on_screen(
    arguments: argparse.Namespace,
    job: argparse.Namespace | None,
    wanted: tuple[str, int] | None = None,
) -> int:
    """Open the bench, with a new run or a timer if you asked for one."""
    like = _like(job) if job else None
    new = (
        replace(ordered(job, shop_recipes()), baths=_baths(job.baths)) if job and not like else None
    )
    _need_terminal()
    gc.disable()  # Keep what is loaded out of garbage collection: scanning it delays the screen.
    from benchtimer.bench.writer import drive
    from benchtimer.clock import SystemClock
    from benchtimer.store.lease import LeaseTaken

    settings, trouble = (shop_settings(), "") if job else settings_or_none()
    try:
        driver = drive(
            data_path(arguments),
            SystemClock(),
            by=who(arguments, settings),
            speed=arguments.speed or 1,
            limits=settings.limits,
            places=settings.places,
            rescue_to=_rescue_places(),
        )
    except LeaseTaken as taken:
        return _offer_to_watch(arguments, taken)
    try:
        if job is not None and like is not None:
            new = _again(driver, job, like)
        name = _set_up(driver, new, job.start) if job and new is not None else None
        if job is not None and job.leave_by is not None:
            _leave_by(driver, job.leave_by, settings)
        if wanted is not None:
            from benchtimer.bench.plain_timer import set_timer

            name = set_timer(driver, *wanted)
        for notice in driver.notices.get(name or "", []):
            print(f"benchtimer: {notice}", file=sys.stderr)
        for open_run in driver.names if trouble else []:
            driver.notices.setdefault(open_run, []).insert(0, trouble)
        shown = _show(driver, name, settings, base_folder(arguments))
        return shown or _print_left_running(arguments, driver)
    finally:
        driver.close()
        if driver.writer.parting:
            print(f"benchtimer: {driver.writer.parting}", file=sys.stderr)


_OF_THE_RUN = ("changes", "about", "begins", "before", "counts")
"""Options whose values come from the run that is set up again."""


def _like(job: argparse.Namespace) -> str | None:
    """The run to set up again, if you asked for one.

    Raises:
        Wrong: neither a run nor a recipe with parts, or options that the run decides.
    """
    if job.like is None:
        if not (job.recipe and job.parts):
            raise Wrong("run needs a RECIPE and at least one PART, or --like RUN", USAGE)
        return None
    if any(getattr(job, name) for name in _OF_THE_RUN):
        refusal = "to change it, plan a new run (P on the home page)"
        raise Wrong(f"--like takes everything from that run; {refusal}", USAGE)
    return str(job.like)


def _again(driver: OpenBench, job: argparse.Namespace, like: str) -> NewRun:
    """An earlier run with new names; hands and hours away only if you gave them."""
    from benchtimer.records.record_lookup import NoSuchRun

    names = [job.recipe, *job.parts] if job.recipe else []
    try:
        new = driver.again(like, names)
    except NoSuchRun as error:
        raise Wrong(str(error), NO) from None
    return replace(new, baths=_baths(job.baths))


def _set_up(driver: OpenBench, new: NewRun, start: str | None = None) -> str:
    """The run's name. An open run with the same parts is used instead, unless you want two.

    Args:
        driver: the bench.
        new: the run to set up.
        start: when it is to start, if that is planned.
    """
    from benchtimer.bench.newrun import twin_of
    from benchtimer.bench.wallclock import moment_of
    from benchtimer.run.commands import Postpone
    from benchtimer.times import TimeError

    try:
        begins = moment_of(start, driver.stamp()) if start else None
    except TimeError as error:
        raise Wrong(f"--start {error}", USAGE) from None
    twin = twin_of(new, {name: driver.state(name) for name in driver.names})
    if twin is not None and not _wants_two(driver, new, twin):
        return twin
    name = driver.set_up(new)
    if begins is not None and begins != driver.stamp():
        driver.press(name, Postpone(None, begins.noted_ms))
    return name


def _leave_by(driver: OpenBench, text: str, settings: Settings) -> None:
    """Note in every run on the bench when you must leave."""
    from benchtimer.run.commands import Leave
    from benchtimer.times import TimeError
    from benchtimer.view.leaving import times_away

    try:
        leave = Leave(*times_away(text, settings.work_hours, driver.stamp()))
    except TimeError as error:
        raise Wrong(f"--leave-by {error}", USAGE) from None
    for name in driver.open_runs()[:1]:
        driver.press(name, leave)  # it goes into every run on the bench


def _wants_two(driver: OpenBench, new: NewRun, twin: str) -> bool:
    parts, phase = ", ".join(name for name, _ in new.parts), driver.state(twin).bench.phase.value
    question = f"Run {twin} ({phase}) has the same parts: {parts}. Set up a second one? [y/N] "
    print(question, end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def _rescue_places() -> list[Path]:
    """Where to put what the data folder can't take."""
    try:
        return [Path.home(), Path(tempfile.gettempdir())]
    except (RuntimeError, OSError):  # there is no home folder, or it can't be written
        return []


def _print_left_running(arguments: argparse.Namespace, driver: OpenBench) -> int:
    """After you leave: which runs continue, and how to come back to them."""
    from benchtimer.run.run_state import OVER, RunPhase

    phases = {name: driver.state(name).bench.phase for name in driver.names}
    idle = [name for name, phase in phases.items() if phase is RunPhase.IDLE]
    work = [name for name, phase in phases.items() if phase not in (*OVER, RunPhase.IDLE)]
    words = [sys.argv[0]]
    words += ["--speed", f"{driver.speed:g}"] if driver.speed != 1 else []
    words += ["--data", arguments.data] if arguments.data else []
    if work:
        print(
            f"Timers keep running, without alarms, while benchtimer is closed: {', '.join(work)}."
        )
    if idle:
        print(f"Set up, not started: {', '.join(idle)}.")
    if work or idle:
        print(f"Open it with: {command_line(words)}")
    if driver.speed != 1 and phases:
        print(f"The record of your practice: {command_line([*words, 'record'])}")
    return YES


def _baths(texts: list[str]) -> dict[str, str]:
    wanted: dict[str, str] = {}
    for text in texts:
        station, name = pair_of(text, "STATION=NAME", "--bath")
        wanted[station] = name
    return wanted


def _need_terminal() -> None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Wrong("the bench needs a terminal; see benchtimer --help", USAGE)


def _offer_to_watch(arguments: argparse.Namespace, taken: Exception) -> int:
    print(f"benchtimer: {taken}.", file=sys.stderr)
    print("Watch without changing anything? [Y/n] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if answer.strip().lower() in ("", "y", "yes") and answer:
        return watch(arguments)
    return STORE


def watch_options(parser: argparse.ArgumentParser) -> None:
    """--plain, --serve ADDRESS."""
    parser.add_argument(
        "--serve",
        metavar="ADDRESS",
        help="show the bench to phones and tablets at this address of this computer, such as "
        "192.168.1.20 or 192.168.1.20:8765",
    )
    parser.add_argument(
        "--plain",
        action="store_true",
        help="no screen: one line of text for each change, for screen readers and pipes",
    )


def watch(arguments: argparse.Namespace) -> int:
    """Watch a bench that is running."""
    from benchtimer.bench.open_bench import look_on
    from benchtimer.clock import SystemClock

    plain, address = getattr(arguments, "plain", False), getattr(arguments, "serve", None)
    if not (plain or address):
        _need_terminal()
    if arguments.speed is None:
        arguments.speed = open_practice(base_folder(arguments))
    watcher = look_on(data_path(arguments), SystemClock(), speed=arguments.speed or 1)
    watcher.unit = settings_or_none()[0].degrees
    try:
        if address:
            from benchtimer.cli.serving import serve

            return serve(watcher, address)
        if plain:
            return _tell(watcher)
        return _show(watcher, None, settings_or_none()[0], base_folder(arguments))
    finally:
        watcher.close()


def open_practice(base: Path) -> float | None:
    """The speed of the one practice bench that is open while the shop's own isn't."""
    from benchtimer.store.lease import is_held
    from benchtimer.store.place import practice_speeds

    found = [speed for folder, speed in practice_speeds(base) if is_held(folder)]
    return found[0] if len(found) == 1 and not is_held(base) else None


def _tell(watcher: OpenBench) -> int:
    """Print a line for each change until it is stopped."""
    from benchtimer.view.telling import Teller

    if watcher.speed != 1:
        print(
            f"PRACTICE {watcher.speed:g}x: time passes {watcher.speed:g} times as fast", flush=True
        )
    teller = Teller(watcher)
    try:
        while True:
            for line in teller.lines():
                print(line, flush=True)
            time.sleep(max(LEAST_REST_S, LOOK_AGAIN_S / watcher.speed))
    except KeyboardInterrupt:
        return YES


def _show(bench: OpenBench, name: str | None, settings: Settings, base: Path) -> int:
    from benchtimer.learn.sums import OWN
    from benchtimer.sound.ways import Ways
    from benchtimer.tui.app import BenchApp
    from benchtimer.tui.awake import Awake
    from benchtimer.tui.plain import knows_only_ascii

    bench.learn_from = (OWN, *settings.learn_from)
    text = settings.screen.text
    ascii_only = knows_only_ascii(os.environ) if text == "auto" else text == "ascii"
    real = not bench.read_only and bench.speed == 1
    awake = Awake() if settings.keep_awake and real else None
    ways = Ways(base, settings.alarm)
    app = BenchApp(
        bench,
        name,
        recipe_files=shop_recipes(),
        settings=settings,
        ascii_only=ascii_only,
        awake=awake,
        ways=ways,
    )
    _reset_terminal()
    gc.freeze()  # and collect no garbage while a key is waiting
    gc.set_threshold(YOUNG)
    sys.setswitchinterval(TURN_S)
    gc.enable()
    _keep_last_words()
    try:
        app.run()
    finally:
        ways.close()
        if awake is not None:
            awake.close()
    if app.return_code:
        raise Wrong(_why_closed(app.failure), NO)
    return YES


def _keep_last_words() -> None:
    """Ignore CTRL+C to the end of the process.

    One typed for a screen that has just closed must not cut off what is said last.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)


RESET = "\x1b[?1000l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[?1049l\x1b[?25h\x1b[0m"
"""Mouse, paste mode and second screen off, cursor on: undoes what a killed screen leaves behind."""


def _reset_terminal() -> None:
    """Restore the terminal after a screen that was killed."""
    print(RESET, end="", flush=True)


def _why_closed(error: Exception | None) -> str:
    """One line about a screen that closed because of a bug."""
    at = error.__traceback__ if error is not None else None
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    place = f", {Path(at.tb_frame.f_code.co_filename).name}:{at.tb_lineno}" if at else ""
    first = next(iter(str(error).splitlines()), "") if error is not None else ""
    from benchtimer.records.inert import visible

    what = f"{type(error).__name__}: {visible(first, keep='')}{place}" if error else "input failed"
    closed = f"the screen closed because of a bug ({what})"
    return f"{closed}. Every saved press is kept: open the bench again"
