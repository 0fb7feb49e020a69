"""The next action of one part: a pull, a load, a question, or what must come before it."""

from __future__ import annotations

from benchtimer.recipe.model import Recipe, Step
from benchtimer.run import commands as c
from benchtimer.run.actions import NO_PLAN, Action, ActionKind, PlanTimes, Rank
from benchtimer.run.ahead import ready_ahead_ms
from benchtimer.run.guards import (
    TIGHT_S,
    closed_ahead,
    is_one_press,
    is_safe,
    joined_steps,
    makes_safe,
    may_stay,
    move_steps,
    obstacle,
    open_pages,
)
from benchtimer.run.readiness import FAR_MS, bad_reading, leaves_at_ms
from benchtimer.run.run_state import Bench, Part, PartPhase, Place, window_of
from benchtimer.run.upkeep import reading_due_ms
from benchtimer.values import replace

GEAR_S = 120
"""A page is shown this long before its work, because gear takes time to put on."""

LOOK_S = 60
"""A reading comes up this long before the part is pulled for it."""

LAST_CALL_S = 120
"""A part that has no place to go to is called this long before its max (the program's own guess).
"""

AHEAD_S = 300
"""On a stretch of hands-on work this short, no part waits wet for a reading: one that would expire
on the way is taken before the part leaves its last safe place. On a longer stretch it might expire
again.
"""


def action_of(
    bench: Bench, part: Part, now_ms: int, plan: PlanTimes, *, reading: bool = True
) -> Action:
    """What comes next for a part that is not out.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
        plan: the planner's times.
        reading: whether readings that are due soon come before the part's own work; a bath that the
            engine requires to be read always comes first.
    """
    if part.held is not None:
        return held_action(bench, part, now_ms)
    if part.phase is PartPhase.IN_HAND:
        return _in_hand(bench, part, now_ms)
    return _next_move(bench, part, now_ms, plan, reading=reading)


def held_action(bench: Bench, part: Part, now_ms: int) -> Action:
    """The action for a part on hold: a pull, because chemistry doesn't stop, or else a decision.

    The pull begins nothing. A decision comes after everything else. If the recipe stopped the part,
    SPACE does not release it, so that habit never passes a crack.

    Args:
        bench: the run's bench.
        part: the part.
        now_ms: bench time.
    """
    if part.phase is PartPhase.DWELLING and not is_safe(bench, part):
        lift = Action(
            ActionKind.BEGIN,
            part.since_ms,
            part.name,
            part.step,
            from_station=part.station,
            command=c.TakeOut(part.name),
        )
        timed = _by_plan(bench, part, lift, NO_PLAN)
        return _out_of_danger(bench, part, timed, timed, now_ms)
    command = None if part.stopped else c.Resume(part.name)
    return Action(ActionKind.RESUME, part.touched_ms, part.name, command=command, rank=Rank.LAST)


def _in_hand(bench: Bench, part: Part, now_ms: int) -> Action:
    joined = joined_steps(bench, part, now_ms)
    step, hands_s = joined[-1], sum(step.hands_s for step in joined)
    base = Action(
        ActionKind.FINISH,
        part.since_ms + hands_s * 1000,
        part.name,
        part.step + len(joined) - 1,
        move_s=hands_s,
        to_station=step.at if step.dwell is not None else None,
        command=c.Finish(part.name, step.id if len(joined) > 1 else None),
        rank=Rank.IN_HAND,
    )
    checks = bench.open_checks(part) if len(joined) == 1 else step.check
    if checks:
        return replace(base, kind=ActionKind.ANSWER, check=checks[0], command=None)
    if step.dwell is not None and step.at is not None:
        return replace(base, blocked=obstacle(bench, part, step.at, now_ms))
    return base


def _next_move(bench: Bench, part: Part, now_ms: int, plan: PlanTimes, *, reading: bool) -> Action:
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
        is_dry=part.station is not None and is_safe(bench, part),
        starts=part.station is None and part.began_ms is None,
        stays=bool(move) and move[0].dwell is None and move[0].at == part.station is not None,
        command=c.Begin(part.name),
    )
    pull = _timed(bench, part, action, now_ms, plan)
    if part.phase is PartPhase.DWELLING and index is not None and is_one_press(recipe, index):
        pull = _with_load(pull, part.name, now_ms)
    action = _with_obstacle(bench, part, pull, move, now_ms)
    action = _after_reading(bench, part, action, move, now_ms, soon=reading)
    action = _after_page(bench, part, action, now_ms)
    return _out_of_danger(bench, part, pull, action, now_ms)


