"""The units of placement: the moves of a part from one rest to the next.

A part rests where a dwell has no max and the place is never full. Time there costs nothing, so the
moves after a rest can be placed separately, just later than the moves before. A part without such a
dwell is one section.
"""

from __future__ import annotations

from math import inf

from benchtimer.plan.instance import FAR_S, NOWHERE, Instance, entry_s, progress
from benchtimer.values import dataclass, field

Link = tuple[int, int]
"""(number of a section, fewest seconds between the end of one and the start of the other)."""


@dataclass(slots=True)
class PartSection:
    """Moves of one part in numbers; dwell k comes before move k.

    Attributes:
        number: of the section.
        part: index into the parts of the problem.
        first: number of its first move in the part's route.
        hands_s: how long each move takes.
        ways: the places that each move connects.
        places: place of the dwell before each move, ``NOWHERE`` if there is none.
        min_s: shortest time of that dwell, and ``max_s`` its longest.
        tail_s: shortest time from the start of each move to the end of the last.
        entered_s: entry of the present dwell, if the part is in one.
        release_s: the first move can't begin before this.
        after: sections that must be done before, of this part and of those it waits for.
        feeds: sections that wait for this one.
    """

    number: int
    part: int
    first: int
    hands_s: list[int]
    ways: list[tuple[int, int]]
    places: list[int]
    min_s: list[int]
    max_s: list[int]
    tail_s: list[int]
    entered_s: int | None
    release_s: int
    after: list[Link] = field(default_factory=list)
    feeds: list[Link] = field(default_factory=list)

    @property
    def deadline_s(self) -> float:
        """When the part must have left its present dwell."""
        return inf if self.entered_s is None else self.entered_s + self.max_s[0]


def places_that_fill(instance: Instance) -> list[bool]:
    """Which places can be full or closed at times; others need no calendar."""
    visits = [0] * (len(instance.capacity) + 1)
    for line in instance.lines:
        for number in {instance.dwell_of[m] for m in range(line.first_m, line.last_m + 1)}:
            visits[number] += len(line.parts)
    return [
        slots < visits[place] or bool(instance.closed[place])
        for place, slots in enumerate(instance.capacity)
    ]


def sections_of(instance: Instance) -> dict[int, PartSection]:
    """The sections of all parts that have a move left, by their numbers."""
    problem = instance.problem
    tight = places_that_fill(instance)
    index = {part.name: i for i, part in enumerate(problem.parts)}
    sections: dict[int, PartSection] = {}
    own: dict[int, list[PartSection]] = {}
    for i, part in enumerate(problem.parts):
        if not part.held and progress(part) < len(part.route.moves):
            own[i] = _cut(instance, i, len(sections), tight)
            sections |= {section.number: section for section in own[i]}
    for i, mine in own.items():
        for name in problem.parts[i].after if not mine[0].first else ():
            other = problem.parts[index[name]]
            if index[name] in own:
                _link(own[index[name]][-1], mine[0], 0)
            # its last move ends without help
            elif other.moving_s is not None and not other.is_done:
                mine[0].release_s = max(mine[0].release_s, problem.now_s + other.moving_s)
    return sections


def _link(before: PartSection, behind: PartSection, lag_s: int) -> None:
    behind.after.append((before.number, lag_s))
    before.feeds.append((behind.number, lag_s))


def _cut(instance: Instance, index: int, number: int, tight: list[bool]) -> list[PartSection]:
    """The sections of one part, linked."""
    problem, places = instance.problem, instance.places
    part = problem.parts[index]
    route, made = part.route, progress(part)
    firsts = [made]
    for n in range(made + 1, len(route.moves)):
        dwell = route.dwells[n - 1]
        if dwell.max_s is None and not tight[places[dwell.station]]:
            firsts.append(n)
    cut: list[PartSection] = []
    for first, end in zip(firsts, [*firsts[1:], len(route.moves)], strict=True):
        section = _section(instance, index, number + len(cut), (first, end))
        if cut:
            section.entered_s = None
            _link(cut[-1], section, route.dwells[first - 1].min_s)
            section.places[0], section.min_s[0], section.max_s[0] = NOWHERE, 0, FAR_S
        cut.append(section)
    return cut


def _section(instance: Instance, index: int, number: int, span: tuple[int, int]) -> PartSection:
    problem, places = instance.problem, instance.places
    part = problem.parts[index]
    route, (first, end) = part.route, span
    ways = []
    for n in range(first, end):
        a, b = route.came_from(n), route.goes_to(n)
        ways.append((NOWHERE if a is None else places[a], NOWHERE if b is None else places[b]))
    dwells = [route.dwells[n - 1] if n else None for n in range(first, end)]
    hands_s = [move.hands_s for move in route.moves[first:end]]
    min_s = [0 if d is None else d.min_s for d in dwells]
    tail_s = hands_s[:]
    for k in reversed(range(len(hands_s) - 1)):
        tail_s[k] += min_s[k + 1] + tail_s[k + 1]
    return PartSection(
        number,
        index,
        first,
        hands_s,
        ways,
        [NOWHERE if d is None else places[d.station] for d in dwells],
        min_s,
        [FAR_S if d is None or d.max_s is None else d.max_s for d in dwells],
        tail_s,
        entry_s(problem, part),
        max(part.release_s, problem.now_s) if not first else problem.now_s,
    )


def with_feeders(sections: dict[int, PartSection], numbers: list[int]) -> list[int]:
    """The sections in order, each after the ones it waits for."""
    if not any(sections[number].after for number in numbers):
        return list(numbers)
    chosen, done, order = set(numbers), set[int](), list[int]()

    def add(number: int) -> None:
        if number not in done:
            done.add(number)
            for other, _ in sections[number].after:
                if other in chosen:
                    add(other)
            order.append(number)

    for number in numbers:
        add(number)
    return order
