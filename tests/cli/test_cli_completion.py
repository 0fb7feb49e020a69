"""What TAB offers, from the program itself and in real shells."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchtimer.cli import main
from benchtimer.cli.complete_words import offers_at
from benchtimer.cli.completion_command import SHELLS as SCRIPTS
from benchtimer.cli.offers import FILE, FOLDER
from benchtimer.cli.parser import whole_line
from benchtimer.cli.table import COMMANDS
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.store.names import bath_names, recipes_of, run_names
from benchtimer.trade.topics import TOPICS
from tests.shells import SHELLS, Shell, missing

KNIFE, RUN = "petty knife", "2026-03-27-1"
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module", name="shop", autouse=True)
def _shop(knife_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A shop with a run, two baths (one retired) and its own recipe."""
    folder = tmp_path_factory.mktemp("shop")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHTIMER_DATA", str(folder / "data"))
        patch.setenv("BENCHTIMER_CONFIG", str(folder / "config"))
        shutil.copytree(knife_data, folder / "data")
        for bath in ("etch 3", "old brew"):
            assert main(["bath", "mix", bath, "--of", "Brew"]) == 0
        assert main(["bath", "retire", "old brew", "--how", "collected"]) == 0
        (folder / "config" / "recipes").mkdir(parents=True)
        shutil.copy(
            RecipeFiles().paths()["hot-wax"], folder / "config" / "recipes" / "own-wax.toml"
        )
        (folder / "config" / "recipes" / "broken.toml").write_text("title = ")
        yield folder


def _offered(*words: str) -> list[str]:
    """The completions of the last word."""
    return [offer.text for offer in offers_at(words[:-1], words[-1])]


FORMS = ("text", "markdown", "csv", "json", "toml", "html")
MIXES = {"etchant", "neutralizer", "darkener"}
SHELF = {*RecipeFiles().paths(), "own-wax", "broken"}


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ([""], set(COMMANDS)),
        (["ru"], set(COMMANDS)),
        (["-"], {"--help", "--version", "--data", "--by", "--speed", "--no-color"}),
        (["--data", "x", ""], set(COMMANDS)),
        (["--data", ""], {FOLDER}),
        (["run", ""], SHELF | {FILE}),
        (["run", "hot-black", ""], {KNIFE}),
        (["run", "hot-black", KNIFE, ""], set()),
        (["run", "hot-black", "pin="], {f"pin={name}" for name in SHELF}),
        (["run", "etch-darken", KNIFE, "--bath", ""], {"etch=", "neutral=", "soak="}),
        (["run", "etch-darken", KNIFE, "--bath", "etch="], {"etch=etch 3"}),
        (["run", "hot-wax", KNIFE, "--about", ""], {"petty knife.temper="}),
        (["run", "hot-black", "pin=hot-wax", "--about", ""], {"pin.temper="}),
        (["record", ""], {"last", RUN}),
        (["record", "--as", ""], set(FORMS)),
        (["record", "--as="], {f"--as={form}" for form in FORMS}),
        (["judge", "last", ""], {KNIFE}),
        (["judge", RUN, ""], {KNIFE}),
        (["judge", "nothing", ""], set()),
        (["judge", "last", KNIFE, "--verdict", ""], {"accepted", "rework", "rejected"}),
        (["judge", "last", KNIFE, "--rating", ""], {"1", "2", "3", "4", "5"}),
        (["judge", "last", KNIFE, "--note", ""], set()),
        (["compare", ""], {"last", RUN}),
        (["compare", "last", f"{RUN}:"], {f"{RUN}:{KNIFE}"}),
        (["times", ""], SHELF | {FILE}),
        (["keep", "last", "--part", ""], {KNIFE}),
        (["record", "--part", ""], {KNIFE}),
        (["record", "--bath", ""], {"etch 3"}),
        (["record", "--verdict", ""], {"accepted", "rework", "rejected"}),
        (
            ["record", "--outcome", ""],
            {"well", "failed", "open", "sent-back", "accepted", "rework", "rejected"},
        ),
        (["part", ""], {KNIFE}),
        (["validate", ""], {FILE}),
        (["validate", "a.toml", ""], {FILE}),
        (["backup", ""], {FILE}),
        (["export", ""], {"all"}),
        (["export", "all", ""], {FOLDER}),
        (["import", ""], {FILE}),
        (["plan", "hot-black", "pin", "--ics", ""], {FILE}),
        (
            ["bath", ""],
            {"show", "mix", "topup", "read", "weigh", "coupon", "retire", "undo"},
        ),
        (["bath", "show", ""], {"etch 3"}),
        (["bath", "mix", ""], set()),
        (["bath", "mix", "b", "--recipe", "etch-darken", "--mix", ""], MIXES),
        (["bath", "mix", "b", "--volume", "2", ""], set()),
        (["calc", ""], set(TOPICS)),
        (["calc", "salts-reading", "boiling="], {"boiling=yes", "boiling=no"}),
        (["settings", "--set", "units="], {"units=us", "units=si"}),
        (["settings", "--set", "alarm.command="], set()),
        (["completion", ""], set(SCRIPTS)),
        (["schema", ""], {"recipe", "settings"}),
        (["schema", "--"], {"--help"}),
        (["nonsense", "", ""], set(COMMANDS)),
        (["record", "--", "-"], {"last", RUN}),
        (["record", "--nonsense="], set()),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)  # fmt: skip
