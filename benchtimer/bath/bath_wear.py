"""How spent a bath is, as far as is known, and whether it reached the shop's own limits.

Two measures are kept separate:

- For ferric chloride of known strength and volume, the share of the salt that the weighed metal has
  used up, by the balanced equation (``trade.etchant_wear``): an estimate.
- For every bath, the number of parts and their total time. No published limit was found for either,
  so they count only against the shop's own limits.
"""

from __future__ import annotations

from typing import Final

from benchtimer.bath.bath_state import Bath
from benchtimer.quantity import Quantity, show_number
from benchtimer.times import duration, rough_duration
from benchtimer.trade import etchant, etchant_wear
from benchtimer.trade.valid_range import TradeError
from benchtimer.values import dataclass

NO_LIMIT: Final = "there is no published limit, and your settings have none"


@dataclass(frozen=True, slots=True)
class WearLimits:
    """A shop's own limits for the baths of one mix; None for a limit it has not set.

    Attributes:
        age_s: oldest, s.
        parts: most parts through it.
        dwell_s: most time of parts in it, added up, s.
        exhaustion: largest share of ferric chloride used up, 0 to 1.
    """

    age_s: float | None = None
    parts: int | None = None
    dwell_s: float | None = None
    exhaustion: float | None = None


NO_LIMITS: Final = WearLimits()


@dataclass(frozen=True, slots=True)
class BathWear:
    """How spent a bath is.

    Attributes:
        parts: parts through it.
        dwell_s: time of parts in it, s.
        exhaustion: share of its ferric chloride used up, 0 to 1; None if it is not known.
        share: how close it is to the nearest of the shop's limits, 1 at the limit; None without a
            limit.
        why: why the exhaustion can't be estimated, if it can't.
    """

    parts: int
    dwell_s: float
    exhaustion: float | None
    share: float | None
    why: str = ""

    @property
    def words(self) -> str:
        """The wear on one line."""
        parts_of = [f"{self.parts} part{'' if self.parts == 1 else 's'}"]
        parts_of[0] += f", {duration(round(self.dwell_s))} of dwell"
        if self.exhaustion is not None:
            parts_of.append(f"about {percent(self.exhaustion)} of its ferric chloride used up")
        elif self.why:
            parts_of.append(self.why)
        limit = NO_LIMIT if self.share is None else f"{percent(self.share)} of the shop's limit"
        return "; ".join([*parts_of, limit])


def percent(share: float) -> str:
    """A share in percent, with at least two digits."""
    return f"{show_number(100 * share, 0 if share >= 0.1 else 1)} %"


def wear_of(bath: Bath, limits: WearLimits = NO_LIMITS) -> BathWear:
    """How spent a bath is, from the metal removed, the parts, and their time in it."""
    used_up, why = exhaustion(bath)
    reached = [
        found / limit
        for found, limit in (
            (bath.parts, limits.parts),
            (bath.dwell_s, limits.dwell_s),
            (used_up, limits.exhaustion),
        )
        if found is not None and limit
    ]
    return BathWear(bath.parts, bath.dwell_s, used_up, max(reached, default=None), why)


def exhaustion(bath: Bath) -> tuple[float | None, str]:
    """The share of a bath's ferric chloride that is used up; if it is None, also the reason."""
    if bath.fecl3 is None:
        return None, "" if bath.removed_g is None else "no estimate: not entered as ferric chloride"
    if bath.made is None:
        return None, "no estimate: its volume is not known"
    if bath.removed_g is None:
        return None, "no estimate: no metal weighed yet"
    try:
        salt_g = etchant.fecl3_g(bath.made.base, etchant.strength_given_pct(bath.fecl3))
        return etchant_wear.exhaustion(bath.removed_g, salt_g), ""
    except TradeError as error:
        return None, f"no estimate: {error}"


HALF_BITE = 0.5
"""Etching takes twice as long as when fresh: one circuit board supplier changes the bath then.

No published rule for steel was found.
"""


def _bites_slowly(bath: Bath) -> list[str]:
    bite = bath.bite
    if bite is None or bite > HALF_BITE:
        return []
    return [
        f"spent: by its coupon it bites {percent(bite)} as fast as fresh. One circuit board "
        "supplier changes etchant at half; no published rule was found for steel"
    ]


def complaints(
    bath: Bath, limits: WearLimits, now_ms: int, window: tuple[Quantity, Quantity] | None = None
) -> list[str]:
    """Reasons not to use a bath now, one short text each; empty if there are none.

    Args:
        bath: which bath.
        limits: the shop's own limits for its mix.
        now_ms: bench time.
        window: temperatures of the station it goes into; its own window if None.
    """
    found: list[str] = []
    if not bath.is_open:
        found.append("it is retired")
    age_s = bath.age_s(now_ms)
    if limits.age_s is not None and age_s > limits.age_s:
        found.append(
            f"old: {rough_duration(age_s)}, this shop's limit is {rough_duration(limits.age_s)}"
        )
    found += _spent(bath, limits)
    found += _bites_slowly(bath)
    found += _out_of_window(bath, now_ms, window or bath.window)
    return found


def _spent(bath: Bath, limits: WearLimits) -> list[str]:
    reasons = []
    used_up, _ = exhaustion(bath)
    if limits.parts is not None and bath.parts >= limits.parts:
        reasons.append(f"spent: {bath.parts} parts, this shop's limit is {limits.parts}")
    if limits.dwell_s is not None and bath.dwell_s >= limits.dwell_s:
        found, most = (duration(round(s)) for s in (bath.dwell_s, limits.dwell_s))
        reasons.append(f"spent: {found} of dwell, this shop's limit is {most}")
    most_used = limits.exhaustion
    if used_up is not None and most_used is not None and used_up >= most_used:
        reasons.append(f"spent: about {percent(used_up)} of its ferric chloride used up, "
                    f"this shop's limit is {percent(most_used)}")  # fmt: skip
    elif bath.fecl3 is not None and "more than the bath could" in exhaustion(bath)[1]:
        reasons.append("spent: you weighed off more metal than it could dissolve")
    return reasons


def _out_of_window(bath: Bath, now_ms: int, window: tuple[Quantity, Quantity] | None) -> list[str]:
    last = bath.last_reading("temperature")
    if window is None or last is None:
        return []
    low, high = window
    if low.base - 1e-9 <= last.quantity.base <= high.base + 1e-9:
        return []
    side = "under" if last.quantity.base < low.base else "over"
    ago = rough_duration(max(0, now_ms - last.t_ms) / 1000)
    return [f"last read {last.quantity}, {ago} ago: {side} its window of {low} to {high}"]
