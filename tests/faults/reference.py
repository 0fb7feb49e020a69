"""A simple model of the bench: places and times of the parts, holds, and what counts.

It has the small recipe of ``tests.support`` built in, copies its plain dictionaries whole before
every press, and shares no code with the engine. ``do`` either changes the model or raises ``No``;
the program must accept and refuse the same presses.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from benchtimer.run import commands as c

PREPARE, DIP, LOOK, HANG, JUDGE = STEPS = ("prepare", "dip", "look", "hang", "judge")
PLACE = {DIP: "tank", HANG: "rack"}
HOLDS = {"tank": 1, "rack": 4}
CHECKS = {LOOK: ("even",), HANG: ("heat",), JUDGE: ("colour", "words")}
BACK = {"even": (PREPARE, 2), "colour": (DIP, 1)}
DEGREES = {"25 C": 25.0, "65 C": 65.0, "79": 79.0, "90 C": 90.0, "140 F": 60.0}
"""The readings the campaign tries, in degrees Celsius; anything else is not a reading."""

SESSION_MS = 4 * 3_600_000
"""After this long without a press the gear is off, and the page must be read again."""
EVERY_MS = 600_000
"""A tank reading counts this long, or until its trend reaches 60 or 70 C."""
LOW, HIGH, CEILING, MOST_MS = 60, 70, 80, 480_000
TREND = 3
SLOWEST = Fraction(1, 1000)
"""A slower trend, in degrees a minute, doesn't count."""

OPEN = ("idle", "running", "held")
AT_WORK = ("running", "held")
LIVE = ("waiting", "in hand", "dwelling")
DEPTH = 100

Bench = dict[str, Any]
Part = dict[str, Any]


class No(Exception):
    """The press is refused."""


def need(holds: object) -> None:
    """Raise ``No`` unless the condition holds."""
    if not holds:
        raise No


def new_part(t: int) -> Part:
    """A part not yet begun."""
    return {
        "phase": "waiting", "step": PREPARE, "where": None, "since": t, "held": None,
        "lifted": None, "dwelt": 0, "answers": {}, "backs": {}, "begun": False,
    }  # fmt: skip


@dataclass
class Press:
    """A press that can be undone, in effect at ``t``.

    The key was pressed at ``made``; ``t`` is earlier if the press was backdated.
    """

    before: Bench
    base: Bench
    command: c.Command
    t: int
    decided: int
    others: list[Bench]
    made: int