def test_completion_offers_what_fits(words: list[str], offered: set[str]) -> None:
    """Names come from the recipes, the log and the tables, each where it belongs."""
    assert set(_offered(*words)) == offered


def test_every_listed_option_is_offered() -> None:
    """Everything in a command's help can be completed, and nothing else is offered."""
    for name, parser in whole_line().verbs.items():
        result = {o for o, a in parser.options.items() if a.help != "==SUPPRESS==" and o[1] == "-"}
        assert set(_offered(name, "--")) == result


def test_the_recipes_settings_are_offered() -> None:
    """TAB completes a change for one run down to its field, and settings of a run to leave out."""
    found = _offered("plan", "hot-black", "pin", "--set", "")
    assert {"black.target=", "salts.holds=", "black-salts.volume="} <= set(found)
    assert _offered("plan", "nothing", "pin", "--set", "") == []
    assert "etch.target" in _offered("keep", "last", "--leave", "")


def test_a_file_from_another_system_is_offered_too(tmp_path: Path) -> None:
    """A byte order mark and CR LF, which the reader accepts, don't stop completion."""
    text = RecipeFiles().paths()["hot-wax"].read_text("utf-8").replace("\n", "\r\n")
    (tmp_path / "wax.toml").write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert "cool.target=" in _offered("plan", str(tmp_path / "wax.toml"), "pin", "--set", "")


def test_settings_of_the_shop_are_offered() -> None:
    """Keys for mixes are offered for each mix in the shop's recipes."""
    found = _offered("settings", "--set", "")
    assert {"altitude=", "screen.theme=", "vessels.black-salts=", "bath.etchant.max_parts="} <= set(
        found
    )
    assert not any("MIX" in key for key in found)


def test_keys_already_given_are_not_offered_again() -> None:
    """A figure's key appears only once on a line."""
    assert "reading=" in _offered("calc", "salts-reading", "")
    assert "reading=" not in _offered("calc", "salts-reading", "reading=300 F", "")


def test_practice_and_other_folders_offer_their_own_names(tmp_path: Path) -> None:
    """Names come from the log that the line refers to."""
    assert _offered("record", "--data", str(tmp_path), "") == []
    assert _offered("--data", str(tmp_path), "part", "") == []
    assert _offered("record", "--speed", "10", "") == []


# ---------------------------------------------------------------- the answer to a script


@pytest.mark.parametrize(
    ("words", "lines"),
    [
        (["bash", "benchtimer part pet", " =:"], ["petty\\ knife"]),
        (["bash", 'benchtimer part "pet', " =:"], ["petty knife"]),
        (["bash", "benchtimer compare last:pet", " =:"], ["petty\\ knife"]),
        (["bash", "benchtimer compare last:pet", " ="], ["last:petty\\ knife"]),
        (["bash", "benchtimer recipes my", " "], [":file"]),
        (["zsh", "benchtimer", "part", "pet"], [KNIFE]),
        (["fish", "benchtimer", "part", "'pet"], [KNIFE]),
        (["fish", "benchtimer", "validate", "'my re"], [":file\tmy re"]),
        (["zsh", "benchtimer", "validate", "my re"], [":file"]),
        (["zsh", "benchtimer", "completion", ""], ["bash", "zsh", "fish", "powershell"]),
        ([], []),
        (["bash"], []),
        (["zsh"], []),
        (["zsh", "benchtimer", "record", "--speed", "fast", ""], []),
    ],
    ids=" ".join,
)  # fmt: skip
def test_completion_for_a_script_is_plain_lines(
    words: list[str], lines: list[str], capsys: Capture
) -> None:
    """One line for each word, written for that shell; unreadable input gives none."""
    assert main(["--complete", *words]) == 0
    output = capsys.readouterr()
    assert (output.out.splitlines(), output.err) == (lines, "")


def test_a_description_follows_its_name(capsys: Capture) -> None:
    """zsh and fish show what a name is; a title with odd letters stays on its line."""
    assert main(["--complete", "zsh", "benchtimer", "record", ""]) == 0
    lines = dict(line.split("\t") for line in capsys.readouterr().out.splitlines())
    assert lines["last"] == "the newest run"
    assert KNIFE in lines[RUN]


