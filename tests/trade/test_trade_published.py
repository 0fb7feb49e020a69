"""Every row of the data files in this folder: a published value against the program's own.

A row names either a ``figure`` (a function of a trade module, called ``with`` arguments,
of whose result one attribute may be ``take``n) or a ``topic`` (``ask``ed as on the command
line, of whose figure one ``result`` line is read in a ``unit``).
"""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path
from typing import Any

import pytest

from benchtimer.trade.figure import SourceStatus
from tests.trade.derived import figure_for

FILES = sorted(p for p in Path(__file__).parent.glob("*.toml") if p.stem != "naoh_correlation")
ROWS: list[tuple[str, dict[str, Any]]] = [
    (f"{path.stem}-{number}", row)
    for path in FILES
    for number, row in enumerate(tomllib.loads(path.read_text("utf-8"))["check"], start=1)
]


def _named(path: str) -> Any:
    module, _, name = path.rpartition(".")
    package = "tests.trade" if module == "derived" else "benchtimer.trade"
    return getattr(importlib.import_module(f"{package}.{module}"), name)


def _computed(row: dict[str, Any]) -> Any:
    arguments = {
        key: _named(value[1:]) if isinstance(value, str) and value.startswith("@") else value
        for key, value in row["with"].items()
    }
    result = _named(row["figure"])(**arguments)
    return getattr(result, row["take"]) if "take" in row else result


def _asked(row: dict[str, Any]) -> Any:
    figure: Any = figure_for(row["topic"], row["ask"]).as_dict()
    line = next(line for line in figure["results"] if line["label"] == row["result"])
    if "unit" not in row:
        return line["value"]
    got = {each["unit"]: each["value"] for each in (*line["also"], line)}
    return got[row["unit"]]


def _agrees(row: dict[str, Any], found: Any) -> bool:
    if "gives_f" in row:
        return bool(abs(found * 9 / 5 + 32 - row["gives_f"]) <= row["within"])
    if isinstance(row["gives"], str):
        return bool(found == row["gives"])
    return bool(abs(found - row["gives"]) <= row["within"])


@pytest.mark.parametrize("row", [row for _, row in ROWS], ids=[name for name, _ in ROWS])
def test_agrees_with_its_source(row: dict[str, Any]) -> None:
    """The program gives the published value, within the tolerance of the row."""
    found = _asked(row) if "topic" in row else _computed(row)
    assert _agrees(row, found), f"{found} is not {row} "


def test_every_row_names_a_reliable_source() -> None:
    """No row rests on memory or habit, and each names where its value is printed."""
    assert all(len(row["source"]) > 8 for _, row in ROWS)
    statuses = {SourceStatus(row["status"]) for _, row in ROWS}
    assert not statuses & {SourceStatus.MEMORY, SourceStatus.PRACTICE}


def test_a_wrong_value_would_be_caught() -> None:
    """The comparison fails on a value out of tolerance, in each of its three forms."""
    assert not _agrees({"gives": 10.0, "within": 0.1}, 10.11)
    assert not _agrees({"gives_f": 212.0, "within": 0.1}, 99.9)
    assert not _agrees({"gives": "pass"}, "fail")
