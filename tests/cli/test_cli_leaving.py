"""`--leave-by`: a plan within an evening that ends early."""

from __future__ import annotations

import json

import pytest

from benchtimer.cli import main

PLAN = ["plan", "etch-darken", "blade", "--from", "blade=hang", "--start", "2031-01-06T09:00"]


def _moves(capsys: pytest.CaptureFixture[str], *more: str) -> list[tuple[int, int]]:
    assert main([*PLAN, "--hours", "always", "--json", *more]) == 0
    return [(m["start_s"], m["end_s"]) for m in json.loads(capsys.readouterr().out)["moves"]]


def test_nothing_is_planned_while_you_are_away(capsys: pytest.CaptureFixture[str]) -> None:
    """The soak ends before you leave or after you are back, not in between."""
    free = _moves(capsys)
    begin, end = 6 * 3600, 8 * 3600
    assert any(begin < start < end for start, _ in free)
    kept = _moves(capsys, "--leave-by", "2031-01-06 15:00 to 17:00")
    assert all(e <= begin or s >= end for s, e in kept)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("20:00", "does not say when you are back"), ("soon", "is not a time of day")],
)
def test_a_bad_time_is_wrong_usage(
    text: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong time gets a message that shows how to write it."""
    assert main([*PLAN, "--hours", "always", "--leave-by", text]) == 2
    assert expected in capsys.readouterr().err
