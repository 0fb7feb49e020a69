"""The planning problem in whole seconds, independent of recipes.

The rules (every module of this package keeps them, ``check`` proves them):

- A part follows its route: move 0, dwell 0, move 1, dwell 1, ... and a last move that
  takes it away. It leaves a station when its move begins and enters the next one when
  the move ends, so it is in the hands in between and waits only in stations.
- A dwell lasts at least ``min_s`` and at most ``max_s``, if there is one.
- A station never holds more than ``holds`` parts, and a full one is emptied *before* the
  next part goes in: pulling and loading in the same second is not possible. With one pair of hands
  this means that the freeing move has ended before the bringing one begins.
- One pair of hands makes one move at a time and needs the walk from where its last move
  ended to where the next begins. Walks without a given time take none.
- No move overlaps an away window ``[from_s, to_s)``.
- No part is in a place while it is closed, and no move into it begins then, because a place must be
  ready before a part leaves for it.
- A part with ``after`` begins its first move when those parts are done.

All times count from the same zero; ``Problem.now_s`` is the present.
"""

from __future__ import annotations

from collections.abc import Callable

from benchtimer.values import dataclass, replace

ENDLESS_S = 10**9
"""An away window up to here has no end: nothing is planned after it."""


FAR_ROOM_S = 4 * 3600
"""A max this far past target is far: common practice, no source."""


class ProblemError(ValueError):
    """A problem that contradicts itself: the subject, what was found, the way out."""

    def __init__(self, subject: str, found: str, way_out: str) -> None:
        super().__init__(subject, found, way_out)
        self.subject = subject
        self.found = found
        self.way_out = way_out

    def __str__(self) -> str:
        return f"{self.subject}: {self.found}; {self.way_out}"


@dataclass(frozen=True, slots=True)
class Heating:
    """How a place is heated, and what it needs from time to time.

    Attributes:
        heat_up_s: from cold to ready.
        after_s: time at heat after which it is made up; None: never.
        cool_s: how long it cools first.
        hands_s: how long you work on it then.
        ready_s: when it is or was ready, if known; otherwise it is cold.
        due_s: when its next make-up is due, if known.
    """

    heat_up_s: int
    after_s: int | None = None
    cool_s: int = 0
    hands_s: int = 0
    ready_s: int | None = None
    due_s: int | None = None


@dataclass(frozen=True, slots=True)
class PlanStation:
    """A place with ``holds`` slots; when it is out of service, parts can leave it but none can
    enter.

    ``closed`` are the spans in seconds in which no part may be in it: while it heats, cools or is
    made up. A part may leave in the second it closes; a move into it may begin in the second it
    opens. ``heating`` says how it is heated; the planner turns that into closed spans.
    """

    name: str
    holds: int = 1
    in_service: bool = True
    closed: tuple[tuple[int, int], ...] = ()
    heating: Heating | None = None


def room_s(target_s: int, max_s: int | None) -> int:
    """Seconds from target to max if time past target matters; 0 if it does not.

    It does not matter without a max, or if the max is far.
    """
    far_s = 0 if max_s is None else max_s - target_s
    return far_s if far_s < FAR_ROOM_S else 0


@dataclass(frozen=True, slots=True)
class DwellLimits:
    """Unattended time at a station, in seconds; ``max_s`` None means no upper limit."""

    station: str
    min_s: int
    max_s: int | None = None
    target_s: int | None = None
    step: str = ""

    @property
    def wished_s(self) -> int:
        """The dwell to come closest to: ``target_s``, or ``min_s`` if there is no target."""
        return self.min_s if self.target_s is None else self.target_s

    @property
    def room_s(self) -> int:
        """Seconds from target to max if time past target matters; 0 if it does not."""
        return room_s(self.wished_s, self.max_s)


