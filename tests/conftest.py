"""What every test stands on: a shop without settings of its own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="session", autouse=True)
def _no_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The settings of whoever runs the tests are not those of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("BENCHTIMER_CONFIG", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield
