"""A bath over time: its history, its parts' outcomes, when it was last good; coupons."""

from __future__ import annotations

import pytest

from benchtimer.bath import bath_decide as c
from benchtimer.bath.bath_decide import decide
from benchtimer.bath.bath_events import BathEvent, BathUsed
from benchtimer.bath.bath_state import Bath, History, evolve
from benchtimer.bath.bath_wear import NO_LIMITS, complaints
from benchtimer.records.bathlife import bath_life, last_good, life_lines, life_table
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import BadValue
from benchtimer.store.log import LogEntry, Stamp

DAY_MS = 86_400_000


def _told(*wishes: c.BathCommand | BathUsed) -> tuple[Bath, list[LogEntry]]:
    """A bath and its log: one command or run a day."""
    history, entries = History("etch"), list[LogEntry]()
    for day, wish in enumerate((c.MixBath("ferric chloride"), *wishes)):
        now_ms = day * DAY_MS
        event: BathEvent = (
            wish if isinstance(wish, BathUsed) else decide(history, wish, Now(now_ms))
        )
        history = evolve(history, event)
        stamp = Stamp(now_ms, None, now_ms, 1_770_000_000_000 + now_ms, 0)
        entries.append(LogEntry(day + 1, "bath/etch", event, stamp))
    assert history.bath is not None
    return history.bath, entries


def _run(name: str, day: int, *parts: str) -> BathUsed:
    return BathUsed(
        press=0, t_ms=day * DAY_MS, by="benchtimer", run=name, parts=parts,
        immersions=len(parts), dwell_ms=300_000,
    )  # fmt: skip


OUTCOMES = {"a": True, "b": True, "c": False}


def _came_out(_run: str, part: str) -> bool | None:
    return OUTCOMES.get(part)


def test_events_come_in_order_of_time() -> None:
    """A coupon, two runs, an addition and a slower coupon, in order, with outcomes and bite."""
    bath, entries = _told(
        c.Coupon("0.2 g"), _run("r1", 2, "a", "b"), c.TopUp("acid"), _run("r2", 4, "c", "d"),
        c.Coupon("0.05 g"),
    )  # fmt: skip
    life = bath_life(bath, entries, _came_out)
    assert [(m.what, m.parts, m.good, m.bad, m.bite) for m in life] == [
        ("coupon 0.2 g in 5 min", 0, 0, 0, 1.0),
        ("run r1", 2, 2, 0, None),
        ("added: acid", 2, 0, 0, None),
        ("run r2", 4, 0, 1, None),
        ("coupon 0.05 g in 5 min", 4, 0, 0, 0.25),
    ]
    assert (
        last_good(life) == "last good: run r1, 2026-02-04, 2 parts through it; 1 failed in it since"
    )
    text = "\n".join(life_lines(life))
    assert "25% of the first" in text
    assert "run r1 ++" in text
    assert [row["good"] for row in life_table(life)] == [0, 2, 0, 0, 0]


def test_a_bath_without_a_good_part_was_never_good() -> None:
    """A bath without a judged part has no "last good" day."""
    bath, entries = _told(_run("r1", 1, "d"))
    assert last_good(bath_life(bath, entries, _came_out)) == ""


def test_a_coupon_measures_the_etch_rate() -> None:
    """Half the loss, or the same loss in twice the time, is half the bite, which warns."""
    assert _told(c.Coupon("0.2 g"))[0].bite is None
    assert _told(c.Coupon("0.2 g"), c.Coupon("0.1 g"))[0].bite == pytest.approx(0.5)
    bath = _told(c.Coupon("8 um"), c.Coupon("8 um", 1500))[0]
    assert bath.bite == pytest.approx(0.2)
    assert "bites 20 % as fast as fresh" in complaints(bath, NO_LIMITS, 0)[0]
    assert complaints(_told(c.Coupon("8 um"), c.Coupon("7 um"))[0], NO_LIMITS, 0) == []


def test_a_weight_is_not_compared_with_a_depth() -> None:
    """A coupon measured in depth is not compared with one measured in weight."""
    assert _told(c.Coupon("0.2 g"), c.Coupon("8 um"))[0].bite is None


@pytest.mark.parametrize("wish", [c.Coupon("0 g"), c.Coupon("3 L"), c.Coupon("1 g", 0)])
def test_a_coupon_without_a_measurement_is_refused(wish: c.Coupon) -> None:
    """A coupon without loss, without weight or depth, or without time is refused."""
    with pytest.raises(BadValue):
        _told(wish)
