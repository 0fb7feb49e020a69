"""The shop calculations: one topic worked out, or what it needs."""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from benchtimer.cli.common import KEY_VALUE, NO, USAGE, YES, Wrong, json_option, pair_of, put_json
from benchtimer.cli.shop_context import shop_settings

if TYPE_CHECKING:
    from benchtimer.trade.topic import Parameter, Topic

WIDEST = 100


def options(parser: argparse.ArgumentParser) -> None:
    """TOPIC KEY=VALUE... --json; --help after a topic explains that topic."""
    parser.add_argument("topic", metavar="TOPIC", nargs="?", help="what to work out")
    parser.add_argument(
        "given", metavar="KEY=VALUE", nargs="*", help='like reading="300 F" volume="8 L"'
    )
    json_option(parser)
    parser.add_argument(
        "-h", "--help", action=_Help, help="this help; after a topic: what the topic needs"
    )


class _Help(argparse.Action):
    """``--help``, which explains the topic when it comes after one."""

    def __init__(self, option_strings: Sequence[str], dest: str, **rest: Any) -> None:
        super().__init__(option_strings, argparse.SUPPRESS, nargs=0, **rest)
        del dest

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Print the help and exit."""
        from benchtimer.trade.topics import UnknownTopicError, find_topic

        del values, option_string
        if namespace.topic is None:
            print(parser.format_help(), end="")
            parser.exit()
        try:
            print(describe(find_topic(namespace.topic), parser.prog), end="")
        except UnknownTopicError as error:
            parser.error(str(error))
        parser.exit()


def calc(arguments: argparse.Namespace) -> int:
    """Work out one topic and print it, with its steps, limits and sources."""
    from benchtimer.trade.topics import find_topic
    from benchtimer.trade.valid_range import TradeError

    if arguments.topic is None:
        return _without_topic(arguments)
    try:
        topic = find_topic(arguments.topic)
        return _work_out(topic, _given(arguments.given), as_json=arguments.json)
    except TradeError as error:
        raise Wrong(str(error), NO) from None


def _without_topic(arguments: argparse.Namespace) -> int:
    from benchtimer.trade.topics import TOPICS

    if arguments.json:
        topics = [{"topic": t.name, "about": t.about} for t in TOPICS.values()]
        put_json(topics)
    else:
        room = max(map(len, TOPICS))
        print("\n".join(f"{t.name:<{room}}  {t.about}" for t in TOPICS.values()))
        print("\nbenchtimer calc TOPIC --help shows what a topic needs")
    return YES


def _given(texts: list[str]) -> dict[str, str]:
    given: dict[str, str] = {}
    for text in texts:
        key, value = pair_of(text, KEY_VALUE)
        if key in given:
            raise Wrong(f'"{key}" is given twice', USAGE)
        given[key] = value
    return given


def _work_out(topic: Topic, given: dict[str, str], *, as_json: bool) -> int:
    from benchtimer.trade.figure import render_text

    shop = shop_settings().figures
    if "pressure" in given:
        shop.pop("altitude", None)  # a measured pressure is better than the shop's altitude
    found = topic.figure(given, shop)
    if as_json:
        put_json(found.as_dict())
    else:
        width = min(shutil.get_terminal_size((88, 24)).columns, WIDEST)
        print(render_text(found, width), end="")
    return YES


def describe(topic: Topic, program: str) -> str:
    """The help page of a topic: what it answers, what it needs, an example."""
    from benchtimer.cli import manual

    page = manual.pages()["calc"]
    rows = {parameter.name: _parameter(parameter) for parameter in topic.parameters}
    name = f"{program} {topic.name}"
    keys = " ".join(p.name + "=..." if p.needed else f"[{p.name}=...]" for p in topic.parameters)
    given = " ".join(f'{key}="{value}"' for key, value in topic.example.items())
    example = manual.Example("To try", f"{name} {given}".rstrip())
    return manual.joined(
        manual.headed(name, topic.about),
        manual.hanging(f"Usage: {name} ", keys),
        *manual.wrapped(page.care),
        manual.section("Arguments", manual.table(rows)),
        *manual.closing(page._replace(examples=(example,))),
    )


def _parameter(parameter: Parameter) -> str:
    about = f'{parameter.about}, like "{parameter.example}"'
    if parameter.choices:
        about += f" ({' or '.join(parameter.choices)})"
    if parameter.needed:
        return f"{about}; needed"
    return f"{about}; {parameter.default} unless given" if parameter.default else about
