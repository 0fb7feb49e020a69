"""``decide(history, command, now) -> event``: what is written into a bath's stream, or why not.

The commands of the bath book. Each one becomes an event, or is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from benchtimer.bath import bath_events as e
from benchtimer.bath.bath_state import Bath, History
from benchtimer.quantity import QuantityError, parse, parse_typed
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import BadValue, TimeConflict, as_way_out, safe_text
from benchtimer.trade.compatibility import Chemistry
from benchtimer.trade.etchant import STRENGTH_KINDS, fecl3_g, strength_given_pct
from benchtimer.trade.valid_range import TradeError
from benchtimer.values import dataclass

COUPON_S = 300
"""How long a coupon hangs unless you say otherwise: one etch. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class BathCommand:
    """A command for one bath."""


@dataclass(frozen=True, slots=True)
class MixBath(BathCommand):
    """A bath was mixed; see ``events.BathMixed`` for the fields."""

    of: str
    mix: str | None = None
    recipe: str | None = None
    volume: str | None = None
    fecl3: str | None = None
    window: tuple[str, str] | None = None
    chemistry: tuple[Chemistry, ...] = ()


@dataclass(frozen=True, slots=True)
class TopUp(BathCommand):
    """Something was added; ``volume`` is how much is in the vessel now."""

    what: str
    volume: str | None = None


@dataclass(frozen=True, slots=True)
class ReadBath(BathCommand):
    """A reading, for example ``"290 F"``, ``"8.2 pH"``, ``"38 Be"``."""

    reading: str


@dataclass(frozen=True, slots=True)
class Wear(BathCommand):
    """Metal the bath has dissolved, from weighing the parts, for example ``"4.2 g"``."""

    removed: str


@dataclass(frozen=True, slots=True)
class Coupon(BathCommand):
    """What the bath took off a strip of steel in a time, for example ``"0.12 g"`` in 5 minutes."""

    loss: str
    dwell_s: int = COUPON_S


@dataclass(frozen=True, slots=True)
class Retire(BathCommand):
    """The bath is retired; how it was disposed of."""

    how: str


@dataclass(frozen=True, slots=True)
class TakeBack(BathCommand):
    """Take back the last entry made by hand."""


MAX_NAME = 60

READ_KINDS = ("temperature", "acidity", "strength", "share", "concentration")
"""The kinds of reading you can take of a bath."""


def decide(
    history: History, command: BathCommand, now: Now, *, busy: str | None = None
) -> e.BathEvent:
    """The event that a command writes.

    Args:
        history: the bath's stream as it is; an empty one for a name that is new.
        command: what to do.
        now: bench time and who writes.
        busy: name of the open run that uses the bath, if one does.

    Raises:
        Refused: it can't be written; nothing has changed.
    """
    if now.t_ms < history.last_ms:
        raise TimeConflict("Can't save this entry", "its time is before the last entry", "Wait")
    if busy is not None and _ends(history, command):
        what = f"Can't end the bath {history.name}"
        raise BadValue(what, f"run {busy} is open and uses it", "Complete or abort the run first")
    made = _DECIDERS[type(command)](history, command)
    return made(press=history.presses + 1, t_ms=now.t_ms, by=now.by)


def _ends(history: History, command: BathCommand) -> bool:
    """Whether the bath would be gone afterward: retired, or never mixed."""
    if isinstance(command, TakeBack):
        by_hand = [event for event in history.counts if event.press]
        return bool(by_hand) and isinstance(by_hand[-1], e.BathMixed)
    return isinstance(command, Retire)


_Made = Callable[..., e.BathEvent]
"""An event without its press, time and hand."""


def check_name(name: str) -> str:
    """A valid name for a bath.

    Raises:
        BadValue: empty, too long, on two lines, or unsafe for a screen.
    """
    name = safe_text("bath name", name)
    if len(name) > MAX_NAME or "\n" in name or "/" in name or "=" in name:
        allowed = f'Use one line of up to {MAX_NAME} characters, without "/" or "="'
        raise BadValue("Bad bath name", f'"{name[:MAX_NAME]}"', allowed)
    return name


