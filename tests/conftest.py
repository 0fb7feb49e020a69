"""What every test stands on: a shop without settings of its own.

Large libraries that results are compared with are an extra (``proof``): a module that imports
one that is not installed is skipped, and the summary names the library.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator, Sequence
from functools import cache
from importlib.abc import MetaPathFinder
from pathlib import Path
from types import FrameType, ModuleType

import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadScopeScheduling

from tests.posix import needs_posix

# A law holds or not; how long a draw takes says something of the machine, not of the program.
LAWS = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("shop", LAWS)
settings.register_profile("long", LAWS, max_examples=1000)  # pytest --hypothesis-profile=long
settings.load_profile("shop")

# Four workers, and every process that a test starts, would compile all modules again.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

HERE = Path(__file__).parent

PROOF = ("ambiance", "iapws", "numpy", "ortools", "scipy")
"""Libraries of the extra ``proof``, and what they bring along."""

QUICK = (
    "bath", "job", "recipe/test_cases.py", "recipe/test_model.py", "records", "run", "shop",
    "test_quantity.py", "test_rooms.py", "test_times.py", "test_words.py",
    "tui/test_desk.py", "tui/test_menu.py", "tui/test_words.py",
)  # fmt: skip
"""Folders and files with the tests of the mark ``quick``."""

QUICK_PLACES = [HERE / name for name in QUICK]

LONGEST = (
    "week", "faults", "job", "benchmarks", "test_package.py", "test_terminal.py",
    "test_in_turn.py", "test_elsewhere.py",
)  # fmt: skip
"""What is begun first, so that no worker is alone with it in the end."""

SHARED = re.compile(
    r'scope="(?:module|session)"|^@cache|knife: Knife|browser: Browser', re.MULTILINE
)
"""What a module has in it if one worker should do all its tests: they share what took long."""


class _NotInstalled(MetaPathFinder):
    """The last place a module is looked for: a test that wants a library of ``proof`` is skipped.

    Other libraries may ask for the same one, and go on without it.
    """

    def find_spec(
        self, fullname: str, _path: Sequence[str] | None, _target: ModuleType | None = None
    ) -> None:
        if fullname in PROOF and _asks_from_tests(sys._getframe(1)):
            why = f"{fullname} is not installed: pip install -e '.[proof]'"
            pytest.skip(why, allow_module_level=True)


def _asks_from_tests(frame: FrameType | None) -> bool:
    """Whether the import statement that leads here is one of the tests."""
    while frame is not None and frame.f_code.co_filename.startswith("<frozen importlib"):
        frame = frame.f_back
    return frame is not None and HERE in Path(frame.f_code.co_filename).parents


sys.meta_path.append(_NotInstalled())


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """With ``-m quick``, and on Windows, the other files are not even read."""
    if config.getoption("markexpr") == "quick":
        below = any(collection_path in place.parents for place in QUICK_PLACES)
        if not below and not _is_quick(collection_path):
            return True
    is_test = collection_path.suffix == ".py" and collection_path.is_file()
    return True if sys.platform == "win32" and is_test and needs_posix(collection_path) else None


@cache
def _is_quick(path: Path) -> bool:
    """Whether the tests of a file have the mark ``quick``."""
    return any(place in (path, *path.parents) for place in QUICK_PLACES)


@cache
def _rank(path: Path) -> int:
    """The place of a file in ``LONGEST``."""
    places = [path, *path.parents]
    return next((i for i, name in enumerate(LONGEST) if HERE / name in places), len(LONGEST))


@cache
def _is_shared(path: Path) -> bool:
    """Whether a file has something of ``SHARED``."""
    return SHARED.search(path.read_text(encoding="utf-8")) is not None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the quick ones, and those that only POSIX can run; the longest go first."""
    items.sort(key=lambda item: _rank(item.path))
    for item in items:
        if _is_quick(item.path):
            item.add_marker("quick")
        if needs_posix(item.path):
            item.add_marker("posix")


class _Scheduler(LoadScopeScheduling):  # type: ignore[misc]
    """Gives workers one test at a time, and files whose tests share something as a whole.

    The plugin's own groups do nothing here: they are written into ids that pytest 9.2 makes anew.
    """

    def _split_scope(self, nodeid: str) -> str:
        """What a test is handed out with."""
        file = nodeid.partition("::")[0]
        return file if _is_shared(HERE.parent / file) else nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> LoadScopeScheduling:
    """The one above."""
    return _Scheduler(config, log)


@pytest.fixture(scope="session", autouse=True)
def _no_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The settings of whoever runs the tests are not those of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("BENCHTIMER_CONFIG", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield
