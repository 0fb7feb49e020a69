"""`benchtimer plan` around the parts on the bench."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import SystemClock
from benchtimer.run import commands as c
from benchtimer.store.place import data_folder
from tests.support import SMALL, small_recipe, table


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A bench whose tank has a bolster in it, and the recipe as a file."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path))
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    driver = drive(data_folder(tmp_path, 1), SystemClock())
    try:
        new = NewRun("Dip", {"small": table(small_recipe())}, [("bolster", "small")])
        name = driver.set_up(new)
        for command in (c.Acknowledge("Hot tank"), c.Start(), c.Read("tank", "65 C"),
                        c.Begin("bolster"), c.Finish("bolster"), c.Finish("bolster")):  # fmt: skip
            driver.press(name, command)
    finally:
        driver.close()
    return tmp_path


def _plan(data: Path, *more: str) -> list[str]:
    recipe = str(data / "small.toml")
    return ["plan", recipe, "cap", "--data", str(data), "--hours", "always", *more]


def test_parts_wait_for_a_full_tank(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The bolster's dwell is in the plan, and the cap goes into the tank after it."""
    assert main(_plan(data, "--json")) == 0
    found = json.loads(capsys.readouterr().out)
    stays = {dwell["part"].rpartition(":")[2]: dwell for dwell in found["dwells"]
             if dwell["place"] == "tank"}  # fmt: skip
    assert stays["cap"]["in_s"] >= stays["bolster"]["out_s"] > 0


def test_the_text_says_that_it_is_beside_the_bench(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The plan shows both parts; a planned start delays only the new one."""
    assert main(_plan(data)) == 0
    assert "on the bench, starting now.\n" in capsys.readouterr().out
    assert main(_plan(data, "--start", "in 3 h")) == 0
    out = capsys.readouterr().out
    assert out.startswith("Planned around the runs on the bench, the new parts start at ")
    assert "from now, proven" in out
    assert ":bolster" in out
    assert "cap" in out


def test_a_break_is_on_the_day_of_the_start(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The plan begins with the bench today, but the break is on the day the new work starts."""
    day = f"{datetime.now().astimezone() + timedelta(days=2):%Y-%m-%d}"
    assert main(_plan(data, "--start", f"{day} 19:00", "--break", "19:00-19:30")) == 0
    moves = capsys.readouterr().out.splitlines()
    assert "19:30:00  cap: start >" in next(move for move in moves if "cap: start >" in move)
