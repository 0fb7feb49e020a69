"""Jobs: open, list, show, change, deliver, drop; ``jobplan_command`` plans them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from benchtimer.cli.common import (
    NO,
    USAGE,
    YES,
    Wrong,
    common_options,
    json_option,
    pair_of,
    print_lines,
)
from benchtimer.cli.job_given import order_given, order_in_file, today_here
from benchtimer.cli.joblog import looking_at_jobs, named_job
from benchtimer.cli.shop_context import data_path, driven, shop_recipes
from benchtimer.cli.table import READS, WRITES
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.cli.parser import Parser
    from benchtimer.job.job_decide import JobCommand
    from benchtimer.job.job_state import Job


class JobVerb(NamedTuple):
    """One thing to do with jobs."""

    summary: str
    options: Callable[[argparse.ArgumentParser], object]
    do: Callable[[argparse.Namespace], int]
    writes: bool = False


def options(parser: Parser) -> None:
    """job open|list|show|plan|change|deliver|drop ..."""
    parser.set_defaults(do=show_list, all=False, json=False)
    parser.add_verbs({n: (v.summary, partial(_verb_options, v)) for n, v in VERBS.items()})


def _verb_options(verb: JobVerb, parser: Parser) -> None:
    verb.options(parser)
    json_option(parser)
    common_options(parser, again=True, uses=WRITES if verb.writes else READS)
    parser.set_defaults(do=verb.do)


def job(arguments: argparse.Namespace) -> int:
    """Do what the verb says; without one, list the open jobs."""
    return int(arguments.do(arguments))


def _name(parser: argparse.ArgumentParser, text: str = "the job's name") -> None:
    parser.add_argument("name", metavar="NAME", help=text)


def _parts(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--part",
        dest="parts",
        action="append",
        default=[],
        metavar="NAME=RECIPE > RECIPE",
        help="a part and its recipes in order; may be repeated",
    )
    parser.add_argument(
        "--join",
        dest="joins",
        action="append",
        default=[],
        metavar="NAME=RECIPE: PARTS",
        help="a part that waits for others, such as the assembly",
    )
    parser.add_argument("--due", metavar="DATE", help="the day it is due: 2026-12-11, or Fri")
    parser.add_argument("--note", metavar="WORDS", help="a note, such as who ordered it")


def _open_options(parser: argparse.ArgumentParser) -> None:
    _name(parser, "the job's name, or a job file in TOML")
    _parts(parser)
    parser.add_argument("--like", metavar="JOB", help="copy the parts of an earlier job")


def _change_options(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    _parts(parser)
    for name, metavar, about in (
        ("without", "PART", "take a part out of the job"),
        ("replace", "PART", "a new blank replaces the part; its recipes start over"),
        ("back", "PART=RECIPE", "send a part back to one of its recipes"),
        ("done", "PART=RECIPE", "a recipe that was done without the program"),
        ("why", "WORDS", "the reason, for --replace and --back"),
    ):
        parser.add_argument(f"--{name}", metavar=metavar, help=about)
    parser.add_argument("--undo", action="store_true", help="take back the last entry of the job")


def _drop_options(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--why", required=True, metavar="WORDS", help="the reason")


def _deliver_options(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument("--note", metavar="WORDS", default="", help="to whom, or how")


def _list_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--all", action="store_true", help="include delivered and dropped jobs")


def _show_options(parser: argparse.ArgumentParser) -> None:
    _name(parser)
    parser.add_argument(
        "--as",
        dest="form",
        choices=("text", "toml", "html"),
        default="text",
        help="the job card: text, toml or html",
    )
    parser.add_argument("--out", metavar="FILE", help="write the card to a file")


def show_list(arguments: argparse.Namespace) -> int:
    """The open jobs, earliest due date first."""
    from benchtimer.store.log import FILE_NAME, is_there
    from benchtimer.view.jobs import list_lines

    jobs: list[Job] = []
    if is_there(data_path(arguments) / FILE_NAME):
        with looking_at_jobs(arguments) as look:
            jobs = [j for j in look.book.jobs() if j.is_open or arguments.all]
            progress = {j.name: look.book.progress(j) for j in jobs}
            today = look.today
    if arguments.json:
        from benchtimer.cli.common import put_json

        put_json([_table(j, progress[j.name]) for j in jobs])
    elif jobs:
        print_lines(list_lines(jobs, progress, today))
    else:
        print("no open jobs; open one with benchtimer job open NAME")
    return YES


def _table(one: Job, progress: list[Any]) -> dict[str, Any]:
    return {
        "job": one.name,
        "due": one.order.due.isoformat(),
        "note": one.order.note,
        "status": one.status,
        "words": one.last_words,
        "parts": [
            {
                "part": part.name,
                "recipes": list(part.chain),
                "needs": list(order.needs),
                "status": part.status.value,
                "done": part.at,
                "run": part.run,
                "waits_for": list(part.waits_for),
                "blanks": part.blanks,
                "why": part.why,
            }
            for part, order in zip(progress, one.order.parts, strict=True)
        ],
    }


def show(arguments: argparse.Namespace) -> int:
    """One job: how far along its parts are, and what it took."""
    from benchtimer.cli.common import put_json
    from benchtimer.cli.record_common import put_out
    from benchtimer.records.jobcard import card_of, card_table
    from benchtimer.view.jobs import list_lines, progress_lines

    with looking_at_jobs(arguments) as look:
        found = named_job(look, arguments.name)
        progress = look.book.progress(found)
        card = card_of(look.log, found, look.closed_on(found))
        today = look.today
    if arguments.json:
        put_json(_table(found, progress) | {"took": card_table(found, card)})
        return YES
    if arguments.form != "text":
        text = _card_text(arguments.form, found, card)
    else:
        from benchtimer.records.jobcard import card_lines, closing

        lines = [*list_lines([found], {found.name: progress}, today)]
        lines += [found.order.note] if found.order.note else []
        lines += [] if found.is_open else [closing(found, card.closed)]
        lines += ["", *progress_lines(progress), "", *card_lines(card)]
        text = "\n".join(lines)
    if arguments.out:
        from benchtimer.atomic_file import write_whole

        try:
            write_whole(Path(arguments.out), text)
        except OSError as error:
            raise Wrong(
                f"{arguments.out}: {error.strerror or 'it cannot be written'}", NO
            ) from None
        text = arguments.out
    put_out(text)
    return YES


def _card_text(form: str, found: Job, card: Any) -> str:
    from benchtimer.records import jobcard

    return jobcard.card_toml(found, card) if form == "toml" else jobcard.card_html(found, card)


def open_job(arguments: argparse.Namespace) -> int:
    """Open a job: from options, from a file, or like an earlier one."""
    from benchtimer.job.job_decide import OpenJob

    recipes = list(shop_recipes().paths())
    today = today_here()
    name, before = arguments.name, None
    if name.endswith(".toml"):
        if arguments.like:
            raise Wrong("give a job file or --like, not both", USAGE)
        name, before = order_in_file(name, recipes, None if arguments.due else today)
    elif arguments.like:
        with looking_at_jobs(arguments) as look:
            before = named_job(look, arguments.like).order
        if not arguments.due:
            raise Wrong("give the new job a due date: --due 2026-12-11", USAGE)
    order = order_given(arguments, before, today)
    if not order.parts:
        raise Wrong('name its parts: --part "blade=etch-darken > hot-wax", or --like JOB', USAGE)
    return _write(arguments, name.strip(), OpenJob(order))


def change(arguments: argparse.Namespace) -> int:
    """Change a job: its order, or the state of one part."""
    from benchtimer.job import job_decide as d
    from benchtimer.values import replace

    asked = [n for n in ("replace", "back", "done", "undo") if getattr(arguments, n)]
    order_asked = arguments.parts or arguments.joins or arguments.due or arguments.without
    order_asked = order_asked or arguments.note is not None
    if len(asked) + bool(order_asked) != 1:
        message = "change the order, or one of --replace, --back, --done, --undo"
        raise Wrong(f"change one thing at a time: {message}", USAGE)
    command: JobCommand
    if arguments.undo:
        command = d.TakeJobEntryBack()
    elif arguments.replace:
        command = d.ReplacePart(arguments.replace, arguments.why or "a new blank")
    elif arguments.back:
        part, recipe = pair_of(arguments.back, "PART=RECIPE", "--back")
        command = d.SendPartBack(part, recipe, arguments.why or "by hand")
    elif arguments.done:
        command = d.MarkRecipeDone(*pair_of(arguments.done, "PART=RECIPE", "--done"))
    else:
        with looking_at_jobs(arguments) as look:
            before = named_job(look, arguments.name).order
        order = order_given(arguments, before, today_here())
        if arguments.without:
            gone = arguments.without.casefold()
            if order.part(gone) is None:
                hint = did_you_mean(gone, [p.name for p in order.parts], "job show lists them")
                raise Wrong(f'the job has no part "{arguments.without}"; {hint}', NO)
            kept = (p for p in order.parts if p.name.casefold() != gone)
            parts = (
                replace(p, needs=tuple(n for n in p.needs if n.casefold() != gone)) for p in kept
            )
            order = replace(order, parts=tuple(parts))
        command = d.ChangeJob(order)
    return _write(arguments, arguments.name, command)


def deliver(arguments: argparse.Namespace) -> int:
    """The job has been delivered."""
    from benchtimer.job.job_decide import DeliverJob

    return _write(arguments, arguments.name, DeliverJob(arguments.note))


def drop(arguments: argparse.Namespace) -> int:
    """The job is dropped."""
    from benchtimer.job.job_decide import DropJob

    return _write(arguments, arguments.name, DropJob(arguments.why))


def _write(arguments: argparse.Namespace, name: str, command: JobCommand) -> int:
    """Write under the lease, like every write."""
    way_out = "Leave the bench first (Q; its runs stay and their timers keep running)"
    with driven(arguments, f"nothing was saved. {way_out}.") as bench:
        name = bench.writer.jobs.spelled(name)
        found = bench.write_job(name, command, list(shop_recipes().paths()))
        progress = bench.writer.jobs.progress(found) if found is not None else []
    if arguments.json:
        from benchtimer.cli.common import put_json

        put_json(_table(found, progress) if found is not None else None)
        return YES
    _say_written(name, found, progress)
    return YES


def _say_written(name: str, found: Job | None, progress: list[Any]) -> None:
    from benchtimer.view.jobs import list_lines, progress_lines

    if found is None:
        print(f"{name}: taken back; there is no such job now")
        return
    print_lines(list_lines([found], {found.name: progress}, today_here()))
    if found.is_open:
        print_lines(progress_lines(progress))
        verb = "deliver" if all(part.status == "done" for part in progress) else "plan"
        print(f'Next: benchtimer job {verb} "{name}"', file=sys.stderr)


def _plan_options(parser: argparse.ArgumentParser) -> None:
    from benchtimer.cli.jobplan_command import plan_options

    plan_options(parser)


def _plan(arguments: argparse.Namespace) -> int:
    from benchtimer.cli.jobplan_command import plan_jobs_now

    return plan_jobs_now(arguments)


VERBS: Mapping[str, JobVerb] = {
    "open": JobVerb("a new order", _open_options, open_job, writes=True),
    "list": JobVerb("the open jobs by due date, earliest first", _list_options, show_list),
    "show": JobVerb("one job: its progress and the time spent", _show_options, show),
    "plan": JobVerb("when to work on it, and whether it will be ready", _plan_options, _plan),
    "change": JobVerb(
        "change the order or a part, or take an entry back", _change_options, change, writes=True
    ),
    "deliver": JobVerb("mark a job as delivered", _deliver_options, deliver, writes=True),
    "drop": JobVerb("drop a job", _drop_options, drop, writes=True),
}
