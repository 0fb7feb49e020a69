"""How the work comes out: first-pass yield, send-backs, hours, by recipe and month."""

from __future__ import annotations

import argparse

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import newest_option, opened, put_out


def options(parser: argparse.ArgumentParser) -> None:
    """RECIPE --date --newest --json."""
    parser.add_argument("recipe", metavar="RECIPE", nargs="?", help="only this recipe")
    parser.add_argument("--date", metavar="DATE", help="only a year or a month: 2026, 2026-11")
    newest_option(parser)
    json_option(parser)


def rates(arguments: argparse.Namespace) -> int:
    """Print the rates."""
    from benchtimer.learn.monthly_rates import rates_of, rates_table, rates_text
    from benchtimer.records.inert import visible
    from benchtimer.records.record_lookup import records_of
    from benchtimer.records.worked import worked_in
    from benchtimer.store.index import Query

    query = Query(recipe=arguments.recipe, date=arguments.date)
    with opened(arguments) as log:
        worked = list(worked_in(records_of(log, query, arguments.newest), arguments.recipe))
    if not worked:
        raise Wrong("no real run matches; benchtimer record lists the runs", NO)
    found = rates_of(worked)
    if arguments.json:
        put_json(rates_table(found))
    else:
        put_out(visible(rates_text(found)))
    return YES
