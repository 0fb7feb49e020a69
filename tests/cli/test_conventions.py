"""What people expect of any command line: -V, --json, a dry run, a pager, a man page."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from benchtimer import __version__
from benchtimer.bench.writer import drive
from benchtimer.cli import main
from benchtimer.cli.meter import AFTER_S, Meter
from benchtimer.cli.parser import whole_line
from benchtimer.cli.settingfile import DEFAULT
from benchtimer.clock import SystemClock
from benchtimer.progress import counted, listening
from benchtimer.recipe.json_schema import FILE_NAME as RECIPE_SCHEMA
from benchtimer.recipe.json_schema import recipe_schema
from benchtimer.recipe.recipe_files import shipped_folder
from benchtimer.run import commands as c
from benchtimer.settings import SCHEMA_NAME, parse_table, settings_schema
from benchtimer.store.log import FILE_NAME, EventLog
from tests.faults.bench_work import NEW
from tests.terminal import Terminal

Capture = pytest.CaptureFixture[str]

NO_FACTS = {"run", "timer", "watch", "help", "completion", "schema"}
"""Commands that open a screen or print text that is not data; a schema is always JSON."""

BY_VERB = {"job"}
"""Commands that take ``--json`` on each of their verbs."""


@pytest.fixture(name="shop")
def _shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with one aborted run."""
    monkeypatch.setenv("BENCHTIMER_CONFIG", str(tmp_path / "config"))
    monkeypatch.setenv("BENCHTIMER_DATA", str(tmp_path / "data"))
    driver = drive(tmp_path / "data", SystemClock())
    name = driver.set_up(NEW)
    driver.press(name, c.Abort("no gas"))
    driver.close()
    return tmp_path


def _json(capsys: Capture, *words: str, code: int = 0) -> object:
    capsys.readouterr()
    assert main(list(words)) == code
    found: object = json.loads(capsys.readouterr().out)
    return found


def test_every_command_that_prints_facts_has_json() -> None:
    """Only commands that open a screen or print no data lack it."""
    commands = whole_line().verbs
    lacking = {n for n, parser in commands.items() if "--json" not in parser.options}
    assert lacking == NO_FACTS | BY_VERB
    for name in BY_VERB:
        assert all("--json" in verb.options for verb in commands[name].verbs.values())


@pytest.mark.parametrize("word", ["-V", "--version"])
def test_the_version(word: str, capsys: Capture) -> None:
    """Both ways say it on standard output."""
    with pytest.raises(SystemExit, match="0"):
        main([word])
    assert capsys.readouterr().out == f"benchtimer {__version__}\n"


def test_no_color_is_an_option_too(tmp_path: Path) -> None:
    """The screen then uses no color, as with NO_COLOR in the environment."""
    home = {"BENCHTIMER_DATA": str(tmp_path / "data")}
    terminal = Terminal(["run", "hot-black", "bolster", "--no-color"], tmp_path, environment=home)
    terminal.wait("SPACE")
    terminal.settle(0.2)
    assert b"[38;2;" not in terminal.output
    assert b"[48;2;" not in terminal.output
    terminal.send("q")
    assert terminal.close() == 0


def test_facts_as_json(shop: Path, capsys: Capture) -> None:
    """Each command has the same facts as JSON and as text."""
    run = str(_json(capsys, "record", "--json")[0]["name"])  # type: ignore[index]
    copy, runs = shop / "copy.sqlite3", shop / "runs"
    entries = EventLog(shop / "data", read_only=True)
    last = entries.last_seq()
    entries.close()
    assert _json(capsys, "backup", str(copy), "--json") == {"file": str(copy), "entries": last}
    assert _json(capsys, "export", "all", str(runs), "--json") == {
        "folder": str(runs), "runs": [run],
    }  # fmt: skip
    file = str(runs / f"{run}.jsonl")
    assert _json(capsys, "import", file, "--json") == [{"file": file, "run": None, "reason": ""}]
    other = ["--data", str(shop / "other")]
    assert _json(capsys, "import", file, "--json", *other) == [
        {"file": file, "run": run, "reason": ""}
    ]
    data = _json(capsys, "restore", str(copy), "--json")
    assert isinstance(data, dict)
    assert (data["entries"], data["changed"]) == (last, True)
    assert Path(data["kept"]).is_file()
    words = ["judge", run, "bolster", "--verdict", "accepted", "--rating", "4", "--json"]
    assert _json(capsys, *words) == {
        "run": run, "part": "bolster", "verdict": "accepted", "rating": 4, "note": None,
    }  # fmt: skip


