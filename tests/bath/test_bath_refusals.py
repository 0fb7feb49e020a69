"""Every refusal of the bath book: its full sentence and the fix it names."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from benchtimer.bath import bath_decide as c
from benchtimer.bath.bath_decide import MAX_NAME, check_name, decide
from benchtimer.bath.bath_events import BathEvent
from benchtimer.bath.bath_state import History
from benchtimer.run.event_builder import Now
from benchtimer.run.refusals import Refused
from tests.bath.test_bath_state import Writer

with (Path(__file__).parent / "refusals.toml").open("rb") as _file:
    CASES: list[dict[str, Any]] = tomllib.load(_file)["case"]
_named = pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])


def _command(words: Sequence[Any]) -> c.BathCommand:
    kind, *found = words
    made: c.BathCommand = getattr(c, kind)(*(None if word == {} else word for word in found))
    return made


def _book(case: dict[str, Any], more: Sequence[Sequence[Any]] = ()) -> Writer:
    writer = Writer(History(case.get("bath", "etch 1")))
    for words in [*case.get("before", ()), *more]:
        if words[0] == "used":
            writer.used(words[1], "pin")
        else:
            writer(_command(words))
    return writer


def _write(case: dict[str, Any], writer: Writer, words: Sequence[Any]) -> BathEvent:
    return decide(writer.history, _command(words), Now(writer.now_ms), busy=case.get("busy"))


@_named
def test_a_refusal_says_what_why_and_what_to_do(case: dict[str, Any]) -> None:
    """Each refusal is one complete sentence."""
    with pytest.raises(Refused) as refused:
        _write(case, _book(case), case["write"])
    text = str(refused.value)
    assert re.fullmatch(case.get("refused_like", re.escape(case.get("refused", ""))), text), text


@_named
def test_a_refusal_offers_one_way_out(case: dict[str, Any]) -> None:
    """Each fix that a refusal names works."""
    for way in case.get("ways", ()):
        assert _write(case, _book(case, way), case["write"])
    for words in case.get("instead", ()):
        assert _write(case, _book(case), words)


@pytest.mark.parametrize("name", ["x" * MAX_NAME, "刃物 2", "  etch 1  ", "hot salts (left)"])
def test_everyday_names_are_accepted(name: str) -> None:
    """Names up to sixty letters on one line are accepted and trimmed."""
    assert check_name(name) == name.strip()


def test_an_open_run_does_not_block_undoing_a_slip() -> None:
    """While a run uses the bath, a manual reading can be undone, but not the mixing."""
    found = Writer()(c.MixBath("Etchant"), c.ReadBath("99 C")).used("r1", "pin")
    event = decide(found.history, c.TakeBack(), Now(found.now_ms), busy="r2")
    found.take(event)
    assert found.bath.readings == []
    assert found.bath.is_open
