"""Bad files, short form; ``python -m tests.faults files`` is the long form."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from rich.cells import cell_len

from benchtimer.recipe.reader import parse_recipe
from benchtimer.store import log_transfer
from benchtimer.store.log import FILE_NAME, EventLog
from benchtimer.store.register import Register
from benchtimer.view.space import Size
from benchtimer.view.text import wrapped
from tests.behind import lock_again, seal_again
from tests.faults import files, logs
from tests.faults import tally as tallies
from tests.faults.mutate import changed_toml
from tests.faults.shown import looked_at, too_wide, trouble, worked_with
from tests.faults.tally import Tally, attempt
from tests.support import small_recipe


@pytest.fixture(name="shop", scope="module")
def _shop() -> Iterator[logs.Shop]:
    """A log, an export and a backup of it."""
    shop = logs.Shop()
    yield shop
    shop.close()


def test_mutated_recipes_are_accepted_or_refused_with_a_message() -> None:
    """With any recipe file, nothing crashes and nothing harmful is shown."""
    draw, tally = Random(3), Tally()
    for _ in range(250):
        files.try_recipe(draw, tally, changed_toml(draw, draw.choice(files.RECIPES)))
    assert (tally.lost, tally.first) == (0, "")


def test_mutated_settings_are_accepted_or_refused_with_a_message() -> None:
    """Any settings file gives a shop or a list of problems."""
    tally = files.try_settings(150, 1)
    assert (tally.lost, tally.first) == (0, "")


def test_mutated_exports_are_accepted_or_refused_with_a_message() -> None:
    """Any export gives a run with a record, or a refusal."""
    tally = logs.try_exports(80, 1)
    assert (tally.lost, tally.first) == (0, "")


def test_mutated_backups_are_accepted_or_refused_with_a_message() -> None:
    """After restoring any backup, the bench opens with it or with the earlier log."""
    tally = logs.try_backups(50, 1)
    assert (tally.lost, tally.first) == (0, "")


def test_the_campaign_counts_what_goes_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """Exceptions, endless work and wrong answers count as losses, each with its case."""
    tally = Tally()
    monkeypatch.setattr(tallies, "HANG_S", 0.01)
    attempt(tally, lambda: str(1 // 0), lambda: "one")
    attempt(tally, lambda: str(sum(range(10**7))) and "", lambda: "two")
    attempt(tally, lambda: "wrong", lambda: "three")
    attempt(tally, lambda: "", lambda: "four", many=1000)
    assert (tally.tried, tally.lost) == (4, 3)
    assert tally.first.startswith("one: ZeroDivisionError")


def test_a_reader_that_opens_files_is_found_out() -> None:
    """The interpreter's audit events show any access outside the process."""
    with files.watched() as reached, open(__file__, "rb"):
        pass
    assert "open" in reached


def test_a_screen_that_could_be_disturbed_is_found_out() -> None:
    """The check finds a control code, a direction mark and a line too wide."""
    assert "U+001B" in trouble("a\x1b[2J")
    assert "U+202E" in trouble("a\u202eb")
    assert too_wide(["日本" * 20], Size(60, 20))
    recipe = small_recipe()
    object.__setattr__(recipe.step[0], "title", "red\x1b[31m")
    assert looked_at(recipe)


def test_wide_letters_in_a_hazard_stay_inside_the_screen() -> None:
    """Double-width letters wrap by their columns."""
    text = files.RECIPES[0].replace('text = "', f'text = "{"日本語" * 30} ', 3)
    recipe = parse_recipe(text.encode(), name="wide", default_id="wide")
    assert worked_with(recipe, Random(1), 3) == ""


@pytest.mark.parametrize("text", ["日本語" * 30, "one 日本語 two " * 9, "plain words " * 9, ""])
def test_lines_are_as_wide_as_their_letters(text: str) -> None:
    """Wrapped lines contain the whole text, and none is too wide."""
    lines = wrapped(text, 20)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert too_wide(lines, Size(20, 1)) == ""