def _with_load(pull: Action, part: str, now_ms: int) -> Action:
    """A pull that is pressed once the part is in its next place.

    The press comes later than the pull by the length of the walk, which must not look like an
    overrun: close to the max it is pressed as the part comes out.
    """
    in_ms = max(pull.due_ms, now_ms) + 2 * pull.move_s * 1000
    if pull.latest_ms is not None and in_ms > pull.latest_ms:
        return pull
    return replace(pull, command=c.Begin(part, loads=True))


def _out_of_danger(bench: Bench, part: Part, pull: Action, ready: Action, now_ms: int) -> Action:
    """A pull out of a bath that is too hot comes at once, and nothing blocks it.

    If its next work can't begin with it, the part is only taken out.

    Args:
        bench: the run's bench.
        part: the part.
        pull: its pull with its time.
        ready: the part's next action otherwise.
        now_ms: bench time.
    """
    window = window_of(bench, part)
    place = bench.places.get(part.station or "")  # an imported run may name one it doesn't have
    if window is None or place is None or is_safe(bench, part):
        return ready
    out_ms = leaves_at_ms(place, window.min_ms)
    if out_ms is None or (out_ms > now_ms and ready.kind is not ActionKind.BEGIN):
        return ready
    due_ms = min(ready.due_ms, out_ms)
    if out_ms > now_ms:
        return replace(ready, due_ms=due_ms)
    begins = ready.kind is ActionKind.BEGIN and ready.blocked is None and not ready.stays
    if begins and now_ms >= ready.earliest_ms:
        return replace(ready, due_ms=due_ms, in_danger=True)
    return replace(
        pull,
        due_ms=due_ms,
        earliest_ms=0,
        to_station=None,
        stays=False,
        command=c.TakeOut(part.name),
        in_danger=True,
    )


def _timed(bench: Bench, part: Part, action: Action, now_ms: int, plan: PlanTimes) -> Action:
    """When the part should leave: by the plan or its dwell, but not before the next bath is hot."""
    action = _by_plan(bench, part, action, plan)
    floor_ms = ready_ahead_ms(bench, part, now_ms, plan)
    if action.latest_ms is not None:
        floor_ms = min(floor_ms, action.latest_ms)
    if floor_ms <= max(action.due_ms, now_ms):
        return action
    return replace(action, due_ms=floor_ms, rank=max(action.rank, Rank.MOVE))


def _by_plan(bench: Bench, part: Part, action: Action, plan: PlanTimes) -> Action:
    window, begin_ms = window_of(bench, part), plan.begin_ms.get(part.name)
    put_off_ms = plan.put_off_ms.get(part.name)
    if window is not None:
        due_ms = window.target_ms
        if begin_ms is not None:  # the planner moves dwells inside their window, never out of it
            due_ms = max(begin_ms, window.min_ms)
            due_ms = min(due_ms, window.max_ms) if window.max_ms is not None else due_ms
        return replace(
            action,
            due_ms=due_ms,
            earliest_ms=window.min_ms,
            latest_ms=window.max_ms,
            begin_ms=begin_ms,
            put_off_ms=put_off_ms,
        )
    if part.began_ms is not None:
        return replace(
            action, due_ms=part.since_ms, rank=Rank.BETWEEN_STATIONS, put_off_ms=put_off_ms
        )
    due_ms = begin_ms if begin_ms is not None else _spaced_start(bench, part)
    due_ms = max(due_ms, part.not_before_ms or 0)
    return replace(action, due_ms=due_ms, begin_ms=begin_ms, put_off_ms=put_off_ms)


def _with_obstacle(
    bench: Bench, part: Part, action: Action, move: list[Step], now_ms: int
) -> Action:
    """Hands-on work from the first station to the last, blocked if the last place is full, or if a
    place on the way is out of service.

    A part past its window is still pulled, because it spoils where it is.
    """
    if action.is_late(now_ms):
        return action
    for station in (move[0].at if move else None, action.to_station):
        found = obstacle(bench, part, station, now_ms) if station is not None else None
        if found is not None:
            return _last_call(bench, part, replace(action, blocked=found), now_ms)
    shut = None if action.index is None else closed_ahead(bench, part, action.index)
    return action if shut is None else replace(action, blocked=shut)


