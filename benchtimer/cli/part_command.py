"""All work on one part."""

from __future__ import annotations

import argparse

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import known_parts, opened, put_out
from benchtimer.quantity import did_you_mean


def options(parser: argparse.ArgumentParser) -> None:
    """NAME."""
    parser.add_argument("part", metavar="NAME", help="a part's name, such as a blade's")
    json_option(parser)


def part(arguments: argparse.Namespace) -> int:
    """All work on a part, from its first run to its last entry."""
    from benchtimer.records.life import life_of, life_table, life_text, lives_of
    from benchtimer.records.record_lookup import records_of
    from benchtimer.store.index import Query

    with opened(arguments) as log:
        tries = life_of(list(records_of(log, Query(part=arguments.part), 1000)), arguments.part)
        known = [] if tries else known_parts(log)
    if not tries:
        hint = did_you_mean(arguments.part, known, "benchtimer record --part looks for one")
        raise Wrong(f'no run has a part "{arguments.part}"; {hint}', NO)
    name = list(lives_of(tries))[-1]
    if arguments.json:
        put_json(life_table(tries, name))
    else:
        put_out(life_text(tries))
    return YES
