"""The benchmarks' own arithmetic, tables and quick forms, without any judgment of times."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from types import ModuleType

import pytest

from benchtimer.run.evolve import fold
from benchtimer.store.log import EventLog
from tests.benchmarks import replay
from tests.benchmarks.__main__ import END, NAMES, START, main
from tests.benchmarks.alarms import most_in
from tests.benchmarks.figure import Asked, Figure, alternate, line, markdown, missed, three
from tests.benchmarks.logs import long_run, many_runs, write_run
from tests.benchmarks.planner import Try, compared
from tests.benchmarks.program import BARE, Program, whole_s

SLOW = Figure("start", "importing", ((6.0, 2.0), (4.0, 2.0), (9.0, 2.0)), "ms", aim=3.0)
QUICK = Figure("plan", "another", ((2.0, 8.0), (2.0, 3.0)), "ms", aim=1.0, faster=True)


def test_a_ratio_is_the_median_over_the_rounds() -> None:
    """The ratio of a figure is the median of its rounds' ratios, inverted for speed."""
    assert SLOW.ratios == [3.0, 2.0, 4.5]
    assert SLOW.ratio == 3.0
    assert QUICK.ratio == (4.0 + 1.5) / 2


@pytest.mark.parametrize(
    ("pairs", "faster", "said"),
    [
        (((3.0, 1.0),), False, "at most 3: met"),
        (((3.1, 1.0),), False, "at most 3: MISSED"),
        (((1.0, 3.0),), True, "at least 3: met"),
        (((1.0, 2.9),), True, "at least 3: MISSED"),
    ],
)
def test_a_loss_is_reported_as_plainly_as_a_gain(
    pairs: tuple[tuple[float, float], ...], faster: bool, said: str
) -> None:
    """An aim is met at its limit and missed beyond it, in either direction."""
    figure = Figure("it", "another", pairs, "ms", aim=3.0, faster=faster)
    assert figure.verdict == said
    assert missed([figure]) == (["it"] if "MISSED" in said else [])
    assert ("**MISSED**" in markdown([figure], "here")) is ("MISSED" in said)


@pytest.mark.parametrize(
    ("ours", "other", "ratio", "verdict"),
    [
        (True, True, "2.00", "at least 1: met"),
        (True, False, ">2.00", "at least 1: met"),
        (False, True, "<2.00", "at least 1: met"),
        (False, False, "-", "at least 1: open"),
    ],
)
def test_a_side_without_a_proof_makes_the_ratio_a_bound(
    ours: bool, other: bool, ratio: str, verdict: str
) -> None:
    """If one side did not finish, the ratio is a limit; if neither did, there is no ratio."""
    figure = compared("case", "CP-SAT", [(Try(5, ours, 100, 98), Try(10, other, 100, 90))])
    assert (figure.ratio_words, figure.verdict) == (ratio, verdict)
    assert ("ours open at 2.0%" in figure.note) is not ours
    assert ("CP-SAT open at 10.0%" in figure.note) is not other


def test_two_proofs_that_differ_are_reported() -> None:
    """The table reports two proofs of different length as a contradiction."""
    figure = compared("case", "CP-SAT", [(Try(5, True, 100, 100), Try(10, True, 99, 99))])
    assert "DIFFERENT PLANS" in figure.note


def test_sides_take_turns_going_first() -> None:
    """Each side goes first in every other round, so drift affects both equally."""
    order: list[str] = []

    def side(name: str, value: float) -> float:
        order.append(name)
        return value

    pairs = alternate(3, lambda: side("ours", 1.0), lambda: side("other", 2.0))
    assert pairs == ((1.0, 2.0),) * 3
    assert order == ["ours", "other", "other", "ours", "ours", "other"]


def test_a_row_has_ratio_spread_rounds_and_both_sides() -> None:
    """A row of either table has the ratio, its spread, the rounds and the median of each side."""
    row = "| start | importing | 3.00 | 2.00 to 4.50 | 3 | 6.00 : 2.00 ms | at most 3: met |  |"
    assert row in markdown([SLOW], "Python 3")
    assert "3.00 times" in line(SLOW)
    assert "2.75 faster" in line(QUICK)


@pytest.mark.parametrize(
    ("value", "text"), [(0.0123, "0.012"), (0.5, "0.50"), (12.34, "12.3"), (1234.5, "1,234")]
)
def test_a_ratio_has_three_figures(value: float, text: str) -> None:
    """A ratio shows three figures."""
    assert three(value) == text


