"""Exact hands that follow the large line, short form; ``tests.faults obey`` is the long form."""

from __future__ import annotations

from benchtimer.run.actions import PlanTimes
from tests.faults import obey
from tests.faults.obey import campaign, lost

RUNS = 4


def test_no_feasible_plan_is_lost() -> None:
    """Hands that follow the line at its times keep every window."""
    (row,) = campaign(RUNS, 1)
    assert (row.tried, row.lost) == (RUNS, 0), row


def test_a_line_that_ignores_the_plan_is_found_out(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """Without the plan's times the same hands lose windows, so the runs are tight enough."""
    monkeypatch.setattr(obey, "rehearsing", lambda *_: lambda *_: PlanTimes())
    assert any(lost(1_000_000 + number) for number in range(RUNS))


def test_a_plan_is_kept_when_a_part_takes_anothers_place() -> None:
    """When two parts cross paths, the known plan survives each press."""
    assert lost(7_000_106) is None
