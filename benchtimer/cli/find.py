"""Looking for runs and tries, and the whole life of one part."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from benchtimer.cli.archive import count, opened, put_json, put_out
from benchtimer.cli.common import NO, USAGE, YES, Wrong
from benchtimer.cli.record import print_runs
from benchtimer.cli.shop import shop_shelf
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.store.index import Query
    from benchtimer.store.log import EventLog


OUTCOMES = ("well", "failed", "open")
"""Those of ``records.attempts``, which is not loaded for a help page."""


def options(parser: argparse.ArgumentParser) -> None:
    """What runs are looked for by."""
    for name, metavar, told in (
        ("part", "NAME", "the name of a part"),
        ("recipe", "RECIPE", "a recipe's name"),
        ("bath", "NAME", "a bath of the bath book"),
        ("verdict", "VERDICT", "a part was judged accepted, rework or rejected"),
        ("date", "DATE", "a year, month or day: 2026, 2026-11, 2026-11-25"),
    ):
        parser.add_argument(f"--{name}", metavar=metavar, help=told)
    parser.add_argument(
        "--outcome", choices=OUTCOMES,
        help="find tries, not runs: those that came out well; those that failed, by being "
        "sent back in the run, scrapped, or judged rework or rejected; those still open",
    )  # fmt: skip
    parser.add_argument(
        "words", metavar="WORD", nargs="*", help="words of notes, answers and reasons, all of them"
    )
    parser.add_argument("--limit", type=count, default=50, metavar="N", help="at most so many (50)")
    parser.add_argument("--json", action="store_true", help="for programs")


def find(arguments: argparse.Namespace) -> int:
    """Runs, or tries, for which everything given holds; names and words may end in ``*``."""
    from benchtimer.store.index import Query, words_in

    words = tuple(
        word + ("*" if text.endswith("*") else "")
        for text in arguments.words
        for word in words_in(text)
    )
    fields = ("part", "recipe", "bath", "verdict", "date")
    asked = {name: getattr(arguments, name) for name in fields}
    if not words and not any(asked.values()) and arguments.outcome is None:
        raise Wrong("say what to look for; see benchtimer find --help", USAGE)
    query = Query(words=words, **asked)
    with opened(arguments) as log:
        if arguments.outcome is not None:
            return _find_tries(arguments, log, query)
        runs = log.find(query, arguments.limit)
        hint = "" if runs else _meant(log, asked)
    if arguments.json:
        keys = ("name", "phase", "title", "parts")
        told = [{key: getattr(run, key) for key in keys} for run in runs]
        put_json(told)
    else:
        print_runs(runs)
        if len(runs) == arguments.limit:
            print(f"the newest {len(runs)}; --limit N shows more")
    if not runs:
        raise Wrong(f"no run has all of that{hint}", NO)
    return YES


def _find_tries(arguments: argparse.Namespace, log: EventLog, query: Query) -> int:
    from benchtimer.records.tries import MOST_RUNS, tries_of, tries_table, tries_text

    tries = tries_of(log, query, arguments.outcome, arguments.limit)
    if arguments.json:
        put_json(tries_table(tries))
    elif tries:
        put_out(tries_text(tries))
    if len(tries) == arguments.limit:
        print(f"the newest {len(tries)}; --limit N shows more", file=sys.stderr)
    elif len(log.find(query, MOST_RUNS)) == MOST_RUNS:
        told = f"searched the newest {MOST_RUNS} runs only; --part, --recipe or --date narrows it"
        print(told, file=sys.stderr)
    if not tries:
        raise Wrong(f"no matching try {_CAME_OUT[arguments.outcome]}", NO)
    return YES


_CAME_OUT = {"well": "came out well", "failed": "failed", "open": "is open"}


def _meant(log: EventLog, asked: Mapping[str, str | None]) -> str:
    """The nearest name there is for one that is in no run, or another way to look."""
    from benchtimer.bath.events import STREAM
    from benchtimer.run.commands import VERDICTS
    from benchtimer.store.index import Query, fold_text

    known: dict[str, Callable[[], Iterable[str]]] = {
        "part": lambda: _known_parts(log),
        "recipe": lambda: shop_shelf().paths(),
        "bath": lambda: (stream.removeprefix(STREAM) for stream in log.streams(STREAM)),
        "verdict": lambda: VERDICTS,
    }
    for name in known:
        value = asked[name]
        if value and not log.find(replace(Query(), **cast(Any, {name: value})), 1):
            words = {fold_text(word): word for word in known[name]()}
            hint = did_you_mean(value, words.values())
            if hint and fold_text(value) not in words:
                return f"; {hint}"
    if fold_text(asked["verdict"] or "") in ("rework", "rejected"):
        return "; a try that was sent back in its run has no verdict: --outcome failed finds it"
    return ""


def _known_parts(log: EventLog) -> list[str]:
    """The parts of the newest runs."""
    from benchtimer.records.archive import NEAR

    return list(dict.fromkeys(part for run in log.runs(limit=NEAR) for part in run.parts))


def part_options(parser: argparse.ArgumentParser) -> None:
    """NAME."""
    parser.add_argument("part", metavar="NAME", help="a part's name, such as a blade's")
    parser.add_argument("--json", action="store_true", help="for programs")


def part(arguments: argparse.Namespace) -> int:
    """The life of a part, from its first run to its last look."""
    from benchtimer.records.archive import records_of
    from benchtimer.records.life import life_of, life_table, life_text, lives_of
    from benchtimer.store.index import Query

    with opened(arguments) as log:
        attempts = life_of(list(records_of(log, Query(part=arguments.part), 1000)), arguments.part)
        known = [] if attempts else _known_parts(log)
    if not attempts:
        hint = did_you_mean(arguments.part, known, "benchtimer find looks for one")
        raise Wrong(f'no run has a part "{arguments.part}"; {hint}', NO)
    name = list(lives_of(attempts))[-1]
    if arguments.json:
        put_json(life_table(attempts, name))
    else:
        put_out(life_text(attempts))
    return YES
