"""Reading the jobs in the log, next to a bench that may be running."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, Wrong
from benchtimer.cli.shop_context import data_path, log_now, shop_recipes, shop_settings, who
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.job.job_state import Job


@contextmanager
def looking_at_jobs(arguments: argparse.Namespace) -> Iterator[JobLook]:
    """The jobs for reading, next to a bench that may be running."""
    from benchtimer.bench.joblook import JobLook
    from benchtimer.learn.sums import OWN
    from benchtimer.store.log import FILE_NAME, is_there

    if not is_there(data_path(arguments) / FILE_NAME):
        raise Wrong("there are no jobs; open one with benchtimer job open NAME", NO)
    settings = shop_settings()
    with log_now(arguments) as (log, stamp):
        yield JobLook(
            log, shop_recipes(), settings.work_hours, stamp,
            who(arguments, settings), (OWN, *settings.learn_from),
        )  # fmt: skip


def named_job(look: JobLook, name: str) -> Job:
    """A job by its name, or a message about what exists instead."""
    found = look.book.job(name)
    if found is None:
        hint = did_you_mean(name, look.book.names(), "benchtimer job list --all shows the jobs")
        raise Wrong(f'there is no job "{name}"; {hint}', NO)
    return found
