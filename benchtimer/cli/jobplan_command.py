"""``job plan`` and ``tonight``: when to work on the open jobs, and whether they will be ready."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtimer.cli.common import (
    NO,
    USAGE,
    YES,
    Wrong,
    hours_option,
    json_option,
    print_lines,
    whole_number,
    write_calendar,
)
from benchtimer.cli.joblog import looking_at_jobs, named_job
from benchtimer.cli.plan_times import hours_given

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.check_list import CheckList
    from benchtimer.job.outlook import Outlook
    from benchtimer.job.sessions import JobsPlan
    from benchtimer.job.workload import Workload


def plan_options(parser: argparse.ArgumentParser) -> None:
    """[NAME] and the limits of the plan."""
    parser.add_argument("name", metavar="NAME", nargs="?", help="a job (default: all open jobs)")
    hours_option(parser)
    parser.add_argument(
        "--start", metavar="TIME", help='start nothing before: "Sat 09:00", 2026-12-05T18:30'
    )
    parser.add_argument("--hurry", action="store_true", help="let dwells end at their min")
    parser.add_argument(
        "--trials",
        type=whole_number(100_000, "trials"),
        default=1000,
        metavar="N",
        help="trials for the chance (1000)",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same trials")
    parser.add_argument(
        "--prepare",
        type=whole_number(366, "days"),
        nargs="?",
        const=7,
        metavar="DAYS",
        help="also what to buy and set up for the sessions of the next DAYS (7), each thing once",
    )
    parser.add_argument("--ics", metavar="FILE", help="write the sessions as a calendar file")
    parser.add_argument("--plain", action="store_true", help="draw with ASCII only")


def tonight_options(parser: argparse.ArgumentParser) -> None:
    """--hours, --prepare, --json."""
    hours_option(parser)
    parser.add_argument(
        "--prepare",
        action="store_true",
        help="also one checklist for all of its recipes: gear, mixes with amounts, heat",
    )
    json_option(parser)


def _from_s(look: JobLook, text: str | None) -> float:
    from benchtimer.times import TimeError, parse_moment

    if text is None:
        return 0
    now = datetime.fromtimestamp(look.moment.unix_s, look.moment.zone)
    try:
        then = parse_moment(text, now)
    except TimeError as error:
        raise Wrong(f"--start {error}", USAGE) from None
    if then < now:
        raise Wrong(f'--start "{text}" is in the past; give a later time', USAGE)
    return then.timestamp() - look.moment.unix_s


def plan_jobs_now(arguments: argparse.Namespace) -> int:
    """Plan, print, and give the chance; exit 1 if a job can't be planned or is likely late."""
    with looking_at_jobs(arguments) as look:
        look.hours = hours_given(arguments.hours, look.hours)
        from_s = _from_s(look, arguments.start)
        wanted = named_job(look, arguments.name) if arguments.name else None
        if wanted is not None and not wanted.is_open:
            raise Wrong(f'the job "{wanted.name}" is {wanted.status}', NO)
        load = look.workload(hurry=arguments.hurry)
        if not load.due_s:
            raise Wrong("there are no open jobs; open one with benchtimer job open NAME", NO)
        names = [wanted.name] if wanted is not None else list(load.due_s)
        plan, outlook_by_job = _planned(arguments, look, load, names, from_s)
    if arguments.ics:
        from benchtimer.job.jobcalendar import jobs_to_ics

        made = datetime.fromtimestamp(load.moment.unix_s, UTC)
        job = wanted.name if wanted is not None else None
        write_calendar(Path(arguments.ics), lambda: jobs_to_ics(plan, made, job=job))
    blocked = {name: load.blocked_of(name) for name in names}
    if arguments.json:
        lists = {n: _to_prepare(arguments, plan, [n]) for n in names if arguments.prepare}
        _put_tables(plan, outlook_by_job, blocked, lists, one=wanted is not None)
    else:
        print_lines(_text(arguments, plan, outlook_by_job, blocked))
        page = _to_prepare(arguments, plan, names) if arguments.prepare else None
        if page is not None:
            _print_page(page)
    return NO if any(blocked.values()) else YES


