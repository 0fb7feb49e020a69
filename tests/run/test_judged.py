"""Answers and readings: what is kept and how it is judged."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from benchtimer.quantity import parse
from benchtimer.recipe.answers import MAX_WORDS
from benchtimer.recipe.checks import Check
from benchtimer.run.refusals import BadValue, judge_answer, judge_reading, safe_text
from tests.support import small_recipe

with (Path(__file__).parent / "judged.toml").open("rb") as _file:
    _TOLD = tomllib.load(_file)
ANSWERS: list[dict[str, Any]] = _TOLD["case"]
READINGS: list[dict[str, Any]] = _TOLD["reading"]
KNOWN = {"temper": parse("200 C")}
_CHECKS: TypeAdapter[Check] = TypeAdapter(Check)


def _check(table: dict[str, Any]) -> Check:
    return _CHECKS.validate_python({"id": "c", "ask": "What?", **table})


@pytest.mark.parametrize(
    "case", ANSWERS, ids=[f"{c['check']['kind']}-{c['said']}" for c in ANSWERS]
)
def test_an_answer_counts_as_what_the_check_says(case: dict[str, Any]) -> None:
    """A window includes its ends, units convert, and above the ceiling is its own verdict."""
    found = judge_answer(_check(case["check"]), case["said"], KNOWN)
    assert (found.shown, found.bad, found.above_ceiling) == (
        case["shown"], case.get("no", False), case.get("above", False)
    )  # fmt: skip


@pytest.mark.parametrize("case", READINGS, ids=[c["said"] for c in READINGS])
def test_a_reading_is_judged_by_its_station(case: dict[str, Any]) -> None:
    """A bare number is in the station's unit, and the verdict includes the window."""
    station = small_recipe().station_named(case.get("station", "tank"))
    _, verdict, limit = judge_reading(station, case["said"])
    assert (verdict, limit) == (case["verdict"], case["limit"])


@pytest.mark.parametrize("said", ["", "C", "20 min", "2O C", "20 C or so", "--5", "1.2.3"])
def test_text_that_is_not_a_temperature_is_refused(said: str) -> None:
    """An invalid temperature gets a message with a correct form."""
    with pytest.raises(BadValue, match="Can't take that reading of Tank: "):
        judge_reading(small_recipe().station_named("tank"), said)


@settings(deadline=None)
@given(st.floats(-50, 200), st.sampled_from(["C", "F"]))
def test_one_temperature_has_one_verdict_in_any_unit(value: float, unit: str) -> None:
    """The same heat in Celsius or Fahrenheit gets the same verdict."""
    station = small_recipe().station_named("tank")
    quantity = parse(f"{value:.1f} {unit}")
    verdicts = {
        judge_reading(station, f"{quantity.to(other).value:.9f} {other}")[1] for other in "CFK"
    }
    assert len(verdicts) == 1


@pytest.mark.parametrize(
    ("text", "kept"),
    [("  dark  ", "dark"), ("a\nb", "a\nb"), ("刃 — “x”", "刃 — “x”"),
     ("x" * MAX_WORDS, "x" * MAX_WORDS)],
)  # fmt: skip
def test_words_are_kept_as_entered(text: str, kept: str) -> None:
    """Letters of any script, several lines and long texts are kept, trimmed."""
    assert safe_text("note", text) == kept


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "it is empty"),
        (" \n ", "it is empty"),
        ("x" * (MAX_WORDS + 1), f"it is longer than {MAX_WORDS} characters"),
        ("a\x07", "U\\+0007"),
        ("a\u202eb", "U\\+202E"),
        ("a\x9b", "U\\+009B"),
    ],
)
def test_words_with_control_characters_are_refused(text: str, why: str) -> None:
    """Empty or endless texts and control codes are refused."""
    with pytest.raises(BadValue, match=f"Bad note: .*{why}"):
        safe_text("note", text)
