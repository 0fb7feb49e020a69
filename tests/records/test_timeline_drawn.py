"""The drawn timeline: bars as long as the stays, round grid lines, letters for stations."""

from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtimer.quantity import parse_duration
from benchtimer.records.charts import (
    LEFT,
    WIDTH,
    lettered,
    station_letters,
    timeline_svg,
    work_ends_s,
)
from benchtimer.records.record import PartRecord, Record, Visit, make_record
from benchtimer.run import commands as c
from tests.records.golden import entries_of
from tests.records.laws import PRESSES, Presses, log_of
from tests.support import MINUTE, Hands

ROOM = WIDTH - LEFT - 10


def _record(*visits: Visit) -> Record:
    record = make_record(entries_of(Hands(names=("bolster",))))
    record.parts = [PartRecord("bolster", 1, "small", "waiting", visits=list(visits))]
    return record


def _stay(station: str, in_s: float, out_s: float | None, verdict: str = "within") -> Visit:
    return Visit("dip", "Dip", 1, 20, began_s=in_s, hands_s=0, station=station,
                 in_s=in_s, out_s=out_s, verdict=verdict)  # fmt: skip


def _bars(svg: str) -> list[tuple[str, float, float]]:
    found = re.findall(r'<rect class="([^"]*)" x="([0-9.]+)".*? width="([0-9.]+)"', svg)
    return [(kind, float(x), float(width)) for kind, x, width in found]


@given(PRESSES)
def test_bars_have_the_position_and_length_of_the_stays(presses: Presses) -> None:
    """Each stay is a bar of its length; wrong ones are marked, and none leaves the sheet."""
    record = make_record(log_of(presses))
    end_s = work_ends_s(record)
    stays = [v for p in record.parts for v in p.visits if v.in_s is not None]
    bars = _bars(timeline_svg(record))
    assert len(bars) == len(stays)
    for visit, (kind, x, width) in zip(stays, bars, strict=True):
        assert visit.in_s is not None
        out_s = visit.out_s if visit.out_s is not None else end_s
        assert x == pytest.approx(LEFT + ROOM * visit.in_s / end_s, abs=0.06)
        assert width == pytest.approx(max(1, ROOM * (out_s - visit.in_s) / end_s), abs=0.11)
        assert x + width <= WIDTH
        assert ("wrong" in kind) == (visit.verdict in ("early", "overrun"))


@settings(deadline=None)
@given(st.floats(1, 5e6))
def test_grid_lines_are_few_and_at_round_times(end_s: float) -> None:
    """From a minute to months there are at most eleven lines, evenly spaced, the first at zero."""
    svg = timeline_svg(_record(_stay("tank", 0, end_s)))
    labels = re.findall(r'class="axis"[^>]*>([^<]+)<', svg)
    times = [parse_duration(label) for label in labels]
    assert 1 <= len(times) <= 11
    steps = {b - a for a, b in itertools.pairwise(times)}
    assert times[0] == 0
    assert len(steps) <= 1


def test_a_verdict_a_month_later_stretches_nothing() -> None:
    """The timeline ends with the work, however late the verdict comes."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.TakeOut("bolster"), 5 * MINUTE)
    ends = work_ends_s(make_record(entries_of(hands)))
    hands(c.Judge("bolster", "accepted"), 30 * 24 * 60 * MINUTE)
    assert work_ends_s(make_record(entries_of(hands))) == ends


def test_a_part_still_in_a_tank_has_a_bar_to_the_end() -> None:
    """A stay in progress lasts until the last log entry."""
    hands = Hands(names=("bolster",))
    hands.to_tank()
    hands(c.Note("looks good"), 10 * MINUTE)
    record = make_record(entries_of(hands))
    assert work_ends_s(record) == record.lines[-1].elapsed_s


def test_a_back_dated_press_shortens_no_other_stay() -> None:
    """If the last entry is backdated, the sheet still ends after the latest stay."""
    hands = Hands(names=("bolster", "ferrule"))
    hands(c.Begin("ferrule"))
    hands(c.Finish("ferrule"), MINUTE)
    hands.to_tank("bolster")
    hands(c.Hold("ferrule"), 1000)
    hands(c.BackDate(60_000))
    record = make_record(entries_of(hands))
    went_in_s = record.parts[0].visits[1].in_s
    assert went_in_s is not None
    assert record.lines[-1].elapsed_s < went_in_s <= work_ends_s(record)


def test_stations_have_letters_in_order_of_first_use() -> None:
    """The first station that held a part is a; after z come a1, b1."""
    visits = [_stay(f"station {n}", 100.0 - n, 200) for n in range(30)]
    letters = station_letters(_record(*visits))
    assert letters["station 29"] == "a"
    assert letters["station 4"] == "z"
    assert letters["station 3"] == "a1"
    assert len(set(letters.values())) == 30


def test_a_long_name_is_cut_and_a_hostile_one_is_text() -> None:
    """A lane shows eighteen letters of a name, and marks in it are not markup."""
    record = _record()
    record.parts[0].name = "<b>&" + "x" * 30
    svg = timeline_svg(record)
    assert "&lt;b&gt;&amp;" + "x" * 13 + "…" in svg
    assert "<b>" not in svg


@pytest.mark.parametrize(("verdict", "mark"), [("overrun", "!"), ("early", "&lt;"), ("within", "")])
def test_a_bad_stay_has_a_mark_without_color(verdict: str, mark: str) -> None:
    """Too long has an exclamation mark, too short an angle, as the legend says."""
    svg = timeline_svg(_record(_stay("tank", 0, 100, verdict)))
    assert re.findall(r'class="mark"[^>]*>([^<]*)<', svg) == ([mark] if mark else [])


def test_a_station_has_its_name_if_it_fits_or_a_letter() -> None:
    """A long stay has its name in the bar, and the legend explains only letters in use."""
    made = _record(_stay("tank", 0, 9_000), _stay("sink", 9_000, 9_100))
    svg = timeline_svg(made)
    assert ">tank</text>" in svg
    assert ">sink</text>" not in svg
    assert lettered(made) == {"sink": "b"}
