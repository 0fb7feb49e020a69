"""Photos: separate files, named by a photo check or in a note as ``photo: PATH``.

Only the path is kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import quote

from benchtimer.recipe.answers import said
from benchtimer.recipe.checks import NO_PHOTO, PhotoCheck
from benchtimer.records.record import Record

_PHOTO = re.compile(r"^\s*photo:\s*(\S.*?)\s*$", re.IGNORECASE | re.MULTILINE)


def photos_in(record: Record) -> Iterator[tuple[str, str]]:
    """The part (or "the run") and the path of each photo that a check or a note names."""
    for answer in record.answers:
        check = record.check(answer.part, answer.step, answer.check)
        if isinstance(check, PhotoCheck) and answer.answer != NO_PHOTO:
            yield answer.part, said(answer.answer)
    for note in record.notes:
        for path in _PHOTO.findall(note.text):
            yield note.about, path


def photo_link(path: str) -> str:
    """The link to a photo: only a path, with special characters escaped."""
    whole = "file://" if path.startswith("/") else ""
    return whole + quote(path.replace("\\", "/"), safe="/")