def _planned(
    arguments: argparse.Namespace,
    look: JobLook,
    load: Workload,
    names: list[str],
    from_s: float,
) -> tuple[JobsPlan, dict[str, Outlook]]:
    """The best plan and the outlook of some jobs, improving as work goes on; CTRL-C stops it."""
    from benchtimer.bench.joblook import known_of
    from benchtimer.job.better import TRIES, better
    from benchtimer.job.outlook import HELP_TRIALS, add_more, outlooks
    from benchtimer.view.jobs import moment_words

    outlook_by_job: dict[str, Outlook] = {}
    bar = _Bar(TRIES + arguments.trials + 100 * len(names) * 6)
    plans = better(load, from_s=from_s)
    plan = next(plans)
    seed = arguments.seed
    try:
        for number, found in enumerate(plans):
            plan = found
            bar.at(number, f"a plan: ready {moment_words(load.at(_finish_s(plan, names)))}")
        load = plan.load
        known = known_of(look, load)
        for grown, figures in outlooks(
            load, plan, known, trials=arguments.trials, seed=seed, from_s=from_s
        ):
            outlook_by_job = figures
            first = outlook_by_job.get(names[0])
            bar.at(TRIES + grown.count, "" if first is None else _first_figure(first))
        for name in names:
            if name in outlook_by_job and not load.blocked_of(name):
                more = add_more(
                    outlook_by_job[name], load, known, look.changed,
                    seed=seed, trials=min(HELP_TRIALS, arguments.trials), from_s=from_s,
                )  # fmt: skip
                for step, words in enumerate(more):
                    bar.at(TRIES + arguments.trials + 100 * step, words)
    except KeyboardInterrupt:
        bar.clear()
        print("benchtimer: stopped; this is the best so far", file=sys.stderr)
    bar.clear()
    return plan, {name: outlook_by_job[name] for name in names if name in outlook_by_job}


def _finish_s(plan: JobsPlan, names: list[str]) -> float:
    """When the last of some jobs is ready, but no later than the last possible date."""
    return max(min(plan.finish_s(name), 1e9) for name in names)


def _first_figure(outlook: Outlook) -> str:
    from benchtimer.view.jobs import percent

    return f"{outlook.job}: {percent(outlook.chance.share)}"


