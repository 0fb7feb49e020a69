"""Flipped bits, short form; ``python -m tests.faults flips`` is the long form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from benchtimer.store import check, log, sealed
from tests.faults import flips


@pytest.mark.parametrize("number", [0, 1, 3])
def test_no_flipped_bit_goes_unnoticed(number: int) -> None:
    """After any flipped bit, every reader is true or refuses, and there is a way back."""
    row = flips.try_kind(flips.KINDS[number], 5, 11 + number)
    assert (row.lost, row.first) == (0, "")


def test_a_store_that_trusts_its_indexes_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the checks of register and stream ends, the campaign counts a hidden entry."""

    def trusting(row: Sequence[Any], _behind: str) -> tuple[str, str]:
        return row[0], row[1]

    monkeypatch.setattr(sealed, "_proved", trusting)
    monkeypatch.setattr(log, "check_stream", lambda *_: None)
    monkeypatch.setattr(log, "check_rows_in_a_row", lambda *_: None)
    monkeypatch.setattr(check, "check_description", lambda _: None)
    assert flips.try_kind(flips.KINDS[1], 3, 3).lost > 0
