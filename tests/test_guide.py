"""The contributors' guide names what is there, and all of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import benchtimer

PACKAGE = Path(benchtimer.__file__).parent
GUIDE = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_room_stands_in_the_guide() -> None:
    """The table of rooms leaves out no module and no folder of the package."""
    files = {path.name for path in PACKAGE.glob("*.py") if not path.name.startswith("__")}
    folders = {f"{path.parent.name}/" for path in PACKAGE.glob("*/__init__.py")}
    assert set(re.findall(r"`([a-z]+(?:\.py|/))`", "\n".join(_table()))) == files | folders


def test_the_guide_names_only_modules_that_are_there() -> None:
    """Every path to a module that the guide gives leads to a file."""
    for name in set(re.findall(r"`([a-z_/]+/[a-z_]+\.(?:py|tcss))`", GUIDE)):
        assert (PACKAGE / name).is_file() or (PACKAGE.parent / name).is_file(), name


@pytest.mark.parametrize("row", ["tui", "view", "bench"])
def test_the_modules_of_a_room_are_those_in_its_row(row: str) -> None:
    """What the row of a room names is a module of that room, or one of its functions."""
    (told,) = [line for line in _table() if line.startswith(f"| `{row}/`")]
    modules = {path.stem for path in (PACKAGE / row).glob("*.py")}
    assert set(re.findall(r"`([a-z]+)`", told)) <= modules


def _table() -> list[str]:
    return GUIDE.partition("| room | what it is for |")[2].partition("\n\n")[0].splitlines()[2:]
