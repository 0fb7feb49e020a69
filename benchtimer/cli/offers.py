"""Completions for the value of an argument, by its name in the help: recipes, runs, parts.

Names come from the recipe files and the log's register; recipes are read as plain tables.
Nothing here loads the recipe model, so that an answer comes while you type.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

FILE, FOLDER = ":file", ":folder"
"""Instead of words: the shell completes file or folder names itself."""


class CompletionWord(NamedTuple):
    """A possible word at the cursor, with a short description."""

    text: str
    about: str = ""


class CursorContext(NamedTuple):
    """The place of a completion.

    Attributes:
        page: the command, or the command and its verb.
        given: values of the arguments so far.
        text: what you have typed of this one so far.
    """

    page: str
    given: Mapping[str, list[str]]
    text: str

    def one(self, name: str) -> str:
        """The value of an argument; empty if it isn't there yet."""
        return next(iter(self.given.get(name, [])), "")


Offers = Iterable[CompletionWord]


def offers_for(action: argparse.Action, asked: CursorContext) -> list[CompletionWord]:
    """The possible values of an argument."""
    own = SOURCES.get(f"{asked.page} {action.dest}")
    source = own or SOURCES.get(str(action.metavar or ""))
    if source is not None:
        return list(source(asked))
    return [CompletionWord(str(choice)) for choice in action.choices or ()]


# ---------------------------------------------------------------- recipes


def _recipe_paths() -> Mapping[str, Path]:
    from benchtimer.cli.shop_context import shop_recipes

    return shop_recipes().paths()


def _table(name: str) -> dict[str, Any]:
    """A recipe as a plain table; empty if it can't be read."""
    return _read(_recipe_paths().get(name) or Path(name))


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return {}


def _names(asked: CursorContext) -> Offers:
    del asked
    return [CompletionWord(name, str(_table(name).get("title", ""))) for name in _recipe_paths()]


def _recipes(asked: CursorContext) -> Offers:
    return [*_names(asked), CompletionWord(FILE)]


def _entries(name: str, key: str) -> Iterator[dict[str, Any]]:
    from benchtimer.recipe.raw_tables import tables

    return (e for _, e in tables(_table(name).get(key)) if isinstance(e.get("id"), str))


def _mixes(asked: CursorContext) -> Offers:
    return [
        CompletionWord(m["id"], str(m.get("title", "")))
        for m in _entries(asked.one("recipe"), "mix")
    ]


def _changes(asked: CursorContext) -> Offers:
    """``ID.FIELD=`` for every setting in the recipe."""
    return [CompletionWord(f"{name}=", about) for name, about in _fields(asked.one("recipe"))]


def _left(asked: CursorContext) -> Offers:
    """``ID.FIELD`` for the recipes that a run followed."""
    from benchtimer.store.names import recipes_of

    keys = recipes_of(_data(asked), _run(asked))
    return [CompletionWord(name, about) for key in keys for name, about in _fields(key)]


def _fields(recipe: str) -> Iterator[tuple[str, str]]:
    from benchtimer.recipe.raw_tables import settable

    for entry, ways in settable(_table(recipe)):
        for field in ways:
            yield f"{entry['id']}.{field}", str(entry.get("title", ""))


def _properties(asked: CursorContext) -> Offers:
    """``PART.PROPERTY=`` for the parts on the line and the properties in their recipes."""
    for part in asked.given.get("parts", []):
        name, _, own = part.partition("=")
        for entry in _entries(own or asked.one("recipe"), "property"):
            if "of" not in entry:
                yield CompletionWord(f"{name}.{entry['id']}=", str(entry.get("ask", "")))


def _entries_of_parts(asked: CursorContext) -> Offers:
    """``PART=`` for the parts on the line; after it, the steps of the recipe."""
    recipes = {
        name: own or asked.one("recipe")
        for name, _, own in (part.partition("=") for part in asked.given.get("parts", []))
    }
    name, equals, _ = asked.text.partition("=")
    if not equals:
        return [CompletionWord(f"{part}=") for part in recipes]
    steps = _entries(recipes.get(name, asked.one("recipe")), "step")
    return [CompletionWord(f"{name}={step['id']}", str(step.get("title", ""))) for step in steps]


def _batches(asked: CursorContext) -> Offers:
    """``PART=`` for the parts on the line."""
    return [CompletionWord(f"{part.partition('=')[0]}=") for part in asked.given.get("parts", [])]


# ---------------------------------------------------------------- the log


def _data(asked: CursorContext) -> Path:
    from benchtimer.cli.shop_context import data_path

    speed = asked.one("speed")
    typed = argparse.Namespace(data=asked.one("data"), speed=float(speed) if speed else None)
    return data_path(typed)


def _runs(asked: CursorContext) -> Offers:
    from benchtimer.store.names import run_names

    runs = run_names(_data(asked))
    words = [
        CompletionWord(run.name, f"{run.phase}, {run.title}: {', '.join(run.parts)}")
        for run in runs
    ]
    return ([CompletionWord("last", "the newest run")] if runs else []) + words


def _run(asked: CursorContext) -> str:
    """The run named on the line, by its own name."""
    from benchtimer.store.names import run_names

    named = asked.one("run")
    newest = run_names(_data(asked))[:1] if named == "last" else []
    return newest[0].name if newest else named


def _parts(asked: CursorContext) -> Offers:
    """All parts in the log, from the newest run to the oldest."""
    from benchtimer.store.names import run_names

    found = (part for run in run_names(_data(asked)) for part in run.parts)
    return [CompletionWord(part) for part in dict.fromkeys(found)]


