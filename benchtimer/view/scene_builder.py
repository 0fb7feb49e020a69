"""The scene of the drawn board, from the runs, their agendas and the plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from benchtimer.bench.moment import Moment
from benchtimer.bench.plans import MoveAhead
from benchtimer.bench.wallclock import ShopZone, moment_at
from benchtimer.run.actions import Action, ActionKind
from benchtimer.run.readiness import out_of_window
from benchtimer.run.run_state import Bench, Part, PartPhase, RunPhase, window_of
from benchtimer.store.log import Stamp
from benchtimer.times import countdown, elapsed, ordinal
from benchtimer.view.picture.lane_rows import READ
from benchtimer.view.picture.scene import (
    IN_HAND,
    DwellTimes,
    HandsWork,
    LaneView,
    Level,
    RunLanes,
    Scene,
    Stay,
)
from benchtimer.view.scene_places import RunView, next_reading_ms, place_view, short_name
from benchtimer.view.turns import READ_MS, hands_s, is_not_begun, move_verb, turns_of
from benchtimer.view.words import action_words, at_time, bar_words, clock_time, left_words, verb

FIRST = (ActionKind.READING, ActionKind.HAZARD)
"""Comes before a part's move and is about the place it goes to, not about the part."""

SOON_MS = 600_000
"""Closer than this, a limit is a countdown where there is room for only one time."""


def run_views(moment: Moment, picked: tuple[str, str] | None = None) -> list[RunView]:
    """Every run on the bench, ready to draw.

    Args:
        moment: the bench now.
        picked: run and name of the part picked by hand.
    """
    turns = turns_of(moment)
    pulls = [a for a in moment.actions if a.kind is ActionKind.BEGIN and a.is_late(moment.now_ms)]
    late = {(a.run, a.part or ""): n for n, a in enumerate(pulls, start=1) if len(pulls) > 1}
    return [
        RunView(
            run,
            moment.shop.bench(run),
            [action for action in moment.actions if action.run == run],
            moment.moves(run),
            moment.times(run).put_off_ms,
            picked[1] if picked is not None and picked[0] == run else None,
            {part: t_ms for (of, part), t_ms in turns.parts.items() if of == run},
            {place: t_ms for (of, place), t_ms in turns.readings.items() if of == run},
            {part: turn for (of, part), turn in late.items() if of == run},
        )
        for run in moment.shop.runs
    ]


def make_scene(
    runs: Sequence[RunView],
    stamp: Stamp,
    trouble: Sequence[tuple[Level, str]] = (),
    real: Mapping[tuple[str, str], str] | None = None,
) -> Scene:
    """The scene at a moment.

    Args:
        runs: the open runs.
        stamp: the moment.
        trouble: what is wrong, worst first.
        real: the real place for each place of each run; without it, none are shared.
    """
    users = _users(runs, real or {})
    places = [place_view(name, using, stamp) for name, using in users.items()]
    works = [work for run in runs for work in _hands(run, stamp)]
    works += [work for using in users.values() for work in _readings(using, stamp)]
    hands = sorted(works, key=lambda w: w.start_ms)
    wall = moment_at(stamp.wall_ms, stamp)
    return Scene(
        now_ms=stamp.noted_ms,
        wall=wall.astimezone(ShopZone(stamp)) if wall is not None else None,
        groups=tuple(_group(run, stamp) for run in runs),
        hands=tuple(hands),
        places=tuple(view for view, in_use in places if in_use),
        empty=", ".join(
            f"{v.short} {v.closed or f'0/{v.holds}'}" for v, in_use in places if not in_use
        ),
        trouble=tuple(trouble),
    )


def _users(
    runs: Sequence[RunView], real: Mapping[tuple[str, str], str]
) -> dict[str, list[tuple[RunView, str]]]:
    """Every real place, with the runs that use it and its id in each."""
    users: dict[str, list[tuple[RunView, str]]] = {}
    for run in runs:
        for place in run.bench.places:
            users.setdefault(real.get((run.name, place), f"{run.name}/{place}"), []).append(
                (run, place)
            )
    return users


def _group(run: RunView, stamp: Stamp) -> RunLanes:
    parts = [part for part in run.bench.parts.values() if not part.is_out]
    begun = [part for part in parts if not is_not_begun(part)]
    waiting = tuple(_waiting(run, part, stamp) for part in parts if is_not_begun(part))
    phase = run.bench.phase
    words = "" if phase is RunPhase.RUNNING else f" ({phase.value})"
    title = f"{run.bench.title}{words}"
    return RunLanes(title, tuple(_lane(run, part, stamp) for part in begun), waiting)


