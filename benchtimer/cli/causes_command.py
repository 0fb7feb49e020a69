"""What the failures of a recipe have in common, and what to change next."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import newest_option, opened, put_out
from benchtimer.cli.shop_context import shop_recipes
from benchtimer.learn.fact_kinds import KINDS
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.learn.causes import TryFacts


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE --part --only --newest --all --practice --json."""
    parser.add_argument("recipe", metavar="RECIPE", help="a recipe's name")
    parser.add_argument("--part", metavar="NAME", help="look only at tries of this part")
    parser.add_argument(
        "--only",
        action="append",
        choices=KINDS,
        metavar="KIND",
        help=f"look only at facts of this kind ({', '.join(KINDS)}); may be repeated. "
        "Choose before you see the results: the fewer facts you test, the stronger the evidence",
    )
    newest_option(parser)
    parser.add_argument("--all", action="store_true", help="show all facts, not just the first few")
    parser.add_argument("--practice", action="store_true", help="count practice runs, too")
    json_option(parser)


def causes(arguments: argparse.Namespace) -> int:
    """Rank the facts that the failures have in common."""
    from benchtimer.learn.cause_words import SHOWN, causes_table, causes_text
    from benchtimer.learn.causes import find_causes
    from benchtimer.records.inert import visible

    tries = _tries(arguments)
    found = find_causes(tries, arguments.only or KINDS)
    if arguments.json:
        put_json(causes_table(found, arguments.recipe, arguments.part))
    else:
        most = found.looked_at if arguments.all else SHOWN
        put_out(visible(causes_text(found, arguments.recipe, arguments.part, most)))
    return YES


def _tries(arguments: argparse.Namespace) -> list[TryFacts]:
    from benchtimer.records.counted import tries_that_count
    from benchtimer.records.record_lookup import records_of
    from benchtimer.store.index import Query

    query = Query(recipe=arguments.recipe, part=arguments.part)
    with opened(arguments) as log:
        records = list(records_of(log, query, arguments.newest))
    if not records:
        known = [*shop_recipes().paths()]
        hint = "benchtimer record lists the runs"
        if arguments.recipe not in known:
            hint = did_you_mean(arguments.recipe, known, hint)
        who = f' with a part "{arguments.part}"' if arguments.part else ""
        raise Wrong(f'no run{who} followed a recipe "{arguments.recipe}"; {hint}', NO)
    tries = tries_that_count(records, arguments.recipe, arguments.part, practice=arguments.practice)
    if not tries:
        facts = (
            "no try was sent back, accepted or rejected; benchtimer judge says how a part came out"
        )
        raise Wrong(facts, NO)
    return tries
