"""Draws the scenes at every size into ``drawings/``, to check by eye and compare.

python -m tests.view.picture_drawings
"""

from __future__ import annotations

from pathlib import Path

from benchtimer.view.picture.sheet import draw
from tests.view.scenes_drawn import SCENES, SIZES

FOLDER = Path(__file__).parent / "drawings"


def drawn(name: str) -> str:
    """A scene at every size, one below the other."""
    pieces = []
    for (width, height), size in SIZES.items():
        rows = draw(SCENES[name](), width, height).rows
        pieces.append("\n".join([f"== {size} columns", *(row.text.rstrip() for row in rows)]))
    return "\n".join(pieces) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for scene in SCENES:
        (FOLDER / f"{scene}.txt").write_text(drawn(scene), encoding="utf-8")
