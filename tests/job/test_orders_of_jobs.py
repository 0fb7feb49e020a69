"""Orders from the command line and the job file, and errors in them."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import pytest

from benchtimer.job.job_file import JobFileError, parse_job
from benchtimer.job.order import Order, OrderPart, parse_join, parse_part
from tests.job.orders import RECIPES, TODAY, petty_knife

CASES = tomllib.loads((Path(__file__).parent / "cases.toml").read_text("utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["name"]))
def test_a_bad_job_file_names_the_line(case: dict[str, object]) -> None:
    """The error for a bad file names the place, what was found and what to do."""
    with pytest.raises(JobFileError) as caught:
        parse_job(str(case["text"]).encode(), name="job.toml", recipes=RECIPES, today=TODAY)
    says = case["says"]
    assert isinstance(says, list)
    for words in says:
        assert words in str(caught.value)


def test_parts_and_joins_are_written_on_one_line() -> None:
    """``--part`` and ``--join`` define a part with its chain and its needs."""
    assert parse_part("blade = temper-cycles > hot-wax") == OrderPart(
        "blade", ("temper-cycles", "hot-wax")
    )
    join = parse_join("knife=edge-and-assembly: blade, butt cap")
    assert join == OrderPart("knife", ("edge-and-assembly",), ("blade", "butt cap"))


@pytest.mark.parametrize("text", ["blade", "blade=", "=hot-wax", "blade=hot-wax > "])
def test_a_part_without_its_chain_is_refused(text: str) -> None:
    """A ``--part`` not of the form NAME=RECIPE > RECIPE gets an error with the form."""
    with pytest.raises(ValueError, match="NAME=RECIPE > RECIPE"):
        parse_part(text)


def test_an_order_finds_a_part_by_its_name() -> None:
    """An order finds a part by its exact name, in any capitals."""
    order = petty_knife()
    assert order.part("BLADE") == order.parts[0]
    assert Order(date(2026, 12, 1), ()).part("blade") is None
