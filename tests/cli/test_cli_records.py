"""The commands about records, as a shell would call them."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sys
import tomllib
from pathlib import Path

import pytest

from benchtimer.bench.writer import drive
from benchtimer.cli import main, record_filters
from benchtimer.clock import ManualClock, SystemClock
from benchtimer.orders import new_run
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.records.tries import OUTCOMES, SENT_BACK
from benchtimer.run import commands as c
from benchtimer.run.commands import VERDICTS
from tests.records.conftest import PART
from tests.records.maker import Maker
from tests.support import SMALL, start

RUN = "2026-03-27-1"


@pytest.fixture(name="data")
def _data(knife_data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with the petty knife's run, and a settings folder of its own."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "bench"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    shutil.copytree(knife_data, tmp_path / "bench")
    return tmp_path


def _ok(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def _no(capsys: pytest.CaptureFixture[str], code: int, *arguments: str) -> str:
    assert main(list(arguments)) == code
    return capsys.readouterr().err


def test_a_record_comes_in_every_form(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each form names the part; CSV and TOML read back."""
    assert data.exists()
    for form in ("text", "markdown", "csv", "json", "toml", "html"):
        text = _ok(capsys, "record", RUN, "--as", form)
        assert PART in text
        if form == "csv":
            assert {row["run"] for row in csv.DictReader(io.StringIO(text, newline=""))} == {RUN}
        if form == "toml":
            found = json.loads(_ok(capsys, "record", RUN, "--as", "json"))
            assert tomllib.loads(text) == found


