"""Each event as one sentence, for people."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from benchtimer.quantity import how_many
from benchtimer.recipe.answers import said
from benchtimer.recipe.model import Recipe, Step
from benchtimer.run import events as e
from benchtimer.times import duration


class Words:
    """Knows the titles of steps and stations, so that sentences use the recipe's words.

    Args:
        recipes: the recipes, by key.
        part_recipe: the key of each part's recipe.
        clock: writes a bench time as a time of day; without it, sentences say how long.
    """

    def __init__(
        self,
        recipes: Mapping[str, Recipe],
        part_recipe: Mapping[str, str],
        clock: Callable[[int], str] | None = None,
    ) -> None:
        self.clock = clock
        self._recipes = recipes
        self._part_recipe = part_recipe
        self._stations = {s.id: s.title for r in recipes.values() for s in r.station}

    def item(self, key: str) -> str:
        """A line of the checklist, with the title of the place that it is about."""
        what, _, place = key.rpartition(" ")
        about = what in ("heat", "mix") or what.endswith(" of")
        return f"{what} {self._stations[place]}" if about and place in self._stations else key

    def step(self, part: str, step_id: str) -> str:
        """The title of a part's step."""
        return next((s.title for s in self._steps(part) if s.id == step_id), step_id)

    def _steps(self, part: str) -> Sequence[Step]:
        recipe = self._recipes.get(self._part_recipe.get(part, ""))
        return recipe.step if recipe is not None else ()

    def is_ahead(self, part: str, from_step: str, to_step: str) -> bool:
        """Whether a part's step comes after another one.

        Args:
            part: the part's name.
            from_step: the id of the one step.
            to_step: the id of the step that may come after it.
        """
        order = [step.id for step in self._steps(part)]
        known = from_step in order and to_step in order
        return known and order.index(to_step) > order.index(from_step)

    def station(self, station_id: str) -> str:
        """The title of a station."""
        return self._stations.get(station_id, station_id)

    def ask(self, part: str, step_id: str, check_id: str) -> str:
        """What a check asks.

        Args:
            part: the part's name.
            step_id: the step's id.
            check_id: the check's id.
        """
        steps = (step for step in self._steps(part) if step.id == step_id)
        asks = (check.ask for step in steps for check in step.check if check.id == check_id)
        return next(asks, check_id)


def sentence(event: e.Event, words: Words) -> str:
    """One event in words."""
    return _SAY[type(event)](event, words)


def _created(event: e.Created, words: Words) -> str:
    many = {name: f"{name} x{count}" for name, count in event.counts.items()}
    names = ", ".join(many.get(name, name) for name, _key in event.parts)
    baths = ", ".join(f"{bath} in {station}" for station, bath in event.baths.items())
    phrases = [f"set up: {event.title}; parts: {names}", *([f"baths: {baths}"] if baths else [])]
    phrases += [_entered(name, x["step"], x["before"], words) for name, x in event.enters.items()]
    return "; ".join(phrases)


def _answered(event: e.Answered, words: Words) -> str:
    answer = event.answer
    over = ", above the ceiling" if event.above_ceiling else ""
    out = " (counts as no)" if event.no and not isinstance(answer, bool) and not over else ""
    return (
        f"{event.part}: {words.ask(event.part, event.step, event.check)} {said(answer)}{over}{out}"
    )


def _read(event: e.ReadingTaken, words: Words) -> str:
    verdict = {"in": "in its window", "low": "too low", "high": "too high"}
    where = verdict.get(event.verdict, "above the ceiling")
    return f"{words.station(event.station)} reads {event.reading}, {where}"


def _probe_read(event: e.ProbeRead, words: Words) -> str:
    return f"{_read(event, words)} (probe {event.probe})"


def _reading_shared(event: e.ReadingShared, words: Words) -> str:
    before = duration(max(0, round((event.t_ms - event.taken_ms) / 1000)))
    return f"{_read(event, words)} (read {before} before, in another run)"