def _waiting(run: RunView, part: Part, stamp: Stamp) -> tuple[str, str]:
    """A part not begun, with its own next action, so that no time could be another part's."""
    action = _action(run, part)
    if action is None:
        planned = next((move for move in run.ahead(part.name, stamp.noted_ms)), None)
        if planned is None or planned.start_ms <= stamp.noted_ms:
            return part.label, "waits"
        return part.label, f"{move_verb(run.bench, part)} {at_time(planned.start_ms, stamp)}"
    if action.due_ms <= stamp.noted_ms:
        return part.label, "waits" if action.blocked is not None else f"{verb(action)} NOW"
    return part.label, f"{verb(action)} {at_time(action.due_ms, stamp)}"


def _action(run: RunView, part: Part) -> Action | None:
    """The part's next action: its own work, or what must come before that."""
    return next((action for action in run.actions if action.part == part.name), None)


def _lane(run: RunView, part: Part, stamp: Stamp) -> LaneView:
    bench, now_ms = run.bench, stamp.noted_ms
    action = _action(run, part)
    window = _window(bench, part)
    moves = run.ahead(part.name, now_ms)
    by_ms = _by_ms(run, part, window)
    by = clock_time(by_ms, stamp) if by_ms is not None else ""
    left = _left(bench, part, action, moves, stamp)
    if left == "LATE" and part.name in run.late:
        left = f"DO {ordinal(run.late[part.name])}"
    own = action is not None and action.kind not in FIRST
    ahead = move_verb(bench, part) if left.startswith("in ") else ""
    does = verb(action) if own and action is not None else ahead
    return LaneView(
        number=part.number,
        name=part.called,
        place=IN_HAND if _is_stuck(part, action) else _place_name(bench, part.station),
        verb=does,
        left=left,
        by=_out_words(bench, part, action, by) or _by_words(part, window, by_ms, by, now_ms),
        by_short=_by_short(part, window, by_ms, by, now_ms),
        level=_level(bench, part, action, now_ms),
        tries=bench.try_number(part),
        window=window,
        pull_ms=_pull_ms(run, part, action, moves, now_ms),
        works=tuple(_works(bench, part, moves, now_ms)),
        stays=tuple(_stays(bench, part, moves)),
        picked=part.name == run.picked,
    )


def _is_stuck(part: Part, action: Action | None) -> bool:
    """Whether a part was taken out and its next work or place is not open yet."""
    works = part.phase is PartPhase.IN_HAND and action is not None and action.blocked is None
    return part.is_in_hand and not works


def _out_words(bench: Bench, part: Part, action: Action | None, by: str) -> str:
    """Until when a part in hand can stay out, and what keeps it from its next place.

    Args:
        bench: the run's bench.
        part: the part.
        action: its next action.
        by: until when its next move keeps every window; empty if there is no limit.
    """
    if not _is_stuck(part, action):
        return ""
    limit = f"latest {by}" if by else ""
    why = bar_words(bench, action)
    for place in bench.places.values():
        why = why.replace(f"{place.station.title} is ", f"{short_name(place.station)} ")
    return ", ".join(words for words in (limit, why) if words)


def _pull_ms(
    run: RunView, part: Part, action: Action | None, moves: Sequence[MoveAhead], now_ms: int
) -> int | None:
    """When a part is pulled: at its turn, or by the plan, or when it is due."""
    if part.phase is not PartPhase.DWELLING:
        return None
    if action is None or action.kind is not ActionKind.BEGIN:
        return moves[0].start_ms if moves else None
    turn_ms = run.turns.get(part.name, now_ms)
    return turn_ms if turn_ms > now_ms else action.due_ms


def _place_name(bench: Bench, place: str | None) -> str:
    return short_name(bench.places[place].station) if place is not None else ""


def _window(bench: Bench, part: Part) -> DwellTimes | None:
    window = window_of(bench, part)
    if window is None:
        return None
    return DwellTimes(window.since_ms, window.min_ms, window.target_ms, window.max_ms)


def _by_ms(run: RunView, part: Part, window: DwellTimes | None) -> int | None:
    """How long the part's move can wait and still keep every window."""
    ends = [run.latest_ms.get(part.name), window.max_ms if window is not None else None]
    return min((t for t in ends if t is not None), default=None)


