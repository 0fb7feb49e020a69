"""The command line: arguments in, text or JSON out.

Results go to stdout, messages to stderr. Exit 0: yes. 1: no (invalid, not found, can't
be). 2: wrong usage. 3: the store can't be used.
"""

from __future__ import annotations

import argparse
import getpass
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import platformdirs

from benchtimer import __version__
from benchtimer.quantity import nearest, show_duration
from benchtimer.recipe.describe import describe
from benchtimer.recipe.problems import RecipeError, printable
from benchtimer.recipe.reader import read_recipe
from benchtimer.recipe.schema import recipe_schema
from benchtimer.recipe.shelf import Shelf

YES, NO, USAGE, STORE = 0, 1, 2, 3


class Wrong(Exception):
    """A message for the user and the exit code that goes with it."""

    def __init__(self, message: str, code: int) -> None:
        self.code = code
        super().__init__(message)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    # Lazy: --help, check and show need neither the store nor the engine.
    from benchtimer.run.refusals import Refused
    from benchtimer.store.log import StoreError

    arguments = _parser().parse_args(argv)
    try:
        return int(arguments.do(arguments))
    except Wrong as wrong:
        return _say(str(wrong), wrong.code)
    except (RecipeError, Refused) as error:
        return _say(str(error), NO)
    except StoreError as error:
        return _say(str(error), STORE)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return YES
    except KeyboardInterrupt:
        return _say("stopped", USAGE)


def _say(message: str, code: int) -> int:
    print(f"benchtimer: {message}", file=sys.stderr)
    return code


class _Parser(argparse.ArgumentParser):
    """Wrong usage in one message, with the nearest right word."""

    def error(self, message: str) -> None:  # type: ignore[override]
        words = message.partition("invalid choice: ")[2].partition(" (")[0].strip("'\"")
        near = nearest(words, list(COMMANDS)) if words else None
        hint = f'; did you mean "{near}"?' if near else ""
        known = f"the commands are {', '.join(COMMANDS)}" if words else message
        head = f'there is no command "{words}"{hint} ' if words else ""
        self.exit(USAGE, f"benchtimer: {head}{known}\nTry: {self.prog} --help\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="benchtimer",
        description="Plan, time and record chemical finishing of several steel parts at once.",
        epilog="Without a command it opens the bench. The supplier's data sheet goes before "
        "anything this program says.",
    )
    parser.add_argument("--version", action="version", version=f"benchtimer {__version__}")
    _common(parser)
    parser.set_defaults(do=_open)
    commands = parser.add_subparsers(metavar="COMMAND")
    for name, (summary, add, do) in COMMANDS.items():
        sub = commands.add_parser(name, help=summary, description=summary)
        _common(sub, again=True)
        add(sub)
        sub.set_defaults(do=do)
    return parser


def _common(parser: argparse.ArgumentParser, *, again: bool = False) -> None:
    """Options that may stand before or behind the command."""
    default = argparse.SUPPRESS if again else None
    parser.add_argument("--data", metavar="DIR", default=default, help="the data folder")
    parser.add_argument("--by", metavar="NAME", default=default, help="who presses the keys")
    parser.add_argument(
        "--speed",
        type=_speed,
        metavar="X",
        default=default,
        help="practice, X times faster than real, in a log of its own",
    )


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = 0
    if not 1 <= speed <= 10_000:
        raise argparse.ArgumentTypeError(f"{text!r} is no speed from 1 to 10000")
    return speed


def _hands(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text[:4]) <= 20:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of people from 1 to 20")
    return int(text)


def _job(parser: argparse.ArgumentParser) -> None:
    """RECIPE PART... and how they are changed for one run."""
    parser.add_argument("recipe", metavar="RECIPE", help="a name on the shelf, or a path")
    parser.add_argument("parts", metavar="PART", nargs="+", help="a name, or name=RECIPE")
    parser.add_argument(
        "--set",
        dest="changes",
        action="append",
        default=[],
        metavar="ID.FIELD=VALUE",
        help='change the recipe for this run only, for example --set black.aim="12 min"',
    )
    parser.add_argument("--hands", type=_hands, default=1, metavar="N", help="people who work")


def _base_folder(arguments: argparse.Namespace) -> Path:
    chosen = arguments.data or os.environ.get("BENCHTIMER_DATA")
    return Path(chosen) if chosen else Path(platformdirs.user_data_dir("benchtimer", False))


