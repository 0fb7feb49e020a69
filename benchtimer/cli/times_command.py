"""Your own times next to a recipe's, step by step; what clearly differs becomes its next
revision.
"""

from __future__ import annotations

import argparse
import sys
import time
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import opened, put_out
from benchtimer.cli.shop_context import shop_recipes, shop_settings, who

if TYPE_CHECKING:
    from benchtimer.learn.time_words import TimesPage
    from benchtimer.recipe.model import Recipe

PICTURED = 100
"""How many of the newest runs supply the individual times."""


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE --practice --imported --keep --yes --json."""
    parser.add_argument("recipe", metavar="RECIPE", help="a recipe's name")
    parser.add_argument("--practice", action="store_true", help="count practice runs, too")
    parser.add_argument(
        "--imported", action="store_true", help="count runs imported from another log, too"
    )
    parser.add_argument(
        "--keep",
        action="store_true",
        help="save what clearly differs as the recipe's next revision, after you say yes",
    )
    parser.add_argument("--yes", action="store_true", help="with --keep: do not ask")
    json_option(parser)


def times(arguments: argparse.Namespace) -> int:
    """Print the times of a recipe, or keep them."""
    from benchtimer.learn.time_words import times_table, times_text
    from benchtimer.records.inert import visible

    if arguments.keep:
        from benchtimer.cli.keep_command import want_real_work

        want_real_work(arguments)
    page, run, uid = _page(arguments, shop_recipes().find(arguments.recipe))
    if not page.learned.runs and not page.learned.others:
        raise Wrong(
            f'no run of "{page.recipe.id}" has ended yet, so there are no times to compare', NO
        )
    if arguments.json:
        put_json(times_table(page))
    else:
        put_out(visible(times_text(page)))
    return _keep(arguments, page, run, uid) if arguments.keep else YES


def _page(arguments: argparse.Namespace, recipe: Recipe) -> tuple[TimesPage, str, str]:
    """The page, and the newest run it includes."""
    from benchtimer.learn.sums import IMPORTED, OWN, PRACTICE
    from benchtimer.learn.time_words import TimesPage, seconds_by_step
    from benchtimer.records.record_lookup import learned_from, seen_in, uid_of
    from benchtimer.store.index import Query

    settings = shop_settings()
    by = who(arguments, settings)
    practice = arguments.practice or (arguments.speed or 1) != 1
    chosen = ((practice, PRACTICE), (arguments.imported, IMPORTED))
    sources = {OWN, *settings.learn_from, *(source for wanted, source in chosen if wanted)}
    query = Query(recipe=recipe.id)
    with opened(arguments) as log:
        now_ms = round(time.time() * 1000)
        learned = learned_from(log, {recipe.id: recipe}, now_ms, by, sources=sources)
        estimates = learned.estimates[recipe.id]
        seconds = seconds_by_step(seen_in(log, query, PICTURED), recipe.id, by)
        newest = log.find(query, 1)
        uid = uid_of(log, newest[0].name) if newest else ""
    return TimesPage(recipe, estimates, seconds), newest[0].name if newest else "", uid


def _keep(arguments: argparse.Namespace, page: TimesPage, run: str, uid: str) -> int:
    """Save what clearly differs as a new revision, after showing it."""
    from benchtimer.cli.keep_command import ask, save_revision
    from benchtimer.learn.take_over import taken_over
    from benchtimer.recipe.writer import recipe_table

    found = taken_over(page.recipe, page.learned)
    if not found.changed:
        print("nothing clearly differs from the recipe: nothing to keep", file=sys.stderr)
        return YES
    table = recipe_table(found.recipe)
    table.pop("lineage", None)
    recipe = page.recipe
    lineage = {
        "run": run,
        "uid": uid,
        "made_from": f"{recipe.id}, revision {recipe.revision}",
        "changed": list(found.changed),
        "rests_on": f"times and answers {page.learned.words}",
    }
    really = arguments.yes or ask
    return save_revision(recipe.id, recipe.revision, table, lineage, really=really)
