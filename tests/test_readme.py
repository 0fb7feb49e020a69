"""The README is true: its size, recipe, keys, links, pictures and test command."""

from __future__ import annotations

import re
from pathlib import Path

from benchtimer.view.keys import KEYS
from tests.benchmarks import __main__ as benchmarks
from tests.faults import __main__ as faults
from tests.marked import put_between
from tests.printed import PAGES, README

TEXT = PAGES["README"]
FIGURE_MARKS = benchmarks.START, benchmarks.END
FAULT_MARKS = faults.START, faults.END


def test_the_readme_is_short() -> None:
    """The README has 12 kB at most: the rest is in the manual."""
    assert len(README.read_bytes()) <= 12_000


def test_the_first_line_that_ends_in_pytest_runs_the_tests() -> None:
    """The first line that ends in pytest is the test command."""
    line = next(line for line in TEXT.splitlines() if line.endswith("pytest"))
    assert line.startswith("    python3 -m venv .venv && ")


def test_the_keys_of_the_readme_are_keys_of_the_board() -> None:
    """The table names a dozen keys of the board, and none that the board lacks."""
    table = TEXT.partition("| key | what it does |")[2].partition("\n\n")[0]
    found = {row.split("|")[1].strip() for row in table.splitlines()[2:]} - {"1 to 99"}
    assert found <= {key.shown for key in KEYS}
    assert len(found) == 12


def test_the_readme_has_one_picture() -> None:
    """The one picture is the board, as the suite draws it."""
    assert re.findall(r"!\[[^\]]+\]\(([^)]+)\)", TEXT) == ["tests/tui/pictures/board-80x24.svg"]


def test_every_link_and_picture_of_the_readme_leads_somewhere() -> None:
    """Every link and picture leads to a file of the project."""
    targets = re.findall(r"\]\(([^)]+)\)", TEXT)
    assert targets
    for target in targets:
        assert (README.parent / target).is_file(), target


def _rows(folder: str, start: str, end: str) -> list[str]:
    """The rows between two marks of a folder's README, below the heading."""
    text = (README.parent / folder / "README.md").read_text(encoding="utf-8")
    table = text.partition(start)[2].partition(end)[0]
    return [line for line in table.splitlines() if line.startswith("|")][2:]


def test_the_results_match_the_tables() -> None:
    """The README's counts of faults, losses and missed ratios match the tables."""
    tried = _rows("tests/faults", *FAULT_MARKS)
    assert f"Faults: {len(tried)} kinds" in TEXT
    lost = [row.split("|") for row in tried if row.split("|")[3].strip() != "0"]
    assert all(f"In {row[3].strip()} of {row[2].strip()} " in TEXT for row in lost)
    plans = [row for row in _rows("tests/benchmarks", *FIGURE_MARKS) if row.startswith("| plan")]
    assert len(plans) > 30
    assert all(": met" in row for row in plans)
    page = (README.parent / "tests/benchmarks/README.md").read_text(encoding="utf-8")
    families = page.split("CPU s to the proof |\n")[1].split("\n\n")[0].splitlines()[1:]
    proofs = {row.split(" | ")[0]: row.strip("| ").split(" | ")[-1] for row in families}
    later = []
    for name, seconds in proofs.items():
        ours, theirs = seconds.split(" : ")
        if "-" not in (ours, theirs) and float(ours) > float(theirs):
            later.append(name.strip("| "))
    assert later == []
    assert "for every kind of problem" in TEXT
    starts = [row for row in _rows("tests/benchmarks", *FIGURE_MARKS) if "first frame" in row]
    assert starts
    assert all(float(row.split("|")[3]) < 2.5 for row in starts)


def test_the_tables_can_be_rewritten(tmp_path: Path) -> None:
    """Each table's writer finds its marks in the README of its folder."""
    for folder, marks in (("tests/faults", FAULT_MARKS), ("tests/benchmarks", FIGURE_MARKS)):
        copy = tmp_path / "README.md"
        copy.write_bytes((README.parent / folder / "README.md").read_bytes())
        put_between(copy, *marks, "a new table")
        assert "\na new table\n" in copy.read_text(encoding="utf-8")