def _deviated(event: e.Deviated, words: Words) -> str:
    where = words.station(event.station) if event.station else ""
    if event.what == "no-reading":
        return f"DEVIATION: no reading of {where} ({event.found}), wanted {event.limit}"
    if event.part is None:
        return f"DEVIATION: {where} {event.found}, wanted {event.limit}"
    if event.what in ("early", "overrun"):
        kind = "OVERRUN" if event.what == "overrun" else "CUT SHORT"
        return f"{kind}: {event.part} had {event.found} in {where}, wanted {event.limit}"
    left_out = "not done: " if event.what == "skipped" else ""
    return f"DEVIATION: {event.part}: {left_out}{event.limit} ({event.found})"


def _taken_out(event: e.TakenOut, words: Words) -> str:
    dwelt = duration(round(event.dwelt_ms / 1000))
    return f"{event.part} out of {words.station(event.station)} ({dwelt})"


def _sent(event: e.Sent, words: Words) -> str:
    way = "on" if words.is_ahead(event.part, event.from_step, event.to_step) else "back"
    again = "; a new try" if event.new_try else ""
    return f"{event.part} {way} to: {words.step(event.part, event.to_step)} ({event.reason}){again}"


def _skipped(event: e.Skipped, words: Words) -> str:
    to = words.step(event.part, event.to_step) if event.to_step else "its end"
    return f"{event.part} skipped forward to: {to} ({event.reason})"


def _joined(event: e.PartAdded, words: Words) -> str:
    many = f" x{event.count}" if event.count > 1 else ""
    text = f"{event.part}{many} joins, recipe {event.key}"
    if event.step is None:
        return text
    return f"{text}; {_entered(event.part, event.step, event.before, words)}"


def _entered(part: str, step: str, before: str, words: Words) -> str:
    done = f"; done before: {before}" if before else ""
    return f"{part} enters at {words.step(part, step)}{done}"


def _leaving(event: e.Leaving, words: Words) -> str:
    if event.from_ms is None or event.to_ms is None:
        return "you stay after all"
    ahead_ms, long_ms = event.from_ms - event.t_ms, event.to_ms - event.from_ms
    if words.clock is not None:
        begins = f"at {words.clock(event.from_ms)}" if ahead_ms > 0 else "now"
        return f"you leave {begins}, back at {words.clock(event.to_ms)}"
    begins = f"in {_span(ahead_ms)}" if ahead_ms > 0 else "now"
    return f"you leave {begins}, for {_span(long_ms)}"


def _some_scrapped(event: e.SomeScrapped, _: Words) -> str:
    pieces = how_many(event.number, "piece")
    return f"{event.part}: {pieces} scrapped, {event.left} left: {event.reason}"


def _held(event: e.Held, _: Words) -> str:
    return f"{event.part or 'the run'} held: {event.reason}"


def _noted(event: e.Noted, _: Words) -> str:
    return f"note on {event.part}: {event.text}" if event.part else f"note: {event.text}"


def _prepared(event: e.Prepared, words: Words) -> str:
    ready = "prepared" if event.ready else "not ready after all"
    return f"{ready}: {words.item(event.item)}" + (f", {event.said}" if event.said else "")


def _postponed(event: e.Postponed, words: Words) -> str:
    if event.until_ms is None:
        return f"{event.part}: no longer held back"
    late_ms = event.until_ms - event.t_ms
    when = f"for {_span(late_ms)}" if late_ms > 0 else "before a time in the past"
    if late_ms > 0 and words.clock is not None:
        when = f"before {words.clock(event.until_ms)}"
    return f"{event.part}: not to start {when}"


def _target_moved(event: e.TargetMoved, words: Words) -> str:
    target, was = duration(event.target_s), duration(event.was_s)
    return f"{event.part}: target {target}, was {was}: {words.step(event.part, event.step)}"


def _hands_changed(event: e.HandsChanged, _: Words) -> str:
    return f"pairs of hands: {event.hands}, was {event.was}"


def _hours_changed(event: e.HoursChanged, _: Words) -> str:
    now, was = (", ".join(hours) or "none" for hours in (event.away, event.was))
    return f"hours away every day: {now}, was {was}"


def _judged(event: e.Judged, _: Words) -> str:
    rating = f", rating {event.rating} of 5" if event.rating is not None else ""
    return f"{event.part} judged: {event.verdict}{rating}"


