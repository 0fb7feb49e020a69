"""Safe starts of a section, and the latest start that still makes the due date.

A start is safe if the section finishes with its pulls inside the hours in at least half of its
drawn runs. Being more careful costs more days than an occasional missed pull (``THETA``).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from random import Random

from benchtimer.job.chain import NEVER, PREVIEW_STEPS, Chain, Stretch
from benchtimer.job.worktime import OVER_S, SLOT_S, WorkTime
from benchtimer.plan.spread import SPREAD, draw_times_s
from benchtimer.values import dataclass, field

THETA = 0.5
"""Share of the drawn runs that must finish.

Found by experiment: with 0.9 instead of 0.5, three knives were ready by their date 67 times in 100
instead of 84.
"""

SAMPLES = 120
"""How many random runs of a section are drawn."""

SURE = 0.9
"""Share of the drawn runs that must finish for a start that is left until last."""

SCARCE = 0.25
"""A section with a smaller share of safe starts than this has few."""

FIRST_SAMPLES = 12
"""If this many agree, the rest are skipped."""


@dataclass(frozen=True, slots=True)
class Path:
    """One run of a section and the ones after it, up to where the part can rest as long as you
    like.

    Attributes:
        moves: its moves, each with where it ends.
    """

    moves: tuple[Stretch, ...]


@dataclass(slots=True)
class SectionStarts:
    """A section and what is known about its starts.

    Attributes:
        plain: the run with the recipe's times and the sends it expects, rounded.
        waits_s: how long the part can rest before it.
        next_safe: for each slot the first safe one from it on; the number of slots if none is.
        last_safe: for each slot the last safe one up to it; -1 if none is. ``last_sure`` the last
            one at which nearly all runs finish.
        scarce: few starts are safe, so each of them comes before work that can wait.
    """

    plain: Path
    waits_s: float
    next_safe: list[int]
    last_safe: list[int]
    last_sure: list[int]
    scarce: bool


@dataclass(frozen=True, slots=True)
class _Drawn:
    """The drawn runs of a section, and what is known about its starts so far, in any shop.

    Attributes:
        ahead_s: the hours further ahead than this don't matter to any of the runs.
        behind: the steps before which a run can rest only for a while.
        shares: the share of the runs that finish, by the hours ahead of the start.
    """

    paths: list[Path]
    plain: Path
    ahead_s: float
    behind: frozenset[int]
    shares: dict[tuple[tuple[float, float], ...], float] = field(default_factory=dict)


@lru_cache(maxsize=256)
def _drawn(chain: Chain, first: int, seed: int) -> _Drawn:
    rng = Random(f"{seed} {chain.links[first].recipe} {chain.links[first].step}")
    paths = [_drawn_path(chain, first, rng) for _ in range(SAMPLES)]
    behind = frozenset(move.to for path in paths for move in path.moves if move.to is not None)
    ahead_s = max(_longest_s(path, chain) for path in paths)
    return _Drawn(paths, _plain_path(chain, first), ahead_s, behind)


def _longest_s(path: Path, chain: Chain) -> float:
    """How long a run of a section takes if each dwell lasts its max, including what follows it."""
    longest_s: float = OVER_S + SLOT_S
    for move in path.moves:
        longest_s += move.hands_s
        if move.soak is not None:
            longest_s += move.soak.max_s + move.soak.need_s
        elif move.to is not None:
            longest_s += chain.links[move.to].waits_s
    return longest_s


def forget_drawn() -> None:
    """Clear the cache of drawn sections, as in a new process."""
    _drawn.cache_clear()


def sections_in(chain: Chain, hours: WorkTime, seed: int = 0) -> dict[int, SectionStarts]:
    """The sections of a chain, by the step they begin with.

    Args:
        chain: the part's chain.
        hours: when you work.
        seed: same seed, same trials.
    """
    found: dict[int, SectionStarts] = {}
    ahead_s: dict[int, float] = {}
    for first in reversed(chain.rests):  # a section must know the ones after it
        drawn = _drawn(chain, first, seed)
        behind_s = max((ahead_s[step] for step in drawn.behind if step in found), default=0.0)
        ahead_s[first] = drawn.ahead_s + behind_s
        shares = _shares(drawn, hours, found, ahead_s[first])
        safe = [share >= THETA for share in shares]
        found[first] = SectionStarts(
            drawn.plain,
            chain.links[first].waits_s,
            _next(safe),
            _last(safe),
            _last([share >= SURE for share in shares]),
            sum(safe) < SCARCE * len(safe),
        )
    return dict(sorted(found.items()))


def _drawn_path(chain: Chain, first: int, rng: Random) -> Path:
    def hands(index: int) -> float:
        return draw_times_s(rng, chain.links[index].hands_s, SPREAD, 1)[0]

    return _path(chain, first, hands, lambda index: _sent(chain, index, rng))


def _path(
    chain: Chain,
    first: int,
    hands: Callable[[int], float],
    sent: Callable[[int], int | None],
) -> Path:
    """A run of a section: how long each step takes, and where its checks send the part."""
    moves: list[Stretch] = []
    index, hands_s, to = first, 0.0, None
    for _ in range(PREVIEW_STEPS):
        link = chain.links[index]
        hands_s += hands(index)
        to = sent(index)
        if to is not None:
            if to < 0 or chain.links[to].begins_at_rest:
                break
            index = to
            continue
        if link.soak is not None:
            moves.append(Stretch(hands_s, link.soak))
            hands_s = 0.0
        elif link.rest_s is not None or link.ends_recipe:
            if index + 1 == len(chain.links) or chain.links[index + 1].waits_s == NEVER:
                to = None
                break
            moves.append(Stretch(hands_s, None, index + 1))
            hands_s = 0.0
        index += 1
    waits = to is not None and to >= 0 and chain.links[to].waits_s != NEVER
    return Path((*moves, Stretch(hands_s, None, to if waits else None)))


def _sent(chain: Chain, index: int, rng: Random) -> int | None:
    for look in chain.links[index].looks:
        left = rng.random()
        for answer, chance in zip(look.answers, look.chances, strict=True):
            left -= chance
            if left < 0:
                return answer.to
    return None


def _plain_path(chain: Chain, first: int) -> Path:
    made: dict[str, int] = {}

    def sent(index: int) -> int | None:
        to = plain_send(chain, index, made)
        return None if to is not None and (to < 0 or chain.links[to].waits_s == NEVER) else to

    return _path(chain, first, lambda index: float(chain.links[index].hands_s), sent)


def plain_send(chain: Chain, index: int, made: dict[str, int]) -> int | None:
    """Where a part goes if it is sent exactly as often as its recipe expects, rounded.

    Args:
        chain: the part's chain.
        index: the step whose checks are answered.
        made: how often each answer has sent it; this is updated.
    """
    for look in chain.links[index].looks:
        for answer in look.answers:
            if made.get(answer.key, 0) < int(answer.expect + 0.5):
                made[answer.key] = made.get(answer.key, 0) + 1
                return answer.to
    return None


def gets_through(
    path: Path, start_s: float, hours: WorkTime, behind: Mapping[int, SectionStarts]
) -> float:
    """When a run of a section ends that starts at this time; ``NEVER`` if it does not finish.

    Args:
        path: the run.
        start_s: when it starts.
        hours: when you work.
        behind: the sections after it: if the part can rest only for a while, one of them must start
            safely before that is over.
    """
    time_s, opens, closes = start_s, hours.opens, hours.closes
    number = hours.span(time_s)
    for stretch in path.moves:
        time_s += stretch.hands_s
        while number + 1 < len(opens) and opens[number + 1] <= time_s:
            number += 1
        if number < 0 or time_s > closes[number] + OVER_S:
            return NEVER
        if stretch.soak is not None:
            time_s = hours.pull_s(time_s, stretch.soak)
            if time_s == NEVER:
                return NEVER
        elif stretch.to is not None and stretch.to in behind:
            section = behind[stretch.to]
            slot = section.next_safe[max(0, hours.slot(time_s))]
            if slot == len(hours.slots) or hours.slots[slot] > time_s + section.waits_s:
                return NEVER
            time_s = max(time_s, float(hours.slots[slot]))
    return time_s


def _shares(
    drawn: _Drawn, hours: WorkTime, behind: Mapping[int, SectionStarts], ahead_s: float
) -> list[float]:
    """For each slot, the share of the drawn runs that finish."""
    known = drawn.shares
    for slot, pattern in enumerate(hours.patterns):
        if pattern not in known:
            near = tuple(
                (opens, min(closes, ahead_s)) for opens, closes in pattern if opens < ahead_s
            )
            if near not in known:
                start_s = hours.slots[slot] + SLOT_S / 2
                known[near] = _share(drawn.paths, start_s, hours, behind)
            known[pattern] = known[near]
    return [known[pattern] for pattern in hours.patterns]


def _share(
    paths: Sequence[Path], start_s: float, hours: WorkTime, behind: Mapping[int, SectionStarts]
) -> float:
    through = 0
    for number, path in enumerate(paths, start=1):
        through += gets_through(path, start_s, hours, behind) != NEVER
        if number == FIRST_SAMPLES and through in (0, number):
            return through / number
    return through / len(paths)


def _next(flags: Sequence[bool]) -> list[int]:
    """For each slot, the first safe one at or after it."""
    found = [len(flags)] * (len(flags) + 1)
    for slot in reversed(range(len(flags))):
        found[slot] = slot if flags[slot] else found[slot + 1]
    return found


def _last(flags: Sequence[bool]) -> list[int]:
    """For each slot, the last safe one at or before it."""
    found, last = [], -1
    for slot, flag in enumerate(flags):
        last = slot if flag else last
        found.append(last)
    return [*found, last]


def latest_starts(
    chain: Chain, sections: Mapping[int, SectionStarts], hours: WorkTime, due_s: float
) -> dict[int, float]:
    """For each step that begins at rest, the latest start that makes the due date, by the plan.

    Args:
        chain: the part's chain.
        sections: what is known about its sections.
        hours: when you work.
        due_s: when it must be done.

    Returns:
        Seconds, by the step's index; minus ``NEVER`` for a section without a safe start.
    """
    latest: dict[int, float] = {}
    by_s = due_s
    for first in reversed(chain.rests):
        section = sections[first]
        start_s = _latest(section, hours, by_s, sections)
        latest[first] = start_s
        rests_before = chain.links[first - 1].rest_s if first else None
        by_s = start_s - (rests_before or 0)
    # a detour that is never planned is scheduled like the step it leads to
    for first in chain.rests:
        latest.setdefault(first, min(latest.values(), default=due_s))
    return latest


def allowing_for_failures(chain: Chain, latest: Mapping[int, float]) -> dict[int, float]:
    """Latest starts that are earlier by the time which failed checks are expected to cost.

    A far send-back costs what the plan takes from where it leads to up to the next rest.

    Args:
        chain: the part's chain.
        latest: its latest starts by the plan.
    """
    steps = sorted(latest)
    found: dict[int, float] = {}
    cost_s = 0.0
    after_s = latest[steps[-1]] if steps else 0.0
    for first, end in reversed([*pairwise([*steps, len(chain.links)])]):
        for link in chain.links[first:end]:
            for answer in (answer for look in link.looks for answer in look.answers if answer.far):
                back_s = latest[steps[max(0, bisect_right(steps, answer.to) - 1)]]
                if back_s != -NEVER and after_s != -NEVER:
                    cost_s += answer.expect * max(0.0, after_s - back_s)
        found[first] = latest[first] - cost_s
        after_s = latest[first]
    return found


def _latest(
    section: SectionStarts, hours: WorkTime, by_s: float, behind: Mapping[int, SectionStarts]
) -> float:
    slot = bisect_right(hours.slots, by_s) - 1
    lowest = bisect_left(hours.slots, by_s - 28 * 86_400)
    while slot >= lowest:
        if section.next_safe[slot] == slot:
            start_s = float(hours.slots[slot])
            end_s = gets_through(section.plain, start_s, hours, behind)
            if end_s <= by_s:
                return start_s
        slot -= 1
    return -NEVER