def _folder(arguments: argparse.Namespace) -> Path:
    from benchtimer.bench import data_folder

    return data_folder(_base_folder(arguments), arguments.speed or 1)


def _shelf() -> Shelf:
    return Shelf(Path(platformdirs.user_config_dir("benchtimer", False)) / "recipes")


def _by(arguments: argparse.Namespace) -> str:
    if arguments.by:
        return str(arguments.by)
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "maker"


def _open(arguments: argparse.Namespace) -> int:
    return _on_screen(arguments, None)


def _run(arguments: argparse.Namespace) -> int:
    return _on_screen(arguments, arguments)


def _on_screen(arguments: argparse.Namespace, job: argparse.Namespace | None) -> int:
    """Open the bench, with a new run if one is asked for."""
    from benchtimer.bench import Driver
    from benchtimer.clock import SystemClock
    from benchtimer.orders import new_run
    from benchtimer.store.lease import LeaseTaken

    shelf = _shelf()
    new = new_run(shelf, job.recipe, job.parts, job.changes, job.hands) if job else None
    _need_terminal()
    folder = _folder(arguments)
    try:
        driver = Driver(folder, SystemClock(), by=_by(arguments), speed=arguments.speed or 1)
    except LeaseTaken as taken:
        return _offer_to_watch(arguments, taken)
    try:
        name = driver.lay_out(new) if new is not None else None
        return _show(driver, name)
    finally:
        driver.close()


def _need_terminal() -> None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Wrong("the bench needs a terminal; see benchtimer --help", USAGE)


