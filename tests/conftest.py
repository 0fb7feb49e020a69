"""Setup for every test: a shop without settings of its own.

Large libraries for comparison are an extra (``proof``): a module that imports a missing one is
skipped, and the summary names the library.
"""

from __future__ import annotations

import gc
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

from benchtimer.cli.bench_command import YOUNG
from tests.posix import needs_posix

# No deadline: how long an example takes depends on the machine, not on the program.
LAWS = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("shop", LAWS)
settings.register_profile("long", LAWS, max_examples=1000)  # pytest --hypothesis-profile=long
settings.load_profile("shop")

# Without bytecode, four workers and every process of a test would compile all modules again.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# As when the screen is open: otherwise a fifth of a pilot's work is garbage collection.
gc.set_threshold(YOUNG)

HERE = Path(__file__).parent

PROOF = ("ambiance", "iapws", "numpy", "ortools", "scipy")
"""Libraries of the extra ``proof``, and the ones they install."""

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
"""Files to start first, so that no worker ends up alone with one."""

SHARED = re.compile(
    r'scope="(?:module|session)"|^@cache|knife: Knife|browser: Browser', re.MULTILINE
)
"""Patterns of a module whose tests go to one worker, because they share something slow."""


class _NotInstalled(MetaPathFinder):
    """The last import finder: it skips a test module that wants a missing library of ``proof``.

    Other libraries that ask for the same one get the usual import error.
    """

    def find_spec(
        self, fullname: str, _path: Sequence[str] | None, _target: ModuleType | None = None
    ) -> None:
        if fullname in PROOF and _asks_from_tests(sys._getframe(1)):
            why = f"{fullname} is not installed: pip install -e '.[proof]'"
            pytest.skip(why, allow_module_level=True)


def _asks_from_tests(frame: FrameType | None) -> bool:
    """Whether the import statement behind this frame is in a test."""
    while frame is not None and frame.f_code.co_filename.startswith("<frozen importlib"):
        frame = frame.f_back
    return frame is not None and HERE in Path(frame.f_code.co_filename).parents


sys.meta_path.append(_NotInstalled())


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """With ``-m quick``, and on Windows, don't read the other files."""
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
    """Whether a file contains a pattern of ``SHARED``."""
    return SHARED.search(path.read_text(encoding="utf-8")) is not None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the quick tests and the POSIX ones, and put the longest first."""
    items.sort(key=lambda item: _rank(item.path))
    for item in items:
        if _is_quick(item.path):
            item.add_marker("quick")
        if needs_posix(item.path):
            item.add_marker("posix")


class _Scheduler(LoadScopeScheduling):  # type: ignore[misc]
    """Gives workers one test at a time, or a whole file if its tests share something.

    The plugin's own groups don't work here: they are part of ids that pytest 9.2 makes again.
    """

    def _split_scope(self, nodeid: str) -> str:
        """The group that a test is scheduled in."""
        file = nodeid.partition("::")[0]
        return file if _is_shared(HERE.parent / file) else nodeid


def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> LoadScopeScheduling:
    """Use the scheduler above."""
    return _Scheduler(config, log)


@pytest.fixture(scope="session", autouse=True)
def _no_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Hide the settings of whoever runs the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("BENCHTIMER_CONFIG", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield
