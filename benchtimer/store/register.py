"""The register: facts derived from the entries, so they need not all be read each time.

It is one sealed table (``sealed``) of texts. A tab parts the pieces of a key:

    log                             the state of the whole log (``LogState``)
    form                            the form of the index (``index``)
    fact   NAME                     a fact about the file, such as where a practice clock begins
    stream NAME                     the number of the last entry of a stream
    name   RUN                      the number of a run, in order of being set up
    run    NUMBER                   its line
    terms  RUN                      all its search terms
    term   KIND TEXT TIME RUN       the index itself; the time is when the run was set up
    taught RUN                      what it taught (``index``)
    sums   RECIPE                   what all runs taught about it, added up

It is written in the transaction of the entries. The end of each stream is here and not in the
index of the entries, so a damaged index shows.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator

from benchtimer.store.entries import as_json
from benchtimer.store.runline import OPEN, RunLine
from benchtimer.store.seal import Broken
from benchtimer.store.sealed import SealedMap
from benchtimer.values import dataclass

LAST = "\U0010ffff"
"""A character that sorts after all others, to end a range of texts with one beginning."""

Term = tuple[str, str]
"""Kind and folded text."""

_EARLIEST = 1 << 60
"""Added to times in keys, so times before 1970 sort as numbers."""


@dataclass(frozen=True, slots=True)
class LogState:
    """Facts about the log as a whole.

    Attributes:
        last: number of the newest entry.
        own: number of the newest entry made here; imported ones have other clocks.
        dated: number of the newest entry made here before the machine lost its time; 0 if
            the time is known.
        runs: how many runs were ever set up here.
        open_runs: the numbers of the open ones.
    """

    last: int = 0
    own: int = 0
    dated: int = 0
    runs: int = 0
    open_runs: tuple[int, ...] = ()


class Register:
    """The register of one open log; errors as those of ``SealedMap``."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._map = SealedMap(db)

    def begin(self) -> None:
        """Create an empty register."""
        self._map.begin()
        self.set_state(LogState())

    def walk(self) -> Iterator[tuple[str, str]]:
        """Check and return everything in it, from beginning to end."""
        return self._map.up("\t", LAST)

    def state(self) -> LogState:
        """The state of the log."""
        found = self._map.get("log")
        if found is None:
            raise Broken("the register does not say where the log ends")
        last, own, dated, runs, *opened = json.loads(found)
        return LogState(last, own, dated, runs, tuple(opened))

    def set_state(self, state: LogState) -> None:
        """Write the state of the log."""
        figures = (state.last, state.own, state.dated, state.runs, *state.open_runs)
        self._map.put("log", as_json(figures))

    def fact(self, name: str) -> str | None:
        """A fact about the file."""
        return self._map.get(f"fact\t{name}")

    def set_fact(self, name: str, value: str) -> None:
        """Write a fact."""
        self._map.put(f"fact\t{name}", value)

    def facts(self) -> dict[str, str]:
        """All facts about the file, by name."""
        return {key.partition("\t")[2]: value for key, value in self._beginning("fact\t")}

    @property
    def form(self) -> str | None:
        """The form of the index."""
        return self._map.get("form")

    def set_form(self, form: int) -> None:
        """Set the form of the index."""
        self._map.put("form", str(form))

    def end(self, stream: str) -> int:
        """The number of the last entry of a stream; 0 if there is no such stream."""
        found = self._map.get(f"stream\t{stream}")
        return 0 if found is None else int(found)

    def set_end(self, stream: str, seq: int) -> None:
        """Set the last entry of a stream."""
        self._map.put(f"stream\t{stream}", str(seq))

    def ends(self, prefix: str = "") -> dict[str, int]:
        """The ends of all streams whose name begins with a text, in order of name."""
        found = self._beginning(f"stream\t{prefix}")
        return {key.partition("\t")[2]: int(value) for key, value in found}

    def number(self, run: str) -> int | None:
        """The number of a run; None if the name is unknown."""
        found = self._map.get(f"name\t{run}")
        return None if found is None else int(found)

    def line(self, number: int) -> RunLine | None:
        """The line of a run by its number."""
        found = self._map.get(_run_key(number))
        return None if found is None else _line(found)

    def line_of(self, run: str) -> RunLine | None:
        """The line of a run by its name."""
        number = self.number(run)
        return None if number is None else self.line(number)

    def lines(self) -> Iterator[RunLine]:
        """The lines of all runs, latest setup first."""
        return (_line(value) for _, value in self._map.down("run\t", f"run\t{LAST}"))

    def names(self, prefix: str) -> list[str]:
        """Names of runs that begin with a text, in order of name."""
        return [key.partition("\t")[2] for key, _ in self._beginning(f"name\t{prefix}")]

    def set_line(self, line: RunLine) -> None:
        """Write the line of a run, which gets the next number if it is new."""
        state, number = self.state(), self.number(line.name)
        if number is None:
            number = state.runs + 1
            self._map.put(f"name\t{line.name}", str(number))
        cells = (line.name, line.phase, line.title, line.parts, line.created_ms, line.offset_s)
        self._map.put(_run_key(number), as_json(cells))
        opened = [n for n in state.open_runs if n != number]
        opened += [number] if line.phase in OPEN else []
        runs = max(state.runs, number)
        now = LogState(state.last, state.own, state.dated, runs, tuple(sorted(opened)))
        if now != state:
            self.set_state(now)

    def terms(self, run: str) -> tuple[Term, ...]:
        """All search terms of a run."""
        found = self._map.get(f"terms\t{run}")
        return () if found is None else tuple((kind, text) for kind, text in json.loads(found))

    def set_terms(self, line: RunLine, terms: Iterable[Term]) -> None:
        """Set the search terms of a run."""
        before, now = set(self.terms(line.name)), set(terms)
        for term in sorted(before - now):
            self._map.remove(_term_key(term, line))
        for term in sorted(now - before):
            self._map.put(_term_key(term, line), "")
        if now != before:
            self._map.put(f"terms\t{line.name}", as_json(sorted(now)))

    def found(self, kind: str, text: str, *, begins: bool) -> Iterator[tuple[int, str]]:
        """When runs that have a term were set up, and their names; newest first for one text.

        Args:
            kind: of the term.
            text: its text, folded.
            begins: match beginnings; the runs are then in order of the texts.
        """
        low = f"term\t{kind}\t{text}" + ("" if begins else "\t")
        for key, _ in self._map.down(low, low + LAST):
            *_, when, run = key.split("\t")
            yield int(when, 16) - _EARLIEST, run

    def taught(self, run: str) -> str | None:
        """What a run taught."""
        return self._map.get(f"taught\t{run}")

    def set_taught(self, run: str, text: str) -> None:
        """Store what a run taught; an empty text means nothing."""
        self._set(f"taught\t{run}", text)

    def sums(self, recipe: str) -> str | None:
        """What all runs taught about a recipe."""
        return self._map.get(f"sums\t{recipe}")

    def set_sums(self, recipe: str, text: str) -> None:
        """Store what all runs taught about a recipe; an empty text means nothing."""
        self._set(f"sums\t{recipe}", text)

    def forget_learned(self) -> None:
        """Remove everything that runs taught."""
        for kind in ("taught\t", "sums\t"):
            for key, _ in list(self._beginning(kind)):
                self._map.remove(key)

    def _set(self, key: str, value: str) -> None:
        if value:
            self._map.put(key, value)
        else:
            self._map.remove(key)

    def _beginning(self, text: str) -> Iterator[tuple[str, str]]:
        return self._map.up(text, text + LAST)


def _run_key(number: int) -> str:
    return f"run\t{number:010}"


def _term_key(term: Term, line: RunLine) -> str:
    return f"term\t{term[0]}\t{term[1]}\t{line.created_ms + _EARLIEST:016x}\t{line.name}"


def _line(value: str) -> RunLine:
    name, phase, title, parts, created_ms, offset_s = json.loads(value)
    return RunLine(name, phase, title, tuple(parts), created_ms, offset_s)
