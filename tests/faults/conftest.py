"""The suite looks at what happens, not at how long it takes; the campaign judges that."""

from __future__ import annotations

import math

import pytest

from tests.faults import tally


@pytest.fixture(autouse=True)
def _no_times(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is too slow."""
    monkeypatch.setattr(tally, "HANG_S", math.inf)