# ---------------------------------------------------------------- names at a glance


def test_completion_changes_nothing(shop: Path) -> None:
    """Reading names changes no file of the log, and makes none."""

    def files() -> dict[str, bytes]:
        return {p.name: p.read_bytes() for p in (shop / "data").iterdir() if p.is_file()}

    before = files()
    assert [run.name for run in run_names(shop / "data")] == [RUN]
    assert bath_names(shop / "data") == ["etch 3"]
    assert recipes_of(shop / "data", RUN) == ["etch-darken"]
    assert files() == before


def test_completion_ignores_a_broken_log(tmp_path: Path) -> None:
    """A missing, empty or invalid log has no names and causes no message."""
    assert run_names(tmp_path / "none") == []
    (tmp_path / "bench.sqlite3").write_bytes(b"")
    assert run_names(tmp_path) == []
    (tmp_path / "bench.sqlite3").write_bytes(b"rubbish" * 1000)
    assert (run_names(tmp_path), bath_names(tmp_path), recipes_of(tmp_path, RUN)) == ([], [], [])


# ---------------------------------------------------------------- real shells


@pytest.fixture(scope="module", name="shells")
def _shells(shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Shell]]:
    """The three shells, each in a folder with a file and a folder whose names have spaces."""
    opened = {}
    for name in (name for name in SHELLS if not missing(name)):
        folder = tmp_path_factory.mktemp(name)
        (folder / "my recipe.toml").write_text("")
        (folder / "a folder").mkdir()
        environment = {
            "BENCHTIMER_DATA": str(shop / "data"), "BENCHTIMER_CONFIG": str(shop / "config"),
        }  # fmt: skip
        opened[name] = Shell(name, folder, Path(sys.executable).parent, environment)
    yield opened
    for shell in opened.values():
        shell.close()


def _want(shell: str) -> None:
    """A missing shell is named at the end of the run; ``.ci/run`` won't start without it."""
    if missing(shell):
        pytest.skip(missing(shell))


@pytest.mark.parametrize("shell", SHELLS)
@pytest.mark.parametrize(
    ("line", "last"),
    [
        ("benchtimer rehe", "rehearse"),
        ("benchtimer recipes own-", "own-wax"),
        ("benchtimer part pet", KNIFE),
        ('benchtimer part "pet', KNIFE),
        ("benchtimer part 'petty k", KNIFE),
        ("benchtimer part petty\\ k", KNIFE),
        ("benchtimer compare last:pet", f"last:{KNIFE}"),
        ('benchtimer compare "last:pet', f"last:{KNIFE}"),
        ("benchtimer run hot-black 'butt cap'=own", "butt cap=own-wax"),
        ('benchtimer calc salts-reading reading="300 F" vol', "volume="),
        ("benchtimer bath show 'etch 3' --js", "--json"),
        ("benchtimer record --as=ma", "--as=markdown"),
        ("benchtimer validate my", "my recipe.toml"),
        ("benchtimer validate 'my rec", "my recipe.toml"),
        ("benchtimer export all a", "a folder"),
        ("benchtimer plan hot-black pin --set salts.hol", "salts.holds="),
    ],
)
def test_tab_completes_in_a_real_shell(
    shells: dict[str, Shell], shell: str, line: str, last: str
) -> None:
    """After TAB, the program gets exactly that word, including spaces and quotation marks."""
    _want(shell)
    words = shells[shell].completed(line)
    assert words[-1].removesuffix("/") == last
    assert words[0] == "benchtimer"


@pytest.mark.parametrize("shell", SHELLS)
def test_two_tabs_list_the_choices(shells: dict[str, Shell], shell: str) -> None:
    """If several words match, the shell lists them; zsh and fish describe each."""
    _want(shell)
    result = shells[shell].shown("benchtimer bath re")
    assert "read" in result
    assert "retire" in result
    assert ("take a bath out of use" in result) == (shell != "bash")


@pytest.mark.parametrize("shell", SHELLS)
def test_each_shell_gets_its_own_script(shell: str, capsys: Capture) -> None:
    """The shell itself reads the script without complaint, and it is plain ASCII."""
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert script.isascii()
    _want(shell)
    done = subprocess.run([shell, "-n"], input=script, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_completion_asks_the_program_you_typed(shells: dict[str, Shell]) -> None:
    """A program that isn't on the path completes by its own path, in a folder made for it."""
    program = Path(sys.executable).parent / "benchtimer"
    for shell in shells.values():
        assert shell.completed(f"{program} rehe") == [str(program), "rehearse"]
