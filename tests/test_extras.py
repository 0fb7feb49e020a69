"""The extras of the tests: only a missing library is skipped, and by name."""

from __future__ import annotations

import importlib

import pytest

from tests import conftest

LIBRARY = "no_such_library"


def test_a_test_without_its_extra_library_is_skipped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The reason names the library and how to install it."""
    monkeypatch.setattr(conftest, "PROOF", (LIBRARY,))
    with pytest.raises(pytest.skip.Exception, match=rf"{LIBRARY} is not installed: pip install"):
        import no_such_library  # type: ignore[import-not-found]  # noqa: F401


def test_the_other_libraries_work_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library that tries an optional import gets the error that it expects."""
    monkeypatch.setattr(conftest, "PROOF", (LIBRARY,))
    with pytest.raises(ModuleNotFoundError):
        importlib.import_module(LIBRARY)


def test_a_missing_required_library_is_an_error() -> None:
    """What the quick set needs is never skipped."""
    with pytest.raises(ModuleNotFoundError):
        import no_such_library  # noqa: F401


def test_the_quick_tests_are_there() -> None:
    """Every file and folder of the quick suite exists."""
    assert [name for name in conftest.QUICK if not (conftest.HERE / name).exists()] == []
