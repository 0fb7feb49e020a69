"""The commands: one row each, with the module to load when you use it.

This is plain data for help pages, completion and the parser; a command loads only its own module.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, NamedTuple


class CommandRow(NamedTuple):
    """One command.

    Attributes:
        group: its heading in the list of commands.
        summary: one line about it.
        module: its module in ``benchtimer.cli``, without ``_command``.
        do: the function that does it and gives the exit code.
        options: the function that adds its arguments to a parser; empty if it has none.
        uses: which of the common options have an effect on it.
        own_help: its options include a ``--help`` of their own.
    """

    group: str
    summary: str
    module: str
    do: str
    options: str = "options"
    uses: tuple[str, ...] = ()
    own_help: bool = False

    def load(self, name: str) -> Callable[..., Any]:
        """Imports the command's module and returns a function from it."""
        found: Callable[..., Any] = getattr(
            import_module(f"benchtimer.cli.{self.module}_command"), name
        )
        return found


BENCH, RECIPES, RECORDS, SHOP = "At the bench", "Recipes", "Records", "The shop"
READS = ("data", "speed")
WRITES = ("data", "by", "speed")

COMMANDS: Mapping[str, CommandRow] = {
    "run": CommandRow(
        BENCH, "open the bench with this run ready to start", "bench", "run", uses=WRITES
    ),
    "prepare": CommandRow(
        BENCH, "what to lay out, mix and read before a run", "prepare", "prepare", uses=READS
    ),
    "plan": CommandRow(
        BENCH, "print the plan for a run, with proof that it works", "plan", "plan_run", uses=READS
    ),
    "rehearse": CommandRow(
        BENCH, "run a recipe in fast time with simulated hands", "rehearse", "rehearse_run"
    ),
    "timer": CommandRow(
        BENCH, "open the bench with a simple timer running", "bench", "timer", "timer_options",
        WRITES,
    ),
    "tonight": CommandRow(
        BENCH, "what fits in the hours you have left", "jobplan", "tonight", "tonight_options",
        READS,
    ),
    "watch": CommandRow(
        BENCH, "watch a running bench", "bench", "watch", "watch_options", READS
    ),
    "validate": CommandRow(RECIPES, "validate recipe files", "recipes", "check", "check_options"),
    "recipes": CommandRow(
        RECIPES, "list the recipes, or print one", "recipes", "recipes", "list_options"
    ),
    "schema": CommandRow(
        RECIPES, "the format of recipes or settings as JSON Schema", "recipes", "schema",
        "schema_options",
    ),
    "keep": CommandRow(
        RECIPES, "save a run's settings as the recipe's next revision", "keep", "keep", uses=READS
    ),
    "record": CommandRow(
        RECORDS, "list runs and tries, with filters; print one run's record", "record", "record",
        uses=READS,
    ),
    "judge": CommandRow(
        RECORDS, "record how a part came out", "judge", "judge", uses=WRITES
    ),
    "compare": CommandRow(
        RECORDS, "what differed between tries, and how they came out", "compare", "compare",
        uses=READS,
    ),
    "times": CommandRow(
        RECORDS, "your own times next to the recipe's, step by step", "times", "times",
        uses=WRITES,
    ),
    "causes": CommandRow(
        RECORDS, "what your failures have in common, and what to change next", "causes", "causes",
        uses=READS,
    ),
    "rates": CommandRow(
        RECORDS, "first-pass yield, send-backs and hours, by recipe and month", "rates", "rates",
        uses=READS,
    ),
    "part": CommandRow(
        RECORDS, "all work on one part", "part", "part", uses=READS
    ),
    "backup": CommandRow(
        RECORDS, "back up the log, even while the bench is open", "backup", "backup",
        "backup_options", READS,
    ),
    "restore": CommandRow(
        RECORDS, "restore the log from a backup", "backup", "restore", "restore_options", READS
    ),
    "export": CommandRow(
        RECORDS, "save every run to files", "backup", "export", "export_options", READS
    ),
    "import": CommandRow(
        RECORDS, "load exported runs", "backup", "import_runs", "import_options", READS
    ),
    "job": CommandRow(
        SHOP, "jobs: parts, recipes, a due date, and whether they will be ready", "job", "job",
        uses=WRITES,
    ),
    "bath": CommandRow(
        SHOP, "the bath book: mixing, readings, wear and disposal", "bath", "bath",
        uses=WRITES,
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
        SHOP, "print a script for TAB completion in your shell", "completion", "completion"
    ),
}  # fmt: skip
"""By name, in the order of the list."""
