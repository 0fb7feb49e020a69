"""The package: its contents, and that it runs far from the clone."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from email import message_from_bytes
from pathlib import Path
from typing import NoReturn

import pytest

from benchtimer import __version__
from tests.terminal import Terminal

REPOSITORY = Path(__file__).resolve().parent.parent


def _call(*words: str | Path, cwd: Path = REPOSITORY) -> None:
    done = subprocess.run(words, cwd=cwd, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def _built(source: Path, target: Path, *kinds: str) -> dict[str, Path]:
    """Packages built from a folder, by the back end in pyproject.toml, without a network."""
    chosen = [word for kind in kinds for word in ("-t", kind)]
    _call(sys.executable, "-m", "hatchling", "build", *chosen, "-d", target, cwd=source)
    return {path.suffix: path for path in target.iterdir() if path.is_file()}


@pytest.fixture(scope="session", name="built")
def _packages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The wheel (``.whl``) and the source package (``.gz``) of this clone."""
    return _built(REPOSITORY, tmp_path_factory.mktemp("built"), "sdist", "wheel")


@dataclass(frozen=True)
class Installed:
    """The program as a user installs it.

    Attributes:
        python: its interpreter, in a folder with spaces in its name.
        site: the folder of its modules.
        elsewhere: an empty folder to call it from.
    """

    python: Path
    site: Path
    elsewhere: Path

    def __call__(
        self, *words: str, environment: Mapping[str, str] | None = None, module: bool = False
    ) -> subprocess.CompletedProcess[bytes]:
        """Run a command, without home, language or settings by default."""
        program = (
            [self.python, "-m", "benchtimer"] if module else [self.python.parent / "benchtimer"]
        )
        result = {"PATH": os.environ["PATH"], "HOME": str(self.elsewhere)} | dict(environment or {})
        result = {name: value for name, value in result.items() if value != UNSET}
        return subprocess.run(
            [*program, *words], cwd=self.elsewhere, env=result, stdin=subprocess.DEVNULL,
            capture_output=True, check=False, timeout=120,
        )  # fmt: skip

    def tree(self) -> dict[str, tuple[int, bytes]]:
        """Every installed file, and the time it was changed."""
        files = (path for path in (self.site / "benchtimer").rglob("*") if path.is_file())
        return {str(path): (path.stat().st_mtime_ns, path.read_bytes()) for path in files}


UNSET = "(unset)"


