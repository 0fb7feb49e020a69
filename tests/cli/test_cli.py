"""The commands as a shell would call them."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from benchtimer import __version__
from benchtimer.bench.writer import drive
from benchtimer.cli import COMMANDS, main
from benchtimer.clock import SystemClock, Tick
from benchtimer.orders import new_run
from benchtimer.plan.outcome import Undecided
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from tests.support import start

EVENING = Tick(None, 0, 1_770_062_400_500, 0)
"""2026-02-02 20:00 UTC, a Monday."""
FITTINGS = ["hot-black", "bolster", "ferrule", "butt cap"]


@pytest.fixture(name="data")
def _data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with one aborted run and one open run."""
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "bench"))
    driver = drive(tmp_path / "bench", SystemClock(), by="anna")
    first = driver.set_up(new_run(RecipeFiles(), "hot-black", ["pin"]))
    driver.press(first, c.Abort("power cut"))
    second = driver.set_up(new_run(RecipeFiles(), "hot-black", ["bolster", "ferrule"]))
    start(driver, second)
    driver.close()
    return tmp_path / "bench"


@pytest.fixture(autouse=True)
def _little_help(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test here reads what would end a plan earlier, so the search for it is short."""
    monkeypatch.setattr("benchtimer.cli.plan_command.HELP_S", 0.1)


def _run(*arguments: str) -> tuple[int, str, str]:
    """Run the command in a new process: exit code, stdout, stderr."""
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", *arguments],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    return done.returncode, done.stdout, done.stderr


def test_a_rehearsal_is_the_same_each_time(capsys: pytest.CaptureFixture[str]) -> None:
    """The same seed prints the same complete record, as JSON that a program can read."""
    result = []
    for _ in range(2):
        assert main(["rehearse", *FITTINGS, "--seed", "1", "--json"]) == 0
        result.append(capsys.readouterr().out)
    assert result[0] == result[1]
    record = json.loads(result[0])
    assert record["phase"] == "complete"
    assert {part["outcome"] for part in record["parts"]} <= {"done", "scrapped"}
    assert len(record["parts"]) == 3
    assert {"hazards", "readings", "answers", "deviations", "lines", "recipes"} <= set(record)


def test_many_rehearsals_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    """With trials the command counts overruns, as text and as JSON."""
    assert main(["rehearse", "hot-black", "pin", "--trials", "3", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["trials"] == 3
    assert main(["rehearse", "hot-black", "pin", "--trials", "3"]) == 0
    assert "with an overrun: 0% (none of 3 trials)" in capsys.readouterr().out


def test_parts_may_follow_another_recipe(capsys: pytest.CaptureFixture[str]) -> None:
    """One run has fittings and a blade, each part with its own recipe."""
    assert main(["rehearse", "hot-black", "bolster", "blade=etch-darken", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert set(record["recipes"]) == {"hot-black", "etch-darken"}
    assert record["phase"] == "complete"


def test_changes_for_one_run_are_in_the_record(capsys: pytest.CaptureFixture[str]) -> None:
    """The rehearsal uses an adjusted dwell, and the record says what was changed."""
    change = ["--set", "black.target=12 min"]
    assert main(["rehearse", "hot-black", "pin", *change, "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["adjustments"] == ["hot-black: black.target = 12 min"]
    (black,) = [s for s in record["recipes"]["hot-black"]["step"] if s["id"] == "black"]
    assert black["dwell"]["target"] == "12 min"


def test_the_log_lists_and_shows(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The runs are listed newest first; a record reads as text, JSON and TOML."""
    assert data.exists()
    assert main(["record"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "bolster, ferrule" in lines[0]
    assert "aborted" in lines[1]
    name = lines[1].split()[0]
    assert main(["record", name]) == 0
    assert "aborted: power cut" in capsys.readouterr().out
    assert main(["record", "last", "--as", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["phase"] == "running"
    assert main(["record", name, "--as", "toml"]) == 0
    assert tomllib.loads(capsys.readouterr().out)["run"] == name
    assert main(["record", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 2


def test_an_unknown_run_is_named(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelled run name gets the nearest one."""
    assert data.exists()
    assert main(["record", "2026-11-25-11"]) == 1
    assert "no run" in capsys.readouterr().err


def test_a_missing_log_exits_with_3(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A command for runs without a log exits 3 and says so."""
    assert main(["record", "--data", str(tmp_path / "none")]) == 3
    assert "no log yet" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["rehears"], 2, 'did you mean "rehearse"?'),
        (["rehearse", "hot-blck", "a"], 1, 'did you mean "hot-black"?'),
        (["rehearse", "hot-black"], 2, "PART"),
        (["rehearse", "hot-black", "a", "--hands", "0"], 2, "people"),
        (["rehearse", "hot-black", "a", "--trials", "x"], 2, "rehearsals"),
        (["rehearse", "hot-black", "a", "a"], 1, "twice"),
        (["rehearse", "hot-black", "a", "--set", "black"], 1, "ID.FIELD=VALUE"),
        (["rehearse", "hot-black", "a", "--set", "nope:black.target=9 min"], 1, "no recipe"),
        (["rehearse", "hot-black", "a", "--about", "a=5"], 1, "PART.PROPERTY"),
        (["rehearse", "hot-black", "a", "--about", "a.temper=5 C"], 1, "property"),
        (["plan", "hot-black", "a", "--start", "soon"], 2, "18:30"),
        (["plan", "hot-black", "a", "--start", "2020-01-01 08:00"], 2, "over"),
        (["plan", "hot-black", "a", "--hours", "Mon-Fry 8-9"], 2, "--hours"),
        (["plan", "hot-black", "a", "--break", "at noon"], 2, "--break"),
        (["plan", "hot-black", "a", "--away", "all day"], 2, "22:00-07:00"),
        (["plan", "hot-black", "a", "--away", "00:00-24:00"], 2, "whole day"),
        (["plan", "hot-black", "a", "--away", "9:00-21:00", "--away", "21:00-9:00"], 2, "whole"),
        (["run", "hot-black", "a", "--speed", "0"], 2, "speed"),
        (["run", "hot-black", "a"], 2, "terminal"),
        (["record", "--as", "poem"], 2, 'can\'t be "poem", none of text'),
        (["watch"], 2, "terminal"),
        ([], 2, "terminal"),
    ],
)
def test_wrong_calls_get_one_clear_message(
    arguments: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong usage exits 2, an impossible request exits 1, and neither ends in a traceback."""
    try:
        found = main(arguments)
    except SystemExit as ended:
        found = int(ended.code or 0)
    output = capsys.readouterr()
    assert found == code, output.err
    assert said in output.err + output.out


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["rehears"], 2, 'did you mean "rehearse"?'),
        (["rehearse", "hot-black", "a", "a"], 1, "twice"),
        ([], 2, "terminal"),
    ],
)
def test_a_shell_gets_the_exit_code_and_the_message(
    arguments: list[str], code: int, said: str
) -> None:
    """The process ends with the exit code, the message is on stderr, and there is no traceback."""
    found, out, err = _run(*arguments)
    assert (found, out) == (code, "")
    assert said in err
    assert "Traceback" not in err


def test_a_plan_is_printed_with_its_proof(capsys: pytest.CaptureFixture[str]) -> None:
    """The text has the verdict, a lane for each part and the hands; the JSON has the published
    keys.
    """
    assert main(["plan", *FITTINGS, "--start", "08:00", "--plain"]) == 0
    text = capsys.readouterr().out
    assert text.startswith("optimal: done ")
    assert {"bolster", "ferrule", "butt", "hands"} <= {
        line.split(" ")[0] for line in text.split("\n")
    }
    assert main(["plan", *FITTINGS, "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    keys = {"status", "makespan_s", "bound_s", "moves", "dwells", "why", "nodes", "elapsed_s"}
    assert set(table) == keys
    assert set(table["moves"][0]) == {"run", "part", "step", "from", "to", "start_s", "end_s"}
    assert table["makespan_s"] == table["bound_s"] == max(m["end_s"] for m in table["moves"])


def test_no_move_falls_in_the_away_hours(capsys: pytest.CaptureFixture[str]) -> None:
    """With hours away, the pull comes when you are back, and the latest start is reported."""
    away = ["--start", "17:00", "--away", "22:00-07:00"]
    assert main(["plan", "hot-black", "pin", *away, "--json"]) == 0
    moves = json.loads(capsys.readouterr().out)["moves"]
    begin, end = 5 * 3600, 14 * 3600
    assert all(m["end_s"] <= begin or m["start_s"] >= end for m in moves)
    assert main(["plan", "hot-black", "pin", *away]) == 0
    assert "latest start before the next hours away" in capsys.readouterr().out


def test_a_cadence_and_the_chances_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints the steady interval with its proof, and chances over seeded trials."""
    assert main(["plan", "hot-black", "pin", "--cadence", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["status"] == "optimal"
    assert found["cadence_s"] == found["bound_s"]
    assert main(["plan", "hot-black", "pin", "--trials", "200", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["risk"]["trials"] == 200
    assert main(["plan", *FITTINGS, "--trials", "200"]) == 0
    out = capsys.readouterr().out
    assert "chance of an overrun: 0% (none of 200 trials)" in out
    assert "two times in three between 22% shorter and 28% longer" in out


def test_a_plan_rings_a_phone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The moves become calendar entries with alarms."""
    file = tmp_path / "plan.ics"
    assert main(["plan", "hot-black", "pin", "--ics", str(file)]) == 0
    assert "optimal" in capsys.readouterr().out
    text = file.read_bytes().decode()
    assert text.count("BEGIN:VALARM") == text.count("BEGIN:VEVENT") > 0
    assert "\r\n" in text
    assert main(["plan", "hot-black", "pin", "--ics", str(tmp_path / "no" / "x.ics")]) == 1


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    """Every command has a help page, and the version is the package's."""
    with pytest.raises(SystemExit):
        main(["--version"])
    assert capsys.readouterr().out == f"benchtimer {__version__}\n"
    for name in COMMANDS:
        with pytest.raises(SystemExit) as ended:
            main([name, "--help"])
        assert ended.value.code == 0
        assert "Usage: " in capsys.readouterr().out


def test_a_closed_pipe_is_not_an_error() -> None:
    """Quitting a pager early ends the command quietly."""
    command = f"{sys.executable} -m benchtimer rehearse hot-black a b c | head -1"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert done.stdout.count("\n") == 1
    assert "Traceback" not in done.stderr


def test_chance_under_counts_parts_of_one_recipe(capsys: pytest.CaptureFixture[str]) -> None:
    """A search for the largest number of parts is refused if they follow several recipes."""
    result = ["plan", "hot-black", "pin", "blade=etch-darken", "--chance-under", "0.05"]
    assert main(result) == 2
    assert "one recipe" in capsys.readouterr().err


def test_a_temper_below_the_wax_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """A part whose ceiling is below the lowest reading is not set up, since it can't pass."""
    assert main(["plan", "hot-wax", "pin", "--about", "pin.temper=100 C"]) != 0
    assert "can never pass" in capsys.readouterr().err


def test_an_undecided_plan_is_not_called_impossible(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the time runs out, the command says so, in words and JSON, and how to search longer;
    exit 1.
    """
    none = Undecided(elapsed_s=10.01, bound_s=600, why=("what may find one: a longer search",))
    monkeypatch.setattr("benchtimer.plan.planner.solve", lambda *_, **__: none)
    assert main(["plan", "hot-black", "pin"]) == 1
    assert capsys.readouterr().out.splitlines() == [
        "undecided: no plan found in 10 s, none ruled out",
        "  what may find one: a longer search",
        "  to search longer, add --seconds 60",
    ]
    assert main(["plan", "hot-black", "pin", "--seconds", "3600"]) == 1
    assert "search longer" not in capsys.readouterr().out
    assert main(["plan", "hot-black", "pin", "--json", "--trials", "9"]) == 1
    result = json.loads(capsys.readouterr().out)
    assert (result["status"], result["makespan_s"], result["moves"]) == ("undecided", None, [])
    assert result["why"] == list(none.why)
    assert "risk" not in result


def test_a_plan_keeps_to_your_hours_and_a_break(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Evenings and weekends by weekday, and a break on the day of the start: no move outside."""
    monkeypatch.setattr("benchtimer.clock.SystemClock.read", lambda _: EVENING)
    hours = ["--hours", "Mon-Fri 18:30-22:30, Sat-Sun 09:00-18:00", "--break", "10:00-10:20"]
    words = ["plan", "hot-black", "pin", "--start", "Sat 09:00", *hours]
    assert main([*words, "--json"]) == 0
    table = json.loads(capsys.readouterr().out)
    for move in table["moves"]:
        day, begin_s = divmod(move["start_s"] + 9 * 3600, 86_400)
        end_s = begin_s + move["end_s"] - move["start_s"]
        opens, closes = (9, 18) if day < 2 else (18.5, 22.5)
        assert opens * 3600 <= begin_s
        assert end_s <= closes * 3600
        assert day or end_s <= 10 * 3600 or begin_s >= 10 * 3600 + 1200
    assert main([*words, "--hurry", "--json"]) == 0
    hurried = json.loads(capsys.readouterr().out)
    assert hurried["makespan_s"] <= table["makespan_s"]


@pytest.mark.parametrize("start", ["23:30", "08:30"])
def test_the_moves_name_their_day(
    start: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Planned from tonight or from tomorrow's start, the same moves are on the same days."""
    monkeypatch.setattr("benchtimer.clock.SystemClock.read", lambda _: EVENING)
    assert main(["plan", "hot-black", "pin", "--start", start, "--away", "12:00-07:00"]) == 0
    lines = capsys.readouterr().out.splitlines()
    moves = [line for line in lines if "  pin: " in line]
    assert moves[0].startswith("Tue ")
    assert moves[-1].startswith("Wed 07:")
    assert "done Wed 07:" in lines[0]
