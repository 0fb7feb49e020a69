"""Before you leave: what to pull first, what can rest until when, and what can't wait."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping

from benchtimer.bench.advice import advise
from benchtimer.bench.wallclock import ShopZone, later, moment_of
from benchtimer.plan.outcome import Plan
from benchtimer.plan.planner import never
from benchtimer.plan.problem import AwayTime
from benchtimer.run.agenda import action_for
from benchtimer.run.run_state import OVER, Bench
from benchtimer.run.setup import was_heated
from benchtimer.shop.hours import Hours, open_spans
from benchtimer.shop.shop_state import alone
from benchtimer.store.log import Stamp
from benchtimer.times import TimeError, duration
from benchtimer.values import replace
from benchtimer.view.words import bar_words, clock_time

NODES = 2000
"""How many states the planner opens for a run, to keep the page fast."""

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
    benches: Mapping[str, Bench],
    away: tuple[int, int],
    windows: Callable[[Bench], list[AwayTime]],
    stamp: Stamp,
    stop: Callable[[], bool] = never,
) -> list[str]:
    """What to do before you leave, what can rest, and what can't wait, for all open runs.

    Args:
        benches: the runs on the bench, by name.
        away: bench times between which you are away.
        windows: when you are away anyway, in seconds from now.
        stamp: now.
        stop: called now and then; True means give up.
    """
    before = [(away[0], words) for words in _hot(benches.values())]
    rests: list[str] = []
    late: list[str] = []
    for bench in benches.values():
        if bench.phase in OVER:
            continue
        gone = alone(replace(bench, gone=away))
        advice = advise(gone, stamp.noted_ms, windows(bench), nodes=NODES, stop=stop)
        plan = advice.plan
        if plan is None:
            late += _in_hand(bench, {}, stamp)
            late += [f"{bench.title}: {words}" for words in advice.warnings or ("no plan found",)]
            continue
        late += _in_hand(bench, advice.latest_ms, stamp)
        before += _before(bench, plan, away, stamp)
        rests += _rests(bench, plan, away, stamp)
        late += _late(bench, plan, stamp)
    leave, back = (clock_time(t_ms, stamp) for t_ms in away)
    lines = [f"You leave at {leave} and are back at {back}.", ""]
    lines += _section(f"BEFORE {leave}", [words for _, words in sorted(before)] or ["nothing"])
    lines += _section("RESTS WHILE YOU ARE AWAY", rests or ["nothing"])
    return lines + _section("CAN'T WAIT", late or ["nothing: every part keeps its window"])


def _section(title: str, lines: list[str]) -> list[str]:
    return [title, *(f"  {line}" for line in lines), ""]


def _label(bench: Bench, name: str) -> str:
    return bench.parts[name].label


def _title(bench: Bench, place: str) -> str:
    known = bench.places.get(place)
    return known.station.title if known is not None else place


def _before(
    bench: Bench, plan: Plan, away: tuple[int, int], stamp: Stamp
) -> Iterator[tuple[int, str]]:
    """The moves that begin before you leave."""
    for move in plan.moves:
        t_ms = stamp.noted_ms + move.start_s * 1000
        if stamp.noted_ms <= t_ms < away[0]:
            way = f"{_title(bench, move.from_station)} > {_title(bench, move.to_station)}"
            yield t_ms, f"{clock_time(t_ms, stamp)}  {_label(bench, move.part)}: {way}"


def _hot(benches: Iterable[Bench]) -> Iterator[str]:
    """The places whose heat may be on, in one line."""
    places = [place for b in benches if b.phase not in OVER for place in b.places.values()]
    hot = [p.station.title for p in places if p.station.heat_up_s is not None and was_heated(p)]
    if hot:
        yield f"Heat off, as the recipe says: {', '.join(dict.fromkeys(hot))}. Or stay"


def _rests(bench: Bench, plan: Plan, away: tuple[int, int], stamp: Stamp) -> Iterator[str]:
    """Where each part is while you are away, and how long it is safe there."""
    now_ms, going_s = stamp.noted_ms, (away[0] - stamp.noted_ms) // 1000
    begun = {dwell.part for dwell in plan.dwells if dwell.in_s <= going_s}
    for dwell in plan.dwells:
        out_s = dwell.out_s if dwell.out_s is not None else going_s + 1
        if dwell.in_s <= going_s < out_s and not dwell.overrun_s:
            until = "as long as you like"
            if dwell.max_s is not None:
                until = f"until {clock_time(now_ms + (dwell.in_s + dwell.max_s) * 1000, stamp)}"
            yield f"{_label(bench, dwell.part)} in {_title(bench, dwell.station)}: {until}"
    for part in bench.parts.values():
        if part.began_ms is None and not part.is_out and part.name not in begun:
            yield f"{_label(bench, part.name)}: not started, so it can wait"


def _in_hand(bench: Bench, latest_ms: Mapping[str, int], stamp: Stamp) -> Iterator[str]:
    """The parts in no place: what blocks each from its next one, and how long it can stay out."""
    for part in bench.parts.values():
        if not part.is_in_hand:
            continue
        action = action_for(bench, part, stamp.noted_ms)
        bar = bar_words(bench, action)
        why = f" {bar}." if bar else ""
        limit_ms = latest_ms.get(part.name)
        limit = f", out until {clock_time(limit_ms, stamp)}" if limit_ms is not None else ""
        yield f"{part.label} is in hand{limit}.{why} Put it in its next place before you go"


def _late(bench: Bench, plan: Plan, stamp: Stamp) -> Iterator[str]:
    """The dwells that end too late because you are away."""
    for dwell in plan.dwells:
        if dwell.overrun_s and dwell.max_s is not None:
            by = clock_time(stamp.noted_ms + (dwell.in_s + dwell.max_s) * 1000, stamp)
            yield (
                f"{_label(bench, dwell.part)} must leave {_title(bench, dwell.station)} by {by}: "
                f"{duration(dwell.overrun_s)} past its max if you go"
            )
