"""Every screen at four sizes looks as it did when somebody last looked at it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.tui.pictures import FOLDER, PICTURES, SIZES, Scenes, drawn, path_of


@pytest.fixture(name="scenes", scope="module")
def _scenes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scenes]:
    with closing(Scenes(tmp_path_factory.mktemp("scenes"))) as scenes:
        yield scenes


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", PICTURES)
async def test_a_screen_looks_as_it_did(
    name: str, size: tuple[int, int], scenes: Scenes, tmp_path: Path
) -> None:
    """The picture is the one that is kept; a new one is left in the test's own folder."""
    svg = await drawn(name, size, scenes)
    if svg != path_of(name, size).read_text(encoding="utf-8"):
        new = tmp_path / path_of(name, size).name
        new.write_text(svg, encoding="utf-8")
        pytest.fail(f"{name} has changed: {new}; python -m tests.tui.pictures {name} keeps it")


def test_no_picture_is_left_over() -> None:
    """Every picture that is kept belongs to a screen."""
    wanted = {path_of(name, size) for name in PICTURES for size in SIZES}
    assert set(FOLDER.glob("*")) == wanted