@dataclass(frozen=True, slots=True)
class Move:
    """The hands-on work between two dwells: ``hands_s`` seconds over one or more steps.

    ``step_s`` are the seconds of each step, which vary independently when a plan is tried with
    varied hands-on times. Left empty, the move is one piece of work. ``from_station`` of a first
    move and ``to_station`` of a last one may be None: the part comes from, or goes to, nowhere that
    matters. Elsewhere None means "the station of the dwell on that side".
    """

    hands_s: int
    steps: tuple[str, ...] = ()
    from_station: str | None = None
    to_station: str | None = None
    step_s: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Route:
    """Moves and the dwells between them: always one more move than dwells."""

    name: str
    moves: tuple[Move, ...]
    dwells: tuple[DwellLimits, ...]

    def came_from(self, move: int) -> str | None:
        """The station from which move number ``move`` takes the part."""
        return self.dwells[move - 1].station if move else self.moves[0].from_station

    def goes_to(self, move: int) -> str | None:
        """The station into which move number ``move`` puts the part."""
        if move < len(self.dwells):
            return self.dwells[move].station
        return self.moves[move].to_station

    def leads_to(self, move: int) -> str:
        """The step that the move leads into; ``done`` for the last move."""
        if move == len(self.dwells):
            return "done"
        return self.dwells[move].step or self.dwells[move].station

    def with_dwell(self, number: int, dwell: DwellLimits) -> Route:
        """The route with other limits for one dwell."""
        return replace(self, dwells=(*self.dwells[:number], dwell, *self.dwells[number + 1 :]))


@dataclass(frozen=True, slots=True)
class PlanPart:
    """One workpiece: its route, when it is available, and how far along it is.

    ``moves_made`` counts finished moves. A part between two moves during a run has the time it
    entered its dwell (``entered_s``, usually in the past). A part in the hands has the remaining
    time of its move (``moving_s``). A held part keeps its slot and is not planned. ``after`` names
    the parts that must be done before the first move of this one begins (a join). ``run`` is its
    run; with several runs ``name`` is ``RUN:PART``, so names differ.
    """

    name: str
    route: Route
    release_s: int = 0
    moves_made: int = 0
    entered_s: int | None = None
    moving_s: int | None = None
    held: bool = False
    after: tuple[str, ...] = ()
    run: str = ""

    @property
    def is_done(self) -> bool:
        """Whether no moves are left."""
        return self.moves_made >= len(self.route.moves)

    @property
    def is_under_way(self) -> bool:
        """Whether it has begun and is not done."""
        return not self.is_done and (self.moves_made > 0 or self.moving_s is not None)

    @property
    def station(self) -> str | None:
        """The part's present station; None before the first move, in the hands or done."""
        if self.entered_s is None or self.moving_s is not None or self.is_done:
            return None
        return self.route.dwells[self.moves_made - 1].station


@dataclass(frozen=True, slots=True)
class Walk:
    """Seconds to walk empty-handed from one station to another; the way back can differ."""

    from_station: str
    to_station: str
    walk_s: int


@dataclass(frozen=True, slots=True)
class AwayTime:
    """A time you are away: no move overlaps ``[from_s, to_s)``."""

    from_s: int
    to_s: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the planner knows. ``hands_at`` is where the (only) pair of hands is now."""

    stations: tuple[PlanStation, ...]
    parts: tuple[PlanPart, ...]
    walks: tuple[Walk, ...] = ()
    away: tuple[AwayTime, ...] = ()
    hands: int = 1
    now_s: int = 0
    hands_at: str | None = None

    def station(self, name: str) -> PlanStation:
        """The station with that name (KeyError if there is none)."""
        for station in self.stations:
            if station.name == name:
                return station
        raise KeyError(name)

    def with_dwells(self, change: Callable[[DwellLimits], DwellLimits]) -> Problem:
        """The problem with every dwell changed; parts that share a route share the new one."""
        shared = {id(part.route): part.route for part in self.parts}
        routes = {
            key: replace(route, dwells=tuple(map(change, route.dwells)))
            for key, route in shared.items()
        }
        parts = tuple(replace(part, route=routes[id(part.route)]) for part in self.parts)
        return replace(self, parts=parts)