def _left(
    bench: Bench, part: Part, action: Action | None, moves: Sequence[MoveAhead], stamp: Stamp
) -> str:
    now_ms = stamp.noted_ms
    if _rests(part, action):
        return "HELD"
    if part.phase is PartPhase.IN_HAND:
        usual = countdown(hands_s(bench, part, now_ms))
        return f"{elapsed((now_ms - part.since_ms) / 1000)} of {usual}"
    if part.phase is PartPhase.WAITING:
        return f"waits {elapsed((now_ms - part.touched_ms) / 1000)}"
    due_ms = action.due_ms if action is not None else now_ms
    if action is None or action.kind in FIRST:
        if action is not None and (action.is_due(now_ms) or not moves):
            return action_words(bench, action)
        due_ms = moves[0].start_ms if moves else now_ms
        return f"in {countdown((due_ms - now_ms) / 1000)}" if due_ms > now_ms else ""
    if now_ms < due_ms:
        return f"in {countdown((due_ms - now_ms) / 1000)}"
    return "LATE" if action.is_late(now_ms) else "NOW"


def _level(bench: Bench, part: Part, action: Action | None, now_ms: int) -> Level:
    """Late, due or in a bath out of range, or calm."""
    if action is not None and action.is_late(now_ms):
        return Level.LATE
    due = action is not None and action.is_due(now_ms) and not _rests(part, action)
    in_bad_bath = part.station is not None and out_of_window(bench.places[part.station]) is not None
    return Level.NOW if due or in_bad_bath else Level.CALM


def _rests(part: Part, action: Action | None) -> bool:
    """Whether a held part needs only a decision; from a bath it still has to be pulled."""
    return part.held is not None and (action is None or action.kind is ActionKind.RESUME)


def _by_words(
    part: Part, window: DwellTimes | None, by_ms: int | None, by: str, now_ms: int
) -> str:
    if window is not None and window.max_ms is not None and now_ms > window.max_ms:
        return f"{elapsed((now_ms - window.max_ms) / 1000)} past max"
    if part.held is not None:
        return f"held: {part.held}"
    if by_ms is None or part.phase is PartPhase.IN_HAND:
        return ""
    return f"{_limit(window, by_ms)} {by}, {left_words(by_ms - now_ms)} left"


def _limit(window: DwellTimes | None, by_ms: int) -> str:
    """What ends a part's wait: its max, at the end of its bar, or sooner, another part's limit."""
    is_max = window is not None and window.max_ms is not None and by_ms >= window.max_ms
    return "max" if is_max else "latest"


def _by_short(
    part: Part, window: DwellTimes | None, by_ms: int | None, by: str, now_ms: int
) -> str:
    if window is not None and window.max_ms is not None and now_ms > window.max_ms:
        return f"max +{elapsed((now_ms - window.max_ms) / 1000)}"
    if by_ms is None or part.phase is PartPhase.IN_HAND or part.held is not None:
        return ""
    soon = by_ms - now_ms < SOON_MS
    return f"{_limit(window, by_ms)} {f'in {left_words(by_ms - now_ms)}' if soon else by}"


def _works(
    bench: Bench, part: Part, moves: Sequence[MoveAhead], now_ms: int
) -> Iterator[HandsWork]:
    label = str(part.number)
    if part.phase is PartPhase.IN_HAND:
        usual_ms = part.since_ms + hands_s(bench, part, now_ms) * 1000
        planned_ms = next((m.end_ms for m in moves if m.start_ms <= now_ms), 0)
        yield HandsWork(part.since_ms, max(usual_ms, planned_ms, now_ms), label)
        moves = [move for move in moves if move.start_ms > now_ms]
    for move in moves:
        level = Level.LATE if move.is_late else Level.CALM
        yield HandsWork(max(move.start_ms, now_ms), move.end_ms, label, level)


def _stays(bench: Bench, part: Part, moves: Sequence[MoveAhead]) -> Iterator[Stay]:
    start_ms, place = part.since_ms, part.station
    for move in moves:
        if place is not None:
            yield Stay(start_ms, move.start_ms, _place_name(bench, place))
        start_ms, place = move.end_ms, move.place
    if place is not None:
        yield Stay(start_ms, None, _place_name(bench, place))


def _hands(run: RunView, stamp: Stamp) -> Iterator[HandsWork]:
    bench, now_ms = run.bench, stamp.noted_ms
    for part in bench.parts.values():
        if not part.is_out:
            yield from _works(bench, part, run.ahead(part.name, now_ms), now_ms)


def _readings(users: Sequence[tuple[RunView, str]], stamp: Stamp) -> Iterator[HandsWork]:
    due_ms = next_reading_ms(users, stamp.noted_ms)
    if due_ms is not None:
        yield HandsWork(due_ms, due_ms + READ_MS, READ)
