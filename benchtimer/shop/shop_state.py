"""The shop: every run on the bench, and what they share. There is one pair of hands and one set of
tanks, so every press is decided and every page drawn from this. A run's own state comes only from
its log; ``Shop.bench`` adds what the other runs mean for it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from benchtimer.recipe.model import Hazard
from benchtimer.run.events import (
    PROGRAM,
    Event,
    HandsChanged,
    HoursChanged,
    Leaving,
    Prepared,
    ReadingTaken,
    StationClosed,
)
from benchtimer.run.guards import check_heat
from benchtimer.run.layout import free_numbers
from benchtimer.run.readiness import is_needed
from benchtimer.run.refusals import BadValue
from benchtimer.run.run_state import (
    OVER,
    Bench,
    Guest,
    OtherHeat,
    Part,
    PartPhase,
    Press,
    RunState,
    TickedItem,
    window_of,
)
from benchtimer.run.setup import PUT_OFF, heat_key, planned_start_ms
from benchtimer.run.surroundings import Elsewhere, Surroundings
from benchtimer.shop.clashes import OpenBath, pages_against
from benchtimer.shop.realplaces import At, real_places
from benchtimer.trade.compatibility import conflicts_within, said
from benchtimer.values import dataclass, field, replace


def unknown(_t_ms: int) -> str:
    """A clock without times of day."""
    return ""


@dataclass(frozen=True)
class RealPlace:
    """A real tank, rack or sink of the shop.

    Attributes:
        name: the same for every run that uses it.
        title: its name on the screen; if two have the same title, it names the run.
        run: the first run that uses it, and ``place`` its id there.
    """

    name: str
    title: str
    run: str
    place: str


@dataclass(frozen=True, eq=False)
class Shop:
    """The runs on the bench.

    Attributes:
        states: the state of each run that is not over, oldest first.
        book: the open baths in the bath book, to keep apart what must not meet.
        clock: writes a bench time as a time of day.
    """

    states: Mapping[str, RunState] = field(default_factory=dict)
    book: Sequence[OpenBath] = ()
    clock: Callable[[int], str] = unknown

    @cached_property
    def _numbers(self) -> dict[tuple[str, str], int]:
        """The number of each part, by run and name: its own, unless an older run has it."""
        taken: set[int] = set()
        found: dict[tuple[str, str], int] = {}
        for run, state in self.states.items():
            for part in state.bench.parts.values():
                number = part.number
                if number in taken:
                    (number,) = free_numbers(frozenset(taken), 1)
                taken.add(number)
                found[run, part.name] = number
        return found

    @cached_property
    def _own(self) -> dict[str, Bench]:
        """Each run's own bench, its parts numbered for the whole bench."""
        return {run: self._numbered(run, state.bench) for run, state in self.states.items()}

    def _numbered(self, run: str, bench: Bench) -> Bench:
        numbers = {name: self._numbers[run, name] for name in bench.parts}
        if all(part.number == numbers[name] for name, part in bench.parts.items()):
            return bench
        parts = {n: replace(part, number=numbers[n]) for n, part in bench.parts.items()}
        return replace(bench, parts=parts)

    @cached_property
    def real(self) -> Mapping[At, str]:
        """The real place for each place of each run."""
        return real_places(self._own)

    @cached_property
    def _users(self) -> Mapping[str, Sequence[At]]:
        users: dict[str, list[At]] = {}
        for at, name in self.real.items():
            users.setdefault(name, []).append(at)
        return users

    @cached_property
    def places(self) -> tuple[RealPlace, ...]:
        """Every real place, in the order of the runs."""
        first = {name: users[0] for name, users in self._users.items()}
        titles = {n: self._own[run].places[at].station.title for n, (run, at) in first.items()}
        places = list(titles.values())
        return tuple(
            RealPlace(n, _apart(titles[n], run, places), run, place)
            for n, (run, place) in first.items()
        )

    def beside(self, run: str, state: RunState) -> Shop:
        """The shop with a run added to the bench, unless it is there already."""
        return self if run in self.states else replace(self, states={**self.states, run: state})

    def before_last(self, runs: Iterable[str]) -> Shop:
        """The shop as it was before the last press that these runs share."""
        before = {run: RunState(self.states[run].past[-1].base) for run in runs}
        return replace(self, states={**self.states, **before})

    def firsts(self, run: str) -> set[str]:
        """The places of a run that no older run uses; the others are reported there."""
        return {place.place for place in self.places if place.run == run}

    @property
    def runs(self) -> list[str]:
        """The runs on the bench, oldest first."""
        return list(self.states)

    @cached_property
    def hands(self) -> int:
        """People who work: as many as the run with the most."""
        return max((state.bench.hands for state in self.states.values()), default=1)

    def bench(self, run: str) -> Bench:
        """A run's bench with what the other runs mean for it."""
        if run not in self._benches:
            self._benches[run] = self.around(run).over(self._own[run])
        return self._benches[run]

    @cached_property
    def _benches(self) -> dict[str, Bench]:
        return {}

    def around(self, run: str) -> Surroundings:
        """What the other runs mean for a run, already on the bench or new.

        Raises:
            KeyError: there is no such run.
        """
        if run not in self._arounds:
            self._arounds[run] = self._around(run)
        return self._arounds[run]

    @cached_property
    def _arounds(self) -> dict[str, Surroundings]:
        return {}

    def _around(self, run: str) -> Surroundings:
        own = self._own[run]
        others = [name for name in self.states if name != run]
        return Surroundings(
            {
                place: elsewhere
                for place in own.places
                if (elsewhere := self._elsewhere(run, place)).places
            },
            tuple(guest for name in others for guest in self._in_hand(name)),
            self.hands,
            self._pages(run),
            frozenset(n for (name, _), n in self._numbers.items() if name != run),
        )

    @property
    def numbers(self) -> frozenset[int]:
        """Every part number in use."""
        return frozenset(self._numbers.values())

    def parts(self) -> Iterator[tuple[str, Part]]:
        """Every part on the bench with its run, in the order of runs."""
        for run, bench in self._own.items():
            for part in bench.parts.values():
                yield run, part

    def parts_of(self, run: str) -> Sequence[Part]:
        """The parts of a run, in the order of their numbers."""
        return tuple(self._own[run].parts.values())

    def numbered(self, number: int) -> tuple[str, str] | None:
        """Run and name of the part with a number."""
        return next((at for at, n in self._numbers.items() if n == number), None)

    def also_read(self, run: str, place: str, now_ms: int) -> Iterator[At]:
        """The places of other runs for which a reading of a run's place also counts.

        A run that no longer needs the place, or only on a later day, has no use for it.

        Args:
            run: the run of the reading.
            place: its place.
            now_ms: bench time.
        """
        for name, there in self._users.get(self.real.get((run, place), ""), ()):
            own = self._own[name]
            is_later = (planned_start_ms(own) or 0) > now_ms
            needs = name != run and is_needed(own, there) and not is_later
            if needs and not self.bench(name).places[there].other_heats:
                yield name, there

    def check_vessels(self, run: str) -> None:
        """Refuse a run that would put what must not meet, or two temperatures, into one vessel.

        Raises:
            BadValue: a place of the run and the same place of another run contain such a pair.
                WrongHeat: another run that has started keeps a place at a different temperature.
        """
        for place, seen in self.bench(run).places.items():
            check_heat(seen, f"Can't set up {seen.station.title}")
            users = self._users[self.real[run, place]]
            held = [c for name, at in users for c in self._own[name].places[at].station.chemistry]
            for conflict in conflicts_within(held):
                title = self._own[run].places[place].station.title
                pair = f"{said(conflict.first)} and {said(conflict.second)}"
                others = ", ".join(name for name, _ in users if name != run)
                raise BadValue(
                    f"Can't set up {title}",
                    f"run {others} uses it: {pair} in one vessel: {conflict.effect}",
                    "Give each recipe a bath of its own",
                )

    def left_behind(self, run: str, t_ms: int) -> dict[str, list[Event]]:
        """What a finished run leaves in the others: places out of service, figures of a mix.

        Args:
            run: the run.
            t_ms: bench time.
        """
        found: dict[str, list[Event]] = {}
        for (name, place), real in self.real.items():
            theirs = [there for user, there in self._users[real] if user == run]
            if name != run and theirs:
                found.setdefault(name, []).extend(
                    self._left_at((name, place), (run, theirs[0]), t_ms)
                )
        return {name: events for name, events in found.items() if events}

    def _left_at(self, at: At, left: At, t_ms: int) -> Iterator[Event]:
        (name, place), (run, there) = at, left
        seen, own = self.bench(name).places[place], self._own[name].places[place]
        same_closing = self._own[run].places[there].closed_ms == seen.closed_ms
        if seen.closed is not None and own.closed is None and same_closing:
            yield StationClosed(press=0, t_ms=t_ms, by=PROGRAM, station=place, reason=seen.closed)
        for key, tick in _ticks(self._own[run].prepared, there, place):
            if key not in self._own[name].prepared and key != heat_key(place):
                yield Prepared(press=0, t_ms=t_ms, by=PROGRAM, item=key, ready=True, said=tick.said)

    def _elsewhere(self, run: str, place: str) -> Elsewhere:
        users = [at for at in self._users[self.real[run, place]] if at[0] != run]
        guests = tuple(guest for name, there in users for guest in self._inside(name, there))
        ticks = {
            mine: tick
            for name, there in users
            for mine, tick in _ticks(self._own[name].prepared, there, place)
        }
        heats = (
            self._heat(name, there) for name, there in users if is_needed(self._own[name], there)
        )
        return Elsewhere(
            tuple(self._own[name].places[there] for name, there in users),
            guests,
            ticks,
            tuple(heat for heat in heats if heat is not None),
        )

    def _heat(self, run: str, place: str) -> OtherHeat | None:
        """The temperature at which a run needs a place; None if any will do."""
        bench, first = self._own[run], next(self._inside(run, place), None)
        window = bench.places[place].station.temperature
        return (
            OtherHeat(run, window, bench.has_begun(), guest=first) if window is not None else None
        )

    def _inside(self, run: str, place: str) -> Iterator[Guest]:
        bench = self._own[run]
        for part in bench.inside(place):
            yield self._guest(run, part)

    def _in_hand(self, run: str) -> Iterator[Guest]:
        for part in self._own[run].parts.values():
            if part.phase is PartPhase.IN_HAND and part.held is None:
                yield self._guest(run, part)

    def _guest(self, run: str, part: Part) -> Guest:
        window = window_of(self._own[run], part)
        hands_ms = part.since_ms + self._own[run].step_of(part).hands_s * 1000
        until_ms = window.target_ms if window is not None else hands_ms
        return Guest(run, part.called, part.number, part.since_ms, until_ms, self.clock(until_ms))

    def _pages(self, run: str) -> tuple[Hazard, ...]:
        others = {name: bench for name, bench in self._own.items() if name != run}
        return pages_against(self._own[run], others, self.book)