def test_recipes_as_json(tmp_path: Path, capsys: Capture) -> None:
    """What validate and show say about a recipe; a broken file exits 1 with its lines."""
    good, bad = shipped_folder() / "hot-wax.toml", tmp_path / "bad.toml"
    bad.write_text('schema = 1\ntitle = "x"\nholds = 3\n')
    data = _json(capsys, "validate", str(good), str(bad), "--json", code=1)
    assert isinstance(data, list)
    assert (data[0]["valid"], data[1]["valid"]) == (True, False)
    assert 3 in [row["line"] for row in data[1]["problems"]]
    shown = _json(capsys, "recipes", "hot-wax", "--json")
    Draft202012Validator(recipe_schema()).validate(shown)


def test_kept_recipes_as_json(knife_data: Path, shop: Path, capsys: Capture) -> None:
    """keep --json: the revision, the file, and whether it was written."""
    words = ["rehearse", "hot-wax", "blade", "--about", "blade.temper=200 C"]
    assert main(words) == 0
    folder = shop / "data"
    shutil.rmtree(folder)
    shutil.copytree(knife_data, folder)
    data = _json(capsys, "keep", "last", "--show", "--json")
    assert isinstance(data, dict)
    assert data["written"] is False
    assert not Path(data["file"]).exists()
    again = _json(capsys, "keep", "last", "--json")
    assert isinstance(again, dict)
    assert again["written"] is True
    assert Path(again["file"]).is_file()
    assert json.loads((Path(again["file"]).parent / RECIPE_SCHEMA).read_text()) == recipe_schema()


def _all_files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_a_dry_run_changes_nothing(shop: Path, capsys: Capture) -> None:
    """restore and import check everything and leave every byte unchanged."""
    copy, runs = shop / "copy.sqlite3", shop / "runs"
    assert main(["backup", str(copy)]) == 0
    assert main(["export", "all", str(runs)]) == 0
    (file,) = map(str, runs.glob("*.jsonl"))
    before = _all_files(shop / "data")
    assert main(["restore", str(copy), "--dry-run"]) == 0
    assert "nothing was changed" in capsys.readouterr().out
    assert main(["import", file, "--dry-run"]) == 0
    assert "already there" in capsys.readouterr().out
    assert _all_files(shop / "data") == before
    empty = ["--data", str(shop / "empty")]
    assert main(["import", file, "--dry-run", *empty]) == 0
    assert "run 20" in capsys.readouterr().out
    assert main(["restore", str(copy), "--dry-run", *empty]) == 0
    assert not (shop / "empty").exists()


def test_a_dry_run_names_the_next_run(shop: Path, capsys: Capture) -> None:
    """A dry run of an import names the run it would add and leaves the log unchanged."""
    runs, other = shop / "runs", shop / "other"
    assert main(["export", "all", str(runs)]) == 0
    (file,) = map(str, runs.glob("*.jsonl"))
    driver = drive(other, SystemClock())
    name = driver.set_up(NEW)
    driver.close()
    before = (other / FILE_NAME).read_bytes()
    capsys.readouterr()
    assert main(["import", file, "--dry-run", "--data", str(other)]) == 0
    assert capsys.readouterr().out == f"{file}: run {name}b\nnothing was changed\n"
    assert (other / FILE_NAME).read_bytes() == before  # a reader may leave an empty file behind


