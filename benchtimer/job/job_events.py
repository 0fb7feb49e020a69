"""The events of a job, in the log like those of runs, with one stream per job.

The stream of the job ``petty knife`` is called ``job/petty knife``. Bodies hold only text,
numbers and plain lists.
"""

from __future__ import annotations

from benchtimer.run.events import Event
from benchtimer.values import dataclass

JOB_STREAM = "job/"
"""Start of the name of every job's stream; no run or bath has a name like it."""

PartRow = tuple[str, tuple[str, ...], tuple[str, ...]]
"""Name, recipes and needs of a part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobEvent(Event):
    """The fields all job events share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobOpened(JobEvent):
    """A job was opened.

    Attributes:
        due: the day it is due, as an ISO date.
        parts: name, recipes and needs of each part.
    """

    due: str
    parts: tuple[PartRow, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobChanged(JobEvent):
    """The order changed; the fields are those of ``JobOpened``."""

    due: str
    parts: tuple[PartRow, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPartReplaced(JobEvent):
    """A new blank replaces a part: its chain starts over."""

    part: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPartSentBack(JobEvent):
    """A part goes back to the first step of one of its recipes."""

    part: str
    recipe: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecipeDone(JobEvent):
    """A recipe of a part's chain was done without a run of this program."""

    part: str
    recipe: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDelivered(JobEvent):
    """The job is delivered; ``note`` says to whom or how."""

    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDropped(JobEvent):
    """The job is dropped."""

    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobEntryTakenBack(JobEvent):
    """An entry no longer counts; it stays in the log."""

    undone: int


JOB_KINDS: dict[str, type[JobEvent]] = {
    "job-opened": JobOpened,
    "job-changed": JobChanged,
    "job-part-replaced": JobPartReplaced,
    "job-part-sent-back": JobPartSentBack,
    "job-recipe-done": JobRecipeDone,
    "job-delivered": JobDelivered,
    "job-dropped": JobDropped,
    "job-entry-taken-back": JobEntryTakenBack,
}
"""The name of each kind of event in the log. Names never change."""
