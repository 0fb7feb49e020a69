"""The checklist as rows to check off, with the check marks so far."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from benchtimer.check_list import CheckList, Item
from benchtimer.records.inert import visible
from benchtimer.run.run_state import Bench, TickedItem
from benchtimer.run.setup import PUT_OFF
from benchtimer.store.log import Stamp
from benchtimer.view.row import Row
from benchtimer.view.space import Size
from benchtimer.view.text import wrapped
from benchtimer.view.words import clock_time


def prepare_rows(
    page: CheckList, ticks: Mapping[str, TickedItem], stamp: Stamp, size: Size
) -> list[Row]:
    """Every line of the page, with its check mark, time and note.

    Args:
        page: the page.
        ticks: the ticks of the run, by ``item_key``.
        stamp: the time.
        size: columns for text, rows of the terminal.
    """
    rows: list[Row] = []
    for section in page.sections:
        rows.append(
            Row(
                ("", f" {section.title.upper()}") if rows else (f" {section.title.upper()}",),
                "head",
            )
        )
        for item in section.items:
            key = item_key(section.title, item)
            lines = _lines(item, ticks.get(key), stamp, size.width)
            rows.append(Row(_touchable(lines), "plain", key))
    return rows


def item_key(section: str, item: Item) -> str:
    """The key that a line is checked off under; a line of the run's setup has its key there."""
    return item.key or f"{section}: {item.text}"


def gear_ticks(page: CheckList, bench: Bench, now_ms: int) -> Mapping[str, TickedItem]:
    """The gear you confirmed in this session, with the hazards you confirmed it for.

    Args:
        page: the page.
        bench: the run's bench.
        now_ms: bench time.
    """
    found = {}
    for section in page.sections:
        for item in section.items:
            worn = [title for title in item.guards if bench.is_acknowledged(title, now_ms)]
            if worn:
                on_ms = min(bench.acknowledged[title] for title in worn)
                names = dict.fromkeys(title.partition(":")[0] for title in worn)
                whole = len(worn) == len(item.guards)  # its own line names them all
                said = "" if whole else f"on for {'; '.join(names)}"
                found[item_key(section.title, item)] = TickedItem(on_ms, said)
    return found


def is_ready(ticks: Mapping[str, TickedItem], key: str) -> bool:
    """Whether a line is checked off and not put off."""
    return key in ticks and ticks[key].said != PUT_OFF


def count_words(page: CheckList, ticks: Mapping[str, TickedItem]) -> str:
    """How many lines are checked off, in words."""
    keys = keys_of(page)
    ready = sum(is_ready(ticks, key) for key in keys)
    return f"{ready} of {len(keys)} lines checked off"


def keys_of(page: CheckList) -> list[str]:
    """Every line that can be checked off, in order."""
    return [item_key(section.title, item) for section in page.sections for item in section.items]


def next_open(keys: Sequence[str], ticks: Mapping[str, TickedItem], here: str) -> str | None:
    """The next line without a check mark, wrapping around.

    Args:
        keys: the lines in order.
        ticks: the ticks by line.
        here: the line to begin after.
    """
    at = keys.index(here) + 1 if here in keys else 0
    return next((key for key in [*keys[at:], *keys[:at]] if not is_ready(ticks, key)), None)


def _touchable(lines: Iterator[str]) -> tuple[str, ...]:
    """At least two rows, so that a wet finger hits it."""
    rows = tuple(lines)
    return rows if len(rows) > 1 else (*rows, "")


def _lines(item: Item, tick: TickedItem | None, stamp: Stamp, width: int) -> Iterator[str]:
    put_off = tick is not None and tick.said == PUT_OFF
    box = "[x]" if tick is not None and not put_off else "[ ]"
    yield from _wrap(item.text, f" {box} ", "     ", width)
    if tick is not None:
        said = f": {tick.said}" if tick.said and not put_off else ""
        word = "put off" if put_off else "ready"
        yield from _wrap(f"{word} {clock_time(tick.t_ms, stamp)}{said}", "     ", "     ", width)
    for more in item.more:
        yield from _wrap(more, "     ", "       ", width)
    for source in item.sources:
        yield from _wrap(f"source: {source}", "     ", "       ", width)


def _wrap(text: str, first: str, later: str, width: int) -> list[str]:
    lines = wrapped(" ".join(visible(text, keep="").split()), max(30, width) - len(later))
    return [f"{later if i else first}{line}" for i, line in enumerate(lines)]
