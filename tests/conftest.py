"""What every test stands on: a shop without settings of its own.

Large libraries that results are compared with are an extra (``proof``): a module that imports
one that is not installed is skipped, and the summary names the library.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from importlib.abc import MetaPathFinder
from pathlib import Path
from types import FrameType, ModuleType

import pytest
from hypothesis import HealthCheck, settings

from tests.posix import needs_posix

# A law holds or not; how long a draw takes is told by the machine, not by the program.
settings.register_profile("shop", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shop")

HERE = Path(__file__).parent

PROOF = ("ambiance", "iapws", "numpy", "ortools", "scipy")
"""Libraries of the extra ``proof``, and what they bring along."""

QUICK = (
    "bath", "job", "recipe/test_cases.py", "recipe/test_model.py", "records", "run", "shop",
    "test_quantity.py", "test_rooms.py", "test_times.py", "test_words.py",
    "tui/test_desk.py", "tui/test_menu.py", "tui/test_words.py",
)  # fmt: skip
"""Folders and files with the tests of the mark ``quick``."""


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
    here = [HERE / name for name in QUICK]
    near = any(
        place in (collection_path, *collection_path.parents) or collection_path in place.parents
        for place in here
    )
    if config.getoption("markexpr") == "quick" and not near:
        return True
    is_test = collection_path.suffix == ".py" and collection_path.is_file()
    return True if sys.platform == "win32" and is_test and needs_posix(collection_path) else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the quick ones, and those that only POSIX can run."""
    here = [HERE / name for name in QUICK]
    for item in items:
        if any(place in (item.path, *item.path.parents) for place in here):
            item.add_marker("quick")
        if needs_posix(item.path):
            item.add_marker("posix")


@pytest.fixture(scope="session", autouse=True)
def _no_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The settings of whoever runs the tests are not those of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("BENCHTIMER_CONFIG", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield
