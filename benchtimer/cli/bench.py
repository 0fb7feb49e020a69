"""The commands that open a screen: the bench, a new run, looking on."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from benchtimer.cli.common import (
    STORE,
    USAGE,
    YES,
    Wrong,
    data_path,
    ordered,
    shop_shelf,
    who,
)

if TYPE_CHECKING:
    from benchtimer.bench import Driver, Watcher


def open_bench(arguments: argparse.Namespace) -> int:
    """Open the bench with the runs that are on it."""
    return _on_screen(arguments, None)


def run(arguments: argparse.Namespace) -> int:
    """Open the bench with a new run ready to start."""
    return _on_screen(arguments, arguments)


def _on_screen(arguments: argparse.Namespace, job: argparse.Namespace | None) -> int:
    """Open the bench, with a new run if one is asked for."""
    from benchtimer.bench import Driver
    from benchtimer.clock import SystemClock
    from benchtimer.store.lease import LeaseTaken

    new = ordered(job, shop_shelf()) if job else None
    _need_terminal()
    folder = data_path(arguments)
    try:
        driver = Driver(folder, SystemClock(), by=who(arguments), speed=arguments.speed or 1)
    except LeaseTaken as taken:
        return _offer_to_watch(arguments, taken)
    try:
        name = driver.lay_out(new) if new is not None else None
        return _show(driver, name)
    finally:
        driver.close()


def _need_terminal() -> None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Wrong("the bench needs a terminal; see benchtimer --help", USAGE)


def _offer_to_watch(arguments: argparse.Namespace, taken: Exception) -> int:
    print(f"benchtimer: {taken}.", file=sys.stderr)
    print("Look on without changing anything? [Y/n] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if answer.strip().lower() in ("", "y", "yes") and answer:
        return watch(arguments)
    return STORE


def watch(arguments: argparse.Namespace) -> int:
    """Look on at the bench that is running."""
    from benchtimer.bench import Watcher
    from benchtimer.clock import SystemClock

    _need_terminal()
    watcher = Watcher(data_path(arguments), SystemClock(), speed=arguments.speed or 1)
    try:
        return _show(watcher, None)
    finally:
        watcher.close()


def _show(bench: Driver | Watcher, name: str | None) -> int:
    from benchtimer.tui.app import BenchApp

    BenchApp(bench, name, shelf=shop_shelf()).run()
    return YES