def test_joined_characters_are_separated() -> None:
    """Joined signs count one by one, so a line of them fits on any terminal."""
    lines = wrapped("👩\u200d🔧" * 30, 20)
    assert max(sum(map(cell_len, line)) for line in lines) <= 20


@pytest.mark.parametrize(
    ("statement", "expected"),
    [
        ("CREATE TRIGGER t BEFORE INSERT ON event BEGIN SELECT RAISE(IGNORE); END", "trigger 't'"),
        ("DROP TRIGGER event_is_kept", "trigger 'event_is_kept'"),
        ("UPDATE event SET body = '{}' WHERE seq = 1", "entry 1"),
        ("UPDATE event SET t_ms = 9223372036854775807 WHERE seq = 9", "entry 9"),
        ("UPDATE event SET t_ms = t_ms + 1 WHERE seq = 9", "order of time"),
        ("UPDATE event SET run = '../../x'", "its name is not one"),
        ("UPDATE event SET by = char(27) || '[2J' WHERE seq = 2", "U+001B"),
        ("DELETE FROM event WHERE seq = 3", "is missing"),
        ("UPDATE event SET seq = 9223372036854775807 WHERE seq = (SELECT max(seq) FROM event)",
         "is missing"),
        ("UPDATE event SET body = replace(body, '\"at\":\"rack\"', '\"at\":\"no\"')",
         "no such station"),
        ("UPDATE event SET body = replace(body, '\"limit\":2', '\"limit\":-2')", "entry 1"),
        ("UPDATE event SET body = replace(body, '\"target\":\"2 h\"', '\"target\":\"1 min\"')",
         "under min"),
    ],
)  # fmt: skip
def test_a_backup_that_was_tampered_with_is_refused(
    shop: logs.Shop, statement: str, expected: str
) -> None:
    """A backup that would not open, or would lose entries, is refused."""
    source = shop.home / "tampered"
    source.write_bytes(shop.whole)
    with closing(sqlite3.connect(source, isolation_level=None)) as db:
        db.execute("DROP TRIGGER event_stays")
        if "DELETE" in statement:
            db.execute("DROP TRIGGER event_is_kept")
        db.execute(statement)
        seal_again(db)
        if "event_is_kept" not in statement:
            lock_again(db)
    before = (shop.folder / FILE_NAME).read_bytes()
    with pytest.raises(log_transfer.NotCarried) as refused:
        log_transfer.restore(shop.folder, source)
    assert expected in str(refused.value)
    assert (shop.folder / FILE_NAME).read_bytes() == before


def test_a_false_register_is_rebuilt(shop: logs.Shop) -> None:
    """A restore rebuilds a backup's list of runs from its entries."""
    source = shop.home / "lying"
    source.write_bytes(shop.whole)
    with closing(sqlite3.connect(source, isolation_level=None)) as db:
        register = Register(db)
        for line in list(register.lines()):
            register.set_line(replace(line, phase="splendid", title="\x1b[2J"))
            register.set_terms(line, [])
    folder = shop.home / "fresh"
    folder.mkdir()
    log_transfer.restore(folder, source)
    with closing(EventLog(folder)) as log:
        assert {run.phase for run in log.runs()} <= {"aborted", "running"}
        assert {run.title for run in log.runs()} == {"Test"}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"press":1', f'"press":{10**30}'),
        ('"t_ms":1', '"t_ms":9'),
        ('"wall_ms":1', '"wall_ms":1000'),
        ('"offset_s":0', f'"offset_s":{10**30}'),
        ('"kind":"started"', f'"kind":"{"x" * 5000}"'),
        ('"part":"bolster"', '"part":["bolster"]'),
        ('"by":"maker"', '"by":"\\u001b[2J"'),
        ('"body":{', '"body":[{'),
    ],
)
def test_an_export_that_was_tampered_with_is_refused(
    shop: logs.Shop, tmp_path: Path, old: str, new: str
) -> None:
    """An export that can't be written, read again or shown is refused in a few words."""
    text = "\n".join(shop.lines)
    assert old in text
    file = tmp_path / "run.jsonl"
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(log_transfer.NotCarried) as refused:
        log_transfer.read_run(file)
    assert len(str(refused.value)) < 1000
