"""Laws of a log for any presses: reading, moving, finding, correcting."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from benchtimer.run.events import Event, Judged, Noted, Redone, Retimed, Undone
from benchtimer.run.evolve import fold
from benchtimer.store.index import Query, fold_text, index_all, words_in
from benchtimer.store.log import EventLog, LogEntry
from benchtimer.store.log_transfer import carry_in, checked, read_run, run_lines
from benchtimer.store.standing import standing
from tests.store.histories import DISK, NOON, end, histories, stamp_at, terms, write
from tests.support import Hands
from tests.tui.benches import FEW

NAME = "2026-02-02-1"


@contextmanager
def _log() -> Iterator[EventLog]:
    """A new log in its own folder."""
    with TemporaryDirectory() as place:
        log = EventLog(Path(place))
        try:
            yield log
        finally:
            log.close()


def _numbered(events: list[Event]) -> list[LogEntry]:
    return [
        LogEntry(seq, NAME, event, stamp_at(event.t_ms))
        for seq, event in enumerate(events, start=1)
    ]


@given(histories())
@DISK
def test_written_events_read_back_and_fold_to_the_same_run(hands: Hands) -> None:
    """Every event of any history reads back equal, in order, and gives the same run."""
    with _log() as log:
        write(log, hands)
        entries = log.entries(NAME)
        assert [entry.event for entry in entries] == hands.events
        assert fold(entry.event for entry in entries) == hands.state
        assert checked(log.path) == log.last_seq() == len(hands.events)


@given(histories())
@DISK
def test_the_index_agrees_with_the_entries(hands: Hands) -> None:
    """Written press by press, corrections included, the index equals a rebuilt one."""
    with _log() as log:
        write(log, hands)
        before = terms(log.path.parent)
        index_all(log._db)
        assert terms(log.path.parent) == before


@given(histories(), st.sampled_from(["cloudy", "grey", "BLUE", "刃", "spots", "none", "x" * 50]))
@DISK
def test_a_word_finds_exactly_the_runs_whose_entries_have_it(hands: Hands, word: str) -> None:
    """A run is found by a word of a note that counts, and by no other word."""
    entries = _numbered(hands.events)
    counted = standing(entries)
    said = {
        result
        for entry in entries
        if entry.seq in counted and isinstance(entry.event, Noted)
        for result in words_in(entry.event.text)
    }
    with _log() as log:
        write(log, hands)
        found = [line.name for line in log.find(Query(words=(*words_in(word),)))]
    # words that reasons and answers also use are not tried
    assert found == ([NAME] if set(words_in(word)) <= said else [])


@given(histories())
@DISK
def test_a_run_is_found_by_its_last_verdicts_alone(hands: Hands) -> None:
    """A run is found by each part's last verdict that counts, and by no earlier one."""
    entries = _numbered(hands.events)
    counted = standing(entries)
    last = {
        entry.event.part: entry.event.verdict
        for entry in entries
        if entry.seq in counted and isinstance(entry.event, Judged)
    }
    with _log() as log:
        write(log, hands)
        found = log.terms("verdict", [NAME]).get(NAME, ())
    assert sorted(found) == sorted({fold_text(verdict) for verdict in last.values()})


@given(histories(presses=30))
@FEW
def test_the_entries_that_count_are_those_that_undo_has_left(hands: Hands) -> None:
    """The presses that count are those the run itself still has, after any undo."""
    counted = standing(_numbered(hands.events))
    result = {
        event.press
        for seq, event in enumerate(hands.events, start=1)
        if seq in counted and event.press and not isinstance(event, Undone | Redone | Retimed)
    }
    left = {press.number for press in hands.state.past}
    replaced = {event.press: event.retimed for event in hands.events if isinstance(event, Retimed)}
    assert result == left - {replaced[number] for number in left if number in replaced}


@given(histories())
@DISK
def test_a_run_survives_export_and_import_once(hands: Hands) -> None:
    """Imported into another log a run has equal entries, clocks and index; again adds nothing."""
    end(hands)
    with _log() as there, _log() as here:
        write(there, hands)
        path = there.path.parent / "run.jsonl"
        lines = list(run_lines(there.entries(NAME)))
        path.write_text("\n".join(lines), encoding="utf-8")
        carried = read_run(path)
        assert carry_in(here, path, carried, NOON) == NAME
        assert carry_in(here, path, carried, NOON) is None
        assert list(run_lines(here.entries(NAME))) == lines
        assert here.runs()[0].phase == there.runs()[0].phase
        assert terms(here.path.parent) == terms(there.path.parent)


@given(st.lists(st.sampled_from(["a", "b"]), min_size=1, max_size=12), st.data())
@DISK
def test_streams_keep_apart_and_in_order(names: list[str], data: st.DataObject) -> None:
    """Entries of several streams are read separately, in order, from any entry on."""
    with _log() as log:
        for number, name in enumerate(names):
            event = Noted(press=0, t_ms=number, by="x", part=None, text=str(number))
            log.append(name, [event], stamp_at(event.t_ms))
        after = data.draw(st.integers(0, len(names)))
        for name in ("a", "b"):
            wanted = [i + 1 for i, x in enumerate(names) if x == name and i + 1 > after]
            assert [entry.seq for entry in log.entries(name, after)] == wanted
        assert [entry.seq for entry in log.entries_after(after)] == [
            *range(after + 1, len(names) + 1)
        ]
        first = log.first_entry("a")
        assert (first.seq if first is not None else 0) == ([*names, "a"].index("a") + 1) * (
            "a" in names
        )
