"""What to do next: one action for each part and station, the most pressing first.

Pure: the same bench, time and advice give the same agenda. The advice is the planner's
begin of each part's next move; without it the earliest deadline rules, and parts not yet
begun are spaced so that they don't queue in front of the slowest station.

Rules of order:
0. A part whose window closes within a minute, or has closed, goes before everything: late
   out of a tank is spoiled, and what is in the hands can be put down.
1. Work in hand comes next: there is one pair of hands, and a wet part in them.
2. Then parts in the middle of a move: nothing waits in the air.
3. Then what is due, the earliest end of its window first.
4. Then what will be due, in order of time. Without advice, a part not begun yet waits for
   what falls due while it would be worked on.
5. With advice, the plan's order goes before the windows' ends in rule 3: it has weighed them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from benchtimer.recipe.model import Caution, Check, Recipe, Step
from benchtimer.run import commands as c
from benchtimer.run.state import OVER, Bench, Part, PartPhase, Place, RunPhase

FAR_MS = 2**62
"""A time that never comes."""

GEAR_S = 120
"""A caution is shown this long before the work it guards: gear takes time to put on."""

CRITICAL_S = 60
"""A window that closes within this time goes before work in hand."""

AGAIN_S = 120
"""A bath out of its window is read again this often, until it is back."""

LOOK_S = 60
"""A reading is asked for this long before the part is lifted for it."""


class ActionKind(StrEnum):
    """What kind of thing is to be done."""

    START = "start"
    RESUME = "resume"
    CAUTION = "caution"
    READING = "reading"
    BEGIN = "begin"
    ANSWER = "answer"
    FINISH = "finish"
    COMPLETE = "complete"


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do.

    Attributes:
        due_ms: when it should be done.
        earliest_ms: before this it is too early (the dwell's ``least``).
        latest_ms: after this it is too late (the dwell's ``most``), if there is such a time.
        move_s: how long the hands will be busy, by the recipe.
        index: index of the step the work belongs to; None for the last lift of a part.
        command: what confirming it asks of the engine; None where an answer is needed.
        blocked: what stands in the way, in words.
    """

    kind: ActionKind
    due_ms: int
    part: str | None = None
    index: int | None = None
    earliest_ms: int = 0
    latest_ms: int | None = None
    move_s: int = 0
    from_station: str | None = None
    to_station: str | None = None
    check: Check | None = None
    caution: Caution | None = None
    command: c.Command | None = None
    blocked: str | None = None
    rank: int = 3

    def is_due(self, now_ms: int) -> bool:
        """Time to do it."""
        return self.blocked is None and now_ms >= self.due_ms

    def is_late(self, now_ms: int) -> bool:
        """The window has closed."""
        return self.latest_ms is not None and now_ms > self.latest_ms


def agenda(
    bench: Bench, now_ms: int, advice: Mapping[str, int] | None = None
) -> tuple[Action, ...]:
    """All open actions, the next one first.

    Args:
        bench: the run's bench.
        now_ms: bench time.
        advice: bench time at which the planner wants each part's next move to begin.
    """
    if bench.phase in OVER:
        return ()
    if bench.phase is RunPhase.IDLE:
        return (Action(ActionKind.START, now_ms, command=c.Start(), rank=0),)
    if bench.phase is RunPhase.HELD:
        resume = Action(ActionKind.RESUME, now_ms, command=c.Resume(None), rank=2)
        inside = [p for p in bench.parts.values() if p.phase is PartPhase.DWELLING]
        held = [_held(bench, part) for part in inside]
        return tuple(sorted([resume, *held], key=lambda a: _urgency(a, now_ms, planned=False)))
    if all(part.is_out for part in bench.parts.values()):
        return (Action(ActionKind.COMPLETE, now_ms, command=c.Complete(), rank=0),)
    told = advice or {}
    actions = [*_part_actions(bench, now_ms, told), *_station_readings(bench)]
    actions = [a if a.part in told else _after_what_falls_due(a, actions, now_ms) for a in actions]
    return tuple(sorted(_unique(actions), key=lambda a: _urgency(a, now_ms, bool(told))))


def _urgency(action: Action, now_ms: int, planned: bool) -> tuple[int, int, int, int]:
    latest = action.latest_ms if action.latest_ms is not None else FAR_MS
    critical = latest - CRITICAL_S * 1000 <= now_ms and action.kind is not ActionKind.READING
    if action.blocked is None and critical:
        return (0, latest, action.due_ms, action.move_s)
    if action.blocked is not None:
        return (5, action.due_ms, latest, action.move_s)
    if action.rank != 3:
        return (action.rank, action.due_ms, latest, action.move_s)
    if now_ms >= action.due_ms and not planned:
        return (3, latest, action.due_ms, action.move_s)
    if now_ms >= action.due_ms:
        return (3, action.due_ms, latest, action.move_s)
    return (4, action.due_ms, latest, action.move_s)


