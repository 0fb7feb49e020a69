"""The commands about recipes: what they print, where, and their exit codes."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from benchtimer.cli import main
from benchtimer.recipe.json_schema import recipe_schema
from tests.recipe.drawn import SAMPLE, SHIPPED, SMALLEST
from tests.recipe.test_cases import BAD

YES, NO, USAGE = 0, 1, 2
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Runs a command in an empty home: exit code, standard output, standard error."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("BENCHTIMER_DATA", raising=False)

    def command(*words: str | Path) -> tuple[int, str, str]:
        try:
            code = main([str(word) for word in words])
        except SystemExit as stop:  # argparse exits on wrong usage
            code = stop.code if isinstance(stop.code, int) else -1
        out, err = capsys.readouterr()
        return code, out, err

    return command


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """The shop's recipe folder, with one good and one broken recipe."""
    folder = tmp_path / "config" / "benchtimer" / "recipes"
    folder.mkdir(parents=True)
    (folder / "wipe.toml").write_text(SMALLEST)
    (folder / "broken.toml").write_text(SMALLEST.replace("hands", "hnads"))
    return folder


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_check_says_yes_to_a_shipped_recipe(run: Run, path: Path) -> None:
    """A good file prints one line with its title, and exit code 0."""
    code, out, err = run("validate", path)
    assert (code, err) == (YES, "")
    (line,) = out.splitlines()
    assert line.startswith(f"{path}: fine: ")


@pytest.mark.parametrize("path", BAD, ids=lambda p: p.stem)
def test_check_says_no_to_a_bad_recipe(run: Run, path: Path) -> None:
    """A bad file prints all of its problems as the result, and exit code 1."""
    code, out, err = run("validate", path)
    assert (code, err) == (NO, "")
    assert out.startswith(f"{path}: ")
    assert "problem" in out.splitlines()[0]


def test_check_goes_through_all_files(run: Run, tmp_path: Path) -> None:
    """One bad file among good ones makes the exit code 1, and each file is reported."""
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text(SMALLEST)
    bad.write_text("schema = 1")
    code, out, _ = run("validate", good, bad, tmp_path / "none.toml", good)
    assert code == NO
    assert out.count(": fine: ") == 2
    assert "check the path" in out


def test_an_unprintable_file_name_is_escaped(run: Run, shelf: Path) -> None:
    """Control codes and stray bytes in the name of a file don't reach the terminal."""
    odd = Path(os.fsdecode(os.fsencode(shelf) + b"/\x1b[31m\xff.toml"))
    odd.write_text(SMALLEST)
    for words in (("validate", odd), ("recipes",)):
        code, out, _ = run(*words)
        assert code == YES
        assert "?[31m?" in out
        assert out.replace("\n", "").isprintable()


def test_check_without_a_file_is_wrong_usage(run: Run) -> None:
    """``validate`` without a file exits 2 with a message on standard error."""
    code, out, err = run("validate")
    assert (code, out) == (USAGE, "")
    assert "FILE" in err


def test_show_prints_a_recipe_by_name(run: Run) -> None:
    """A recipe name prints the readable form on standard output."""
    code, out, err = run("recipes", "hot-black")
    assert (code, err) == (YES, "")
    assert out.startswith("Hot-salt black oxide on small steel fittings\nhot-black, revision ")


def test_show_prints_a_recipe_by_its_path(run: Run, shelf: Path) -> None:
    """A path works wherever a recipe name does."""
    code, out, _ = run("recipes", shelf / "wipe.toml")
    assert (code, out.splitlines()[0]) == (YES, "Wipe")


def test_show_of_an_unknown_recipe_suggests_the_nearest(run: Run) -> None:
    """A misspelled name is reported on standard error with the nearest one, exit code 1."""
    code, out, err = run("recipes", "hot-blak")
    assert (code, out) == (NO, "")
    assert 'did you mean "hot-black"?' in err


def test_show_of_a_broken_recipe_lists_its_problems(run: Run, shelf: Path) -> None:
    """A recipe with mistakes isn't shown in part."""
    code, out, err = run("recipes", "broken")
    assert (code, out) == (NO, "")
    assert f'{shelf / "broken.toml"}:7: step "wipe": unknown key "hnads"' in err


def test_recipes_lists_every_recipe(run: Run, shelf: Path) -> None:
    """Every recipe has a line with its title; a broken one says how to see its problems."""
    code, out, err = run("recipes")
    assert (code, err) == (YES, "")
    lines = {line.split()[0]: line.split(maxsplit=1)[1] for line in out.splitlines()}
    assert set(lines) == {"broken", "wipe", *(path.stem for path in SHIPPED)}
    assert lines["wipe"] == "Wipe"
    assert lines["broken"] == f"2 problems: benchtimer validate {shelf / 'broken.toml'}"


def test_recipes_for_programs(run: Run, shelf: Path) -> None:
    """The JSON list has name, revision and title of every good recipe."""
    code, out, _ = run("recipes", "--json")
    assert code == YES
    assert {"recipe": "wipe", "revision": 1, "title": "Wipe"} in json.loads(out)
    assert shelf.is_dir()


def test_schema_is_printed_whole(run: Run) -> None:
    """The output is the schema itself, ready for an editor."""
    code, out, err = run("schema")
    assert (code, err) == (YES, "")
    assert json.loads(out) == recipe_schema()
    Draft202012Validator.check_schema(json.loads(out))


def test_a_misspelled_command_is_wrong_usage(run: Run) -> None:
    """The nearest command is named, exit code 2."""
    code, out, err = run("valdate")
    assert (code, out) == (USAGE, "")
    assert 'did you mean "validate"?' in err


def test_an_unknown_option_is_wrong_usage(run: Run) -> None:
    """An unknown option is reported, exit code 2."""
    code, _, err = run("schema", "--yaml")
    assert code == USAGE
    assert "--yaml" in err


def test_a_rehearsal_runs_the_recipe_as_adjusted(run: Run) -> None:
    """A change for one run is in the record, and the recipe file stays as it was."""
    change = "black.target=12 min"
    words = ("rehearse", SAMPLE, "bolster", "--seed", "1", "--json")
    _, plain, _ = run(*words)
    code, out, _ = run(*words, "--set", change)
    assert code == YES
    assert "12 min" in json.dumps(json.loads(out))
    assert "12 min" not in json.dumps(json.loads(plain))
    assert "target 10 min, 20 min at most" in run("recipes", SAMPLE)[1]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("black.target=12 F", "is a unit of temperature"),
        ("black.target=25 min", "is under target"),
        ("blak.target=12 min", 'did you mean "black"?'),
        ("black", "ID.FIELD=VALUE"),
        ("etch:black.target=12 min", "this run has no recipe"),
    ],
)
def test_a_change_that_cannot_be_made_is_refused(run: Run, change: str, words: str) -> None:
    """A bad adjustment is reported on standard error, exit code 1, and nothing runs."""
    code, out, err = run("rehearse", SAMPLE, "bolster", "--set", change)
    assert (code, out) == (NO, "")
    assert words in err