@dataclass
class Reference:
    """One run, along with others that share its tank, its rack and the hands.

    Attributes:
        beside: the other runs, oldest first.
    """

    names: tuple[str, ...]
    t: int
    beside: list[Reference] = field(default_factory=list)
    bench: Bench = field(init=False)
    past: list[Press] = field(default_factory=list)
    future: list[tuple[Press, Bench, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.bench = {
            "phase": "idle", "held": None, "geared": None, "session": self.t, "active": self.t,
            "readings": {"tank": [], "rack": []}, "skipped": None, "heated": 0, "ready": None,
            "parts": {name: new_part(self.t) for name in self.names},
            "closed": {}, "closed_at": {},
            "touched": dict.fromkeys([*self.names, "the run"], self.t),
        }  # fmt: skip

    def do(self, command: c.Command, t: int) -> None:
        """Press something at a time.

        Raises:
            No: the press is refused; nothing has changed.
        """
        leaves = self._leaves_closed()
        was_open = self.bench["phase"] in OPEN
        together = [self, *self._with_it(command)]
        if isinstance(command, c.Undo):
            for run in together:
                run._undo(t)
        elif isinstance(command, c.Redo):
            for run in together:
                run._redo()
        elif isinstance(command, c.BackDate):
            for run in together:
                run._need_time(command, together)
            for run in together:
                run._back_date(command, t)
        else:
            done = [(run, *run._done(command, t)) for run in together]
            for run, press, after in done:
                run._keep(press, after)
        if was_open and self.bench["phase"] not in OPEN:
            for other, station, reason in leaves:
                other.close_for_good(station, reason, t)

    def _with_it(self, command: c.Command) -> list[Reference]:
        """The other runs that a reading of a shared tank, or its correction, goes to."""
        others = [other for other in self.beside if other.bench["phase"] in OPEN]
        if isinstance(command, c.Read):
            return [other for other in others if _needs(other.bench, command.station)]
        if not isinstance(command, c.Undo | c.Redo | c.BackDate):
            return []
        undone = isinstance(command, c.Redo)
        mine = self._last_reading(undone=undone)
        return [o for o in others if mine is not None and o._last_reading(undone=undone) == mine]

    def _last_reading(self, *, undone: bool) -> tuple[int, int, str] | None:
        """The reading pressed or undone last."""
        if not (self.future if undone else self.past):
            return None
        press, at = (self.future[-1][0], self.future[-1][2]) if undone else (self.past[-1], 0)
        read = press.command
        return (at, press.made, read.reading) if isinstance(read, c.Read) else None

    def _done(self, command: c.Command, t: int) -> tuple[Press, Bench]:
        """An ordinary press, and the bench after it."""
        others = self._others()
        after = _after(self.bench, command, t, t, others)
        return Press(self.bench, self.bench, command, t, t, copy.deepcopy(others), t), after

    def _others(self) -> list[Bench]:
        """The other open runs."""
        return [other.bench for other in self.beside if other.bench["phase"] in OPEN]

    def _leaves_closed(self) -> list[tuple[Reference, str, str]]:
        """Places that another run has out of service because of this run alone."""
        found = []
        for other in self.beside:
            for station in HOLDS if other.bench["phase"] in OPEN else ():
                newest = _closing({**other.bench, "others": other._others()}, station)
                reason, at = newest["closed"].get(station), newest["closed_at"].get(station, 0)
                result = self.bench["closed_at"].get(station, 0) == at
                if reason is not None and station not in other.bench["closed"] and result:
                    found.append((other, station, reason))
        return found

    def close_for_good(self, station: str, reason: str, t: int) -> None:
        """Keep a place out of service, as a closed run left it, even after an undo."""
        self.bench = _shut(self.bench, station, reason, t)
        for press in self.past:
            press.before = _shut(press.before, station, reason, t)
        self.future = [(press, _shut(b, station, reason, t), at) for press, b, at in self.future]

    def takes(self, command: c.Command, t: int) -> bool:
        """Whether an ordinary press is possible."""
        try:
            _after(self.bench, command, t, t, self._others())
        except No:
            return False
        return True

    def _keep(self, press: Press, after: Bench) -> None:
        self.past = [*self.past, press][-DEPTH:]
        self.future = []
        self.bench = after

    def _undo(self, t: int) -> None:
        need(self.past)
        self._need_room(self.past[-1].before)
        press = self.past.pop()
        self.future.append((press, self.bench, t))
        self.bench = press.before

    def _redo(self) -> None:
        need(self.future)
        self._need_room(self.future[-1][1])
        press, self.bench, _ = self.future.pop()
        self.past.append(press)

    def _need_time(self, command: c.BackDate, together: list[Reference]) -> None:
        need(self.past and command.ago_ms > 0)
        last = self.past[-1]
        real = last.t - command.ago_ms
        touched = _touched_by(last)
        need(all(real >= last.base["touched"].get(thing, 0) for thing in {*touched, "the run"}))
        same = [id(run) for run in together]
        beside = [other.past[-1].base if id(other) in same else other.bench
                  for other in self.beside if other.bench["phase"] in OPEN]  # fmt: skip
        there = [other["touched"].get(thing, 0) for other in beside
                 for thing in touched & set(HOLDS)]  # fmt: skip
        need(all(real >= at for at in there if at <= last.t))

    def _back_date(self, command: c.BackDate, t: int) -> None:
        last = self.past[-1]
        real = last.t - command.ago_ms
        after = _after(last.base, last.command, real, last.decided, last.others)
        again = Press(self.bench, last.base, last.command, real, last.decided, last.others, t)
        self._keep(again, after)

    def _need_room(self, after: Bench) -> None:
        """Refuse a correction that puts a part into a place now full with parts of other runs."""
        for station, holds in HOLDS.items():
            guests = sum(len(_inside(other, station)) for other in self._others())
            more = len(_inside(after, station)) > len(_inside(self.bench, station))
            need(not (more and guests and len(_inside(after, station)) + guests > holds))


def _touched_by(press: Press) -> set[str]:
    """The subject of a press: its part, its station, or the run."""
    after = _after(press.base, press.command, 2**60, press.decided, press.others)
    return {thing for thing, t in after["touched"].items() if t == 2**60}


def _shut(bench: Bench, station: str, reason: str, t: int) -> Bench:
    bench = copy.deepcopy(bench)
    bench["closed"][station], bench["closed_at"][station] = reason, t
    return bench


def _after(bench: Bench, command: c.Command, t: int, decided: int, others: list[Bench]) -> Bench:
    """The bench after a press decided at one time and in effect at another."""
    bench = copy.deepcopy(bench) | {"now": decided, "others": others}
    need(type(command) in _DO)
    things = _DO[type(command)](bench, command, t)
    del bench["others"]
    bench["touched"] |= dict.fromkeys(things, t)
    bench["session"] = t if t - bench["active"] >= SESSION_MS else bench["session"]
    bench["active"] = max(bench["active"], t)
    return bench


def verdict_of(readings: list[tuple[int, Fraction]]) -> str | None:
    """The verdict on the tank's last reading; None without a reading."""
    if not readings:
        return None
    degrees = readings[-1][1]
    limits = (
        (CEILING, "above-ceiling"),
        (HIGH, "high"),
        (Fraction(LOW) - Fraction(1, 10**9), "in"),
    )
    return next((name for limit, name in limits if degrees > limit), "low")


def _geared(bench: Bench) -> bool:
    """Whether the page before the tank was read in this session."""
    now = bench["now"]
    since = now if now - bench["active"] >= SESSION_MS else bench["session"]
    return bench["geared"] is not None and bench["geared"] >= since


def _inside(bench: Bench, station: str) -> list[Part]:
    return [part for part in bench["parts"].values() if part["where"] == station]


def _needs(bench: Bench, station: str) -> bool:
    """Whether a part is in a place, or still goes there; a held part goes nowhere."""
    for part in bench["parts"].values():
        if part["where"] == station:
            return True
        here = STEPS.index(part["step"]) + (part["phase"] == "dwelling")
        ahead = [PLACE.get(step) for step in STEPS[here:]]
        if part["phase"] in LIVE and part["held"] is None and station in ahead:
            return True
    return False


def _closing(bench: Bench, station: str) -> Bench:
    """The run with the newest entry about a place; this run if equal."""
    return max([bench, *bench["others"]], key=lambda b: b["closed_at"].get(station, 0))


def _shared(bench: Bench) -> Bench:
    """The tank in the view of all runs, since its heat was last turned on."""
    if not bench["others"]:
        return bench
    everywhere = [bench, *bench["others"]]
    newest = max(everywhere, key=lambda b: b["heated"])
    since = newest["heated"]
    readings = sorted({r for b in everywhere for r in b["readings"]["tank"] if r[0] >= since})[-24:]
    last = readings[-1][0] if readings else since
    skips = [b["skipped"] for b in everywhere if b["skipped"] is not None and b["skipped"] >= last]
    ready = [b["ready"] for b in everywhere if b["ready"] is not None and b["ready"] >= since]
    return {**bench, "readings": {"tank": readings}, "skipped": max(skips, default=None),
            "heated": since, "ready": min(ready, default=None)}  # fmt: skip


def _is_read(bench: Bench) -> bool:
    """Whether the tank's readings allow a part in."""
    bench = _shared(bench)
    readings, skipped, now = bench["readings"]["tank"], bench["skipped"], bench["now"]
    verdict = verdict_of(readings)
    if skipped is not None:
        return verdict != "above-ceiling" and now <= skipped + EVERY_MS
    return verdict == "in" and now <= _counts_until(readings)


def _counts_until(readings: list[tuple[int, Fraction]]) -> int:
    """Until when the last reading counts: its interval, or its trend's way to a limit."""
    last, until = readings[-1][0], readings[-1][0] + EVERY_MS
    if len(readings) < TREND:
        return until
    times = [Fraction(t - last) for t, _ in readings]
    mean_t = sum(times, Fraction(0)) / len(times)
    mean_v = sum((v for _, v in readings), Fraction(0)) / len(readings)
    spread = sum((t - mean_t) ** 2 for t in times)
    both = sum((t - mean_t) * (v - mean_v) for t, (_, v) in zip(times, readings, strict=True))
    slope = both / spread if spread else Fraction(0)
    if abs(slope) * 60_000 < SLOWEST:
        return until
    limit = Fraction(HIGH if slope > 0 else LOW)
    left = (limit - (mean_v - slope * mean_t)) / slope
    return min(until, last + max(0, round(left)))


def waits(bench: Bench) -> bool:
    """Whether the tank heats and has neither a reading in range nor an override."""
    return bool(bench["heated"] and bench["ready"] is None and bench["skipped"] is None)


def _part(bench: Bench, name: str, phases: tuple[str, ...]) -> Part:
    need(name in bench["parts"])
    part: Part = bench["parts"][name]
    need(part["phase"] in phases)
    return part


def _move(part: Part, phase: str, t: int, **changes: Any) -> None:
    part.update({"phase": phase, "since": t, "where": None} | changes)


def _room(bench: Bench, part: Part, station: str) -> None:
    inside = [p for p in _inside(bench, station) if p is not part]
    inside += [p for other in bench["others"] for p in _inside(other, station)]
    need(station not in _closing(bench, station)["closed"] and len(inside) < HOLDS[station])
    if station == "tank":
        tank = _shared(bench)
        need(not waits(tank) and verdict_of(tank["readings"]["tank"]) != "above-ceiling")


def _open_checks(part: Part) -> list[str]:
    return [k for k in CHECKS.get(part["step"], ()) if part["answers"].get(k, True)]


def _guarded(bench: Bench, step: str) -> bool:
    return step == DIP and not (_geared(bench) and _is_read(bench))


def _take_in_hand(part: Part, step: str, t: int) -> None:
    _move(part, "in hand", t, step=step, answers={}, lifted=None, dwelt=0, begun=True)


def _next(step: str) -> str:
    return STEPS[STEPS.index(step) + 1]


def _begin(bench: Bench, command: c.Begin, t: int) -> list[str]:
    need(bench["phase"] == "running")
    part = _part(bench, command.part, ("waiting", "dwelling"))
    need(part["held"] is None)
    step = _next(part["step"]) if part["phase"] == "dwelling" else part["step"]
    if not part["begun"] or part["where"] == "rack":  # it can wait for a free hand
        need(command.anyway or not _in_hands(bench, part))
    first = step
    if not part["begun"]:  # it can wait until its whole way into the next place is ready
        first = next((s for s in STEPS[STEPS.index(step) :] if s in PLACE), step)
        place = PLACE.get(first)
        need(place is None or place not in _closing(bench, place)["closed"])
    need(part["phase"] == "dwelling" or not _guarded(bench, first))
    left = part["where"]
    _take_in_hand(part, step, t)
    return [command.part, *([left] if left else [])]


def _in_hands(bench: Bench, but: Part) -> list[Part]:
    """The load of the one pair of hands over all runs, without one part."""
    return [
        part for run in (bench, *bench["others"]) for part in run["parts"].values()
        if part["phase"] == "in hand" and part["held"] is None and part is not but
    ]  # fmt: skip


def _finish(bench: Bench, command: c.Finish, t: int) -> list[str]:
    need(bench["phase"] == "running")
    part = _part(bench, command.part, ("in hand",))
    need(part["held"] is None and not _open_checks(part))
    return [command.part, *_work_done(bench, part, t)]


def _work_done(bench: Bench, part: Part, t: int) -> list[str]:
    step = part["step"]
    if step in PLACE:
        _room(bench, part, PLACE[step])
        _move(part, "dwelling", t, where=PLACE[step])
        return [PLACE[step]]
    if step == JUDGE:
        _move(part, "done", t, held=None)
        return []
    _move(part, "waiting", t, step=_next(step))
    if not _guarded(bench, part["step"]):
        _take_in_hand(part, part["step"], t)
    return []


def _take_out(bench: Bench, command: c.TakeOut, t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    part = _part(bench, command.part, ("dwelling",))
    left, step = part["where"], part["step"]
    _move(part, "waiting", t, step=_next(step), lifted=step, dwelt=t - part["since"])
    return [command.part, left]


def _put_back(bench: Bench, command: c.PutBack, t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    part = _part(bench, command.part, ("waiting",))
    need(part["lifted"] is not None)
    station = PLACE[part["lifted"]]
    _room(bench, part, station)
    _move(part, "dwelling", t - part["dwelt"], step=part["lifted"], where=station)
    return [command.part, station]


def _answer(bench: Bench, command: c.Answer, t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    part = _part(bench, command.part, ("in hand",))
    need(command.check in CHECKS.get(part["step"], ()))
    no, above = _judged(command)
    part["answers"] = {**part["answers"], command.check: above}
    if no and not above and command.check in BACK:
        to, most = BACK[command.check]
        count = part["backs"].get(command.check, 0)
        if count < most:
            _back(part, to, t)
            part["backs"][command.check] = count + 1
        elif part["held"] is None:
            part["held"] = "too often"
    at_once = part["phase"] == "in hand" and part["held"] is None and bench["phase"] == "running"
    if at_once and part["step"] not in PLACE and not _open_checks(part):
        _work_done(bench, part, t)
    return [command.part]


def _judged(command: c.Answer) -> tuple[bool, bool]:
    """Whether an answer is a no, and whether it is above the ceiling."""
    answer = command.answer
    if command.check == "even":
        need(isinstance(answer, bool))
        return not answer, False
    if command.check == "heat":
        need(isinstance(answer, str) and answer in DEGREES)
        degrees = DEGREES[str(answer)]
        return not 20 <= degrees <= 30, degrees > 50
    if command.check == "colour":
        need(answer in ("black", "grey"))
        return answer == "grey", False
    need(isinstance(answer, str) and answer.strip())
    return False, False


def _back(part: Part, to: str, t: int) -> None:
    """Send back to a step; loops inside this one restart their count."""
    here = part["step"]
    for check, (target, _) in BACK.items():
        asked = next(step for step in STEPS if check in CHECKS.get(step, ()))
        inside = STEPS.index(to) <= STEPS.index(target)
        inside = inside and STEPS.index(asked) <= STEPS.index(here)
        if inside and (target, asked) != (to, here):
            part["backs"].pop(check, None)
    _move(part, "waiting", t, step=to, lifted=None, dwelt=0)


def _send_back(bench: Bench, command: c.SendBack, t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    part = _part(bench, command.part, LIVE)
    need(command.to_step in STEPS[: STEPS.index(part["step"]) + 1])
    left = part["where"]
    _back(part, command.to_step, t)
    return [command.part, *([left] if left else [])]


def _skip_forward(bench: Bench, command: c.Skip, t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    part = _part(bench, command.part, LIVE)
    need(part["held"] is None)
    here = STEPS.index(part["step"]) + (part["phase"] == "dwelling")
    need(command.to_step is None or command.to_step in STEPS[here + 1 :])
    left, to = part["where"], command.to_step or STEPS[-1]
    _move(part, "waiting", t, step=to, lifted=None, dwelt=0, answers={})
    if command.to_step is None:
        _move(part, "done", t, held=None)
    return [command.part, *([left] if left else [])]


def _hold(bench: Bench, command: c.Hold, _t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    if command.part is None:
        need(bench["held"] is None)
        bench.update(phase="held", held=command.reason)
        return ["the run"]
    part = _part(bench, command.part, LIVE)
    need(part["held"] is None)
    part["held"] = command.reason
    return [command.part]


def _resume(bench: Bench, command: c.Resume, _t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    if command.part is None:
        need(bench["held"] is not None)
        bench.update(phase="running", held=None)
        return ["the run"]
    part = _part(bench, command.part, LIVE)
    need(part["held"] is not None)
    part["held"] = None
    return [command.part]


def _scrap(bench: Bench, command: c.Scrap, t: int) -> list[str]:
    need(bench["phase"] in OPEN)
    part = _part(bench, command.part, LIVE)
    left = part["where"]
    if left:  # the pull comes first
        part["step"] = _next(part["step"])
    _move(part, "scrapped", t, held=None)
    return [command.part, *([left] if left else [])]


def _add(bench: Bench, command: c.AddPart, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.part not in bench["parts"])
    bench["parts"][command.part] = new_part(t)
    return [command.part]


def _read(bench: Bench, command: c.Read, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.station in HOLDS and command.reading in DEGREES)
    need(command.station == "tank" or not command.reading.isdecimal())  # in which unit?
    readings = bench["readings"][command.station]
    readings.append((t, Fraction(DEGREES[command.reading])))
    del readings[:-24]
    if command.station == "tank":
        bench["skipped"] = None
        if bench["ready"] is None and verdict_of(readings) == "in":
            bench["ready"] = t
    return [command.station]


def _skip(bench: Bench, command: c.SkipReading, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.station == "tank" and command.reason in c.NO_READING)
    need(verdict_of(_shared(bench)["readings"]["tank"]) != "above-ceiling")
    bench["skipped"] = t
    return ["tank"]


def _heat(bench: Bench, command: c.Heat, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.station == "tank")
    need(_geared(bench))  # a later session needs the page again
    bench["readings"]["tank"] = []
    bench.update(heated=t, ready=None, skipped=None)
    return ["tank"]


def _close(bench: Bench, command: c.CloseStation, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.station in HOLDS)
    need(command.station not in _closing(bench, command.station)["closed"])
    bench["closed"][command.station] = command.reason
    bench["closed_at"][command.station] = t
    return [command.station]


def _reopen(bench: Bench, command: c.OpenStation, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.station in HOLDS)
    need(command.station in _closing(bench, command.station)["closed"])
    bench["closed"].pop(command.station, None)
    bench["closed_at"][command.station] = t
    return [command.station]


def _acknowledge(bench: Bench, command: c.Acknowledge, t: int) -> list[str]:
    need(bench["phase"] in OPEN and command.hazard == "Hot tank")
    bench["geared"] = t
    return ["the run"]


def _about(bench: Bench, command: c.Note | c.Judge, _t: int) -> list[str]:
    """Presses about a part or the run that are possible at any time."""
    need(command.part is None or command.part in bench["parts"])
    return [command.part or "the run"]


def _judge(bench: Bench, command: c.Judge, t: int) -> list[str]:
    things = _about(bench, command, t)
    scrapped = bench["parts"][command.part]["phase"] == "scrapped"
    need(not (scrapped and command.verdict == c.ACCEPTED))
    return things


def _start(bench: Bench, _command: c.Start, _t: int) -> list[str]:
    need(bench["phase"] == "idle" and _geared(bench))
    bench["phase"] = "running"
    return ["the run"]


def _complete(bench: Bench, _command: c.Complete, _t: int) -> list[str]:
    need(bench["phase"] in AT_WORK)
    need(all(part["phase"] not in LIVE for part in bench["parts"].values()))
    bench["phase"] = "complete"
    return ["the run"]


def _abort(bench: Bench, _command: c.Abort, _t: int) -> list[str]:
    need(bench["phase"] in OPEN)
    bench["phase"] = "aborted"
    return ["the run"]


_DO: dict[type[c.Command], Callable[[Bench, Any, int], list[str]]] = {
    c.Start: _start, c.Acknowledge: _acknowledge, c.Begin: _begin, c.Finish: _finish,
    c.TakeOut: _take_out, c.PutBack: _put_back, c.Answer: _answer, c.Read: _read,
    c.SendBack: _send_back, c.Skip: _skip_forward, c.Hold: _hold, c.Resume: _resume,
    c.Scrap: _scrap, c.AddPart: _add, c.Note: _about, c.Judge: _judge, c.CloseStation: _close,
    c.OpenStation: _reopen, c.SkipReading: _skip, c.Heat: _heat,
    c.Complete: _complete, c.Abort: _abort,
}  # fmt: skip