@pytest.fixture(scope="session", name="installed")
def _installed(built: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """The wheel in its own environment, which borrows the dependencies."""
    folder = tmp_path_factory.mktemp("a folder of a stranger")
    _call(sys.executable, "-m", "venv", "--without-pip", folder / "its own")
    python = folder / "its own" / "bin" / "python"
    _call(sys.executable, "-m", "pip", "--quiet", "--python", python, "install", "--no-deps",
          "--no-index", "--disable-pip-version-check", built[".whl"])  # fmt: skip
    site = Path(sysconfig.get_path("purelib", vars={"base": str(folder / "its own")}))
    borrowed = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (site / "borrowed.pth").write_text("\n".join(sorted(borrowed)) + "\n")
    elsewhere = folder / "else where"
    elsewhere.mkdir()
    return Installed(python, site, elsewhere)


# ---------------------------------------------------------------- contents


def _contents(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def test_the_wheel_has_the_program_and_its_recipes(built: dict[str, Path]) -> None:
    """The wheel has every file of the package and every shipped recipe, and nothing else."""
    found = _contents(built[".whl"])
    wanted = {
        f"benchtimer/{path.relative_to(REPOSITORY / 'benchtimer').as_posix()}": path.read_bytes()
        for path in (REPOSITORY / "benchtimer").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    } | {f"benchtimer/shipped/{p.name}": p.read_bytes() for p in REPOSITORY.glob("recipes/*")}
    assert {name: text for name, text in found.items() if ".dist-info/" not in name} == wanted


def test_a_wheel_from_the_source_package_is_the_same(
    built: dict[str, Path], tmp_path: Path
) -> None:
    """The source package and the clone build the same wheel."""
    with tarfile.open(built[".gz"]) as opened:
        opened.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    again = _built(unpacked, tmp_path / "again", "wheel")
    assert _contents(again[".whl"]) == _contents(built[".whl"])
    assert {p.name for p in unpacked.iterdir()} >= {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "benchtimer", "recipes", "tests"
    }  # fmt: skip


def test_the_wheel_says_what_it_is(built: dict[str, Path]) -> None:
    """The wheel gives name, version, tested Pythons, five dependencies and one program."""
    found = _contents(built[".whl"])
    result = {
        name.rpartition("/")[2]: text for name, text in found.items() if ".dist-info/" in name
    }
    about = message_from_bytes(result["METADATA"])
    assert (about["Name"], about["Version"]) == ("benchtimer", __version__)
    assert about["Requires-Python"] == ">=3.11"
    here = f"Programming Language :: Python :: 3.{sys.version_info.minor}"
    assert here in about.get_all("Classifier", [])
    needed = [line for line in about.get_all("Requires-Dist", []) if "extra ==" not in line]
    assert [line.split(">")[0].split("<")[0] for line in needed] == [
        "platformdirs", "pydantic", "textual", "tomli-w", "tomlkit"
    ]  # fmt: skip
    assert b"benchtimer = benchtimer.cli:main" in result["entry_points.txt"]


# ---------------------------------------------------------------- it runs


COMMANDS = [
    ["--version"],
    ["--help"],
    ["recipes"],
    ["recipes", "hot-black"],
    ["rehearse", "hot-black", "bolster", "ferrule", "--seed", "1"],
    ["schema"],
    ["calc", "water"],
    ["help", "first-run"],
    ["completion", "zsh"],
]


def test_the_installed_program_runs(installed: Installed) -> None:
    """The imported modules are in the environment, not in the clone."""
    code = (
        "import benchtimer, benchtimer.recipe.recipe_files as shelf\n"
        "print(benchtimer.__file__, shelf.shipped_folder(), sep='\\n')"
    )
    done = subprocess.run(
        [installed.python, "-c", code], cwd=installed.elsewhere,
        env={"PATH": os.environ["PATH"]}, capture_output=True, check=True,
    )  # fmt: skip
    for line in done.stdout.decode().splitlines():
        assert Path(line).is_relative_to(installed.site)


@pytest.mark.parametrize("module", [False, True], ids=["program", "module"])
def test_it_runs_from_a_path_with_spaces(installed: Installed, module: bool) -> None:
    """The program and ``python -m benchtimer`` run from another folder."""
    done = installed("--version", module=module)
    assert (done.returncode, done.stdout, done.stderr) == (
        0,
        f"benchtimer {__version__}\n".encode(),
        b"",
    )
    done = installed("recipes", module=module)
    assert done.returncode == 0
    assert b"hot-black" in done.stdout


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: words[0])
def test_nothing_is_written_beside_the_program(installed: Installed, words: list[str]) -> None:
    """Running changes or adds no file in a write-protected installation."""
    before = installed.tree()
    done = installed(*words)
    assert done.returncode == 0, done.stderr.decode()
    assert done.stdout
    assert installed.tree() == before


BOUND = ["setpriv", "--bounding-set=-dac_override", "--inh-caps=-dac_override"]
"""A command prefix that makes write permissions apply even to root."""


def test_it_runs_in_a_read_only_place(installed: Installed) -> None:
    """Without any right to write, even for root, it works as before."""
    bound: list[str | Path] = [*BOUND] if os.geteuid() == 0 else []
    folder = installed.site / "benchtimer"
    modes = {path: path.stat().st_mode for path in (folder, *folder.rglob("*"))}
    try:
        for path, mode in modes.items():
            path.chmod(mode & ~0o222)
        tried = subprocess.run([*bound, "touch", folder / "x"], check=False, capture_output=True)
        assert tried.returncode != 0  # the rights really apply
        for words in (["rehearse", "hot-black", "bolster"], ["recipes"]):
            command = [*bound, installed.python, "-m", "benchtimer", *words]
            done = subprocess.run(command, check=False, capture_output=True)
            assert (done.returncode, done.stderr) == (0, b"")
    finally:
        for path, mode in modes.items():
            path.chmod(mode)


@pytest.mark.parametrize(
    "environment",
    [
        {"HOME": UNSET},
        {"HOME": ""},
        {"HOME": "/nowhere/at/all"},
        {"LANG": "C"},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"LC_ALL": "POSIX", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "TERM": "dumb"},
        {"PYTHONSAFEPATH": "1"},
        {"PYTHONOPTIMIZE": "2"},
        {"PYTHONWARNINGS": "error"},
    ],
    ids=lambda result: " ".join(f"{name}={value}" for name, value in result.items()),
)  # fmt: skip
def test_it_runs_with_a_minimal_environment(
    installed: Installed, environment: dict[str, str]
) -> None:
    """It runs without a home, without a locale, and with a strict interpreter."""
    for words in (["recipes", "hot-black"], ["run", "--help"]):
        done = installed(*words, environment=environment)
        assert (done.returncode, done.stderr) == (0, b""), words
        result = done.stdout.decode("ascii" if "LC_ALL" in environment else "utf-8")
        assert len(result) > 1000


def test_an_empty_home_is_enough(installed: Installed, tmp_path: Path) -> None:
    """A bath is written and read back in an empty home."""
    home = {"HOME": str(tmp_path)}
    assert installed("bath", "mix", "etch 1", "--of", "Brew", environment=home).returncode == 0
    assert b"etch 1" in installed("bath", environment=home).stdout
    assert (tmp_path / ".local" / "share" / "benchtimer" / "bench.sqlite3").exists()


class _Stranger(Terminal):
    """The installed program on a terminal."""

    python = Path()
    folder = Path()

    def _become(self, arguments: list[str], environment: dict[str, str]) -> NoReturn:
        os.chdir(self.folder)
        command = [str(self.python), "-m", "benchtimer", *arguments]
        os.execve(self.python, command, environment)


def test_the_screen_opens(
    installed: Installed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bench opens with the run and its themes, and closes cleanly."""
    monkeypatch.setattr(_Stranger, "python", installed.python)
    monkeypatch.setattr(_Stranger, "folder", installed.elsewhere)
    before = installed.tree()
    terminal = _Stranger(["run", "hot-black", "bolster", "butt cap"], tmp_path)
    terminal.wait("FIRST AID")
    terminal.send("q")
    assert terminal.close() == 0
    assert installed.tree() == before
