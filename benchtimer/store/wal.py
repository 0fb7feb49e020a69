"""The write-ahead log of SQLite: what comes after the part that SQLite reads.

After a power cut SQLite reads the write-ahead log up to the first incomplete frame, and
silently drops the rest. Usually an unfinished press comes after that frame. If whole presses
come after it, the disk has damaged them, and a message says so. The format of the file is
published:
https://www.sqlite.org/fileformat2.html#walformat
"""

from __future__ import annotations

import struct
from pathlib import Path

HEAD, FRAME = 32, 24
"""Bytes of the file's header, and of each frame's."""

_BIG, _LITTLE = 0x377F0683, 0x377F0682
_LARGEST_PAGE = 65536


def lost_commits(path: Path) -> int:
    """How many transactions end after the part that SQLite reads.

    Raises:
        OSError: it can't be read.
    """
    raw = path.read_bytes() if path.exists() else b""
    if len(raw) < HEAD + FRAME:
        return 0
    page = int.from_bytes(raw[8:12])
    magic = int.from_bytes(raw[:4])
    usual = page & (page - 1) == 0 and 512 <= page <= _LARGEST_PAGE
    if magic not in (_BIG, _LITTLE) or not usual:
        return 1  # nothing in it is readable
    order = ">" if magic == _BIG else "<"
    total = _sums(raw[:24], (0, 0), order)
    if total != struct.unpack(">II", raw[24:32]):
        return 1
    good = _whole_frames(raw, page, order, total)
    return sum(_ends(raw, at) for at in _frames(raw, page)[good:] if _is_of_now(raw, at))


def _frames(raw: bytes, page: int) -> range:
    """The offsets of the frames."""
    size = FRAME + page
    return range(HEAD, len(raw) - size + 1, size)


def _is_of_now(raw: bytes, at: int) -> bool:
    """Whether a frame is of this round: a reused file still has older frames at its end."""
    return raw[at + 8 : at + 16] == raw[16:24]


def _ends(raw: bytes, at: int) -> bool:
    """Whether a frame ends a transaction."""
    return raw[at + 4 : at + 8] != b"\0\0\0\0"


def _whole_frames(raw: bytes, page: int, order: str, total: tuple[int, int]) -> int:
    """How many frames from the start have a correct checksum."""
    frames = _frames(raw, page)
    for number, at in enumerate(frames):
        total = _sums(raw[at : at + 8], total, order)
        total = _sums(raw[at + FRAME : at + FRAME + page], total, order)
        if not _is_of_now(raw, at) or total != struct.unpack_from(">II", raw, at + 16):
            return number
    return len(frames)


def _sums(raw: bytes, before: tuple[int, int], order: str) -> tuple[int, int]:
    first, second = before
    words = struct.unpack(f"{order}{len(raw) // 4}I", raw)
    for x, y in zip(words[::2], words[1::2], strict=True):
        first = (first + x + second) & 0xFFFFFFFF
        second = (second + y + first) & 0xFFFFFFFF
    return first, second
