"""Value classes do what the standard library's do."""

from __future__ import annotations

import ast
import dataclasses
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import benchtimer
from benchtimer import values

PACKAGE = Path(benchtimer.__file__).parent
MAKERS = (dataclasses.dataclass, values.dataclass)
FORMS: tuple[dict[str, bool], ...] = (
    {},
    {"slots": True},
    {"frozen": True},
    {"frozen": True, "slots": True},
    {"frozen": True, "slots": True, "kw_only": True},
    {"frozen": True, "slots": True, "eq": False},
)


def _classes(make: Callable[..., Any], form: dict[str, bool]) -> tuple[Any, ...]:
    """A class without fields, one with fields of every kind, and one that inherits from it."""

    @make(**form)
    class Empty:
        """No fields."""

    @make(**form)
    class Dwell:
        """Fields of every kind."""

        part: str = values.field(kw_only=False)
        dwell_s: float
        words: tuple[str, ...] = ()
        seen: list[int] = values.field(default_factory=list)
        note: str = values.field(default="", compare=False, repr=False)
        twice_s: float = values.field(init=False)
        fixed: int = values.field(init=False, default=3)

        def __post_init__(self) -> None:
            object.__setattr__(self, "twice_s", 2 * self.dwell_s)

    @make(**form)
    class Held(Dwell):
        """One field more, and another default."""

        words: tuple[str, ...] = ("held",)
        is_held: bool = False

        def __repr__(self) -> str:
            return "held"

    return Empty, Dwell, Held


def _said(call: Callable[[], Any]) -> Any:
    """What a call returns, or its kind of error."""
    try:
        return call()
    except Exception as error:
        return type(error)


ARGUMENTS = st.tuples(
    st.lists(st.sampled_from(["tang", 1.0, ("x",), [1]]), max_size=4).map(tuple),
    st.fixed_dictionaries(
        {},
        optional={
            "part": st.just("guard"),
            "dwell_s": st.sampled_from([1.0, float("nan")]),
            "seen": st.just([2]),
            "note": st.sampled_from(["", "dry"]),
            "is_held": st.booleans(),
            "twice_s": st.just(9.0),
        },
    ),
)


def _shown(made: Any, one: Any, other: Any) -> list[object]:
    """All that can be seen of a class and of two values."""
    a, b = (_said(partial(made, *x[0], **x[1])) for x in (one, other))
    known = [f.name for f in values.fields(made)]
    return [
        made.__match_args__, known, hasattr(a, "__dict__"),
        a if isinstance(a, type) or "object at" in repr(a) else repr(a),
        a == b, a == a, a != b, a == 3,
        _said(lambda: (hash(a), hash(b))) if made.__eq__ is not object.__eq__ else None,
        _said(lambda: repr(values.asdict(a))),
        _said(lambda: values.replace(a, dwell_s=5.0) == values.replace(b, dwell_s=5.0)),
        [_said(partial(setattr, a, name, "other")) for name in known],
        [_said(partial(delattr, a, name)) for name in known],
    ]  # fmt: skip


@pytest.mark.parametrize("form", FORMS, ids=str)
@settings(max_examples=25)
@given(one=ARGUMENTS, other=ARGUMENTS)
def test_a_value_class_does_what_the_standard_one_does(
    form: dict[str, bool], one: Any, other: Any
) -> None:
    """Building, comparing, hashing, showing, replacing and changing give the same."""
    for usual, ours in zip(*(_classes(make, form) for make in MAKERS), strict=True):
        assert _shown(ours, one, other) == _shown(usual, one, other)


def test_every_value_class_of_the_program_loads_fast() -> None:
    """No other module uses the standard library's decorator."""
    users = [
        path.name
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "dataclasses"
    ]
    assert set(users) == {"values.py"}
