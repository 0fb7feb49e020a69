"""Files that only their user may read: a log tells who worked when, and on what."""

from __future__ import annotations

import os

FILE_MODE = 0o600


def opener(path: str, flags: int) -> int:
    """For ``open``: a file that is made here is its user's alone; one that is there stays as is."""
    return os.open(path, flags, FILE_MODE)