class _Bar:
    """A progress bar among a terminal's messages; nothing elsewhere."""

    def __init__(self, whole: int) -> None:
        self._whole = whole
        self._shows = sys.stderr.isatty()

    def at(self, count: int, words: str) -> None:
        """Show the progress so far."""
        if self._shows:
            done = min(20, 20 * count // self._whole)
            bar = "#" * done + "." * (20 - done)
            print(f"\r[{bar}] {words[:50]:<50} CTRL-C stops", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Remove the bar."""
        if self._shows:
            print(f"\r{'':<90}\r", end="", file=sys.stderr, flush=True)


def _to_prepare(
    arguments: argparse.Namespace, plan: JobsPlan, names: list[str]
) -> CheckList | None:
    """What to buy and set up for the next sessions of some jobs; None if there are none."""
    from benchtimer.cli.prepare_command import list_of
    from benchtimer.view.jobs import day_words

    until_s = 86_400 * arguments.prepare
    first: dict[str, str] = {}
    for session in plan.sessions:
        for work in session.works:
            if work.job in names and work.start_s < until_s:
                first.setdefault(work.recipe, day_words(plan.load.at(work.start_s).date()))
    return list_of(arguments, first) if first else None


def _print_page(page: CheckList) -> None:
    from benchtimer.check_list import WIDTH, render_page

    width = min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)
    print(f"\n{render_page(page, width)}", end="")


def _put_tables(
    plan: JobsPlan,
    outlook_by_job: Mapping[str, Outlook],
    blocked: Mapping[str, list[Any]],
    lists: Mapping[str, CheckList | None],
    *,
    one: bool,
) -> None:
    from benchtimer.cli.common import put_json
    from benchtimer.view.jobs import plan_table

    tables: list[dict[str, Any]] = []
    for name, why in blocked.items():
        outlook, page = outlook_by_job.get(name), lists.get(name)
        table: dict[str, Any] = {"job": name}
        if outlook is not None:
            table = plan_table(plan, outlook, blocked=bool(why), hands_s=plan.hands_s(name))
        if why:
            table |= {"status": "infeasible", "why": [str(b) for b in why]}
        tables.append(table | ({"prepare": page.as_dict()} if page is not None else {}))
    put_json(tables[0] if one and tables else tables)


def _text(
    arguments: argparse.Namespace,
    plan: JobsPlan,
    outlooks: Mapping[str, Outlook],
    blocked: Mapping[str, list[Any]],
) -> list[str]:
    from benchtimer.cli.plan_command import can_draw
    from benchtimer.times import duration
    from benchtimer.view.jobs import (
        blocked_lines,
        calendar_lines,
        chance_sentences,
        moment_words,
        session_lines,
    )
    from benchtimer.view.text import folded

    lines: list[str] = []
    width = min(120, shutil.get_terminal_size((88, 24)).columns)
    for name, why in blocked.items():
        outlook = outlooks.get(name)
        if why:
            lines.append(f"{name}: can't be planned")
            lines += [row for words in blocked_lines(why) for row in folded(f"  {words}", width)]
            lines.append("")
        elif plan.is_done(name):
            lines += [f'{name}: all parts are done. Next: benchtimer job deliver "{name}"', ""]
            continue
        if why or outlook is None:  # stopped before the first figure
            continue
        hands = duration(round(plan.hands_s(name) / 60) * 60)
        lines.append(f"{name}: {hands} of hands-on work left")
        sentences = chance_sentences(outlook)
        if outlook.finish is not None:
            sentences.append(
                f"By the plan, if each check goes as its recipe expects: "
                f"{moment_words(outlook.finish)}. Failed checks can make it later."
            )
        lines += [line for words in sentences for line in folded(f"  {words}", width)]
        lines.append("")
    one = next(iter(blocked)) if arguments.name else None
    sessions = plan.sessions if one is None else plan.sessions_of(one)
    if not sessions:
        return lines[:-1]
    plain = arguments.plain or not can_draw()
    lines += [*calendar_lines(plan, width, plain=plain), ""]
    lines += session_lines(sessions, plan.load, with_job=one is None)
    return lines


def tonight(arguments: argparse.Namespace) -> int:
    """What fits into the hours left; exit 1 if nothing does."""
    from benchtimer.job.evening import evening_of
    from benchtimer.view.jobs import blocked_lines, evening_lines, evening_table
    from benchtimer.view.text import folded

    with looking_at_jobs(arguments) as look:
        look.hours = hours_given(arguments.hours, look.hours)
        evening = evening_of(look.workload())
    page = None
    if arguments.prepare and evening.session_works:
        from benchtimer.cli.prepare_command import page_of

        page = page_of(arguments, evening.recipes())
    if arguments.json:
        from benchtimer.cli.common import put_json

        put_json(evening_table(evening) | ({"prepare": page.as_dict()} if page else {}))
    else:
        print_lines(evening_lines(evening, short=page is not None))
        if evening.load.blocked:
            width = min(120, shutil.get_terminal_size((88, 24)).columns)
            print_lines(["Can't be planned:"])
            for words in blocked_lines(evening.load.blocked, with_job=True):
                print_lines(folded(f"  {words}", width))
        if page is not None:
            _print_page(page)
    return YES if evening.session_works else NO
