"""``job plan`` and ``tonight``: when to work at the open jobs, and will they be ready."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtimer.cli.common import NO, USAGE, YES, Wrong, whole_number
from benchtimer.cli.joblog import looking_at_jobs, named_job

if TYPE_CHECKING:
    from benchtimer.bench.joblook import JobLook
    from benchtimer.job.outlook import Outlook
    from benchtimer.job.sessions import JobsPlan
    from benchtimer.job.workload import Workload


def plan_options(parser: argparse.ArgumentParser) -> None:
    """[NAME] and what the plan must keep to."""
    parser.add_argument("name", metavar="NAME", nargs="?", help="a job (default: all open jobs)")
    _hours_option(parser)
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
    parser.add_argument("--ics", metavar="FILE", help="write the sessions as a calendar file")
    parser.add_argument("--plain", action="store_true", help="draw with ASCII only")


def _hours_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--hours",
        metavar="HOURS",
        help='when you work, like "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00"; always for no '
        "such hours (default: those of the settings)",
    )


def tonight_options(parser: argparse.ArgumentParser) -> None:
    """--hours, --prepare, --json."""
    _hours_option(parser)
    parser.add_argument(
        "--prepare",
        action="store_true",
        help="also the check list: gear, mixes and amounts, heat, for all its recipes at once",
    )
    parser.add_argument("--json", action="store_true", help="for programs")


def _with_hours(look: JobLook, text: str | None) -> None:
    from benchtimer.shop.hours import ALWAYS, parse_week
    from benchtimer.times import TimeError

    if text is None:
        return
    try:
        given = ALWAYS if text == "always" else parse_week(text)
    except TimeError as error:
        raise Wrong(f"--hours {error}", USAGE) from None
    look.hours = replace(given, closed=look.hours.closed)


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
    """Plan, print, and say the chance; exit 1 if a job can't be planned or is likely late."""
    from benchtimer.job.sessions import plan_jobs

    with looking_at_jobs(arguments) as look:
        _with_hours(look, arguments.hours)
        from_s = _from_s(look, arguments.start)
        wanted = named_job(look, arguments.name) if arguments.name else None
        if wanted is not None and not wanted.is_open:
            raise Wrong(f'the job "{wanted.name}" is {wanted.status}', NO)
        load = look.workload(hurry=arguments.hurry)
        if not load.due_s:
            raise Wrong("there are no open jobs; open one with benchtimer job open NAME", NO)
        plan = plan_jobs(load, from_s=from_s)
        names = [wanted.name] if wanted is not None else list(load.due_s)
        outlooks = _outlooks(arguments, look, load, plan, names, from_s)
    if arguments.ics:
        _write_calendar(Path(arguments.ics), plan, wanted.name if wanted else None)
    blocked = {name: [b for b in load.blocked if b.part.startswith(f"{name}/")] for name in names}
    if arguments.json:
        _put_tables(plan, outlooks, blocked, one=wanted is not None)
    else:
        print("\n".join(_text(arguments, plan, outlooks, blocked)))
    return NO if any(blocked.values()) else YES


def _outlooks(
    arguments: argparse.Namespace,
    look: JobLook,
    load: Workload,
    plan: JobsPlan,
    names: list[str],
    from_s: float,
) -> dict[str, Outlook]:
    """The outlook of some jobs, better while trials go on; Ctrl-C stops them."""
    from benchtimer.bench.worksessions import known_of
    from benchtimer.job.outlook import add_more, outlooks

    known = known_of(look, load)
    by_name: dict[str, Outlook] = {}
    bar = _Bar(arguments.trials + 100 * len(names) * 6)
    try:
        for grown, found in outlooks(
            load, plan, known, trials=arguments.trials, seed=arguments.seed, from_s=from_s
        ):
            by_name = found
            first = by_name.get(names[0])
            bar.at(grown.count, "" if first is None else _first_figure(first))
        for name in names:
            if name in by_name and not any(b.part.startswith(f"{name}/") for b in load.blocked):
                more = add_more(by_name[name], load, known, _changer(look), seed=arguments.seed)
                for step, words in enumerate(more):
                    bar.at(arguments.trials + 100 * step, words)
    except KeyboardInterrupt:
        bar.clear()
        print("benchtimer: trials stopped; this is what they say so far", file=sys.stderr)
    bar.clear()
    return {name: by_name[name] for name in names if name in by_name}


