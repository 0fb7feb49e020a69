"""`run --like RUN`, and the question before a second run of the same parts."""

from __future__ import annotations

import io
import sys
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.cli.bench_command import _again, _set_up
from benchtimer.cli.common import Wrong
from benchtimer.clock import ManualClock
from tests.support import small_recipe, table

RUN = NewRun("Dip", {"small": table(small_recipe())}, [("bolster", "small"), ("cap", "small")])


@pytest.fixture
def driver(tmp_path: Path) -> Iterator[OpenBench]:
    """A bench with one run set up."""
    opened = drive(tmp_path, ManualClock(1_770_000_000_000))
    opened.set_up(RUN)
    yield opened
    opened.close()


def test_names_on_the_command_line_go_to_the_parts_in_order(driver: OpenBench) -> None:
    """A first name where the recipe would go; no names at all means new names."""
    job = Namespace(recipe="a", parts=["b"], baths=[])
    assert _again(driver, job, "last").parts == [("a", "small"), ("b", "small")]
    job = Namespace(recipe=None, parts=[], baths=[])
    assert _again(driver, job, "last").parts == [("bolster 2", "small"), ("cap 2", "small")]
    with pytest.raises(Wrong, match='there is no run "2020-01-01-1"'):
        _again(driver, job, "2020-01-01-1")


@pytest.mark.parametrize(("answer", "runs"), [("", 1), ("n\n", 1), ("y\n", 2)])
def test_the_same_parts_are_set_up_twice_only_if_you_ask(
    driver: OpenBench,
    answer: str,
    runs: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Only a yes makes a second run; anything else opens the existing one."""
    (first,) = driver.names
    monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
    assert (_set_up(driver, RUN) == first) == (runs == 1)
    assert len(driver.names) == runs
    output = capsys.readouterr().err
    assert f"Run {first} (idle) has the same parts: bolster, cap." in output


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ([], "needs a RECIPE and at least one PART, or --like RUN"),
        (["hot-black"], "needs a RECIPE and at least one PART, or --like RUN"),
        (["--like", "last", "--set", "dip.target=6 min"], "takes everything from that run"),
        (["--like", "last", "--count", "pins=6"], "takes everything from that run"),
    ],
)
def test_a_run_like_an_unknown_one_is_wrong_usage(
    words: list[str], expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A missing or impossible option gets a one-line message."""
    assert main(["run", *words]) == 2
    assert expected in capsys.readouterr().err
