"""Before you leave: what to pull first, what can rest until when, and what can't wait."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence

from benchtimer.bench.advice import advise, joined
from benchtimer.bench.plans import part_key, part_name
from benchtimer.bench.wallclock import ShopZone, later, moment_of
from benchtimer.plan.outcome import Plan, PlannedDwell, PlannedMove
from benchtimer.plan.planner import never
from benchtimer.plan.problem import AwayTime
from benchtimer.run.agenda import action_for
from benchtimer.run.setup import was_heated
from benchtimer.shop.hours import Hours, open_spans
from benchtimer.shop.shop_state import Shop
from benchtimer.store.log import Stamp
from benchtimer.times import TimeError, duration
from benchtimer.view.words import bar_words, clock_time

NODES = 2000
"""How many states the planner opens, to keep the page fast."""

_TO = re.compile(r"\s+(?:to|until)\s+|(?<=\d)\s*-\s*(?=\d{1,2}(?::\d{2})?$)")


def times_away(text: str, hours: Hours, now: Stamp) -> tuple[int, int]:
    """Bench times between which you are away: ``20:00``, or ``20:00 to Sat 08:00``.

    Without the second, you are back when your hours open again.

    Args:
        text: what you entered.
        hours: when you work.
        now: both clocks now.

    Raises:
        TimeError: the text is not a future time, or has no end and there are no hours.
    """
    pieces = _TO.split(text.strip())
    goes = moment_of(pieces[0], now)
    if len(pieces) > 1:
        return goes.noted_ms, moment_of(" ".join(pieces[1:]), goes).noted_ms
    spans = open_spans(hours, ShopZone(goes), goes.wall_ms // 1000)
    opens = [begin for begin, _ in spans if begin > 0]
    if not opens:
        raise TimeError(text, "does not say when you are back", "like 20:00 to Sat 08:00")
    return goes.noted_ms, later(goes, opens[0] * 1000).noted_ms


def leaving_lines(
    shop: Shop,
    away: tuple[int, int],
    windows: Sequence[AwayTime],
    stamp: Stamp,
    stop: Callable[[], bool] = never,
) -> list[str]:
    """What to do before you leave, what can rest, and what can't wait, by one plan of all runs.

    Args:
        shop: the runs on the bench.
        away: bench times between which you are away.
        windows: when you are away anyway, in seconds from now.
        stamp: now.
        stop: called now and then; True means give up.
    """
    from_s, to_s = ((t_ms - stamp.noted_ms) // 1000 for t_ms in away)
    gone = joined([*windows, AwayTime(max(0, from_s), to_s)])
    advice = advise(shop, stamp.noted_ms, gone, nodes=NODES, stop=stop)
    plan = advice.plan
    late = list(_in_hand(shop, advice.latest_ms, stamp))
    before: list[str] = []
    rests: list[str] = []
    if plan is None:
        late += advice.warnings or ("no plan found",)
    else:
        before += _before(shop, plan, away, stamp)
        rests += _rests(shop, plan, away, stamp)
        late += _late(shop, plan, stamp)
    before += _hot(shop)
    leave, back = (clock_time(t_ms, stamp) for t_ms in away)
    lines = [f"You leave at {leave} and are back at {back}.", ""]
    lines += _section(f"BEFORE {leave}", before or ["nothing"])
    lines += _section("RESTS WHILE YOU ARE AWAY", rests or ["nothing"])
    return lines + _section("CAN'T WAIT", late or ["nothing: every part keeps its window"])


def _section(title: str, lines: list[str]) -> list[str]:
    return [title, *(f"  {line}" for line in lines), ""]


def _label(shop: Shop, planned: PlannedMove | PlannedDwell) -> str:
    name = part_name(planned.run, planned.part)
    return shop.bench(planned.run).parts[name].label


def _title(shop: Shop, place: str) -> str:
    return next((known.title for known in shop.places if known.name == place), place)


def _before(shop: Shop, plan: Plan, away: tuple[int, int], stamp: Stamp) -> Iterator[str]:
    """The moves that begin before you leave."""
    for move in sorted(plan.moves, key=lambda move: move.start_s):
        t_ms = stamp.noted_ms + move.start_s * 1000
        if stamp.noted_ms <= t_ms < away[0]:
            way = f"{_title(shop, move.from_station)} > {_title(shop, move.to_station)}"
            yield f"{clock_time(t_ms, stamp)}  {_label(shop, move)}: {way}"


def _hot(shop: Shop) -> Iterator[str]:
    """The places whose heat may be on, in one line."""
    places = [place for state in shop.states.values() for place in state.bench.places.values()]
    hot = [p.station.title for p in places if p.station.heat_up_s is not None and was_heated(p)]
    if hot:
        yield f"Turn off the heat, as the recipe says: {', '.join(dict.fromkeys(hot))}. Or stay"


def _rests(shop: Shop, plan: Plan, away: tuple[int, int], stamp: Stamp) -> Iterator[str]:
    """Where each part is while you are away, and how long it is safe there."""
    now_ms, going_s = stamp.noted_ms, (away[0] - stamp.noted_ms) // 1000
    begun = {dwell.part for dwell in plan.dwells if dwell.in_s <= going_s}
    for dwell in plan.dwells:
        out_s = dwell.out_s if dwell.out_s is not None else going_s + 1
        if dwell.in_s <= going_s < out_s and not dwell.overrun_s:
            until = "as long as you like"
            if dwell.max_s is not None:
                until = f"until {clock_time(now_ms + (dwell.in_s + dwell.max_s) * 1000, stamp)}"
            yield f"{_label(shop, dwell)} in {_title(shop, dwell.station)}: {until}"
    for run, part in shop.parts():
        if part.began_ms is None and not part.is_out and part_key(run, part.name) not in begun:
            yield f"{part.label}: not started, so it can wait"


def _in_hand(shop: Shop, latest_ms: Mapping[str, int], stamp: Stamp) -> Iterator[str]:
    """The parts in no place: what blocks each from its next one, and how long it can stay out."""
    for run, part in shop.parts():
        if not part.is_in_hand:
            continue
        bench = shop.bench(run)
        bar = bar_words(bench, action_for(bench, part, stamp.noted_ms))
        why = f" {bar}." if bar else ""
        limit_ms = latest_ms.get(part_key(run, part.name))
        limit = f", out until {clock_time(limit_ms, stamp)}" if limit_ms is not None else ""
        yield f"{part.label} is in hand{limit}.{why} Put it in its next place before you go"


def _late(shop: Shop, plan: Plan, stamp: Stamp) -> Iterator[str]:
    """The dwells that end too late because you are away."""
    for dwell in plan.dwells:
        if dwell.overrun_s and dwell.max_s is not None:
            by = clock_time(stamp.noted_ms + (dwell.in_s + dwell.max_s) * 1000, stamp)
            yield (
                f"{_label(shop, dwell)} must leave {_title(shop, dwell.station)} by {by}: "
                f"{duration(dwell.overrun_s)} past its max if you go"
            )
