"""Comparing tries, and how a recipe really goes over many runs."""

from __future__ import annotations

import argparse
import re
import sys
from typing import TYPE_CHECKING

from benchtimer.cli.archive import count, opened, put_out
from benchtimer.cli.common import NO, USAGE, YES, Wrong, put_json
from benchtimer.cli.shop import shop_shelf
from benchtimer.quantity import did_you_mean
from benchtimer.times import duration

if TYPE_CHECKING:
    from benchtimer.records.habits import Habits
    from benchtimer.records.tries import Try
    from benchtimer.store.log import EventLog

_NAMED = re.compile(r"(?P<run>[^:]+)(?::(?P<part>.*?)(?::(?P<number>[0-9]{1,4}))?)?")


def options(parser: argparse.ArgumentParser) -> None:
    """RUN..., or --recipe R."""
    parser.add_argument(
        "runs",
        metavar="RUN[:PART[:TRY]]",
        nargs="*",
        help="runs, their parts and tries; one run alone: its tries",
    )
    parser.add_argument("--recipe", metavar="RECIPE", help="how it really goes, over many runs")
    parser.add_argument(
        "--newest", type=count, default=100, metavar="N", help="with --recipe: how many runs (100)"
    )
    parser.add_argument(
        "--apply",
        action="store_true",
        help="with --recipe: keep the real hands-on times as a new revision, after a question",
    )
    parser.add_argument("--yes", action="store_true", help="with --apply: without the question")
    parser.add_argument("--json", action="store_true", help="for programs")


def compare(arguments: argparse.Namespace) -> int:
    """What differed, the likeliest reason first."""
    from benchtimer.records import compare as comparing

    if arguments.recipe:
        return _habits(arguments)
    with opened(arguments) as log:
        tries = _tries(log, arguments.runs)
    if len(tries) < 2:
        needed = "two tries are needed: RUN RUN, RUN:PART:1 RUN:PART:2, or a run with several"
        raise Wrong(needed, USAGE)
    found = comparing.compare(tries)
    if arguments.json:
        put_json(comparing.comparison_table(found))
    else:
        put_out(comparing.comparison_text(found))
    return YES


def _tries(log: EventLog, names: list[str]) -> list[Try]:
    """The tries named; a run named alone gives all its tries, else each part's last."""
    from benchtimer.records.archive import record_of
    from benchtimer.records.tries import tries_of

    told: list[Try] = []
    for name in names:
        match = _NAMED.fullmatch(name)
        if match is None:
            raise Wrong(f'"{name}" is not RUN, RUN:PART or RUN:PART:TRY', USAGE)
        record = record_of(log, match["run"])
        parts = [p for p in record.parts if match["part"] in (None, p.name)]
        if not parts:
            known = [part.name for part in record.parts]
            hint = did_you_mean(match["part"], known, f"its parts: {', '.join(known)}")
            raise Wrong(f'{record.run} has no part "{match["part"]}"; {hint}', NO)
        for part in parts:
            all_of_them = tries_of(record, part)
            if match["number"]:
                told.append(_numbered(all_of_them, int(match["number"]), name))
            else:
                told += all_of_them if len(names) == 1 else all_of_them[-1:]
    return told


def _numbered(tries: list[Try], number: int, name: str) -> Try:
    if not 1 <= number <= len(tries):
        raise Wrong(f'"{name}": there were {len(tries)} tries', NO)
    return tries[number - 1]


def _habits(arguments: argparse.Namespace) -> int:
    from benchtimer.cli.keep import want_real_work
    from benchtimer.records.archive import records_of
    from benchtimer.records.habits import habits_of, habits_table, habits_text
    from benchtimer.store.index import Query

    if arguments.apply:
        want_real_work(arguments)
    with opened(arguments) as log:
        records = list(records_of(log, Query(recipe=arguments.recipe), arguments.newest))
    habits = habits_of(arguments.recipe, records)
    if not habits.steps:
        known = [*shop_shelf().paths()]
        hint = did_you_mean(arguments.recipe, known, "benchtimer recipes lists them")
        raise Wrong(f'no run followed a recipe "{arguments.recipe}"; {hint}', NO)
    if arguments.json:
        put_json(habits_table(habits))
    else:
        put_out(habits_text(habits))
    return _apply(arguments, habits, records[-1].uid) if arguments.apply else YES


def _apply(arguments: argparse.Namespace, habits: Habits, uid: str) -> int:
    """Keep the real hands-on times as a new revision, shown before it is written."""
    from benchtimer.cli.keep import ask, put_on_the_shelf
    from benchtimer.recipe.adjust import Adjustment, adjusted
    from benchtimer.recipe.writer import recipe_table

    recipe = shop_shelf().find(arguments.recipe)
    known = {step.id for step in recipe.step}
    changes = [
        Adjustment(step, "hands", duration(real))
        for step, (_, real) in habits.estimates().items()
        if step in known
    ]
    if not changes:
        print("the hands-on times are as planned: nothing to keep", file=sys.stderr)
        return YES
    table = recipe_table(adjusted(recipe, changes))
    table.pop("lineage", None)
    counts = {s.step: s.hands.count for s in habits.steps if s.hands is not None}
    lineage = {
        "run": habits.runs[-1],
        "uid": uid,
        "made_from": f"{recipe.id}, revision {recipe.revision}",
        "changed": [
            f"{change} (median of {counts.get(change.entry, 0)} times)" for change in changes
        ],
    }
    really = arguments.yes or ask
    return put_on_the_shelf(recipe.id, recipe.revision, table, lineage, really=really)
