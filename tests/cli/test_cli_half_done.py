"""`--from`, `--before`, `--count`: half-done parts and batches, planned and rehearsed."""

from __future__ import annotations

import json

import pytest

from benchtimer.cli import main

START = ["--start", "2031-01-06T08:00", "--hours", "always", "--json"]


def test_a_half_done_part_is_planned_from_its_step(capsys: pytest.CaptureFixture[str]) -> None:
    """The plan of a blade that only needs to hang starts in the soak."""
    assert main(["plan", "etch-darken", "blade", "--from", "blade=hang", *START]) == 0
    table = json.loads(capsys.readouterr().out)
    assert table["dwells"][0]["step"] == "hang"
    assert len(table["dwells"]) == 3


def test_a_rehearsal_keeps_your_description(capsys: pytest.CaptureFixture[str]) -> None:
    """The record has the step it entered at and what was done before, as written."""
    words = ["--from", "blade=hang", "--before", "blade=etched = twice"]
    assert main(["rehearse", "etch-darken", "blade", *words, "--json"]) == 0
    (part,) = json.loads(capsys.readouterr().out)["parts"]
    assert (part["entered_at"], part["before"]) == ("hang", "etched = twice")


def test_a_batch_is_rehearsed_as_one_part(capsys: pytest.CaptureFixture[str]) -> None:
    """Six pins are one lane, and the record has their number."""
    assert main(["rehearse", "hot-black", "pins", "--count", "pins=6", "--json"]) == 0
    (part,) = json.loads(capsys.readouterr().out)["parts"]
    assert (part["name"], part["count"], part["count_left"]) == ("pins", 6, 6)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--from", "blade"], "it is not PART=STEP"),
        (["--from", "blade=hung"], 'No step "hung": etch-darken has none'),
        (["--before", "blade=etched"], "give --from blade=STEP"),
        (["--count", "blade=many"], "is not a number of pieces"),
        (["--count", "bolster=2"], 'No part "bolster"'),
        (["--count", "blade=0"], "Give 1 to 1000."),
        (["--from", "bolster=hang"], 'No part "bolster"'),
    ],
)
def test_a_wrong_entry_is_one_message(
    words: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong entry gets an error with what to do."""
    assert main(["plan", "etch-darken", "blade", *words]) != 0
    assert expected in capsys.readouterr().err
