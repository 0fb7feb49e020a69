"""A month of evenings and weekends at one petty knife, through the real commands and engine.

At each session the maker calls ``tonight``, sets up the runs it names with ``run``, and does the
work in order, press by press. Things go wrong on the way: a darkening fails, a ferrule falls into
the drain, an evening is not worked.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

from benchtimer.bench.open_bench import OpenBench
from benchtimer.bench.writer import drive
from benchtimer.job.better import best_plan
from benchtimer.job.chain import Chain
from benchtimer.job.policy import Draws
from benchtimer.recipe.recipe_files import RecipeFiles
from benchtimer.run import commands as c
from benchtimer.run.events import Sent, WorkBegan, WorkFinished
from benchtimer.shop.hours import open_spans, parse_week
from benchtimer.store.log import EventLog
from benchtimer.store.standing import standing
from tests.job.hands import TEMPER, AtBench, OnDisk
from tests.job.shops import EVENINGS
from tests.week.shop import CommandResult, Shop

JOB = "petty knife"
FRIDAY = datetime(2026, 11, 27, 18, 0, tzinfo=UTC)
DAYS = 31
FITTINGS = "fittings-polish > hot-black"
OPEN = (
    "job", "open", JOB, "--due", "2026-12-18", "--note", "for the kitchen",
    "--part", "blade=temper-cycles > etch-darken > hot-wax",
    "--part", f"bolster={FITTINGS}", "--part", f"ferrule={FITTINGS}",
    "--part", f"butt cap={FITTINGS}",
    "--join", "knife=edge-and-assembly: blade, bolster, ferrule, butt cap",
)  # fmt: skip

NEAR_S = 5
"""The record agrees with the plan if it is this close."""


FAILS = ("etch-darken/judge/blacks/flat or gone: etch again",) * 2
"""Answers given once more often than the recipe expects, in this order."""

DROPPED = "ferrule"
"""The part scrapped in its last recipe."""


class Story(Draws):
    """Everything goes as the recipes expect, except for one answer.

    Args:
        fails: the answer that sends a part back once more than expected; empty for none.
    """

    def __init__(self, fails: str) -> None:
        super().__init__()
        self._fails, self.failed = fails, False

    def sent(self, piece: int, chain: Chain, index: int, visit: int) -> tuple[int, int] | None:
        """The check and the answer that send a part back."""
        for number, look in enumerate(chain.links[index].looks):
            for a, answer in enumerate(look.answers):
                if answer.key == self._fails and not self.failed:
                    self.failed = True
                    return number, a
        return super().sent(piece, chain, index, visit)


@dataclass(frozen=True, slots=True)
class Evening:
    """One session at the bench.

    Attributes:
        planned: the moves that ``tonight`` named, from its JSON.
        as_planned: whether all went to plan, so the record must agree.
    """

    planned: Sequence[dict[str, Any]]
    as_planned: bool


@dataclass
class Month:
    """The month, in a shop in a folder.

    Attributes:
        folder: the folder of the shop.
        said: the output of some commands.
        evenings: the sessions at the bench.
        surprises_ms: when something departed from the plan.
    """

    folder: Path
    shop: Shop = field(init=False)
    evenings: list[Evening] = field(default_factory=list)
    said: dict[str, CommandResult] = field(default_factory=dict)
    surprises_ms: list[int] = field(default_factory=list)
    _fails: list[str] = field(default_factory=lambda: list(FAILS))
    _has_dropped: bool = False
    _was_off: bool = False

    def __post_init__(self) -> None:
        self.shop = Shop(self.folder, round(FRIDAY.timestamp() * 1000), offset_s=0)

    def work(self) -> Month:
        """From the order to the delivery."""
        self._do("settings", "--set", f"hours={EVENINGS}")
        self._do(*OPEN)
        self.said["first plan"] = self._do("job", "plan", JOB, "--json", "--trials", "20")
        self.said["early delivery"] = self.shop.command("job", "deliver", JOB)
        for hour_ms in self._openings():
            self.shop.until(hour_ms)
            self._scrap()
            if self._evening() and all(part["status"] == "done" for part in self._parts()):
                break
        self.said["delivered"] = self._do("job", "deliver", JOB, "--note", "collected")
        return self

    def _do(self, *arguments: str) -> CommandResult:
        said = self.shop.command(*arguments)
        assert said.code == 0, (arguments, said.text)
        return said

    def json(self, *arguments: str) -> Any:
        """The JSON a command prints."""
        said = self.shop.command(*arguments, "--json")
        return json.loads(said.out)

    def _parts(self) -> list[dict[str, Any]]:
        return list(self.json("job", "list")[0]["parts"])

    def _openings(self) -> list[int]:
        begins = round(FRIDAY.timestamp())
        spans = open_spans(parse_week(EVENINGS), UTC, begins, DAYS)
        return [1000 * (begins + opens) for opens, _ in spans]

    def driver(self) -> OpenBench:
        """The bench."""
        return drive(self.shop.data, self.shop.clock)

    # ------------------------------------------------------------------ an evening

    def _evening(self) -> bool:
        """Work an evening; return whether there was anything to do."""
        data = self.json("tonight")
        moves = [move for session in data["sessions"] for move in session["moves"]]
        if moves and len(self._fails) < len(FAILS) and not self._was_off:
            self._was_off = True  # an evening not worked
            self.surprises_ms.append(self.shop.clock.wall_ms)
            return False
        if not moves:
            return False
        for new in data["set_up"]:
            asks = [x.id for x in RecipeFiles().find(new["recipe"]).property]
            about = [
                w for p in new["parts"] for a in asks for w in ("--about", f"{p}.{a}={TEMPER}")
            ]
            with patch("benchtimer.cli.bench_command._show", lambda *_: 0), patch(
                "benchtimer.cli.bench_command._need_terminal"
            ):  # fmt: skip
                self._do("run", new["recipe"], *new["parts"], *about)
        closes_ms = 1000 * datetime.fromisoformat(data["closes"]).timestamp()
        failed = self._hands(closes_ms)
        self.evenings.append(Evening(moves, not failed))
        return True

    def _hands(self, closes_ms: float) -> bool:
        """Work until closing; return whether anything departed from the plan."""
        zero_ms = self.shop.clock.wall_ms
        story = Story(self._fails[0] if self._fails else "")
        with closing(self.driver()) as driver:
            load = driver.job_look(RecipeFiles(), parse_week(EVENINGS)).workload()
            bench = OnDisk(driver, self.shop.clock, zero_ms)
            AtBench(best_plan(load).load.shop, story, bench).run(0, (closes_ms - zero_ms) / 1000)
        if story.failed:
            self._fails.pop(0)
            self.surprises_ms.append(zero_ms)
        if story.failed and not self._fails:
            self.said["last plan"] = self._do("job", "plan", JOB, "--json", "--trials", "20")
        return story.failed

    def _scrap(self) -> None:
        """Drop the part into the drain during its last recipe; a new blank replaces it."""
        if self._has_dropped:
            return
        with closing(self.driver()) as driver:
            benches = {run: driver.state(run).bench for run in driver.names}
            runs = [
                run for run, bench in benches.items()
                if "hot-black" in bench.sources and DROPPED in bench.parts
                and bench.parts[DROPPED].station is not None
            ]  # fmt: skip
            if not runs:
                return
            driver.press(runs[0], c.Scrap(DROPPED, "fell into the drain"))
        self._has_dropped = True
        self.surprises_ms.append(self.shop.clock.wall_ms)
        self.said["scrapped"] = self._do("job", "show", JOB)
        self.said["replaced"] = self._do(
            "job", "change", JOB, "--replace", DROPPED, "--why", "new steel"
        )

    # ------------------------------------------------------------------ what the log has

    def worked(self) -> dict[tuple[str, str, str], list[tuple[float, float]]]:
        """When each step was worked, by part, recipe and step: from and to."""
        found: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
        with closing(EventLog(self.shop.data, read_only=True)) as log:
            for line in log.runs():
                entries = log.entries(line.name)
                counted = standing(entries)
                table = entries[0].event
                recipes = dict(table.parts)  # type: ignore[attr-defined]
                began: dict[str, float] = {}
                for entry in (x for x in entries if x.seq in counted):
                    event, at = entry.event, entry.stamp.wall_ms / 1000
                    if isinstance(event, WorkBegan):
                        began[event.part] = at
                    elif isinstance(event, WorkFinished | Sent) and event.part in began:
                        step = event.step if isinstance(event, WorkFinished) else event.from_step
                        key = (event.part, recipes[event.part], step)
                        found.setdefault(key, []).append((began.pop(event.part), at))
        return found
