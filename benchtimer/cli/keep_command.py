"""Keeps what worked: a run's settings become the next revision of its recipe."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchtimer.cli.common import NO, YES, Wrong, json_option, put_json
from benchtimer.cli.record_common import opened
from benchtimer.cli.shop_context import shop_recipes
from benchtimer.quantity import did_you_mean
from benchtimer.recipe.raw_tables import Table

if TYPE_CHECKING:
    from benchtimer.records.record import Record
    from benchtimer.store.log import EventLog


RESTS_ON_RUNS = 200
"""How many of the newest runs are counted."""


def options(parser: argparse.ArgumentParser) -> None:
    """RUN --part --leave --show."""
    parser.add_argument("run", metavar="RUN", help='a run\'s name, or "last"')
    parser.add_argument("--part", metavar="NAME", help="keep the settings of this part")
    parser.add_argument(
        "--leave",
        action="append",
        default=[],
        metavar="ID.FIELD",
        help="leave out this setting, for example --leave cure.target",
    )
    parser.add_argument(
        "--take",
        action="append",
        default=[],
        metavar="ID.FIELD",
        help="keep a dwell even though it was shorter than its target, for example --take "
        "hang.target",
    )
    parser.add_argument("--show", action="store_true", help="show it and write nothing")
    json_option(parser)


def keep(arguments: argparse.Namespace) -> int:
    """Show what will be kept, and save the new revision in the shop's recipes."""
    from benchtimer.records.kept_settings import NothingToKeep, revision_from
    from benchtimer.records.record_lookup import files_of, record_of

    if not arguments.show:
        want_real_work(arguments)
    with opened(arguments) as log:
        record = record_of(log, arguments.run)
        files = files_of(log, record.run)
        _want_settings([*arguments.leave, *arguments.take], record)
        try:
            found = revision_from(record, arguments.part, arguments.leave, arguments.take)
        except NothingToKeep as error:
            raise Wrong(str(error), NO) from None
        found.lineage["rests_on"] = _rests_on(log, found.recipe, record)
    for change in found.left:
        print(
            f"benchtimer: {change.name} stays {change.old}: it was {change.new}, and a plan may "
            f"have cut it short; --take {change.name} uses it anyway",
            file=sys.stderr,
        )
    really = not arguments.show
    file = files.get(found.recipe)
    return save_revision(
        found.recipe, found.ran, found.table, found.lineage,
        really=really, file=file, as_json=arguments.json,
    )  # fmt: skip


def _rests_on(log: EventLog, recipe: str, record: Record) -> str:
    """How many tries the revision is based on, and which."""
    from benchtimer.records.counted import tries_that_count
    from benchtimer.records.record_lookup import records_of
    from benchtimer.store.index import Query

    records = list(records_of(log, Query(recipe=recipe), RESTS_ON_RUNS))
    tries = tries_that_count(records, recipe)
    good = [each.name for each in tries if not each.failed and each.run == record.run]
    accepted = sum(not each.failed for each in tries)
    which = f"{len(good)} of this run ({', '.join(good[:5])})" if good else "none of this run"
    count = "1 try that counts" if len(tries) == 1 else f"{len(tries)} tries that count"
    return f"{count}, {accepted} accepted, {which}"


def want_real_work(arguments: argparse.Namespace) -> None:
    """Refuse to change a recipe because of practice, where no real bath took part."""
    if (arguments.speed or 1) != 1:
        raise Wrong(
            "practice proves nothing about a recipe: only settings of real runs can be kept", NO
        )


def _want_settings(names: Sequence[str], record: Record) -> None:
    """Refuse a --leave setting that no recipe of the run has, or it would be kept by mistake."""
    from benchtimer.recipe.raw_tables import settable
    from benchtimer.recipe.writer import recipe_table

    entries = (
        found for recipe in record.recipes.values() for found in settable(recipe_table(recipe))
    )
    known = [f"{entry['id']}.{field}" for entry, ways in entries for field in ways]
    for name in names:
        if name not in known:
            hint = did_you_mean(name, known, "keep --show lists what is kept")
            raise Wrong(f'--leave: run {record.run} has no setting "{name}"; {hint}', NO)


def save_revision(
    recipe: str,
    ran: int,
    table: Table,
    lineage: Table,
    *,
    really: bool | Callable[[], bool],
    file: str | None = None,
    as_json: bool = False,
) -> int:
    """Show a new revision, and write it if you confirm.

    Args:
        recipe: the recipe's id.
        ran: the revision it was made from.
        table: the new recipe.
        lineage: where it comes from.
        really: whether to write it, or a function that asks.
        file: the file that was run, if it was named by a path.
        as_json: print one object for programs instead of words.
    """
    from benchtimer.keeping import NotKept, made_already, prepare, write

    say: Callable[[str], object] = (lambda _text: None) if as_json else print
    answer: dict[str, object] = {"recipe": recipe, "written": False}
    already = made_already(shop_recipes(), recipe, table, lineage["uid"])
    if already is not None:
        say(f"{recipe}, revision {already}, was already made from this run; nothing is written")
        if as_json:
            put_json(answer | {"revision": already, "made_already": True})
        return YES
    path = Path(file) if file is not None else None
    kept = prepare(shop_recipes(), recipe, ran, table, lineage, path)
    say(f"{recipe}, revision {kept.revision}, from {lineage['made_from']}")
    for change in lineage.get("changed", ["nothing changed: the recipe worked as it was"]):
        say(f"  {change}")
    if not kept.comments:
        say(f"  {kept.text.splitlines()[0].removeprefix('# ')}")
    answer |= {"revision": kept.revision, "made_already": False, "file": str(kept.path)}
    answer |= {"from": lineage["made_from"], "changed": list(lineage.get("changed", []))}
    if not (really if isinstance(really, bool) else really()):
        say(f"not written: {kept.path}")
        if as_json:
            put_json(answer)
        return YES
    try:
        moved = write(kept)
    except NotKept as error:
        raise Wrong(str(error), NO) from None
    if moved is not None:
        say(f"the earlier revision is kept: {moved}")
    say(f"written: {kept.path}")
    if as_json:
        put_json(answer | {"written": True, "before": str(moved) if moved is not None else None})
    return YES


def ask() -> bool:
    """Whether the user at the terminal says yes."""
    if not sys.stdin.isatty():
        return False
    print("Keep this? [y/N] ", end="", flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")