def _offer_to_watch(arguments: argparse.Namespace, taken: Exception) -> int:
    print(f"benchtimer: {taken}.", file=sys.stderr)
    print("Look on without changing anything? [Y/n] ", end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if answer.strip().lower() in ("", "y", "yes") and answer:
        return _watch(arguments)
    return STORE


def _watch(arguments: argparse.Namespace) -> int:
    from benchtimer.bench import Watcher
    from benchtimer.clock import SystemClock

    _need_terminal()
    watcher = Watcher(_folder(arguments), SystemClock(), speed=arguments.speed or 1)
    try:
        return _show(watcher, None)
    finally:
        watcher.close()


def _show(bench: object, name: str | None) -> int:
    from benchtimer.tui.app import BenchApp

    BenchApp(bench, name, shelf=_shelf()).run()  # type: ignore[arg-type]
    return YES


def _rehearse(arguments: argparse.Namespace) -> int:
    from benchtimer.orders import new_run
    from benchtimer.records.export import as_json, as_text
    from benchtimer.rehearsal import RehearsalError, rehearse

    new = new_run(_shelf(), arguments.recipe, arguments.parts, arguments.changes, arguments.hands)
    try:
        if arguments.draws > 1:
            return _rehearse_often(arguments, new)
        record = rehearse(new, arguments.seed)
    except RehearsalError as error:
        raise Wrong(str(error), NO) from None
    print(as_json(record) if arguments.json else as_text(record))
    return YES


def _rehearse_often(arguments: argparse.Namespace, new: object) -> int:
    from benchtimer.rehearsal import odds, rehearse

    seeds = range(arguments.seed, arguments.seed + arguments.draws)
    found = odds([rehearse(new, seed) for seed in seeds])  # type: ignore[arg-type]
    steps = [
        {"part": part, "step": step, "overstays": n} for (part, step), n in found.by_step.items()
    ]
    table = {
        "draws": found.draws,
        "median_s": found.median_s,
        "longest_s": found.longest_s,
        "draws_with_overstay": found.late,
        "overstays": steps,
    }
    if arguments.json:
        print(json.dumps(table, ensure_ascii=False, indent=2))
        return YES
    print(f"{found.draws} rehearsals, seeds {seeds[0]} to {seeds[-1]}")
    print(f"start to end: median {show_duration(round(found.median_s))}, "
          f"longest {show_duration(round(found.longest_s))}")  # fmt: skip
    print(f"with an overstay: {found.late}")
    for step in steps:
        print(f"  {step['part']}, {step['step']}: {step['overstays']} overstays")
    return YES


def _check(arguments: argparse.Namespace) -> int:
    code = YES
    for name in arguments.files:
        try:
            recipe = read_recipe(Path(name))
        except RecipeError as error:
            print(error)
            code = NO
        else:
            print(f"{printable(name)}: fine: {recipe.title}, {len(recipe.step)} steps")
    return code


def _recipes(arguments: argparse.Namespace) -> int:
    lines = []
    for stem, path in _shelf().paths().items():
        name = printable(stem)
        try:
            recipe = read_recipe(path)
            lines.append({"recipe": name, "revision": recipe.revision, "title": recipe.title})
        except RecipeError as error:
            problems = len(error.problems)
            words = f"{problems} problems: benchtimer check {printable(str(path))}"
            lines.append({"recipe": name, "title": words})
    if arguments.json:
        print(json.dumps(lines, ensure_ascii=False, indent=2))
    else:
        width = max((len(str(line["recipe"])) for line in lines), default=0)
        for line in lines:
            print(f"{line['recipe']:<{width}}  {line['title']}")
    return YES


def _show_recipe(arguments: argparse.Namespace) -> int:
    print(describe(_shelf().find(arguments.recipe)))
    return YES


def _schema(_arguments: argparse.Namespace) -> int:
    print(json.dumps(recipe_schema(), ensure_ascii=False, indent=2))
    return YES


def _log(arguments: argparse.Namespace) -> int:
    from benchtimer.store.log import EventLog

    log = EventLog(_folder(arguments), read_only=True)
    try:
        return _log_run(arguments, log) if arguments.run else _log_list(arguments, log)
    finally:
        log.close()


def _log_list(arguments: argparse.Namespace, log: object) -> int:
    from benchtimer.records.record import local_time
    from benchtimer.store.log import EventLog

    assert isinstance(log, EventLog)  # noqa: S101  tells the type without importing it early
    runs = log.runs()
    if arguments.format == "json":
        keys = ("name", "phase", "title", "parts")
        print(json.dumps([{k: getattr(r, k) for k in keys} for r in runs], indent=2))
        return YES
    if not runs:
        print("no runs yet")
    for run in runs:
        day = local_time(run.created_ms, run.offset_s)[:16].replace("T", " ")
        print(f"{run.name:<14} {day}  {run.phase:<8}  {run.title}: {', '.join(run.parts)}")
    return YES


def _log_run(arguments: argparse.Namespace, log: object) -> int:
    from benchtimer.records.export import as_json, as_text, as_toml
    from benchtimer.records.record import make_record
    from benchtimer.store.log import EventLog

    assert isinstance(log, EventLog)  # noqa: S101
    runs = log.runs()
    name = runs[0].name if arguments.run == "last" and runs else arguments.run
    entries = log.entries(name)
    if not entries:
        near = nearest(name, [run.name for run in runs])
        hint = f', did you mean "{near}"?' if near else "; benchtimer log lists them"
        raise Wrong(f'there is no run "{name}"{hint}', NO)
    record = make_record(entries)
    print({"text": as_text, "json": as_json, "toml": as_toml}[arguments.format](record))
    return YES


def _no_more(_parser: argparse.ArgumentParser) -> None:
    return


def _rehearse_options(parser: argparse.ArgumentParser) -> None:
    _job(parser)
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="same seed, same record")
    parser.add_argument("--draws", type=_draws, default=1, metavar="N", help="rehearse N times")
    parser.add_argument("--json", action="store_true", help="for programs")


def _draws(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text[:6]) <= 100_000:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of rehearsals from 1 to 100000")
    return int(text)


def _log_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("run", metavar="RUN", nargs="?", help='a run\'s name, or "last"')
    parser.add_argument(
        "--as", dest="format", choices=("text", "json", "toml"), default="text", help="the form"
    )


_Add = Callable[[argparse.ArgumentParser], object]
_Do = Callable[[argparse.Namespace], int]

COMMANDS: dict[str, tuple[str, _Add, _Do]] = {
    "run": ("open the bench with this run ready to start", _job, _run),
    "rehearse": ("run it in fast time with simulated hands", _rehearse_options, _rehearse),
    "check": (
        "validate recipe files",
        lambda p: p.add_argument("files", metavar="FILE", nargs="+"),
        _check,
    ),
    "recipes": (
        "what is on the shelf",
        lambda p: p.add_argument("--json", action="store_true"),
        _recipes,
    ),
    "show": (
        "one recipe in readable form",
        lambda p: p.add_argument("recipe", metavar="RECIPE"),
        _show_recipe,
    ),
    "log": ("the runs, or the record of one", _log_options, _log),
    "watch": ("look on at the bench that is running", _no_more, _watch),
    "schema": ("the recipe format as JSON Schema", _no_more, _schema),
}

if __name__ == "__main__":
    sys.exit(main())