ALONE = ""
"""The run of a shop that has only one."""


def alone(bench: Bench) -> Shop:
    """The shop with one run and nothing beside it."""
    return Shop({ALONE: RunState(bench)})


def shop_of(
    states: Mapping[str, RunState],
    book: Sequence[OpenBath] = (),
    clock: Callable[[int], str] = unknown,
) -> Shop:
    """The shop of some runs; those that are over are left out.

    Args:
        states: runs by name, oldest first.
        book: what the bath book has open.
        clock: writes a bench time as a time of day.
    """
    here = {run: state for run, state in states.items() if state.bench.phase not in OVER}
    return Shop(here, book, clock)


def _apart(title: str, run: str, titles: Sequence[str]) -> str:
    return f"{title} (run {run})" if titles.count(title) > 1 else title


def _ticks(
    ticks: Mapping[str, TickedItem], theirs: str, mine: str
) -> Iterator[tuple[str, TickedItem]]:
    """What was checked off of a place's setup, under the keys that another run has for it.

    What was put off in one run is not settled for another.
    """
    for key, tick in ticks.items():
        words, _, place = key.rpartition(" ")
        if place == theirs and tick.said != PUT_OFF:
            yield f"{words} {mine}", tick


def last_press(states: Mapping[str, RunState]) -> tuple[str, Press] | None:
    """The press that undo takes back: the newest of all these runs, with its run."""
    found = [(run, state.past[-1]) for run, state in states.items() if state.past]
    return max(found, key=lambda pair: pair[1].made_ms, default=None)