def test_the_command_measures_prints_and_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A named benchmark runs in its quick form and writes its table to the page."""
    monkeypatch.setattr(replay, "LENGTHS", (10, 60))
    monkeypatch.setattr(replay, "BASE", 30)
    page, file = tmp_path / "page.md", tmp_path / "figures.json"
    page.write_text(f"before\n{START}\nold\n{END}\nafter\n")
    assert main(["replay", "--quick", "--write", str(page), "--json", str(file)]) == 0
    written = page.read_text()
    assert written.startswith(f"before\n{START}\nPython ")
    assert written.endswith(f"\n{END}\nafter\n")
    assert "old" not in written
    figures = json.loads(file.read_text())
    assert [figure["what"] for figure in figures] == [
        f"{what} per entry, run of {length}"
        for what in ("replay", "opening the bench")
        for length in (10, 60)
    ]
    assert all(figure["ratio"] > 0 and len(figure["pairs"]) == 2 for figure in figures)
    assert all(figure["what"] in capsys.readouterr().out for figure in figures[:1])


def test_a_page_without_the_marks_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page without the marks for the table is refused and not changed."""
    monkeypatch.setitem(sys.modules, "tests.benchmarks.idle", _nothing_measured())
    page = tmp_path / "page.md"
    page.write_text("nothing here\n")
    with pytest.raises(SystemExit, match="has no place for the table"):
        main(["idle", "--write", str(page)])
    assert page.read_text() == "nothing here\n"


def _nothing_measured() -> ModuleType:
    module = ModuleType("tests.benchmarks.idle")
    module.measure = lambda _asked: []  # type: ignore[attr-defined]
    return module


def test_an_unknown_benchmark_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelled name gets a message with the known names."""
    with pytest.raises(SystemExit):
        main(["idel"])
    assert f"no such benchmark: idel; there are {', '.join(NAMES)}" in capsys.readouterr().err


def test_every_name_is_a_module_that_measures() -> None:
    """Every benchmark name is a module of the folder, and every such module is named."""
    helpers = {"__init__", "__main__", "bare_clock", "figure", "logs", "program"}
    files = {path.stem for path in Path(__file__).parent.glob("*.py")}
    assert {x for x in files if not x.startswith("test_")} - helpers == set(NAMES)


def test_a_long_run_reads_back_from_the_log(tmp_path: Path) -> None:
    """The run that replay measures has work, readings, notes and corrections."""
    events = long_run(300)
    name = write_run(tmp_path, events)
    log = EventLog(tmp_path, read_only=True)
    read = [entry.event for entry in log.entries(name)]
    log.close()
    assert read == events
    assert fold(read) == fold(events)
    kinds = {type(event).__name__ for event in events}
    assert kinds >= {"WorkBegan", "PutIn", "TakenOut", "ReadingTaken", "Noted", "Undone", "Retimed"}


def test_a_log_of_many_runs_is_made_once(tmp_path: Path) -> None:
    """Benchmarks share the log with many runs, and each run has its own part."""
    place = many_runs(tmp_path, 12)
    assert many_runs(tmp_path, 12) == place
    log = EventLog(place, read_only=True)
    assert len({line.parts for line in log.runs()}) == 12
    log.close()


def test_a_program_on_a_terminal_answers_keys() -> None:
    """The bare program is timed from a key to its word, and its memory and time can be read."""
    program = Program(BARE)
    try:
        assert program.until(b"counts") > 0
        program.press("u")
        assert program.until(b"taken back") > 0
        assert program.memory_mb > 1
        assert program.cpu_s > 0
    finally:
        program.end()


def test_a_process_is_timed_until_it_exits() -> None:
    """A whole process takes some time, and a failed process is not taken for a fast one."""
    assert whole_s([sys.executable, "-c", "pass"]) > 0
    with pytest.raises(Exception, match="returned non-zero"):
        whole_s([sys.executable, "-c", "raise SystemExit(1)"])


def test_the_most_alarms_in_any_stretch() -> None:
    """The search for a flood covers every stretch, not only whole ones from the beginning."""
    assert most_in(10, [0, 9, 10, 18, 19]) == 3
    assert most_in(10, []) == 0


def test_quick_means_a_few_rounds() -> None:
    """The quick form runs a few rounds, the full form all."""
    assert Asked(Path(), quick=True).rounds(20) == 2
    assert Asked(Path()).rounds(20) == 20
