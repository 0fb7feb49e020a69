"""Rehearses a run in fast time, once or many times."""

from __future__ import annotations

import argparse
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from benchtimer.cli.common import (
    NO,
    USAGE,
    YES,
    Wrong,
    job_options,
    json_option,
    put_json,
    spread_option,
    whole_number,
)
from benchtimer.cli.shop_context import ordered, shop_learned, shop_recipes
from benchtimer.progress import counted
from benchtimer.times import duration

if TYPE_CHECKING:
    from benchtimer.bench.newrun import NewRun

TRIAL_NODES = 200
"""How many states the planner opens per press when there are many rehearsals."""


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... --seed --trials --spread --json."""
    job_options(parser)
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same record")
    parser.add_argument(
        "--trials",
        type=whole_number(100_000, "rehearsals"),
        default=1,
        metavar="N",
        help="rehearse N times",
    )
    spread_option(parser)
    json_option(parser)


def rehearse_run(arguments: argparse.Namespace) -> int:
    """Rehearse and print the record, or how often a part was late over many trials."""
    from benchtimer.bench.advice import rehearsing
    from benchtimer.records.export import as_json, as_text
    from benchtimer.rehearsal import RehearsalError, rehearse

    new = _as_learned(arguments, ordered(arguments, shop_recipes()))
    advice = rehearsing()
    try:
        if arguments.trials > 1:
            return _often(arguments, new)
        record = rehearse(new, arguments.seed, spread=arguments.spread, advice=advice)
    except RehearsalError as error:
        raise Wrong(str(error), NO) from None
    print(as_json(record) if arguments.json else as_text(record))
    return YES


def _as_learned(arguments: argparse.Namespace, new: NewRun) -> NewRun:
    """The run with your own times and check rates, with a note of where they come from."""
    from benchtimer.recipe.reader import build_recipe
    from benchtimer.recipe.writer import recipe_table
    from benchtimer.values import replace

    learned = shop_learned(arguments, new)
    if arguments.spread is None:
        arguments.spread = learned.spread
    if not learned:
        return new
    print(f"benchtimer: {learned.words}; --recipe-times ignores them", file=sys.stderr)
    recipes = {key: build_recipe(dict(table), name=key) for key, table in new.recipes.items()}
    applied = learned.applied(recipes)
    return replace(new, recipes={key: recipe_table(recipe) for key, recipe in applied.items()})


def _often(arguments: argparse.Namespace, new: NewRun) -> int:
    from benchtimer.bench.advice import rehearsing
    from benchtimer.plan.plan_words import chance_words
    from benchtimer.plan.spread import spread_words
    from benchtimer.rehearsal import rehearse, tally

    seeds = range(arguments.seed, arguments.seed + arguments.trials)
    spread = arguments.spread
    records = []
    with suppress(KeyboardInterrupt):  # show the ones that are done
        for seed in counted(seeds, "rehearsals", every=1):
            advice = rehearsing(TRIAL_NODES)
            records.append(rehearse(new, seed, spread=spread, advice=advice))
    if not records:
        raise KeyboardInterrupt
    stopped = len(records) < len(seeds)
    seeds = seeds[: len(records)]
    found = tally(records)
    steps = [
        {"part": part, "step": step, "overruns": n} for (part, step), n in found.by_step.items()
    ]
    table = {
        "trials": found.trials,
        "spread": spread,
        "median_s": found.median_s,
        "longest_s": found.longest_s,
        "trials_with_overrun": found.late,
        "overruns": steps,
    }
    if stopped:
        print(f"benchtimer: stopped after {len(records)} of {arguments.trials}", file=sys.stderr)
    code = USAGE if stopped else YES
    if arguments.json:
        put_json(table)
        return code
    print(f"{found.trials} rehearsals, seeds {seeds[0]} to {seeds[-1]}")
    print(f"hands-on times: spread {spread:g}, {spread_words(spread)}")
    print(f"start to end: median {duration(round(found.median_s))}, "
          f"longest {duration(round(found.longest_s))}")  # fmt: skip
    print(f"with an overrun: {chance_words(found.late, found.trials)}")
    for step in steps:
        print(f"  {step['part']}, {step['step']}: {step['overruns']}")
    return code