def _part_actions(bench: Bench, now_ms: int, advice: Mapping[str, int]) -> Iterator[Action]:
    for part in bench.parts.values():
        if part.is_out:
            continue
        if part.held is not None:
            yield _held(bench, part)
            continue
        if part.phase is PartPhase.IN_HAND:
            yield _in_hand(bench, part)
        else:
            yield _next_move(bench, part, now_ms, advice)


def _held(bench: Bench, part: Part) -> Action:
    """What a part on hold needs: chemistry goes on, so it can be lifted; else a decision.

    The lift begins nothing. A decision comes after everything else.
    """
    if part.phase is PartPhase.DWELLING:
        lift = Action(
            ActionKind.BEGIN,
            part.since_ms,
            part.name,
            part.step,
            from_station=part.station,
            command=c.TakeOut(part.name),
        )
        return _timed(bench, part, lift, {})
    command = c.Resume(part.name)
    return Action(ActionKind.RESUME, part.touched_ms, part.name, command=command, rank=6)


def action_for(bench: Bench, part: Part, now_ms: int) -> Action | None:
    """What can be done with one part now, readings that are due left aside."""
    if part.is_out or bench.phase is not RunPhase.RUNNING:
        return None
    if part.held is not None:
        return _held(bench, part)
    if part.phase is PartPhase.IN_HAND:
        return _in_hand(bench, part)
    return _next_move(bench, part, now_ms, {}, reading=False)


def _in_hand(bench: Bench, part: Part) -> Action:
    step = bench.step_of(part)
    due_ms = part.since_ms + step.hands_s * 1000
    base = Action(
        ActionKind.FINISH,
        due_ms,
        part.name,
        part.step,
        move_s=step.hands_s,
        to_station=step.at if step.dwell is not None else None,
        command=c.Finish(part.name),
        rank=1,
    )
    checks = bench.open_checks(part)
    if checks:
        return replace(base, kind=ActionKind.ANSWER, check=checks[0], command=None)
    if step.dwell is not None and step.at is not None:
        return replace(base, blocked=obstacle(bench, part, step.at))
    return base


def _next_move(
    bench: Bench, part: Part, now_ms: int, advice: Mapping[str, int], *, reading: bool = True
) -> Action:
    recipe = bench.recipe_of(part)
    index = bench.next_index(part)
    move = move_steps(recipe, index) if index is not None else []
    action = Action(
        ActionKind.BEGIN,
        now_ms,
        part.name,
        index,
        move_s=sum(step.hands_s for step in move),
        from_station=part.station,
        to_station=move[-1].at if move and move[-1].dwell is not None else None,
        command=c.Begin(part.name),
    )
    action = _timed(bench, part, action, advice)
    return _with_what_comes_before(bench, part, action, move, now_ms if reading else None)


def _timed(bench: Bench, part: Part, action: Action, advice: Mapping[str, int]) -> Action:
    step = bench.step_of(part)
    if part.phase is PartPhase.DWELLING and step.dwell is not None:
        dwell = step.dwell
        most = dwell.most_s
        action = replace(
            action,
            due_ms=part.since_ms + dwell.aim_s * 1000,
            earliest_ms=part.since_ms + dwell.least_s * 1000,
            latest_ms=part.since_ms + most * 1000 if most is not None else None,
        )
        if part.name in advice:  # the planner moves dwells inside their window, never out of it
            due = max(advice[part.name], action.earliest_ms)
            latest = action.latest_ms
            due = min(due, latest) if latest is not None else due
            action = replace(action, due_ms=due)
        return action
    if part.began_ms is not None:
        return replace(action, due_ms=part.since_ms, rank=2)
    due = advice.get(part.name, _spaced_start(bench, part))
    due = max(due, part.not_before_ms or 0)
    return replace(action, due_ms=due)


def _with_what_comes_before(
    bench: Bench, part: Part, action: Action, move: list[Step], reading_ms: int | None
) -> Action:
    """A full tank, a caution or a reading stands before the work itself.

    ``reading_ms`` is the time by which readings count as due; None leaves them aside.
    """
    # The work begins at the first station and ends at the last; both need a free place.
    for station in (move[0].at if move else None, action.to_station):
        if station is not None and action.blocked is None:
            action = replace(action, blocked=obstacle(bench, part, station))
    for offset, step in enumerate(move):
        cautions = bench.open_cautions(part, (action.index or 0) + offset)
        if cautions:
            acknowledge = c.Acknowledge(cautions[0].title)
            return replace(
                action,
                kind=ActionKind.CAUTION,
                caution=cautions[0],
                command=acknowledge,
                due_ms=action.due_ms - GEAR_S * 1000,
            )
        place = bench.places.get(step.at or "")
        if place is None or reading_ms is None:
            continue
        if reading_due_ms(place) <= max(action.due_ms, reading_ms):
            return replace(
                action,
                kind=ActionKind.READING,
                to_station=step.at,
                command=None,
                blocked=None if action.blocked == out_of_window(place) else action.blocked,
                due_ms=max(action.due_ms - LOOK_S * 1000, reading_due_ms(place)),
            )
    return action


