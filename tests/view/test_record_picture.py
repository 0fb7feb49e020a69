"""A drawn record: sessions on their own axes, baths between limits, worst dwells first."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from benchtimer.records.charts import badness, troubles_first
from benchtimer.records.record import PartRecord, Record, Visit, make_record
from benchtimer.records.recorded import RecordedAlarm
from benchtimer.run import commands as c
from benchtimer.view.record_picture import (
    RecordAxis,
    dwells,
    is_costly,
    sessions,
    timeline,
)
from tests.records.golden import entries_of, record
from tests.support import MINUTE, Hands

STAY = Visit(
    "dip", "Dip", 1, 60, began_s=600, hands_s=60, station="tank", in_s=660, out_s=960,
    min_s=240, target_s=300, max_s=480, verdict="within",
)  # fmt: skip


def _of(*visits: Visit) -> Record:
    """A record of one part with these visits."""
    hands = Hands(names=("bolster",))
    made = make_record(entries_of(hands))
    made.parts = [PartRecord("bolster", 1, "small", "done", visits=list(visits))]
    made.readings = []
    return made


def _lane(*visits: Visit, width: int = 80) -> str:
    return next(line for line in timeline(_of(*visits), width) if line.startswith(" #1"))


def test_work_and_stays_are_named_for_their_place() -> None:
    """Work is a block, and the dwell after it a dotted line with the place's name."""
    lane = _lane(STAY)
    assert "█TANK┄" in lane
    assert "▒" not in lane


@pytest.mark.parametrize(
    ("out_s", "verdict", "mark"), [(1260, "overrun", "▒"), (840, "early", "<")]
)
def test_what_went_wrong_is_marked_in_the_lane(out_s: int, verdict: str, mark: str) -> None:
    """Time past max and an early pull are marked, even under the next work."""
    wrong = replace(STAY, out_s=out_s, verdict=verdict)
    after = replace(STAY, began_s=out_s, hands_s=60.0, station=None, in_s=None, out_s=None)
    assert mark in _lane(wrong, after)


def test_a_long_pause_parts_two_sessions() -> None:
    """Work after a night has its own axis, with its own day above it."""
    morning = replace(STAY, began_s=50_000, in_s=50_060, out_s=50_300)
    made = _of(replace(STAY, out_s=50_000), morning)
    assert [(round(a), round(b)) for a, b in sessions(made)] == [(480, 780), (49_880, 50_180)]
    titles = [line for line in timeline(made, 80) if ", " in line and " to " in line]
    assert len(titles) == 2


def test_readings_are_drawn_between_their_limits() -> None:
    """A bath shows its readings at their times, with min and max beside them."""
    lines = timeline(record(), 120)
    at = next(i for i, line in enumerate(lines) if line.startswith(" TANK"))
    assert "max 70" in lines[at]
    assert "65" in lines[at]
    assert "min 60" in lines[at + 1]
    assert "▅" in lines[at + 1]


@given(
    st.lists(
        st.builds(
            lambda began, hands, dwell, verdict: replace(
                STAY, began_s=began, hands_s=hands, in_s=began + hands,
                out_s=began + hands + dwell, verdict=verdict, max_s=max(0, dwell - 1)),
            st.integers(0, 90_000), st.integers(0, 600), st.integers(0, 40_000),
            st.sampled_from(["within", "early", "overrun"]),
        ),
        max_size=6,
    ),
    st.integers(40, 200),
)  # fmt: skip
def test_any_record_fits(visits: list[Visit], width: int) -> None:
    """For any history no row is wider than the screen."""
    made = _of(*visits)
    for line in (*timeline(made, width), *dwells(made, max(60, width))):
        assert cell_len(line) <= max(60, width)


def test_min_and_max_of_all_dwells_are_aligned() -> None:
    """Windows of minutes and of hours share one scale, so an overrun is visible."""
    long = replace(STAY, station="soak", out_s=660 + 30_000, min_s=20_000, max_s=40_000)
    late = replace(STAY, out_s=660 + 600, verdict="overrun")
    rows = dwells(_of(STAY, long, late), 100)
    walls = {row.index("┫") for row in rows[1:]}
    assert len(walls) == 1
    assert "▒" in rows[1]
    assert rows[1].startswith(" !!")
    assert "10 min" in rows[1]
    assert "4 min to 8 min" in rows[1]
    assert all("▒" not in row for row in rows[2:])


@given(st.integers(0, 2000), st.integers(0, 2000))
def test_a_worse_deviation_ranks_higher(first_s: int, second_s: int) -> None:
    """A longer overrun is worse than a shorter one, and any overrun than a kept window."""
    late = [
        replace(STAY, out_s=660 + 481 + s, verdict="overrun") for s in sorted((first_s, second_s))
    ]
    assert badness(late[0]) <= badness(late[1])
    assert badness(late[0]) > badness(replace(STAY, out_s=700, verdict="early")) > badness(STAY)


def test_deviations_are_named_worst_first() -> None:
    """The longest overrun comes first, then a dwell cut short."""
    made = record()
    lines = troubles_first(made)
    assert lines[0].startswith("!! #1 petty knife: OVERRUN by 1 min")
    assert lines[1].startswith("!! #1 petty knife: CUT SHORT by 1 min 30 s")
    assert any("scrapped" in line for line in lines)


def test_a_late_answer_counts_only_while_a_window_is_running() -> None:
    """A late answer matters for a dwell with a max, not for a part on the rack."""
    made = _of(STAY, replace(STAY, station="rack", in_s=1000, out_s=9000, max_s=None))
    alarm = RecordedAlarm(at="", elapsed_s=900, what="pull", who="bolster", answered_s=60)
    assert is_costly(made, alarm)
    assert not is_costly(made, replace(alarm, elapsed_s=5000))
    assert not is_costly(made, replace(alarm, who="tank"))


def test_axis_ticks_are_round_times_of_day() -> None:
    """Labels are at round times, and midnight has the name of its day."""
    begins = datetime(2026, 12, 5, 22, 10, tzinfo=UTC)
    axis = RecordAxis(20, 60, 0.0, 4 * 3600.0, begins)
    labels = [label for _, label in axis.ticks()]
    assert labels[:4] == ["23:00", "Sun", "01:00", "02:00"]


def test_a_hand_made_run_is_drawn_as_it_went() -> None:
    """The picture shows the steps of a real run through the engine."""
    hands = Hands(names=("bolster",))
    hands(c.Read("tank", "65 C"))
    hands.to_tank()
    hands(c.Begin("bolster"), 5 * MINUTE)
    lines = timeline(make_record(entries_of(hands)), 80)
    assert any(line.startswith(" HANDS") and "█" in line for line in lines)
    assert any("TANK" in line and line.startswith(" #1 bolster") for line in lines)
