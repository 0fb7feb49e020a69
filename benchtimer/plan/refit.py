"""Puts given times into a timetable, as far as they keep every rule."""

from __future__ import annotations

from collections.abc import Sequence

from benchtimer.plan.instance import FAR_S
from benchtimer.plan.network import OrderedMove, hands_now
from benchtimer.plan.placement import Placer
from benchtimer.plan.sections import PartSection
from benchtimer.plan.timetable import Timetable


def rebuilt(
    placer: Placer, turns: Sequence[OrderedMove], starts: Sequence[int]
) -> Timetable | None:
    """A table with every section at given times; None if they break a rule.

    Args:
        placer: for the problem.
        turns: the moves.
        starts: when each begins.
    """
    times = {(t.part, t.move): start for t, start in zip(turns, starts, strict=True)}
    own: dict[int, tuple[int, ...]] = {}
    for number, section in placer.sections.items():
        moves = range(section.first, section.first + len(section.hands_s))
        found = [times[section.part, move] for move in moves if (section.part, move) in times]
        if len(found) < len(moves):
            return None
        own[number] = tuple(found)
    pairs = _hands_for(placer, own)
    if pairs is None:
        return None
    table = Timetable(placer.instance)
    in_place = {n: placer.sections[n].part for n in own if placer.sections[n].entered_s is not None}
    # A part that is not placed yet keeps its slot only until it leaves by these times;
    # otherwise nothing could go where it is now.
    for number, part in in_place.items():
        _leaves(table, part, FAR_S, own[number][0])
    for number in placer.with_feeders(sorted(own, key=own.__getitem__)):
        if number in in_place:
            _leaves(table, in_place[number], own[number][0], FAR_S)
        if not _still_free(placer, table, number, own[number], pairs[number]):
            return None
        table.put(placer.sections[number], own[number], pairs[number])
    return table


def _hands_for(placer: Placer, own: dict[int, tuple[int, ...]]) -> dict[int, list[int]] | None:
    """The pair of hands for each move, in order of their starts; None if there are too few.

    Args:
        placer: for the problem.
        own: starts of the moves of each section.
    """
    walk = placer.instance.walk
    hands = hands_now(placer.instance)
    pairs: dict[int, list[int]] = {number: [] for number in own}
    moves = sorted(
        (start, start + placer.sections[number].hands_s[k], k, number)
        for number, starts in own.items()
        for k, start in enumerate(starts)
    )
    for start, end, k, number in moves:
        a, b = placer.sections[number].ways[k]
        free = [(since, -pair) for pair, (since, at) in enumerate(hands)
                if since + walk[at][a] <= start]  # fmt: skip
        if not free:
            return None
        pair = -max(free)[1]
        hands[pair] = end, b
        pairs[number].append(pair)
    return pairs


def _leaves(table: Timetable, part: int, not_at_s: int, at_s: int) -> None:
    """Makes a part keep its present slot until another time."""
    table.keep_slot(part, not_at_s, free=True)
    table.keep_slot(part, at_s)


def _still_free(
    placer: Placer,
    table: Timetable,
    number: int,
    starts: tuple[int, ...],
    pairs: Sequence[int],
) -> bool:
    """Whether a section can have these times among those already placed.

    Args:
        placer: for the problem.
        table: what is placed.
        number: of the section.
        starts: when its moves begin.
        pairs: the pair of hands for each.
    """
    section = placer.sections[number]
    if not _linked(placer, table, section, starts):
        return False
    if section.entered_s is None:
        return _has_room(table, section, starts, pairs)
    table.keep_slot(section.part, FAR_S, free=True)
    free = _has_room(table, section, starts, pairs)
    table.keep_slot(section.part, FAR_S)
    return free


def _linked(
    placer: Placer, table: Timetable, section: PartSection, starts: tuple[int, ...]
) -> bool:
    """Whether it begins after everything it waits for, and ends before everything that waits for
    it.
    """
    if starts[0] < max(placer.instance.problem.now_s, section.release_s):
        return False
    for other, lag_s in section.after:
        if other in table.starts_of and placer.end_s(table, other) + lag_s > starts[0]:
            return False
    end_s = starts[-1] + section.hands_s[-1]
    return all(
        table.starts_of[other][0] >= end_s + lag_s
        for other, lag_s in section.feeds
        if other in table.starts_of
    )


def _has_room(
    table: Timetable, section: PartSection, starts: tuple[int, ...], pairs: Sequence[int]
) -> bool:
    entered = section.entered_s
    for k, start in enumerate(starts):
        if entered is not None:
            if not section.min_s[k] <= start - entered <= section.max_s[k]:
                return False
            since = entered if k else max(entered, table.instance.problem.now_s)
            if not any(f <= since and start <= g for f, g in table.rooms(section.places[k])):
                return False
        if not table.starts([(start, start)], section.hands_s[k], *section.ways[k], [pairs[k]]):
            return False
        entered = start + section.hands_s[k]
    return True


def to_the_left(placer: Placer, table: Timetable) -> Timetable | None:
    """Place every section again as early as possible, earliest end first.

    Args:
        placer: for the problem.
        table: what is placed; it is changed.
    """
    for number in sorted(table.starts_of, key=lambda n: placer.end_s(table, n)):
        placer.take_out(table, number)
        if not placer.fits(table, number):
            return None
    return table
