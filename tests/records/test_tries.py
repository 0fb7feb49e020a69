"""Tries: which send-backs begin a new one, and how each came out."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from benchtimer.records.life import life_of, life_table, life_text
from benchtimer.records.record import Record, make_record
from benchtimer.records.tries import FAILED, Try, tries_of
from tests.records.golden import entries_of
from tests.records.laws import PRESSES, Presses, log_of
from tests.run.scenes import bench_of
from tests.support import Hands

with (Path(__file__).parent / "tries.toml").open("rb") as _file:
    CASES: list[dict[str, Any]] = tomllib.load(_file)["case"]


def _record(name: str) -> Record:
    (case,) = [case for case in CASES if case["name"] == name]
    return make_record(entries_of(_bench(case)))


def _bench(case: dict[str, Any]) -> Hands:
    return bench_of({"recipe": "tries", **case})


def _tries(record: Record, name: str = "bolster") -> list[Try]:
    part = record.part(name)
    assert part is not None
    return tries_of(record, part)


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_what_counts_as_a_try(case: dict[str, Any]) -> None:
    """Only a send-back marked as a new try begins one, and each try has its outcome."""
    result = _tries(make_record(entries_of(_bench(case))))
    assert [[a.outcome, a.words, a.failed_at or ""] for a in result] == case["tries"]
    assert [(a.number, a.of) for a in result] == [(n + 1, len(result)) for n in range(len(result))]


@given(PRESSES)
def test_tries_follow_each_other_without_a_gap(presses: Presses) -> None:
    """The first try begins with the run, each next one as the last ends; only the last is open."""
    record = make_record(log_of(presses))
    for part in record.parts:
        tries = tries_of(record, part)
        assert tries[0].began_s == 0
        assert [a.ended_s for a in tries[:-1]] == [a.began_s for a in tries[1:]]
        assert all(a.outcome == FAILED and a.until_s == a.ended_s for a in tries[:-1])
        over = record.ended is not None or part.outcome in ("done", "scrapped")
        latest_s = max(line.elapsed_s for line in record.lines)
        assert tries[-1].ended_s == (latest_s if over else None)
        assert tries[-1].until_s >= tries[-1].began_s
        assert len(tries) <= 1 + part.sent_back


def test_a_try_has_a_number_if_there_are_several() -> None:
    """A part's only try is named by run and part; with several, the number follows."""
    (only,) = _tries(_record("not begun"))
    assert only.name == "2026-02-02-1:bolster"
    assert [a.name for a in _tries(_record("sent back by its look"))] == [
        "2026-02-02-1:bolster:1",
        "2026-02-02-1:bolster:2",
    ]


def test_a_part_history_counts_tries_and_work() -> None:
    """Over two runs of a part, tries keep counting, hands-on time adds up, and notes are listed."""
    first, second = _record("sent back by its look"), _record("straight through and judged")
    second.run, second.created = "2026-02-03-1", "2026-02-03T08:00:00+01:00"
    second.speed = 30
    life = life_of([first, second], "BOLSTER")
    assert life_text(life).splitlines() == [
        "bolster: 3 tries in 2 runs",
        "",
        "2026-02-02-1  2026-02-02",
        "  Dip and look, revision 1",
        "  try 1: sent back: Is it even? no; hands-on 1 min 21 s",
        "  try 2: waiting; hands-on 0 s",
        "",
        "2026-02-03-1  2026-02-03  PRACTICE",
        "  Dip and look, revision 1",
        "  try 3: accepted, rating 5 of 5; hands-on 1 min 25 s",
        "",
        "hands-on in all: 2 min 46 s",
    ]
    rows: Any = life_table(life, "bolster")["tries"]
    assert [(r["try"], r["run"], r["in_run"]) for r in rows] == [
        (1, "2026-02-02-1", 1), (2, "2026-02-02-1", 2), (3, "2026-02-03-1", 1)
    ]  # fmt: skip
    assert sum(r["hands_s"] for r in rows) == 166.0


NOTES = [
    ["Note", "before the first look", "bolster"], ["Note", "about the shop"],
    ["to tank", "bolster"], ["wait", 300], ["Begin", "bolster"],
    ["Answer", "bolster", "even", False], ["Note", "photo: a.jpg\nphoto: b.jpg", "bolster"],
    ["Note", "about another", "ferrule"], ["Scrap", "bolster"], ["Note", "too late", "bolster"],
]  # fmt: skip


def test_notes_are_listed_with_their_try() -> None:
    """A part's notes are listed under their try, and later ones under the last."""
    record = make_record(entries_of(_bench({"before": NOTES})))
    lines = life_text(life_of([record], "bolster")).splitlines()[4:]
    assert [line[22:] if line.startswith("    2026") else line for line in lines] == [
        "  try 1: sent back: Is it even? no; hands-on 1 min 21 s",
        "before the first look",
        "  try 2: scrapped; hands-on 0 s",
        "photo: a.jpg photo: b.jpg",
        "too late",
        "    2 photos",
        "",
        "hands-on in all: 1 min 21 s",
    ]