def _last_call(bench: Bench, part: Part, action: Action, now_ms: int) -> Action:
    """Call a pull before its max even if it has no place to go to.

    The part spoils where it is; in your hand it can be rinsed and held.
    """
    latest_ms = action.latest_ms
    if latest_ms is None or is_safe(bench, part) or now_ms < latest_ms - LAST_CALL_S * 1000:
        return action
    due_ms = max(action.due_ms, latest_ms - TIGHT_S * 1000)
    return replace(action, blocked=None, due_ms=due_ms)


def _after_reading(
    bench: Bench, part: Part, action: Action, move: list[Step], now_ms: int, *, soon: bool
) -> Action:
    """A bath to read before the part leaves for it, by the bath's name."""
    if part.phase is PartPhase.DWELLING and not may_stay(bench, part, now_ms):
        return action
    entering = move if may_stay(bench, part, now_ms) else move[:1]
    way_s = 0
    for step in entering:
        way_s += step.hands_s
        place = bench.places.get(step.at or "")
        if place is None or makes_safe(bench, step):
            continue
        due_ms = reading_due_ms(bench, place, now_ms)
        # A reading counts until the last moment of its time, so that the engine still accepts it
        # then.
        goes_in = action.blocked is None and is_safe(bench, part) and way_s <= AHEAD_S
        # A reading never replaces a pull that has just come due: allow a minute for the press.
        goes_ms = (
            max(action.due_ms + LOOK_S * 1000, now_ms) if goes_in else max(action.due_ms, now_ms)
        )
        ahead_ms = way_s * 1000 if goes_in else 0
        if due_ms <= goes_ms + ahead_ms if soon else due_ms < now_ms:
            wrong = action.blocked == bad_reading(place)
            lifts_ms = action.due_ms - LOOK_S * 1000
            if due_ms >= FAR_MS:
                due_ms = lifts_ms
            elif _only_ages(place, due_ms, way_s):
                due_ms = min(due_ms, now_ms)
            return replace(
                action,
                kind=ActionKind.READING,
                to_station=step.at,
                command=None,
                blocked=None if wrong else action.blocked,
                due_ms=max(lifts_ms, due_ms),
            )
    return action


def _only_ages(place: Place, due_ms: int, way_s: int) -> bool:
    """Whether a reading is due only for its age, so that a new one before the part leaves helps.

    A reading that would be too old again on the way is not asked for twice, and a bath that drifts
    out of range is read when it does.
    """
    window, reading = place.station.temperature, place.skipped or place.reading
    if window is None or window.every_s is None or reading is None:
        return False
    return way_s < window.every_s and due_ms == reading.t_ms + window.every_s * 1000


def _after_page(bench: Bench, part: Part, action: Action, now_ms: int) -> Action:
    """A page to read before the part's work, unless the part has to leave first."""
    if part.phase is PartPhase.DWELLING and not is_safe(bench, part):
        latest = action.latest_ms if action.latest_ms is not None else FAR_MS
        if now_ms + TIGHT_S * 1000 > latest:
            return action
    for page in open_pages(bench, part, now_ms):
        return replace(
            action,
            kind=ActionKind.HAZARD,
            hazard=page,
            check=None,
            to_station=None,
            command=c.Acknowledge(page.title),
            due_ms=action.due_ms - GEAR_S * 1000,
        )
    return action


def _spaced_start(bench: Bench, part: Part) -> int:
    """When a part that has not started should start, spaced by the slowest station."""
    begun = [p.began_ms for p in bench.parts.values() if p.began_ms is not None]
    waiting = [p for p in bench.parts.values() if p.began_ms is None and not p.is_out]
    turn = waiting.index(part)
    spacing_ms = spacing_s(bench, bench.recipe_of(part)) * 1000
    if not begun:
        return bench.touched_ms + turn * spacing_ms
    return max(begun) + (turn + 1) * spacing_ms


def spacing_s(bench: Bench, recipe: Recipe) -> int:
    """The shortest interval in seconds between the starts of identical parts.

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
            needs.append(-(-(step.hands_s + step.dwell.target_s + out) // holds))
    return max(needs)
