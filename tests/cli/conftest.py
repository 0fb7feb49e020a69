"""A log for the commands to read."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.records.conftest import work_on_the_knife


@pytest.fixture(name="knife_data", scope="session")
def _knife_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder with the petty knife's run, worked once; a test that writes copies it."""
    folder = tmp_path_factory.mktemp("knife") / "data"
    work_on_the_knife(folder).driver.close()
    return folder