def _parts_of_run(asked: CursorContext) -> Offers:
    from benchtimer.store.names import run_names

    name = _run(asked)
    return [
        CompletionWord(p) for run in run_names(_data(asked)) if run.name == name for p in run.parts
    ]


def _new_parts(asked: CursorContext) -> Offers:
    """Names of earlier parts; after ``name=``, the recipes."""
    name, equals, _ = asked.text.partition("=")
    if equals:
        return [CompletionWord(f"{name}={offer.text}", offer.about) for offer in _names(asked)]
    taken = {part.partition("=")[0] for part in asked.given.get("parts", [])}
    return [offer for offer in _parts(asked) if offer.text not in taken]


def _tries(asked: CursorContext) -> Offers:
    """Runs; after ``RUN:``, the parts of that run."""
    run, colon, _ = asked.text.partition(":")
    if not colon:
        return _runs(asked)
    given = {**asked.given, "run": [run]}
    found = _parts_of_run(asked._replace(given=given))
    return [CompletionWord(f"{run}:{offer.text}") for offer in found]


def _baths(asked: CursorContext) -> Offers:
    from benchtimer.store.names import bath_names

    return [CompletionWord(name) for name in bath_names(_data(asked))]


def _jobs(asked: CursorContext) -> Offers:
    from benchtimer.store.names import job_names

    return [CompletionWord(name) for name in job_names(_data(asked))]


def _stations(asked: CursorContext) -> Offers:
    """Stations that need a bath; after ``STATION=``, the baths there are."""
    station, equals, _ = asked.text.partition("=")
    if equals:
        return [CompletionWord(f"{station}={offer.text}") for offer in _baths(asked)]
    found = _entries(asked.one("recipe"), "station")
    return [CompletionWord(f"{s['id']}=", str(s.get("title", ""))) for s in found if "bath" in s]


# ---------------------------------------------------------------- the manual


def _pages(asked: CursorContext) -> Offers:
    """Pages of the manual, then commands; nothing after a command."""
    from benchtimer.cli.table import COMMANDS
    from benchtimer.guide import TOPICS

    if asked.given.get("words"):
        return []
    commands = (CompletionWord(name, command.summary) for name, command in COMMANDS.items())
    return [*(CompletionWord(name, about) for name, about in TOPICS.items()), *commands]


# ---------------------------------------------------------------- figures, settings, files


def _topics(asked: CursorContext) -> Offers:
    from benchtimer.trade.topics import TOPICS

    del asked
    return [CompletionWord(topic.name, topic.about) for topic in TOPICS.values()]


def _topic_keys(asked: CursorContext) -> Offers:
    """What a topic needs; after ``KEY=``, the possible words."""
    from benchtimer.trade.topics import TOPICS

    topic = TOPICS.get(asked.one("topic"))
    key, equals, _ = asked.text.partition("=")
    taken = {given.partition("=")[0] for given in asked.given.get("given", [])}
    for parameter in topic.parameters if topic is not None else ():
        if equals and parameter.name == key:
            yield from (CompletionWord(f"{key}={choice}") for choice in parameter.choices)
        elif not equals and parameter.name not in taken:
            yield CompletionWord(f"{parameter.name}=", parameter.about)


def _settings(asked: CursorContext) -> Offers:
    """Keys of the settings; after ``KEY=``, the possible words."""
    from benchtimer.cli.settingkeys import all_keys, choices_of
    from benchtimer.cli.shop_context import settings_path

    key, equals, _ = asked.text.partition("=")
    if equals:
        return [CompletionWord(f"{key}={choice}") for choice in choices_of(key)]
    mixes = dict.fromkeys(mix["id"] for name in _recipe_paths() for mix in _entries(name, "mix"))
    ids = {"MIX": mixes, "PLACE": _read(settings_path()).get("place", {})}
    keys = (
        key.replace(any_id, own)
        for key in all_keys()
        for any_id in [next((word for word in ids if word in key), "")]
        for own in (ids[any_id] if any_id else [""])
    )
    return [CompletionWord(f"{key}=") for key in keys]


def _verdicts(asked: CursorContext) -> Offers:
    from benchtimer.run.commands import VERDICTS

    del asked
    return [CompletionWord(verdict) for verdict in VERDICTS]


def _file(asked: CursorContext) -> Offers:
    del asked
    return [CompletionWord(FILE)]


def _folder(asked: CursorContext) -> Offers:
    del asked
    return [CompletionWord(FOLDER)]


_ON_BATHS = ("show", "topup", "read", "weigh", "coupon", "retire", "undo")

SOURCES: Mapping[str, Callable[[CursorContext], Offers]] = {
    "RECIPE": _recipes,
    "RUN": _runs,
    "RUN[:PART[:TRY]]": _tries,
    "PART": _new_parts,
    "MIX": _mixes,
    "ID.FIELD=VALUE": _changes,
    "ID.FIELD": _left,
    "PART.PROPERTY=VALUE": _properties,
    "PART=STEP": _entries_of_parts,
    "PART=NUMBER": _batches,
    "PART=WORDS": _batches,
    "STATION=NAME": _stations,
    "TOPIC": _topics,
    "VERDICT": _verdicts,
    "FILE": _file,
    "DIR": _folder,
    "help words": _pages,
    "judge part": _parts_of_run,
    "keep part": _parts_of_run,
    **{f"job {verb} name": _jobs for verb in ("show", "plan", "change", "deliver", "drop")},
    "job open like": _jobs,
    "job open name": _file,
    "part part": _parts,
    "record part": _parts,
    "record recipe": _names,
    "record bath": _baths,
    "calc given": _topic_keys,
    "settings changes": _settings,
    **{f"bath {verb} name": _baths for verb in _ON_BATHS},
}
"""By the value's name in the help or, for one command only, by ``COMMAND ARGUMENT``."""