def _first_figure(outlook: Outlook) -> str:
    from benchtimer.view.jobs import percent

    return f"{outlook.job}: {percent(outlook.chance.share)}"


def _changer(look: JobLook) -> Callable[..., Workload]:
    def changed(*, hurry: bool = False, longer: bool = False) -> Workload:
        before = look.hours
        try:
            if longer:
                week = tuple(replace(s, end_min=s.end_min + 60) for s in before.week)
                look.hours = replace(before, week=week)
            return look.workload(hurry=hurry)
        finally:
            look.hours = before

    return changed


class _Bar:
    """A progress bar on a terminal's messages; nothing elsewhere."""

    def __init__(self, whole: int) -> None:
        self._whole = whole
        self._shows = sys.stderr.isatty()

    def at(self, count: int, words: str) -> None:
        """So far it is."""
        if self._shows:
            done = min(20, 20 * count // self._whole)
            bar = "#" * done + "." * (20 - done)
            print(f"\r[{bar}] {words[:50]:<50} Ctrl-C stops", end="", file=sys.stderr, flush=True)

    def clear(self) -> None:
        """Take it away."""
        if self._shows:
            print(f"\r{'':<90}\r", end="", file=sys.stderr, flush=True)


def _put_tables(
    plan: JobsPlan, outlooks: Mapping[str, Outlook], blocked: Mapping[str, list[Any]], *, one: bool
) -> None:
    from benchtimer.cli.common import put_json
    from benchtimer.view.jobs import plan_table

    tables = [
        plan_table(plan, outlook, blocked=bool(blocked[name]), hands_s=plan.hands_s(name))
        | ({"why": [str(b) for b in blocked[name]]} if blocked[name] else {})
        for name, outlook in outlooks.items()
    ]
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
        calendar_lines,
        chance_sentences,
        moment_words,
        session_lines,
    )

    lines: list[str] = []
    for name, outlook in outlooks.items():
        hands = duration(round(plan.hands_s(name) / 60) * 60)
        lines.append(f"{name}: {hands} of hands-on work left by the plan")
        if blocked[name]:
            lines += [f"  can't be planned: {b}" for b in blocked[name]]
            lines.append("")
            continue
        lines += [f"  {sentence}" for sentence in chance_sentences(outlook)]
        if outlook.finish is not None:
            lines.append(
                f"  By the plan, if each check goes as its recipe expects: "
                f"{moment_words(outlook.finish)}. Failed checks can make it later."
            )
        lines.append("")
    width = min(120, shutil.get_terminal_size((88, 24)).columns)
    plain = arguments.plain or not can_draw()
    lines += [*calendar_lines(plan, width, plain=plain), ""]
    one = len(outlooks) == 1 and arguments.name
    sessions = plan.sessions_of(next(iter(outlooks))) if one else plan.sessions
    lines += session_lines(sessions, plan.load, with_job=not one)
    return lines


def _write_calendar(path: Path, plan: JobsPlan, name: str | None) -> None:
    from benchtimer.job.jobcalendar import jobs_to_ics
    from benchtimer.plan.calendar import CalendarMissingError

    made = datetime.fromtimestamp(plan.load.moment.unix_s, UTC)
    try:
        path.write_text(jobs_to_ics(plan, made, job=name), encoding="utf-8", newline="")
    except CalendarMissingError as missing:
        raise Wrong(str(missing), NO) from None
    except OSError as error:
        raise Wrong(f"{path}: {error.strerror or 'it cannot be written'}", NO) from None


def tonight(arguments: argparse.Namespace) -> int:
    """What fits into the hours left; exit 1 if nothing does."""
    from benchtimer.job.evening import evening_of
    from benchtimer.view.jobs import evening_lines, evening_table

    with looking_at_jobs(arguments) as look:
        _with_hours(look, arguments.hours)
        evening = evening_of(look.workload())
    page = None
    if arguments.prepare and evening.session_works:
        from benchtimer.cli.prepare_command import page_of

        page = page_of(arguments, evening.recipes())
    if arguments.json:
        from benchtimer.cli.common import put_json

        put_json(evening_table(evening) | ({"prepare": page.as_dict()} if page else {}))
    else:
        print("\n".join(evening_lines(evening, short=page is not None)))
        if page is not None:
            from benchtimer.check_list import WIDTH, render_page

            width = min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns)
            print(f"\n{render_page(page, width)}", end="")
    return YES if evening.session_works else NO