def test_a_run_is_judged_later(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A verdict, a rating and a note go through the engine into the log and the record file."""
    call = ["judge", RUN, PART, "--verdict", "rework", "--rating", "2", "--note", "faded overnight"]
    assert "rework, rating 2 of 5" in _ok(capsys, *call)
    assert RUN in _ok(capsys, "record", "--verdict", "rework", "--words", "faded")
    file = data / "bench" / "records" / f"{RUN}.toml"
    assert tomllib.loads(file.read_text(encoding="utf-8"))["parts"][0]["verdict"] == "rework"
    assert 'No part "axe"' in _no(capsys, 1, "judge", RUN, "axe", "--verdict", "rework")
    assert "no run" in _no(capsys, 1, "judge", "2026-03-27-9", PART, "--verdict", "rework")
    driver = drive(data / "bench", SystemClock())
    assert "has this bench open" in _no(capsys, 3, "judge", RUN, PART, "--verdict", "rework")
    driver.close()


def test_tries_are_compared(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A run alone gives its tries; you can pick two; programs get JSON."""
    assert data.exists()
    assert "  1   Cleaned with what?" in _ok(capsys, "compare", RUN)
    table = json.loads(_ok(capsys, "compare", f"{RUN}:{PART}:1", f"{RUN}:{PART}:3", "--json"))
    assert [a["try"] for a in table["tries"]] == [1, 3]
    assert table["differences"][0]["separates"] is True
    assert "two tries" in _no(capsys, 2, "compare", f"{RUN}:{PART}:1")
    assert "there were 3" in _no(capsys, 1, "compare", f"{RUN}:{PART}:1", f"{RUN}:{PART}:7")
    assert "no part" in _no(capsys, 1, "compare", f"{RUN}:axe", RUN)
    assert "is not RUN" in _no(capsys, 2, "compare", ":x", RUN)


def test_what_worked_is_kept(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``keep`` first shows the changes, then writes them once, and the next run uses them."""
    path = data / "config" / "recipes" / "etch-darken.toml"
    assert "not written" in _ok(capsys, "keep", RUN, "--show")
    assert not path.exists()
    assert f"written: {path}" in _ok(capsys, "keep", "last")
    assert "was already made from this run" in _ok(capsys, "keep", RUN)
    kept = RecipeFiles().find("etch-darken").revision + 1
    assert f"revision {kept}" in _ok(capsys, "recipes", "etch-darken")
    assert f"etch-darken-{kept}.toml" in _ok(capsys, "keep", RUN, "--leave", "etch.target")
    out = _ok(capsys, "rehearse", "etch-darken", "knife", "--json")
    assert json.loads(out)["recipes"]["etch-darken"]["lineage"]["run"] == RUN


def test_a_recipe_run_from_a_path_keeps_its_comments(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Set up from a file outside the recipe folders, the revision keeps that file's comments."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "bench"))
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    (tmp_path / "trial.toml").write_text(f"# Aunt's way.\n{SMALL}")
    monkeypatch.chdir(tmp_path)
    clock = ManualClock(1_770_000_000_000)
    driver = drive(tmp_path / "bench", clock)
    name = driver.set_up(new_run(RecipeFiles(), "./trial.toml", ["pin"]))
    Maker(driver, clock, name).work()
    driver.close()
    monkeypatch.chdir("/")
    output = _ok(capsys, "keep", "last")
    assert "comments" not in output
    kept = tmp_path / "config" / "recipes" / "trial.toml"
    assert kept.read_text().startswith("# Aunt's way.\n")
    assert "revision = 2\n" in kept.read_text()


def test_a_failure_is_not_kept(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A rejected part gives no revision, and the message says what to do."""
    _ok(capsys, "judge", RUN, PART, "--verdict", "rejected")
    assert "did not come out well" in _no(capsys, 1, "keep", RUN)
    assert not (data / "config").exists()


def test_runs_and_parts_are_found(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Search by part, words and date; nothing found is exit 1, no filter is exit 2."""
    assert data.exists()
    assert RUN in _ok(
        capsys, "record", "--part", "petty*", "--date", "2026-03", "--words", "tang grey"
    )
    assert json.loads(_ok(capsys, "record", "--recipe", "etch-darken", "--json"))[0]["name"] == RUN
    assert "no run matches all filters" in _no(capsys, 1, "record", "--words", "pink")
    assert "filters list runs" in _no(capsys, 2, "record", RUN, "--words", "pink")
    assert "petty knife: 3 tries in 1 run" in _ok(capsys, "part", PART)
    assert len(json.loads(_ok(capsys, "part", "Petty Knife", "--json"))["tries"]) == 3
    assert "no run has a part" in _no(capsys, 1, "part", "axe")


def test_the_outcomes_are_those_of_the_records() -> None:
    """The help page offers every outcome of a try and every verdict on a part."""
    assert VERDICTS == record_filters.VERDICTS
    assert (*OUTCOMES, SENT_BACK, *VERDICTS) == record_filters.OUTCOMES


def test_tries_are_found_by_their_notes(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two tries were sent back, one was accepted, none rejected."""
    assert data.exists()
    assert _tries(capsys, "--outcome", "sent-back") == [1, 2]
    assert _tries(capsys, "--outcome", "accepted") == [3]
    assert "no matching try was rejected" in _no(capsys, 1, "record", "--outcome", "rejected")


def test_rates_are_printed(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One part accepted on its third try has no first-pass yield and two send-backs."""
    assert data.exists()
    text = _ok(capsys, "rates", "etch-darken")
    assert "0 of 1" in text
    assert "flat or gone: etch again: 2 times, 1 part" in text
    table = json.loads(_ok(capsys, "rates", "--date", "2026", "--json"))
    assert table["first_pass_yield"][0]["judged"] == 1
    assert "no real run" in _no(capsys, 1, "rates", "hot-black")


def _tries(capsys: pytest.CaptureFixture[str], *asked: str) -> list[int]:
    """The numbers of the tries found, in order."""
    return [row["try"] for row in json.loads(_ok(capsys, "record", *asked, "--json"))]


def test_tries_are_found_by_their_outcome(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Darkenings that were sent back in the run are failed tries; the last one held."""
    assert data.exists()
    found = _ok(capsys, "record", "--outcome", "failed", "--recipe", "etch-darken").splitlines()
    assert [line.split("  ")[:3] for line in found] == [
        ["2026-03-27", "failed", f"{RUN}:{PART}:1"], ["2026-03-27", "failed", f"{RUN}:{PART}:2"]
    ]  # fmt: skip
    assert all("etch-darken: sent back: Do the blacks stay black" in line for line in found)
    assert _tries(capsys, "--outcome", "failed") == [1, 2]
    assert _tries(capsys, "--outcome", "failed", "--limit", "1") == [1]
    assert _tries(capsys, "--outcome", "well", "--part", "petty*", "--words", "tang") == [3]
    assert _tries(capsys, "--outcome", "well", "--verdict", "accepted") == [3]
    assert "no matching try is open" in _no(capsys, 1, "record", "--outcome", "open")
    assert "no matching try failed" in _no(
        capsys, 1, "record", "--outcome", "failed", "--part", "petty"
    )
    assert "no matching try failed" in _no(
        capsys, 1, "record", "--outcome", "failed", "--verdict", "accepted"
    )


def test_a_verdict_is_not_an_outcome(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A try that failed in the run has no verdict, and the message says how to find it."""
    assert data.exists()
    for verdict in ("rework", "rejected"):
        message = _no(capsys, 1, "record", "--verdict", verdict)
        assert "sent back in its run has no verdict: --outcome failed finds it" in message
    _ok(capsys, "judge", RUN, PART, "--verdict", "rejected")
    assert RUN in _ok(capsys, "record", "--verdict", "rejected")
    assert _tries(capsys, "--outcome", "failed") == [1, 2, 3]
    assert _tries(capsys, "--outcome", "failed", "--verdict", "rejected") == [3]


def test_only_a_limited_number_of_runs_is_searched(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When a search stops at its limit, the output says there may be more."""
    assert data.exists()
    monkeypatch.setattr("benchtimer.records.tries.MOST_RUNS", 1)
    assert main(["record", "--outcome", "well"]) == 0
    assert "searched the newest 1 runs only" in capsys.readouterr().err


def test_a_scrapped_part_is_not_accepted(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The refusal says why, and which verdicts the part can get."""
    clock = ManualClock(1_775_000_000_000)
    driver = drive(data / "bench", clock)
    name = driver.set_up(new_run(RecipeFiles(), "hot-black", ["bolster"]))
    driver.press(name, c.Scrap("bolster", "cracked"))
    driver.close()
    message = _no(capsys, 1, "judge", name, "bolster", "--verdict", "accepted")
    assert "Can't judge bolster accepted: it was scrapped. Judge it rejected or rework" in message
    assert "rejected" in _ok(capsys, "judge", name, "bolster", "--verdict", "rejected")


def test_the_log_is_exported_and_imported(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Backup, export, import twice and restore work between two benches."""
    copy, files, other = data / "copy.sqlite3", data / "files", str(data / "other")
    assert "entries" in _ok(capsys, "backup", str(copy))
    assert "already exists" in _no(capsys, 1, "backup", str(copy))
    assert "1 runs" in _ok(capsys, "export", "all", str(files))
    assert {p.suffix for p in files.iterdir()} == {".jsonl", ".toml", ".html"}
    run = str(files / f"{RUN}.jsonl")
    assert f"run {RUN}" in _ok(capsys, "import", run, "--data", other)
    assert "already there" in _ok(capsys, "import", run, "--data", other)
    assert "not a run of benchtimer" in _no(capsys, 1, "import", str(files / f"{RUN}.toml"))
    assert "is kept" in _ok(capsys, "restore", str(copy), "--data", other)
    assert RUN in _ok(capsys, "record", "--data", other)
    driver = drive(data / "bench", SystemClock())
    assert "leave it first" in _no(capsys, 3, "restore", str(copy))
    driver.close()


def test_your_own_times_become_the_recipe(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over some runs, the command prints your times, and keeps them only after a yes."""
    from benchtimer.learn import estimates, posterior, take_over

    monkeypatch.setattr(sys, "stdin", io.StringIO("n\n"))
    command = ["times", "etch-darken", "--by", "maker"]
    text = _ok(capsys, *command)
    assert "times from your 1 run" in text
    assert "Scrub with cleaner, wipe, rinse cold [degrease]" in text
    table = json.loads(_ok(capsys, *command, "--json"))
    assert table["steps"][2]["hands"]["times"] == 3
    assert len(table["steps"][2]["hands"]["times_s"]) == 3
    assert table["spread"] > 0
    other = _ok(capsys, "times", "etch-darken", "--by", "another")
    assert "Runs by other makers, not counted here: maker (1)" in other
    monkeypatch.setattr(take_over, "ENOUGH", 3)
    assert main([*command, "--keep", "--yes"]) == 0
    assert "nothing to keep" in capsys.readouterr().err
    monkeypatch.setattr(estimates, "LEAST_APART_S", -1.0)
    monkeypatch.setattr(estimates, "LEAST_APART", -1.0)
    monkeypatch.setattr(posterior.Time, "interval_s", (0.0, 1.0))
    assert "not written" in _ok(capsys, *command, "--keep")
    assert not (data / "config").exists()
    assert "degrease.hands: 3 min -> " in _ok(capsys, *command, "--keep", "--yes")
    shown = _ok(capsys, "recipes", "etch-darken")
    assert "based on times and answers from your 1 run" in " ".join(shown.split())
    assert "no recipe" in _no(capsys, 1, "times", "nope")


def test_causes_are_printed(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three tries prove nothing, and the output says so first, as text and as JSON."""
    assert data.exists()
    text = _ok(capsys, "causes", "etch-darken")
    assert "3 tries in 1 run: 2 failed, 1 came out well." in text
    assert "With 2 failures among these tries" in text
    table = json.loads(_ok(capsys, "causes", "etch-darken", "--part", PART, "--json"))
    assert table["within_reach"] is False
    fewer = json.loads(_ok(capsys, "causes", "etch-darken", "--only", "answer", "--json"))
    assert {cause["kind"] for cause in fewer["causes"]} == {"answer"}
    assert fewer["facts_looked_at"] < table["facts_looked_at"]
    assert "no run" in _no(capsys, 1, "causes", "nope")
    assert "no run followed" in _no(capsys, 1, "causes", "hot-black")


def test_a_part_judged_twice_keeps_both_judgements(data: Path) -> None:
    """The record has both verdicts, and the last one counts."""
    driver = drive(data / "bench", SystemClock(), by="anna")
    driver.press(RUN, c.Judge(PART, "rejected", 1))
    record = driver.record(RUN)
    driver.close()
    assert [(j.verdict, j.by) for j in record.judgements] == [
        ("accepted", "maker"),
        ("rejected", "anna"),
    ]
    assert record.parts[0].verdict == "rejected"


@pytest.mark.parametrize("words", [["keep", "last"], ["times", "hot-black", "--keep", "--yes"]])
def test_practice_does_not_change_recipe_times(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    """Settings from practice are never kept in a recipe, since it had no real bath."""
    folder = tmp_path / "practice-20x"
    driver = drive(folder, ManualClock(1_770_000_000_000), speed=20)
    name = driver.set_up(new_run(RecipeFiles(), "hot-black", ["bolster"]))
    start(driver, name)
    driver.press(name, c.Abort("seen enough"))
    driver.close()
    assert main([*words, "--speed", "20", "--data", str(tmp_path)]) == 1
    assert "practice proves nothing about a recipe" in capsys.readouterr().err
