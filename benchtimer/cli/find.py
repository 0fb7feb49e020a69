"""Looking for runs, and the whole life of one part."""

from __future__ import annotations

import argparse

from benchtimer.cli.archive import count, opened, put_json, put_out
from benchtimer.cli.common import NO, USAGE, YES, Wrong
from benchtimer.cli.log import print_runs


def options(parser: argparse.ArgumentParser) -> None:
    """What runs are looked for by."""
    for name, metavar, told in (
        ("part", "NAME", "the name of a part"),
        ("recipe", "RECIPE", "a recipe's name"),
        ("bath", "NAME", "a bath of the bath book"),
        ("verdict", "VERDICT", "accepted, rework or rejected"),
        ("date", "DATE", "a year, month or day: 2026, 2026-11, 2026-11-25"),
    ):
        parser.add_argument(f"--{name}", metavar=metavar, help=told)
    parser.add_argument(
        "words", metavar="WORD", nargs="*", help="words of notes, answers and reasons, all of them"
    )
    parser.add_argument("--limit", type=count, default=50, metavar="N", help="at most so many (50)")
    parser.add_argument("--json", action="store_true", help="for programs")


def find(arguments: argparse.Namespace) -> int:
    """Runs for which everything given holds; names and words may end in ``*``."""
    from benchtimer.store.index import Query, words_in

    words = tuple(
        word + ("*" if text.endswith("*") else "")
        for text in arguments.words
        for word in words_in(text)
    )
    fields = ("part", "recipe", "bath", "verdict", "date")
    asked = {name: getattr(arguments, name) for name in fields}
    if not words and not any(asked.values()):
        raise Wrong("say what to look for; see benchtimer find --help", USAGE)
    with opened(arguments) as log:
        runs = log.find(Query(words=words, **asked), arguments.limit)
    if arguments.json:
        keys = ("name", "phase", "title", "parts")
        told = [{key: getattr(run, key) for key in keys} for run in runs]
        put_json(told)
    else:
        print_runs(runs)
        if len(runs) == arguments.limit:
            print(f"the newest {len(runs)}; --limit N shows more")
    if not runs:
        raise Wrong("no run has all of that", NO)
    return YES


def part_options(parser: argparse.ArgumentParser) -> None:
    """NAME."""
    parser.add_argument("part", metavar="NAME", help="a part's name, such as a blade's")
    parser.add_argument("--json", action="store_true", help="for programs")


def part(arguments: argparse.Namespace) -> int:
    """The life of a part, from its first run to its last look."""
    from benchtimer.records.archive import records_of
    from benchtimer.records.life import life_of, life_table, life_text
    from benchtimer.store.index import Query

    with opened(arguments) as log:
        attempts = life_of(list(records_of(log, Query(part=arguments.part), 1000)), arguments.part)
    if not attempts:
        raise Wrong(f'no run has a part "{arguments.part}"; benchtimer find looks for one', NO)
    name = attempts[-1].part.name
    if arguments.json:
        put_json(life_table(attempts, name))
    else:
        put_out(life_text(attempts, name))
    return YES
