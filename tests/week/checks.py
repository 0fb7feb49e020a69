"""Checks of a finished week from outside: records, books, files."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cached_property
from itertools import pairwise
from typing import Any

from tests.week.diary import late_in, records
from tests.week.week import Week

Table = Mapping[str, Any]

GAP_S = 4 * 3600
"""After this time without a press, gear goes on again."""

ROWS = {"reading": "readings", "deviation": "deviations", "alarm": "alarms", "note": "notes"}
"""Kinds of rows in the CSV, each with the JSON list of the same length."""


class Checked:
    """A finished week and its checks."""

    def __init__(self, week: Week) -> None:
        self.week = week

    @cached_property
    def records(self) -> list[dict[str, Any]]:
        """Every run's record, oldest first."""
        return records(self.week)

    def record(self, run: str) -> dict[str, Any]:
        """The record of one run."""
        return next(record for record in self.records if record["run"] == run)

    @property
    def late(self) -> list[tuple[str, str]]:
        """Every overrun of the week."""
        return [stay for record in self.records for stay in late_in(record)]

    @property
    def work_before_its_hazard(self) -> list[str]:
        """Work that began before its hazard was acknowledged."""
        return [
            f"{record['run']} {part['name']} {visit['step']}: {hazard['title']}"
            for record in self.records
            for part in record["parts"]
            for visit in part["visits"]
            for hazard in _guarding(record["recipes"][part["recipe"]], visit["step"])
            if not _acknowledged(record, hazard["title"], visit["began_s"])
        ]

    @property
    def presses(self) -> tuple[int, int]:
        """Presses as the maker counted them, and as the log has them."""
        judged = 2  # the verdict with a note, from the command line
        meant = sum(done.presses for done in self.week.done) + judged
        return meant, sum(max(line["press"] for line in r["lines"]) for r in self.records)

    def forms_differ(self, run: str) -> Iterator[str]:
        """Where two forms of a run's record differ."""
        result = {form: self.form(run, form) for form in ("json", "toml", "csv")}
        record = json.loads(result["json"])
        if _plain(tomllib.loads(result["toml"])) != _plain(record):
            yield "TOML is not JSON"
        rows = Counter(row["kind"] for row in csv.DictReader(io.StringIO(result["csv"])))
        wanted = {kind: len(record[name]) for kind, name in ROWS.items()}
        wanted["step"] = sum(len(part["visits"]) for part in record["parts"])
        wanted["part"] = len(record["parts"])
        for kind, count in wanted.items():
            if rows[kind] != count:
                yield f"{rows[kind]} rows of {kind} in the CSV, {count} in JSON"
        for form in ("text", "markdown", "html"):
            shown = self.form(run, form)
            yield from (
                f"{p['name']} is not in {form}" for p in record["parts"] if p["name"] not in shown
            )

    def form(self, run: str, form: str, *more: str) -> str:
        """A record in one of its forms."""
        return self.week.shop.command("record", run, "--as", form, *more).out

    @property
    def baths(self) -> dict[str, dict[str, Any]]:
        """The bath book."""
        data = json.loads(self.week.shop.command("bath", "--all", "--json").out)
        return {bath["name"]: bath for bath in data}

    @property
    def immersions(self) -> dict[str, int]:
        """How often a part went into each bath, by the records of the runs."""
        found: Counter[str] = Counter()
        for record in self.records:
            tied = tied_in(record)
            visits = [v for part in record["parts"] for v in part["visits"]]
            found.update(tied[v["station"]] for v in visits if v.get("station") in tied)
        used = [name for record in self.records for name in tied_in(record).values()]
        return {name: found[name] for name in used}

    @property
    def restored(self) -> list[str]:
        """Runs whose restored record differs from the shop's."""
        elsewhere = ("--data", str(self.week.folder / "elsewhere"))
        runs = [record["run"] for record in self.records]
        return [r for r in runs if self.form(r, "json", *elsewhere) != self.form(r, "json")]

    @property
    def kept(self) -> dict[str, Any]:
        """The recipe that was kept."""
        file = self.week.shop.config / "recipes" / "etch-darken.toml"
        return tomllib.loads(file.read_text(encoding="utf-8"))

    @property
    def first_reason(self) -> str:
        """What the comparison of the two darkenings names first."""
        output = self.week.shop.command("compare", "2026-01-05-1", "--json").out
        first = json.loads(output)["differences"][0]
        return str(first["what"])


def tied_in(record: Table) -> dict[str, str]:
    """The bath in each station of a run."""
    return {bath["station"]: bath["bath"] for bath in record["baths"]}


def _guarding(recipe: Table, step: str) -> Iterator[Table]:
    """The hazards before a step, named with the step or with its station."""
    station = next(s.get("at") for s in recipe["step"] if s["id"] == step)
    for hazard in recipe.get("hazard", []):
        before = hazard["before"]
        named = [before] if isinstance(before, str) else before
        if step in named or station in named:
            yield hazard


def _acknowledged(record: Table, title: str, by_s: float) -> bool:
    """Whether a page was read in the session in which the work began."""
    said = [c["elapsed_s"] for c in record["hazards"] if c["hazard"] == title]
    return any(_session_began_s(record, by_s) <= at_s <= by_s for at_s in said)


def _session_began_s(record: Table, by_s: float) -> float:
    """When a session at the bench began: after four hours without a press."""
    presses = [line["elapsed_s"] for line in record["lines"] if line["press"]]
    times = sorted({0.0, by_s, *(t for t in presses if t <= by_s)})
    return max((t for before, t in pairwise(times) if t - before >= GAP_S), default=0.0)


def _plain(value: Any) -> Any:
    """A value without None, which TOML can't hold."""
    if isinstance(value, dict):
        return {key: _plain(v) for key, v in value.items() if v is not None}
    return [_plain(v) for v in value] if isinstance(value, list) else value
