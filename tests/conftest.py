"""What every test stands on: a shop without settings of its own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

# A law holds or not; how long a draw takes is told by the machine, not by the program.
settings.register_profile("shop", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shop")


@pytest.fixture(scope="session", autouse=True)
def _no_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The settings of whoever runs the tests are not those of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("BENCHTIMER_CONFIG", raising=False)
        patch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("config")))
        yield
