"""The planner's last word on the bench, one for everybody who looks at it.

Who drives the bench asks the planner, and publishes the answer in a file beside the log. Who
looks on reads it there, so that board, home, watch and alarms have one agenda. It is advice
and no record: a file that is missing or can't be read only means that there is no plan, and
times of a part that has moved on since are void (``Advice``).
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from benchtimer.atomic_file import write_whole
from benchtimer.bench.advised import NO_ADVICE, Advice, MoveAhead, Stage

FILE_NAME = "plan.json"


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


class Plans:
    """The advice on the bench.

    Args:
        folder: the data folder.

    Attributes:
        advice: the planner's last word; empty if there is none.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE_NAME
        self.advice = NO_ADVICE
        self._version: tuple[int, int] | None = None
        self.refresh()

    def keep(self, advice: Advice) -> None:
        """Take a new answer."""
        self.advice = advice

    def publish(self) -> None:
        """Write what is known for those who look on; a full disk only means they have no plan."""
        published = _Published(
            begin_ms=dict(self.advice.begin_ms),
            latest_ms=dict(self.advice.latest_ms),
            stages=dict(self.advice.stages),
            warnings=self.advice.warnings,
            end_ms=self.advice.end_ms,
            moves=self.advice.moves,
        )
        with suppress(OSError):
            write_whole(self._path, published.model_dump_json(), private=True)

    def refresh(self) -> None:
        """Read what was published since the last look."""
        try:
            found = self._path.stat()
            version = (found.st_mtime_ns, found.st_size)
            if version != self._version:
                self.advice = _Published.model_validate_json(self._path.read_bytes()).advice
                self._version = version
        except (OSError, ValidationError):
            self.advice, self._version = NO_ADVICE, None
