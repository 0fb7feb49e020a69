"""Rates of the shop: yields, send-backs, hours."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import stats

from benchtimer.learn.monthly_rates import Worked, rates_of, rates_table, rates_text
from benchtimer.learn.posterior import LEVEL


def _part(
    name: str, month: str = "2026-11", *, verdict: bool | None = True, tries: int = 1,
    first: bool = True, sends: tuple[tuple[str, str], ...] = (),
) -> Worked:  # fmt: skip
    return Worked("etch", month, name, first, verdict, tries, sends, 600.0)


PARTS = [
    _part("a"),
    _part("b", tries=2, sends=(("judge", "no"),)),
    _part("c", verdict=False),
    _part("d", "2026-10"),
    _part("e", verdict=None),
    _part("a", first=False),
]


def test_first_pass_yield_counts_first_tries_only() -> None:
    """Of four parts judged in their first run, two were accepted on the first try."""
    rows = {row.month: (row.first_pass, row.judged) for row in rates_of(PARTS).yields}
    assert rows == {"": (2, 4), "2026-11": (1, 3), "2026-10": (1, 1)}


def test_a_yield_has_an_interval() -> None:
    """For two of four, the interval of the yield by Jeffreys' prior is scipy's."""
    row = rates_of(PARTS).yields[0]
    assert row.rate.interval == pytest.approx(stats.beta.interval(LEVEL, 2.5, 2.5))


def test_send_backs_and_hours_are_counted() -> None:
    """The table counts send-backs by answer, and hours of work."""
    found = rates_of(PARTS)
    [send] = found.sends
    assert (send.step, send.answer, send.sends, send.parts) == ("judge", "no", 1, 6)
    assert [(h.month, h.hands_s, h.parts) for h in found.hours] == [
        ("", 3600.0, 6),
        ("2026-11", 3000.0, 5),
        ("2026-10", 600.0, 1),
    ]


def test_hours_are_counted_by_job() -> None:
    """A job's time is that of all its parts in all their runs, and other parts count for none."""
    blade = replace(_part("blade"), job="petty knife", job_part="blade")
    bolster = replace(_part("bolster"), job="petty knife", job_part="bolster", hands_s=300.0)
    other = replace(_part("cap"), job="paring knife", job_part="cap")
    found = rates_of([blade, bolster, replace(blade, recipe="hot-wax"), other, *PARTS])
    hours = [(row.job, row.hands_s, row.parts) for row in found.job_hours]
    assert hours == [("paring knife", 600.0, 1), ("petty knife", 1500.0, 2)]
    assert "petty knife                    25 min, 2 parts" in rates_text(found)
    assert rates_table(found)["hands_on_by_job"] == [
        {"job": "paring knife", "hands_s": 600.0, "parts": 1},
        {"job": "petty knife", "hands_s": 1500.0, "parts": 2},
    ]
    assert "BY JOB" not in rates_text(rates_of(PARTS))


def test_text_and_table_have_the_same_rows() -> None:
    """People and programs get the same numbers."""
    found = rates_of(PARTS)
    text, table = rates_text(found), rates_table(found)
    assert "2 of 4" in text
    assert "etch, judge: no: once, 6 parts" in text
    assert [row["judged"] for row in table["first_pass_yield"]] == [4, 3, 1]  # type: ignore[attr-defined]
    assert rates_text(rates_of([])) == "No part has finished a recipe yet."


def test_a_part_that_is_only_set_up_adds_no_hours() -> None:
    """Hours count the parts worked on; without any there is no row."""
    worked = Worked("etch", "2026-11", "bolster", True, None, 1, (), 600.0, "knife", "bolster")
    idle = replace(worked, part="ferrule", hands_s=0.0, job_part="ferrule")
    assert [(row.hands_s, row.parts) for row in rates_of([worked, idle]).hours] == [
        (600.0, 1), (600.0, 1)]  # fmt: skip
    alone = rates_of([idle])
    assert not alone.hours
    assert not alone.job_hours
