"""The bath book: list, show, mix, top up, read, weigh, coupon, retire, take back."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from benchtimer.cli import probing
from benchtimer.cli.common import NO, USAGE, YES, Wrong, common_options, json_option, put_json
from benchtimer.cli.shop_context import data_path, driven, log_now, shop_recipes, shop_settings
from benchtimer.cli.table import READS, WRITES
from benchtimer.quantity import did_you_mean

if TYPE_CHECKING:
    from benchtimer.bath.bath_decide import BathCommand, MixBath
    from benchtimer.bath.bath_state import Bath
    from benchtimer.bench.bath_book import BathBook
    from benchtimer.cli.parser import Parser

LOCAL_RULES = (
    "Spent baths hold dissolved metals and are often hazardous waste. Dispose of them as the "
    "supplier's data sheet and your local codes say; this program does not know how."
)


class Verb(NamedTuple):
    """One thing to do with the book; without a command, it only reads."""

    summary: str
    options: Callable[[argparse.ArgumentParser], object]
    command: Callable[[argparse.Namespace], BathCommand] | None


def options(parser: Parser) -> None:
    """bath [show|mix|topup|read|weigh|coupon|retire|undo] NAME ..."""
    parser.add_argument("--all", action="store_true", help="include retired baths")
    json_option(parser)
    parser.set_defaults(write=None, show=None)
    parser.add_verbs({n: (v.summary, partial(_verb_options, v)) for n, v in VERBS.items()})


def _verb_options(verb: Verb, parser: Parser) -> None:
    parser.add_argument("name", metavar="NAME", help="the bath's name")
    verb.options(parser)
    parser.add_argument(
        "--json",
        action="store_true",
        default=argparse.SUPPRESS,
        help="print JSON, for other programs",
    )
    common_options(parser, again=True, uses=READS if verb.command is None else WRITES)
    parser.set_defaults(write=verb.command, show=verb.command is None)


def _figure(parser: argparse.ArgumentParser, name: str, text: str) -> None:
    parser.add_argument(name, nargs="+", metavar="FIGURE", help=text)


def _mix_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--recipe", metavar="RECIPE", help="the recipe that has the mix")
    parser.add_argument("--mix", metavar="MIX", help="the id of the mix")
    parser.add_argument("--of", metavar="WORDS", help="what it is, if it is not from a recipe")
    _figure(parser, "--volume", "how much was made (default: the shop's vessel, or the recipe's)")
    _figure(parser, "--fecl3", "for ferric chloride: strength of the fresh bath in Be or percent")


def _topup_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", metavar="WORDS", help="what was added, and how much")
    _figure(parser, "--volume", "how much is in the vessel now")


def _read_options(parser: argparse.ArgumentParser) -> None:
    about = "like 290 F, 8.2 pH, 38 Be; none with --follow"
    parser.add_argument("figure", nargs="*", metavar="FIGURE", help=about)
    probing.options(parser)


def _mix(arguments: argparse.Namespace) -> MixBath:
    from benchtimer.bath.bath_decide import MixBath

    volume, fecl3 = _joined(arguments.volume), _joined(arguments.fecl3)
    if arguments.recipe is None:
        if arguments.of is None:
            raise Wrong("say what it is: --recipe RECIPE --mix MIX, or --of WORDS", USAGE)
        return MixBath(arguments.of, mix=arguments.mix, volume=volume, fecl3=fecl3)
    recipe = shop_recipes().find(arguments.recipe)
    mixes = {mix.id: mix for mix in recipe.mix}
    chosen = arguments.mix or (next(iter(mixes)) if len(mixes) == 1 else None)
    if chosen not in mixes:
        has = f"it has {', '.join(mixes) or 'none'}"
        if chosen is None:
            raise Wrong(f"recipe {recipe.id} has several mixes; choose one with --mix; {has}", NO)
        hint = did_you_mean(chosen, mixes, has)
        raise Wrong(f'recipe {recipe.id} has no mix "{chosen}"; {hint}', NO)
    mix = mixes[chosen]
    vessel = shop_settings().vessels.get(mix.id) or mix.volume
    window = next(
        (
            (str(s.temperature.min), str(s.temperature.max))
            for s in recipe.station
            if s.bath == mix.id and s.temperature is not None
        ),
        None,
    )
    made = volume or (str(vessel) if vessel is not None else None)
    words = arguments.of or mix.title
    return MixBath(words, mix.id, recipe.id, made, fecl3, window, mix.chemistry)


def _topup(arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import TopUp

    return TopUp(arguments.what, _joined(arguments.volume))


def _read(arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import ReadBath

    if not arguments.figure:
        raise Wrong("say what it reads, like 290 F, or add --follow for a probe", USAGE)
    return ReadBath(" ".join(arguments.figure))


def _weigh(arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import Wear

    return Wear(" ".join(arguments.figure))


def _coupon_options(parser: argparse.ArgumentParser) -> None:
    _figure(parser, "figure", "weight lost or depth etched, like 0.12 g or 8 um")
    parser.add_argument(
        "--dwell", nargs="+", metavar="TIME", help="how long the strip hung in the bath (5 min)"
    )


def _coupon(arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import COUPON_S, Coupon
    from benchtimer.quantity import QuantityError, parse_duration

    text = _joined(arguments.dwell)
    try:
        dwell_s = COUPON_S if text is None else parse_duration(text)
    except QuantityError as error:
        raise Wrong(f"--dwell: {error}", USAGE) from None
    return Coupon(" ".join(arguments.figure), dwell_s)


def _retire(arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import Retire

    return Retire(arguments.how)


def _undo(_arguments: argparse.Namespace) -> BathCommand:
    from benchtimer.bath.bath_decide import TakeBack

    return TakeBack()


VERBS: Mapping[str, Verb] = {
    "show": Verb("show one bath and its history", lambda _p: None, None),
    "mix": Verb("add a new bath", _mix_options, _mix),
    "topup": Verb("record what you added", _topup_options, _topup),
    "read": Verb(
        "record a reading: temperature, pH, Be, percent or g/L",
        _read_options,
        _read,
    ),
    "weigh": Verb(
        "record the metal it dissolved, from the parts weighed before and after",
        lambda p: _figure(p, "figure", "like 4.2 g"),
        _weigh,
    ),
    "coupon": Verb(
        "record what it took off a strip of the same steel, to measure an etchant",
        _coupon_options,
        _coupon,
    ),
    "retire": Verb(
        "take a bath out of use",
        lambda p: p.add_argument(
            "--how", required=True, metavar="WORDS",
            help="how it was disposed of, and by which local code",
        ),
        _retire,
    ),
    "undo": Verb("take back the last entry made by hand", lambda _p: None, _undo),
}  # fmt: skip


def _joined(words: list[str] | None) -> str | None:
    return " ".join(words) if words else None


def bath(arguments: argparse.Namespace) -> int:
    """List the baths, show one, or make an entry in the book."""
    if arguments.write is _read and arguments.follow:
        return probing.follow(arguments)
    if arguments.write is not None:
        return _write(arguments)
    with looking(arguments) as (book, now_ms):
        baths = book.baths(now_ms) if book is not None else {}
        if arguments.show:
            return _show(arguments, book, baths, now_ms)
        chosen = [b for b in baths.values() if b.is_open or arguments.all]
        tables = _tables(book, chosen, now_ms) if book is not None else []
    if arguments.json:
        put_json(tables)
    else:
        _print_list(tables, retired=len(baths) - len(chosen))
    return YES


def _print_list(tables: list[dict[str, Any]], retired: int) -> None:
    if not tables:
        print("no open baths; add one with benchtimer bath mix NAME")
    for table in tables:
        _print_bath(table)
    if retired:
        print(f"{retired} retired: benchtimer bath --all")


def _print_bath(table: dict[str, Any]) -> None:
    from benchtimer.records.bathpage import bath_line

    print(bath_line(table))
    for warning in table["warnings"]:
        print(f"{'':<14} ! {warning}")


def _show(
    arguments: argparse.Namespace, book: BathBook | None, baths: Mapping[str, Bath], now_ms: int
) -> int:
    from benchtimer.records.bathlife import bath_life, life_lines, life_table
    from benchtimer.records.bathpage import bath_account

    name = arguments.name.strip()
    if book is None or name not in baths:
        hint = did_you_mean(name, baths, "benchtimer bath --all lists them")
        raise Wrong(f'the bath book has no bath "{name}"; {hint}', NO)
    [table] = _tables(book, [baths[name]], now_ms)
    account = bath_account(name, book.entries(name))
    life = bath_life(baths[name], book.entries(name), partial(_came_out, book))
    if arguments.json:
        put_json(table | {"account": account, "life": life_table(life)})
        return YES
    _print_page(table, account)
    if life:
        print()
        print("\n".join(life_lines(life)))
    return YES


def _came_out(book: BathBook, run: str, part: str) -> bool | None:
    """Whether a part of a run came out well; None if it was not judged."""
    from benchtimer.records.counted import counts
    from benchtimer.records.tries import WELL, tries_of

    record = book.record(run)
    found = record.part(part)
    tries = [each for each in tries_of(record, found) if counts(each)] if found else []
    return tries[-1].outcome == WELL if tries else None


def _print_page(table: dict[str, Any], account: list[dict[str, Any]]) -> None:
    from benchtimer.records.bathpage import bath_line

    print(bath_line(table))
    if "window" in table:
        print(f"window {' to '.join(table['window'])}")
    for warning in table["warnings"]:
        print(f"! {warning}")
    if "disposed" in table:
        print(f"retired {table['retired']}: {table['disposed']}")
    print()
    for line in account:
        text = line["text"] if line["counts"] else f"[{line['text']}]"
        print(f"  {line['at']}  {text} ({line['by']})")


def _want_bath(name: str, baths: Mapping[str, Bath]) -> None:
    """Refuse a misspelled name; the book itself refuses one that is unlike any other."""
    hint = "" if name in baths else did_you_mean(name, baths)
    if hint:
        raise Wrong(f'the bath book has no bath "{name}"; {hint}', NO)


def _tables(book: BathBook, found: Sequence[Bath], now_ms: int) -> list[dict[str, Any]]:
    from benchtimer.bath.bath_wear import NO_LIMITS
    from benchtimer.records.bathpage import bath_table

    busy = book.busy()
    return [
        bath_table(
            each, book.entries(each.name), now_ms,
            limits=book.limits.get(each.mix or "", NO_LIMITS), busy=busy.get(each.name),
        )
        for each in found
    ]  # fmt: skip


@contextmanager
def looking(arguments: argparse.Namespace) -> Iterator[tuple[BathBook | None, int]]:
    """The book for reading, next to a bench that may be running; None if there is no log yet."""
    from benchtimer.bench.bath_book import BathBook
    from benchtimer.store.log import FILE_NAME, is_there

    settings = shop_settings()
    if not is_there(data_path(arguments) / FILE_NAME):
        yield None, 0
        return
    with log_now(arguments) as (log, stamp):
        yield BathBook(log, settings.limits, settings.places), stamp.noted_ms


def _write(arguments: argparse.Namespace) -> int:
    """Write under the lease, like every write."""
    command, name = arguments.write(arguments), arguments.name.strip()
    there = "" if arguments.write is _mix else "Make the entry there (M, the bath book), or leave"
    way_out = f"{there or 'Leave'} the bench first (Q; its runs stay and their timers keep running)"
    limits = shop_settings().limits
    with driven(arguments, f"nothing was saved. {way_out}.", limits) as bench:
        book = bench.writer.baths
        if arguments.write is not _mix:
            _want_bath(name, book.baths(bench.stamp().noted_ms))
        bench.write_bath(arguments.name, command)
        now_ms = bench.stamp().noted_ms
        found = book.baths(now_ms).get(name)
        tables = _tables(book, [found] if found is not None else [], now_ms)
    _say_written(arguments, name, tables[0] if tables else None)
    return YES


def _say_written(arguments: argparse.Namespace, name: str, table: dict[str, Any] | None) -> None:
    if arguments.json:
        put_json(table)
    elif table is None:
        print(f"{name}: the mixing entry was taken back")
    else:
        _print_bath(table)
    if table is not None and not table["open"]:
        print(f"benchtimer: {LOCAL_RULES}", file=sys.stderr)
