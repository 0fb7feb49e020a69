"""Rehearsing a run in fast time, once or many times."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, Wrong, job_options, whole_number
from benchtimer.cli.shop import ordered, shop_shelf
from benchtimer.quantity import show_duration

if TYPE_CHECKING:
    from benchtimer.bench.newrun import NewRun

DRAW_NODES = 200
"""How many states the planner opens for each press, when many rehearsals are asked for."""


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... --seed --draws --json."""
    job_options(parser)
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same record")
    parser.add_argument("--draws", type=_draws, default=1, metavar="N", help="rehearse N times")
    parser.add_argument("--json", action="store_true", help="for programs")


def _draws(text: str) -> int:
    return whole_number(text, 100_000, "rehearsals")


def rehearse_run(arguments: argparse.Namespace) -> int:
    """Rehearse and print the record, or the odds over many draws."""
    from benchtimer.bench.advice import rehearsing
    from benchtimer.records.export import as_json, as_text
    from benchtimer.rehearsal import START_WALL_MS, RehearsalError, rehearse

    new = ordered(arguments, shop_shelf())
    try:
        if arguments.draws > 1:
            return _often(arguments, new)
        record = rehearse(new, arguments.seed, advice=rehearsing(start_wall_ms=START_WALL_MS))
    except RehearsalError as error:
        raise Wrong(str(error), NO) from None
    print(as_json(record) if arguments.json else as_text(record))
    return YES


def _often(arguments: argparse.Namespace, new: NewRun) -> int:
    from benchtimer.bench.advice import rehearsing
    from benchtimer.rehearsal import START_WALL_MS, odds, rehearse

    seeds = range(arguments.seed, arguments.seed + arguments.draws)
    found = odds(
        [rehearse(new, seed, advice=rehearsing(DRAW_NODES, START_WALL_MS)) for seed in seeds]
    )
    steps = [
        {"part": part, "step": step, "overstays": n} for (part, step), n in found.by_step.items()
    ]
    table = {
        "draws": found.draws,
        "median_s": found.median_s,
        "longest_s": found.longest_s,
        "draws_with_overstay": found.late,
        "overstays": steps,
    }
    if arguments.json:
        print(json.dumps(table, ensure_ascii=False, indent=2))
        return YES
    print(f"{found.draws} rehearsals, seeds {seeds[0]} to {seeds[-1]}")
    print(f"start to end: median {show_duration(round(found.median_s))}, "
          f"longest {show_duration(round(found.longest_s))}")  # fmt: skip
    print(f"with an overstay: {found.late}")
    for step in steps:
        print(f"  {step['part']}, {step['step']}: {step['overstays']} overstays")
    return YES
