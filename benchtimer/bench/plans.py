"""The planner's last word on each open run, one for everybody who looks at the bench.

Who drives the bench asks the planner, and publishes the answer in a file beside the log. Who
looks on reads it there, so that board, home, watch and alarms have one agenda. It is advice
and no record: a file that is missing or can't be read only means that there is no plan, and
times of a part that has moved on since are void (``Advice``).
"""

from __future__ import annotations

from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from benchtimer.bench.advised import Advice, MoveAhead, Stage
from benchtimer.whole import write_whole

FILE_NAME = "plans.json"


class _Published(BaseModel):
    """What is kept of an advice: all but the planner's whole answer."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    begin_ms: dict[str, int]
    latest_ms: dict[str, int]
    stages: dict[str, Stage]
    warnings: tuple[str, ...]
    end_ms: int | None
    moves: tuple[MoveAhead, ...] = ()

    @property
    def advice(self) -> Advice:
        """The advice without the planner's answer."""
        return Advice(
            self.begin_ms,
            self.latest_ms,
            self.stages,
            self.warnings,
            self.end_ms,
            moves=self.moves,
        )


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    runs: dict[str, _Published]


class Plans:
    """The advice on each open run.

    Args:
        folder: the data folder.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE_NAME
        self._advice: dict[str, Advice] = {}
        self._version: tuple[int, int] | None = None
        self.refresh()

    def of(self, run: str) -> Advice:
        """The planner's last word on a run; empty if there is none."""
        return self._advice.get(run, _NONE)

    def heed(self, run: str, advice: Advice, open_runs: Collection[str]) -> None:
        """Take a new answer; runs that are closed are forgotten."""
        kept = {name: told for name, told in self._advice.items() if name in open_runs}
        self._advice = {**kept, run: advice}

    def publish(self) -> None:
        """Write what is known for those who look on; a full disk only means they have no plan."""
        told = {
            run: _Published(
                begin_ms=dict(advice.begin_ms),
                latest_ms=dict(advice.latest_ms),
                stages=dict(advice.stages),
                warnings=advice.warnings,
                end_ms=advice.end_ms,
                moves=advice.moves,
            )
            for run, advice in self._advice.items()
        }
        with suppress(OSError):
            write_whole(self._path, _File(runs=told).model_dump_json(), private=True)

    def refresh(self) -> None:
        """Read what was published since the last look."""
        try:
            found = self._path.stat()
            version = (found.st_mtime_ns, found.st_size)
            if version != self._version:
                told = _File.model_validate_json(self._path.read_bytes())
                self._advice = {run: each.advice for run, each in told.runs.items()}
                self._version = version
        except (OSError, ValidationError):
            self._advice, self._version = {}, None


_NONE = Advice()