def next_redo(states: Mapping[str, RunState]) -> str | None:
    """The run in which redo restores a press: nothing was pressed since it was undone."""
    found = [(state.future[-1].made_ms, run) for run, state in states.items() if state.future]
    last = last_press(states)
    undone_ms, run = max(found, default=(-1, None))
    return run if last is None or last[1].made_ms <= undone_ms else None


def also_pressed(states: Mapping[str, RunState], run: str, *, undone: bool = False) -> list[str]:
    """The other runs that the last press of a run was written into.

    It is a reading of a bath they share, or your hours and hands.

    Args:
        states: runs by name.
        run: the run.
        undone: look at the press that was taken back last.
    """
    mine = _shared_press(states[run], undone=undone)
    if mine is None:
        return []
    others = (name for name in states if name != run)
    return [name for name in others if _shared_press(states[name], undone=undone) == mine]


def _shared_press(state: RunState, *, undone: bool) -> tuple[object, ...] | None:
    """What the last press made or taken back has in common across runs;

    None if it is in only one.
    """
    if not (state.future if undone else state.past):
        return None
    press = state.future[-1].press if undone else state.past[-1]
    at_ms, first = state.future[-1].made_ms if undone else 0, press.events[0]
    said: object
    if isinstance(first, ReadingTaken):
        said = first.reading
    elif isinstance(first, Leaving | HoursChanged | HandsChanged):
        said = type(first)
    else:
        return None
    return at_ms, press.made_ms, said
