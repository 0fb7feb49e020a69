"""Every screen matches its checked picture at four sizes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchtimer.tui.drawing import Drawing
from benchtimer.view.picture.scene import Scene as BoardScene
from tests.tui.pictures import FOLDER, PICTURES, SIZES, Scenes, drawn, path_of


@pytest.fixture(name="scenes", scope="module")
def _scenes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scenes]:
    with closing(Scenes(tmp_path_factory.mktemp("scenes"))) as scenes:
        yield scenes


@pytest.mark.parametrize("name", PICTURES)
async def test_a_screen_matches_its_saved_pictures(
    name: str, scenes: Scenes, tmp_path: Path
) -> None:
    """The screen matches its kept picture at each size; a new one is saved in the test's folder."""
    changed = []
    for size, svg in (await drawn(name, scenes)).items():
        if svg != path_of(name, size).read_text(encoding="utf-8"):
            new = tmp_path / path_of(name, size).name
            new.write_text(svg, encoding="utf-8")
            changed.append(str(new))
    assert not changed, f"look at them; python -m tests.tui.pictures {name} keeps them"


def test_the_shop_has_two_runs_and_nothing_late(scenes: Scenes) -> None:
    """Home and the list of runs show an ordinary bench; late work has its own picture."""
    scene = scenes.of(PICTURES["home"])
    moment = scene.driver.moment(scene.driver.stamp())
    assert len(moment.shop.runs) == 2
    assert not any(action.is_late(moment.now_ms) for action in moment.actions)


async def test_a_busy_machine_draws_the_same_picture(
    scenes: Scenes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept axis from an earlier drawing, as after a slow start, is not in the picture."""
    at_first = Drawing.draw

    def slowly(self: Drawing, scene: BoardScene) -> None:
        if not self.rows:
            self._held_s = 60
        at_first(self, scene)

    monkeypatch.setattr(Drawing, "draw", slowly)
    size = (80, 24)
    svg = (await drawn("eight-parts", scenes, [size]))[size]
    assert svg == path_of("eight-parts", size).read_text(encoding="utf-8")


def test_every_saved_picture_is_used() -> None:
    """Every kept picture belongs to a screen."""
    wanted = {path_of(name, size) for name in PICTURES for size in SIZES}
    assert set(FOLDER.glob("*")) == wanted