def _mix(history: History, command: MixBath) -> _Made:
    name = check_name(history.name)
    what = f"Can't mix {name}"
    bath = history.bath
    if bath is not None:
        so = (
            "it is open"
            if bath.is_open
            else "the book already has a bath with that name, and its record can't change"
        )
        way_out = "Retire it first, or use another name" if bath.is_open else "Use another name"
        raise BadValue(what, so, way_out)
    return partial(
        e.BathMixed,
        mix=command.mix,
        recipe=command.recipe,
        of=safe_text("description of the bath", command.of),
        volume=_volume(what, command.volume),
        fecl3=_strength(what, command.fecl3),
        window=command.window,
        chemistry=command.chemistry,
    )


def _top_up(history: History, command: TopUp) -> _Made:
    what = f"Can't top up {history.name}"
    _open(history, what)
    words = safe_text("note on the top-up", command.what)
    return partial(e.BathToppedUp, what=words, volume=_volume(what, command.volume))


def _read(history: History, command: ReadBath) -> _Made:
    what = f"Can't take that reading of {history.name}"
    _open(history, what)
    return partial(e.BathReading, reading=_figure(what, command.reading, READ_KINDS))


def _wear(history: History, command: Wear) -> _Made:
    what = f"Can't record metal removed in {history.name}"
    _open(history, what)
    return partial(e.BathWorn, removed=_figure(what, command.removed, ("mass",)))


def _coupon(history: History, command: Coupon) -> _Made:
    what = f"Can't record a coupon of {history.name}"
    _open(history, what)
    loss = _figure(what, command.loss, ("mass", "length"))
    if parse(loss).base <= 0:
        raise BadValue(what, "nothing was removed", 'Write the loss like "0.12 g" or "8 um"')
    if command.dwell_s < 1:
        raise BadValue(what, "the time is zero", 'Write the time like "5 min"')
    return partial(e.BathCoupon, loss=loss, dwell_s=command.dwell_s)


def _retire(history: History, command: Retire) -> _Made:
    _open(history, f"Can't retire {history.name}")
    return partial(e.BathRetired, how=safe_text("note on the disposal", command.how))


def _take_back(history: History, _command: TakeBack) -> _Made:
    what = f"Can't take back an entry of {history.name}"
    by_hand = [event for event in history.counts if event.press]
    if not by_hand:
        raise BadValue(what, "there is no entry to take back", "Nothing was changed")
    last = by_hand[-1]
    if isinstance(last, e.BathMixed) and len(history.counts) > 1:
        raise BadValue(
            what, "only the mixing entry is left, and runs have used the bath", "Retire it instead"
        )
    return partial(e.BathEntryTakenBack, undone=last.press)


def _open(history: History, what: str) -> Bath:
    bath = history.bath
    if bath is None:
        way_out = f'Mix it first: benchtimer bath mix "{history.name}"'
        raise BadValue(what, "there is no bath with that name", way_out)
    if not bath.is_open:
        raise BadValue(what, f"it is retired ({bath.how})", "Mix a new one under another name")
    return bath


def _volume(what: str, text: str | None) -> str | None:
    if text is None:
        return None
    volume = _figure(what, text, ("volume",))
    if parse(volume).base <= 0:
        raise BadValue(what, "the volume is zero", 'Write it like "6 L"')
    return volume


def _strength(what: str, text: str | None) -> str | None:
    """A possible strength of ferric chloride."""
    if text is None:
        return None
    figure = _figure(what, text, tuple(STRENGTH_KINDS.split(" or ")))
    try:
        salt_g = fecl3_g(1.0, strength_given_pct(parse(figure)))
    except TradeError as error:
        raise BadValue(what, str(error), "Read the hydrometer in the fresh bath") from None
    if salt_g <= 0:
        raise BadValue(what, "ferric chloride at zero strength is water", "Leave it out")
    return figure


def _figure(what: str, text: str, kinds: tuple[str, ...]) -> str:
    try:
        quantity = parse_typed(text, kinds[0] if len(kinds) == 1 else None)
    except QuantityError as error:
        raise BadValue(what, error.reason, as_way_out(error.allowed)) from None
    if quantity.kind.name not in kinds:
        raise BadValue(
            what, f'"{quantity.unit}" is a unit of {quantity.kind.name}',
            f"Enter a {' or '.join(kinds)}",
        )  # fmt: skip
    return str(quantity)


_DECIDERS: Mapping[type[BathCommand], Callable[[History, Any], _Made]] = {
    MixBath: _mix,
    TopUp: _top_up,
    ReadBath: _read,
    Wear: _wear,
    Coupon: _coupon,
    Retire: _retire,
    TakeBack: _take_back,
}