def test_a_dry_run_refuses_the_same_things(shop: Path, capsys: Capture) -> None:
    """A dry run refuses a damaged copy, a file that is not a run, and a run with other entries."""
    copy, runs = shop / "copy.sqlite3", shop / "runs"
    assert main(["backup", str(copy)]) == 0
    raw = bytearray(copy.read_bytes())
    at = raw.index(b"no gas")
    raw[at] ^= 1
    copy.write_bytes(raw)
    assert main(["restore", str(copy), "--dry-run"]) == 1
    assert "nothing was changed" in capsys.readouterr().err
    assert main(["export", "all", str(runs)]) == 0
    (file,) = runs.glob("*.jsonl")
    file.write_text(file.read_text().replace("no gas", "no oil"))
    assert main(["import", str(file), "--dry-run"]) == 1
    assert "other entries" in capsys.readouterr().err
    assert main(["import", str(shop / "config"), "--dry-run"]) == 1


def test_the_bench_can_be_open_during_a_dry_run(shop: Path) -> None:
    """Nothing is written, so it needs no lease."""
    copy = shop / "copy.sqlite3"
    assert main(["backup", str(copy)]) == 0
    driver = drive(shop / "data", SystemClock())
    assert main(["restore", str(copy), "--dry-run"]) == 0
    assert main(["restore", str(copy)]) == 3
    driver.close()


class _Tty:
    def __init__(self) -> None:
        self.text = ""

    def write(self, text: str) -> None:
        """Store the text."""
        self.text += text

    def flush(self) -> None:
        """Does nothing: the text is already stored."""


def test_the_progress_line_appears_after_two_seconds_and_clears() -> None:
    """The meter shows a count, the end and how to stop, and then blanks its line."""
    now, out = [0.0], _Tty()
    meter = Meter(out, lambda: now[0])  # type: ignore[arg-type]
    with listening(meter):
        for number in counted(range(100), "rehearsals", every=1):
            now[0] += AFTER_S / 20
            if number == 10:
                assert out.text == ""
            if number == 50:
                assert "rehearsals, about 5 s left; CTRL-C stops" in out.text
    assert out.text.endswith("\r")
    assert not out.text.rpartition("\r")[0].rpartition("\r")[2].strip()


def test_quick_work_shows_no_progress() -> None:
    """No line flickers for work that takes a moment."""
    out = _Tty()
    with listening(Meter(out, lambda: 1.0)):  # type: ignore[arg-type]
        assert list(counted(range(1000), "files")) == list(range(1000))
    assert out.text == ""


def test_long_work_shows_how_far_it_is_and_can_be_stopped(tmp_path: Path) -> None:
    """At a real terminal, a line appears, CTRL-C ends it, and the output says what was done."""
    words = ["rehearse", "hot-wax", "blade", "--about", "blade.temper=200 C", "--trials", "5000"]
    terminal = Terminal(words, tmp_path, width=120)
    terminal.wait("of 5,000 rehearsals, about", 60)
    terminal.send("\x03")
    terminal.wait("rehearsals, seeds 1 to", 30)
    assert "stopped after" in terminal.text
    assert terminal.close() == 2


