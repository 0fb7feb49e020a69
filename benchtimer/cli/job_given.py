"""The order of a job as a command line or a file gives it."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, USAGE, Wrong

if TYPE_CHECKING:
    from benchtimer.job.order import Order, OrderPart


def order_given(arguments: argparse.Namespace, before: Order | None, today: date) -> Order:
    """The order that the options ask for; what they leave out is as before.

    Args:
        arguments: the options.
        before: the order so far; None for a new job.
        today: refuses an earlier due date; None to accept it.
    """
    from benchtimer.job.order import Order
    from benchtimer.times import TimeError, parse_date

    parts = list(before.parts) if before is not None else []
    for part in _given_parts(arguments):
        same = [i for i, p in enumerate(parts) if p.name.casefold() == part.name.casefold()]
        if same and before is not None:
            parts[same[0]] = part
        else:
            parts.append(part)
    due = before.due if before is not None else None
    if arguments.due:
        try:
            due = parse_date(arguments.due, today)
        except TimeError as error:
            raise Wrong(f"--due {error}", USAGE) from None
    if due is None:
        raise Wrong("give a due date: --due 2026-12-11", USAGE)
    note = before.note if before is not None else ""
    return Order(due, tuple(parts), note if arguments.note is None else arguments.note)


def _given_parts(arguments: argparse.Namespace) -> Iterator[OrderPart]:
    from benchtimer.job.order import parse_join, parse_part

    for option, texts, parse in (
        ("--part", arguments.parts, parse_part),
        ("--join", arguments.joins, parse_join),
    ):
        for text in texts:
            try:
                yield parse(text)
            except ValueError as error:
                raise Wrong(f"{option} {error}", USAGE) from None


def order_in_file(path: str, recipes: list[str], today: date | None) -> tuple[str, Order]:
    """The name and the order in a job file.

    Args:
        path: the file.
        recipes: ids of the known recipes.
        today: refuses an earlier due date; None to accept it.
    """
    from benchtimer.job.job_file import parse_job
    from benchtimer.recipe.reader import read_start

    try:
        raw = read_start(Path(path))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no file can have that name"
        raise Wrong(f"{path}: the file can't be read: {reason}; check the path", NO) from None
    return parse_job(raw, name=path, recipes=recipes, today=today)


def today_here() -> date:
    """The date in the time zone of the shop."""
    from benchtimer.bench.wallclock import date_of
    from benchtimer.clock import SystemClock
    from benchtimer.store.log import Stamp

    tick = SystemClock().read()
    return date_of(Stamp(tick.wall_ms, None, 0, tick.wall_ms, tick.offset_s))