def _reopened(event: e.Reopened, _: Words) -> str:
    away = duration(max(0, round(event.away_ms / 1000)))
    if event.elapsed_from == "nothing":
        return "reopened; the wall clock was wrong, so the time away is unknown"
    if event.elapsed_from == "wall clock set since":
        return f"the wall clock was corrected: {away} more time away; the timers include it"
    return f"reopened after {away}; time away by the {event.elapsed_from}"


def _written_late(event: e.WrittenLate, _: Words) -> str:
    late = duration(max(0, round(event.late_ms / 1000)))
    if event.entries == 1:
        return f"the entry before this was saved {late} late, with its own time: {event.why}"
    return (
        f"{event.entries} entries before this were saved up to {late} late, with their own "
        f"times: {event.why}"
    )


def _jumped(event: e.ClockJumped, _: Words) -> str:
    way = "forward" if event.by_ms > 0 else "back"
    return f"the wall clock was set {way} by {_span(abs(event.by_ms))}; no timer changed"


def _silenced(event: e.AlarmSilenced, _: Words) -> str:
    return f"alarm silenced for {_span(event.for_ms)}: {event.due}"


def _retimed(event: e.Retimed, _: Words) -> str:
    return f"backdated by {_span(event.ago_ms)}: press {event.retimed}"


def _ago(joined: bool, word: str) -> str:
    """The word, with ``by now`` if no press shows when it happened."""
    return f"{word} by now" if joined else word


def _span(ms: int) -> str:
    return duration(max(1, round(ms / 1000)))


_SAY: Mapping[type[e.Event], Callable[[Any, Words], str]] = {
    e.Created: _created,
    e.Started: lambda _e, _w: "started",
    e.Acknowledged: lambda v, _w: f"hazard acknowledged: {v.hazard}",
    e.WorkBegan: lambda v, w: f"{v.part}: {_ago(v.with_last, 'began')}: {w.step(v.part, v.step)}",
    e.WorkFinished: lambda v, w: f"{v.part}: {_ago(v.with_next, 'done')}: {w.step(v.part, v.step)}",
    e.PutIn: lambda v, w: f"{v.part} into {w.station(v.station)}",
    e.TakenOut: _taken_out,
    e.Deviated: _deviated,
    e.Answered: _answered,
    e.ReadingTaken: _read,
    e.ReadingShared: _reading_shared,
    e.ProbeRead: _probe_read,
    e.ReadingSkipped: lambda v, w: f"{w.station(v.station)}: no reading, {v.reason}",
    e.Heated: lambda v, w: f"{w.station(v.station)}: heat on",
    e.MakeUpBegan: lambda v, w: f"{w.station(v.station)}: heat off, cooling for its make-up",
    e.MadeUp: lambda v, w: f"{w.station(v.station)}: made up, heat on",
    e.Sent: _sent,
    e.Held: _held,
    e.Resumed: lambda v, _w: f"{v.part or 'the run'} resumed",
    e.Scrapped: lambda v, _w: f"{v.part} scrapped: {v.reason}",
    e.BathTied: lambda v, w: f"bath {v.bath} is in {w.station(v.station)} now",
    e.Leaving: _leaving,
    e.SomeScrapped: _some_scrapped,
    e.PartAdded: _joined,
    e.Skipped: _skipped,
    e.PartDone: lambda v, _w: f"{v.part} done",
    e.Noted: _noted,
    e.Judged: _judged,
    e.Prepared: _prepared,
    e.Postponed: _postponed,
    e.TargetMoved: _target_moved,
    e.HandsChanged: _hands_changed,
    e.HoursChanged: _hours_changed,
    e.StationClosed: lambda v, w: f"{w.station(v.station)} out of service: {v.reason}",
    e.StationOpened: lambda v, w: f"{w.station(v.station)} in service again",
    e.Undone: lambda v, _w: f"taken back: press {v.undone}",
    e.Redone: lambda v, _w: f"redone: press {v.redone}",
    e.Retimed: _retimed,
    e.Completed: lambda _e, _w: "complete",
    e.Aborted: lambda v, _w: f"aborted: {v.reason}",
    e.Reopened: _reopened,
    e.ClockJumped: _jumped,
    e.AlarmSilenced: _silenced,
    e.WrittenLate: _written_late,
}
