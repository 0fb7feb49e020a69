"""Where the shop's files are, who presses the keys, and what the settings fill in.

Every command loads this, so functions import anything heavy when they need it.
"""

from __future__ import annotations

import argparse
import os
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from benchtimer.cli.common import STORE, USAGE, Wrong

if TYPE_CHECKING:
    from benchtimer.bath.bath_wear import WearLimits
    from benchtimer.bench.newrun import NewRun
    from benchtimer.bench.open_bench import OpenBench
    from benchtimer.learn.learned import Learned
    from benchtimer.recipe.recipe_files import RecipeFiles
    from benchtimer.settings import Settings
    from benchtimer.store.log import EventLog, Stamp


def fill_in(arguments: argparse.Namespace) -> None:
    """Fill in what RECIPE PART... leaves open from the shop's settings."""
    if arguments.hands is None:
        arguments.hands = shop_settings().hands
    if arguments.away is None:
        arguments.away = [str(hours) for hours in shop_settings().away]
    elif arguments.away == ["none"]:
        arguments.away = []


def base_folder(arguments: argparse.Namespace) -> Path:
    """The data folder: the one you chose, or the system's."""
    chosen = arguments.data or os.environ.get("BENCHTIMER_DATA")
    if chosen:
        return Path(chosen)
    from platformdirs import user_data_dir

    return Path(user_data_dir("benchtimer", False))


def data_path(arguments: argparse.Namespace) -> Path:
    """The data folder of this bench: real work or practice."""
    from benchtimer.store.place import data_folder

    return data_folder(base_folder(arguments), arguments.speed or 1)


def config_folder() -> Path:
    """The folder for the shop's settings and recipes: the one you chose, or the system's."""
    chosen = os.environ.get("BENCHTIMER_CONFIG")
    if chosen:
        return Path(chosen)
    from platformdirs import user_config_dir

    return Path(user_config_dir("benchtimer", False))


def shop_recipes() -> RecipeFiles:
    """The shop's own recipes, before the built-in ones."""
    from benchtimer.recipe.recipe_files import RecipeFiles

    return RecipeFiles(config_folder() / "recipes")


def settings_path() -> Path:
    """The shop's settings file."""
    return config_folder() / "settings.toml"


def shop_settings() -> Settings:
    """The shop's settings; the defaults if it has none.

    Raises:
        SettingsError: the file is there and broken.
    """
    from benchtimer.settings import read_settings

    return read_settings(settings_path())


def clock_hours() -> Literal[12, 24]:
    """How the shop writes times of day, read without the rest of its settings. Every command prints
    times, but few need the settings model, which is slow to load. If the file is missing or broken,
    the clock is 24-hour; the commands that use the file report the problem.
    """
    path = settings_path()
    try:
        if not path.is_file():  # a pipe may never end
            return 24
        return 12 if tomllib.loads(path.read_text("utf-8")).get("clock") == 12 else 24
    except (OSError, ValueError):
        return 24


def settings_or_none() -> tuple[Settings, str]:
    """The shop's settings; the defaults and what is wrong if the file is broken.

    A bench with parts in its tanks must open even if a settings file is broken.
    """
    from benchtimer.settings import Settings, SettingsError

    try:
        return shop_settings(), ""
    except SettingsError as error:
        return Settings(), str(error)


def who(arguments: argparse.Namespace, settings: Settings | None = None) -> str:
    """Who presses the keys."""
    named = arguments.by or (settings if settings is not None else shop_settings()).by
    if named:
        return str(named)
    import getpass

    from benchtimer.recipe.fields import unsafe_character

    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "maker"
    return user if user and unsafe_character(user) is None else "maker"


@contextmanager
def driven(
    arguments: argparse.Namespace, way_out: str, limits: Mapping[str, WearLimits] | None = None
) -> Iterator[OpenBench]:
    """The bench, for writing under the lease; afterward everything is on the disk.

    Args:
        arguments: the parsed command line.
        way_out: what to do while another process drives the bench.
        limits: the shop's own limits for its baths.

    Raises:
        Wrong: another process drives the bench.
        StoreError: it could not be written.
    """
    from benchtimer.bench.writer import drive
    from benchtimer.clock import SystemClock
    from benchtimer.store.lease import LeaseTaken

    folder, by, speed = data_path(arguments), who(arguments), arguments.speed or 1
    try:
        bench = drive(folder, SystemClock(), by=by, speed=speed, limits=limits)
    except LeaseTaken as taken:
        raise Wrong(f"{taken}; {way_out}", STORE) from None
    with closing(bench):
        yield bench
        bench.writer.want_saved()


@contextmanager
def log_now(arguments: argparse.Namespace) -> Iterator[tuple[EventLog, Stamp]]:
    """The log for reading, next to a bench that may be running, and the bench time."""
    from benchtimer.bench.bench_time import Timeline, bench_clock
    from benchtimer.clock import SystemClock
    from benchtimer.store.log import EventLog

    with closing(EventLog(data_path(arguments), read_only=True)) as log:
        clock = bench_clock(SystemClock(), log, arguments.speed or 1)
        yield log, Timeline(clock, log.last_entry(), dated=log.last_dated()).stamp()


def ordered(job: argparse.Namespace, recipe_files: RecipeFiles) -> NewRun:
    """The run that RECIPE PART... and its options describe."""
    from benchtimer.orders import new_run

    return new_run(
        recipe_files,
        job.recipe,
        job.parts,
        job.changes,
        job.hands,
        job.about,
        _away(job.away),
        job.begins,
        job.before,
        job.counts,
    )


def shop_learned(job: argparse.Namespace, new: NewRun) -> Learned:
    """What this shop's real runs taught about a run's recipes; nothing with --recipe-times.

    If the log can't be read, stderr says so and the recipes' own times are used.
    """
    import sys
    import time

    from benchtimer.learn.learned import Learned
    from benchtimer.learn.sums import OWN
    from benchtimer.recipe.reader import build_recipe
    from benchtimer.records.record_lookup import learned_from
    from benchtimer.store.log import FILE_NAME, EventLog, StoreError, is_there

    folder = base_folder(job)
    if job.recipe_times or not is_there(folder / FILE_NAME):
        return Learned()
    settings = shop_settings()
    recipes = {key: build_recipe(dict(table), name=key) for key, table in new.recipes.items()}
    try:
        log = EventLog(folder, read_only=True)
        try:
            return learned_from(
                log,
                recipes,
                round(time.time() * 1000),
                who(job, settings),
                sources=(OWN, *settings.learn_from),
                adjustments=new.adjustments,
            )
        finally:
            log.close()
    except StoreError as error:
        print(f"benchtimer: planned with the recipes' own times: {error}", file=sys.stderr)
        return Learned()


def _away(hours: list[str]) -> list[str]:
    from benchtimer.bench.advice import check_away

    try:
        check_away(hours)
    except ValueError as error:
        raise Wrong(f"--away {error}", USAGE) from None
    return hours
