"""The commands: one row each, naming the module to load when it is asked for.

Plain data. Help pages, completion and the parser all follow this table, and a command loads
its own module only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, NamedTuple


class CommandRow(NamedTuple):
    """One command.

    Attributes:
        group: under which heading the list of commands has it.
        summary: one line about it.
        module: its module in ``benchtimer.cli``, without ``_command``.
        do: the function that does it and gives the exit code.
        options: the function that adds its arguments to a parser; empty if it has none.
        heeds: which of the common options change anything for it.
        own_help: its options include a ``--help`` of their own.
    """

    group: str
    summary: str
    module: str
    do: str
    options: str = "options"
    heeds: tuple[str, ...] = ()
    own_help: bool = False

    def load(self, name: str) -> Callable[..., Any]:
        """A function of the command's module, which is imported now."""
        found: Callable[..., Any] = getattr(
            import_module(f"benchtimer.cli.{self.module}_command"), name
        )
        return found


BENCH, RECIPES, RECORDS, SHOP = "At the bench", "Recipes", "Records", "The shop"
READS = ("data", "speed")
WRITES = ("data", "by", "speed")

COMMANDS: Mapping[str, CommandRow] = {
    "run": CommandRow(
        BENCH, "open the bench with this run ready to start", "bench", "run", heeds=WRITES
    ),
    "prepare": CommandRow(
        BENCH, "what to lay out, mix and read before a run", "prepare", "prepare", heeds=READS
    ),
    "plan": CommandRow(
        BENCH, "print the plan of a run, with its proof", "plan", "plan_run", heeds=READS
    ),
    "rehearse": CommandRow(
        BENCH, "run it in fast time with simulated hands", "rehearse", "rehearse_run"
    ),
    "timer": CommandRow(
        BENCH, "open the bench with a plain timer that runs", "bench", "timer", "timer_options",
        WRITES,
    ),
    "tonight": CommandRow(
        BENCH, "what fits into the hours left", "jobplan", "tonight", "tonight_options", READS
    ),
    "watch": CommandRow(
        BENCH, "look on at the bench that is running", "bench", "watch", "watch_options", READS
    ),
    "validate": CommandRow(RECIPES, "validate recipe files", "recipes", "check", "check_options"),
    "recipes": CommandRow(
        RECIPES, "the recipes, or one in readable form", "recipes", "recipes", "list_options"
    ),
    "schema": CommandRow(
        RECIPES, "the format of recipes or settings as JSON Schema", "recipes", "schema",
        "schema_options",
    ),
    "keep": CommandRow(
        RECIPES, "a run's settings as the recipe's next revision", "keep", "keep", heeds=READS
    ),
    "record": CommandRow(
        RECORDS, "runs and tries, with filters; the record of one run", "record", "record",
        heeds=READS,
    ),
    "judge": CommandRow(
        RECORDS, "say how a part of a run came out", "judge", "judge", heeds=WRITES
    ),
    "compare": CommandRow(
        RECORDS, "what differed between tries, and how it came out", "compare", "compare",
        heeds=READS,
    ),
    "times": CommandRow(
        RECORDS, "your own times beside a recipe's, step by step", "times", "times",
        heeds=WRITES,
    ),
    "causes": CommandRow(
        RECORDS, "what goes with failure, and what to change next", "causes", "causes",
        heeds=READS,
    ),
    "rates": CommandRow(
        RECORDS, "first-pass yield, send-backs and hours, by recipe and month", "rates", "rates",
        heeds=READS,
    ),
    "part": CommandRow(
        RECORDS, "the whole life of a part", "part", "part", heeds=READS
    ),
    "backup": CommandRow(
        RECORDS, "copy the log, also while it runs", "backup", "backup", "backup_options", READS
    ),
    "restore": CommandRow(
        RECORDS, "put a copy back", "backup", "restore", "restore_options", READS
    ),
    "export": CommandRow(
        RECORDS, "every run as files", "backup", "export", "export_options", READS
    ),
    "import": CommandRow(
        RECORDS, "read exported runs in", "backup", "import_runs", "import_options", READS
    ),
    "job": CommandRow(
        SHOP, "jobs: parts with their recipes and a due date; will they be ready", "job", "job",
        heeds=WRITES,
    ),
    "bath": CommandRow(
        SHOP, "the bath book: baths, what went through them, their end", "bath", "bath",
        heeds=WRITES,
    ),
    "calc": CommandRow(
        SHOP, "a shop calculation, worked through, with its source", "calc", "calc", own_help=True
    ),
    "settings": CommandRow(
        SHOP, "make, print or change the shop's settings; try the alarm", "settings", "settings",
    ),
    "help": CommandRow(
        SHOP, "the manual, or the help of one command", "help", "show_help"
    ),
    "completion": CommandRow(
        SHOP, "a script that completes commands and names at TAB", "completion", "completion"
    ),
}  # fmt: skip
"""By name, in the order in which they are listed."""