def _station_readings(bench: Bench) -> Iterator[Action]:
    """Readings on the station's rhythm while parts are in it, or it is out of its window."""
    for name, place in bench.places.items():
        inside = bench.inside(name)
        if place.station.temperature is None or not (inside or out_of_window(place)):
            continue
        due_ms = reading_due_ms(place)
        if due_ms < FAR_MS:
            due_ms = max([due_ms, *[min(part.since_ms for part in inside)]] if inside else [due_ms])
            yield Action(ActionKind.READING, due_ms, to_station=name)


def reading_due_ms(place: Place) -> int:
    """When a station should be read next: never read, on its rhythm, or out of its window."""
    window = place.station.temperature
    if window is None:
        return FAR_MS
    if place.reading is None:
        return 0
    every_s = window.every_s
    if place.reading.verdict != "in":
        every_s = min(every_s or AGAIN_S, AGAIN_S)
    return place.reading.t_ms + every_s * 1000 if every_s is not None else FAR_MS


def _unique(actions: list[Action]) -> Iterator[Action]:
    """One reading of a station at a time, due since the first one that can be taken is.

    A full tank keeps a part out, but not the thermometer: the reading that its own rhythm asks
    for must not hide behind one that a waiting part would need. Nor may it hide the part: it is
    taken for the one that can wait least.
    """
    readings: dict[str | None, list[Action]] = {}
    for action in actions:
        if action.kind is ActionKind.READING:
            readings.setdefault(action.to_station, []).append(action)
        else:
            yield action
    for told in readings.values():
        free = [action for action in told if action.blocked is None] or told
        first = min(free, key=lambda a: (a.rank, a.due_ms))
        meant = min(first, *told, key=_closes_ms)
        due_ms = min(action.due_ms for action in free)
        yield replace(meant, due_ms=due_ms, rank=first.rank, blocked=first.blocked)


def _closes_ms(action: Action) -> int:
    return action.latest_ms if action.latest_ms is not None else FAR_MS


def _after_what_falls_due(action: Action, others: list[Action], now_ms: int) -> Action:
    """A part not begun yet starts only when no other move falls due during its first one."""
    if action.rank != 3 or action.from_station is not None or action.part is None:
        return action
    start = max(action.due_ms, now_ms)
    for other in sorted(others, key=lambda a: a.due_ms):
        if other.from_station is None or other.blocked is not None:
            continue
        ends = other.due_ms + other.move_s * 1000
        if other.due_ms < start + action.move_s * 1000 and ends > start:
            start = ends
    return replace(action, due_ms=start) if start > max(action.due_ms, now_ms) else action


def _spaced_start(bench: Bench, part: Part) -> int:
    """When a part that has not been begun should be: spaced by the slowest station."""
    begun = [p.began_ms for p in bench.parts.values() if p.began_ms is not None]
    waiting = [p for p in bench.parts.values() if p.began_ms is None and not p.is_out]
    turn = waiting.index(part)
    spacing_ms = spacing_s(bench, bench.recipe_of(part)) * 1000
    if not begun:
        return bench.touched_ms + turn * spacing_ms
    return max(begun) + (turn + 1) * spacing_ms


def spacing_s(bench: Bench, recipe: Recipe) -> int:
    """Seconds between the starts of equal parts that neither hands nor a station can undercut.

    The hands need all the work of one part; a station with fewer places than parts needs a
    dwell with the moves around it, shared by its places. This is the usual lower bound of a
    steady line, not a plan.
    """
    live = sum(not part.is_out for part in bench.parts.values())
    needs = [sum(step.hands_s for step in recipe.step)]
    for index, step in enumerate(recipe.step):
        if step.dwell is None or step.at is None:
            continue
        holds = bench.places[step.at].station.holds
        if holds < live:
            out = recipe.step[index + 1].hands_s if index + 1 < len(recipe.step) else 0
            needs.append(-(-(step.hands_s + step.dwell.aim_s + out) // holds))
    return max(needs)


def move_steps(recipe: Recipe, index: int) -> list[Step]:
    """The steps of one move: hands-on work from ``index`` up to and with the next dwell's."""
    move = []
    for step in recipe.step[index:]:
        move.append(step)
        if step.dwell is not None:
            break
    return move


def obstacle(bench: Bench, part: Part, station: str) -> str | None:
    """What keeps a part out of a station, in words; None if nothing does."""
    place = bench.places[station]
    if place.closed is not None:
        return f"{place.station.title} is out of service"
    others = [p.name for p in bench.inside(station) if p.name != part.name]
    if len(others) >= place.station.holds:
        return f"{place.station.title} is full: {', '.join(others)}"
    return out_of_window(place)


def out_of_window(place: Place) -> str | None:
    """What is wrong with a station's last reading, in words; None if nothing is.

    The engine keeps parts out above a ceiling only. The agenda also waits for a bath that is
    merely too hot or too cool: the maker may go ahead all the same.
    """
    if place.reading is None or place.reading.verdict == "in":
        return None
    wrong = "too cool" if place.reading.verdict == "low" else "too hot"
    return f"{place.station.title} reads {place.reading.quantity}, {wrong}"
