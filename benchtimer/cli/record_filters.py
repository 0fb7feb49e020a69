"""The filters of ``record``: which runs or tries to list, and hints for misspelled names."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, cast

from benchtimer.cli.common import NO, YES, Wrong, put_json
from benchtimer.cli.record_common import known_parts, put_out
from benchtimer.cli.shop_context import shop_recipes
from benchtimer.quantity import did_you_mean
from benchtimer.values import replace

if TYPE_CHECKING:
    from benchtimer.store.index import Query
    from benchtimer.store.log import EventLog, RunLine

VERDICTS = ("accepted", "rework", "rejected")
"""Those of ``run.commands``, which a help page does not load."""

OUTCOMES = ("well", "failed", "open", "sent-back", *VERDICTS)
"""Those of ``records.tries``, which it does not load either."""

FIELDS = ("part", "recipe", "bath", "verdict", "date")


def filter_options(parser: argparse.ArgumentParser) -> None:
    """The filters for runs."""
    for name, metavar, about in (
        ("part", "NAME", "runs with a part of this name"),
        ("recipe", "RECIPE", "runs of this recipe"),
        ("bath", "NAME", "runs that used this bath of the bath book"),
        ("verdict", "VERDICT", "runs with a part judged accepted, rework or rejected"),
        ("date", "DATE", "runs of a year, month or day: 2026, 2026-11, 2026-11-25"),
        ("words", "WORDS", "runs with all these words in notes, answers or reasons"),
    ):
        parser.add_argument(f"--{name}", metavar=metavar, help=about)
    parser.add_argument(
        "--outcome", choices=OUTCOMES, metavar="OUTCOME",
        help="list tries, not runs: those that came out well; those that failed (sent back in the "
        "run, scrapped, or judged rework or rejected); those still open; or those with one "
        "result: sent-back, accepted, rework, rejected",
    )  # fmt: skip


def asked_for(arguments: argparse.Namespace) -> Mapping[str, str | None]:
    """The filters given, by name."""
    return {name: getattr(arguments, name) for name in FIELDS}


def query_of(arguments: argparse.Namespace) -> Query | None:
    """What to search for; None if there is no filter. Names and words can end in ``*``."""
    from benchtimer.store.index import Query, words_in

    words = tuple(
        word + ("*" if text.endswith("*") else "")
        for text in (arguments.words or "").split()
        for word in words_in(text)
    )
    asked = asked_for(arguments)
    if not words and not any(asked.values()) and arguments.outcome is None:
        return None
    return Query(words=words, **asked)


def find_runs(arguments: argparse.Namespace, log: EventLog, query: Query) -> list[RunLine]:
    """The newest runs that match every filter.

    Args:
        arguments: the options.
        log: the log.
        query: the filters.

    Raises:
        Wrong: none match; with a hint if a name is close to a known one.
    """
    runs = list(log.find(query, arguments.limit))
    if not runs:
        raise Wrong(f"no run matches all filters{_meant(log, asked_for(arguments))}", NO)
    return runs


def print_tries(arguments: argparse.Namespace, log: EventLog, query: Query) -> int:
    """Print the tries with the outcome you asked for.

    Args:
        arguments: the options.
        log: the log.
        query: the filters.
    """
    from benchtimer.records.tries import MOST_RUNS, list_tries, tries_table, tries_text

    tries = list_tries(log, query, arguments.outcome, arguments.limit)
    if arguments.json:
        put_json(tries_table(tries))
    elif tries:
        put_out(tries_text(tries))
    if len(tries) == arguments.limit:
        print(f"the newest {len(tries)}; --limit N shows more", file=sys.stderr)
    elif len(log.find(query, MOST_RUNS)) == MOST_RUNS:
        note = f"searched the newest {MOST_RUNS} runs only; --part, --recipe or --date narrows it"
        print(note, file=sys.stderr)
    if not tries:
        raise Wrong(f"no matching try {_CAME_OUT[arguments.outcome]}", NO)
    return YES


_CAME_OUT = {
    "well": "came out well",
    "failed": "failed",
    "open": "is open",
    "sent-back": "was sent back",
    "accepted": "was accepted",
    "rework": "was judged rework",
    "rejected": "was rejected",
}


def _meant(log: EventLog, asked: Mapping[str, str | None]) -> str:
    """The nearest known name for one that is in no run, or another way to search."""
    from benchtimer.bath.bath_events import STREAM
    from benchtimer.store.index import Query, fold_text

    known: dict[str, Callable[[], Iterable[str]]] = {
        "part": lambda: known_parts(log),
        "recipe": lambda: shop_recipes().paths(),
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
