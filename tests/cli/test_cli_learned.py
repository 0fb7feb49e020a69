"""The planner and the rehearsal use your own times, say so, and ignore them on request."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchtimer.bench.newrun import NewRun
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.clock import ManualClock
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.recipe.writer import recipe_table
from benchtimer.run import commands as c
from tests.support import start

START_MS = 1_780_000_000_000
PLAN = ("plan", "hot-black", "bolster", "--by", "ada", "--seconds", "0.2")


@pytest.fixture(name="shop")
def _shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop in which ada took ten minutes for the first step, six times."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "bench"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    clock = ManualClock(START_MS)
    driver = drive(tmp_path / "bench", clock, by="ada")
    table = recipe_table(RecipeFiles().find("hot-black"))
    for _ in range(6):
        name = driver.set_up(NewRun("fittings", {"hot-black": table}, [("pin", "hot-black")]))
        start(driver, name)
        driver.press(name, c.Begin("pin"))
        clock.advance(600_000)
        bench = driver.state(name).bench
        for check in bench.open_checks(bench.parts["pin"]):
            driver.press(name, c.Answer("pin", check.id, True))  # the last one ends the step
        driver.press(name, c.Abort("enough"))
    driver.close()
    return tmp_path


def _out(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def _hands_s(capsys: pytest.CaptureFixture[str], *more: str) -> int:
    data = json.loads(_out(capsys, *PLAN, "--json", *more))
    assert data.get("learned", {}) == ({} if more else {"hot-black": 6})
    return sum(move["end_s"] - move["start_s"] for move in data["moves"])


def test_the_plan_uses_your_own_times(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The plan uses the longer time of a slow first step and says where it comes from."""
    assert shop.exists()
    assert "from your 6 runs; --recipe-times ignores them" in _out(capsys, *PLAN)
    assert _hands_s(capsys) > _hands_s(capsys, "--recipe-times")


def test_another_makers_plan_uses_the_recipes_times(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A maker who was never timed gets the times of the recipe."""
    assert shop.exists()
    assert "your 6 runs" not in _out(capsys, *PLAN[:3], "--by", "ben", "--seconds", "0.2")


def test_the_rehearsal_uses_your_own_times(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Simulated hands are as slow as yours, and the output says so."""
    assert shop.exists()
    rehearse = ("rehearse", "hot-black", "bolster", "--by", "ada", "--spread", "0", "--json")
    assert main(list(rehearse)) == 0
    mine = capsys.readouterr()
    assert "from your 6 runs" in mine.err
    assert main([*rehearse, "--recipe-times"]) == 0
    files = capsys.readouterr()
    assert "your 6 runs" not in files.err
    first = [json.loads(found.out)["parts"][0]["visits"][0]["hands_s"] for found in (mine, files)]
    assert first[0] > first[1]