def test_a_pipe_gets_no_progress_line(tmp_path: Path) -> None:
    """Messages that no one watches stay clean."""
    words = ["rehearse", "hot-wax", "blade", "--about", "blade.temper=200 C", "--trials", "3"]
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", *words],
        capture_output=True, text=True, check=True, env={**os.environ, "HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.stderr == ""


def test_a_long_record_goes_through_your_pager(shop: Path) -> None:
    """At a terminal that is too short for it; in a pipe it is printed."""
    pager = shop / "pager"
    pager.write_text(f"#!/bin/sh\ncat > {shop}/paged\n")
    pager.chmod(0o755)
    result = {"BENCHTIMER_DATA": str(shop / "data"), "PAGER": str(pager)}
    terminal = Terminal(["recipes", "hot-black"], shop, environment=result)
    assert terminal.close() == 0
    assert (shop / "paged").read_text().startswith("Hot-salt")
    (shop / "paged").unlink()
    terminal = Terminal(["record"], shop, environment=result)
    assert terminal.close() == 0
    assert not (shop / "paged").exists()


def test_the_card_opens_in_the_browser(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """--open writes the card next to the records and opens it in the default browser."""
    browser = shop / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" > {shop}/opened\n')
    browser.chmod(0o755)
    environment = {**os.environ, "BROWSER": str(browser)}
    done = subprocess.run(
        [sys.executable, "-m", "benchtimer", "record", "last", "--open"],
        capture_output=True, text=True, check=True, env=environment,
    )  # fmt: skip
    card = Path(done.stdout.strip())
    assert card.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert (shop / "opened").read_text().strip() == card.as_uri()
    monkeypatch.setattr("webbrowser.open", lambda _address: False)
    assert main(["record", "last", "--open"]) == 1
    assert main(["record", "--open"]) == 2


@pytest.mark.skipif(shutil.which("groff") is None, reason="groff is not installed: not tried")
def test_the_man_page_is_well_formed(tmp_path: Path, capsys: Capture) -> None:
    """groff finds nothing wrong, and every command and option of it is there."""
    assert main(["help", "--man"]) == 0
    page = tmp_path / "benchtimer.1"
    page.write_text(capsys.readouterr().out)
    done = subprocess.run(
        ["groff", "-man", "-Tascii", "-ww", "-P-cbou", str(page)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stderr == ""
    words = set(done.stdout.replace(",", " ").split())
    for name, parser in whole_line().verbs.items():
        assert name in words
        shown = {o for o, action in parser.options.items() if action.help != argparse.SUPPRESS}
        assert shown - {"-h", "--help"} <= words, name


def _without_words(schema: object) -> object:
    """A schema without its descriptions, which don't change its meaning."""
    if isinstance(schema, dict):
        result = schema.items()
        return {key: _without_words(value) for key, value in result if key != "description"}
    return [_without_words(each) for each in schema] if isinstance(schema, list) else schema


def test_shipped_recipes_name_their_schema() -> None:
    """The first line points to a file next to them, which is the current schema."""
    folder = shipped_folder()
    kept = json.loads((folder / RECIPE_SCHEMA).read_text(encoding="utf-8"))
    fresh = "benchtimer schema > recipes/recipe.schema.json makes it again"
    assert _without_words(kept) == _without_words(recipe_schema()), fresh
    for path in folder.glob("*.toml"):
        first = path.read_text(encoding="utf-8").partition("\n")[0]
        assert first == f"#:schema ./{RECIPE_SCHEMA}"


def test_the_settings_name_their_schema(shop: Path, capsys: Capture) -> None:
    """It is written next to the file, accepts it, and refuses what the reader refuses."""
    assert main(["settings", "--set", "away=22:00-07:00", "--set", "alarm.notice=777"]) == 0
    capsys.readouterr()
    text = (shop / "config" / "settings.toml").read_text()
    assert text.startswith(f"#:schema ./{SCHEMA_NAME}\n")
    schema = json.loads((shop / "config" / SCHEMA_NAME).read_text())
    assert schema == settings_schema() == _json(capsys, "schema", "settings")
    Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(schema)
    validator.validate(parse_table(text, "x"))
    live = DEFAULT.replace("\n# altitude", "\naltitude").replace("\n# away", "\naway")
    validator.validate(parse_table(live, "x"))
    for wrong in ('units = "stone"', "hands = 0", "away = [7]", 'altitude = "high"', "x = 1"):
        assert list(validator.iter_errors(parse_table(wrong, "x"))), wrong


def test_completion_answers_powershell(capsys: Capture) -> None:
    """The piece at the cursor comes with its quotation marks, or as two of them for nothing."""
    assert main(["--complete", "powershell", "benchtimer", "re"]) == 0
    offered = [line.partition("\t")[0] for line in capsys.readouterr().out.splitlines()]
    assert "record" in offered
    assert main(["--complete", "powershell", "benchtimer", "recipes", '""']) == 0
    assert "hot-black" in capsys.readouterr().out
    assert main(["completion", "powershell"]) == 0
    assert "Register-ArgumentCompleter -Native" in capsys.readouterr().out


def test_the_log_stays_where_it_was(shop: Path) -> None:
    """The folder of these tests has a log."""
    assert (shop / "data" / FILE_NAME).is_file()
