"""Value classes that load fast.

``dataclass`` means what the standard library's means. That one writes up to six methods of a class
while it loads, this one writes a method when it is first called: a start loads over 300 value
classes and uses few of them. It has no ``order``, and a frozen value can't be copied or pickled.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, asdict, field, fields, replace
from functools import partial
from types import MemberDescriptorType
from typing import TYPE_CHECKING, Any, NoReturn

__all__ = ["asdict", "dataclass", "field", "fields", "replace"]

Text = tuple[str, dict[str, Any]]
"""A method as source, and the names it uses."""


def _value_class(
    given: type | None = None,
    /,
    *,
    frozen: bool = False,
    slots: bool = False,
    kw_only: bool = False,
    eq: bool = True,
) -> Any:
    """The class with its fields; the arguments are those of the standard library."""
    if given is None:
        return partial(_value_class, frozen=frozen, slots=slots, kw_only=kw_only, eq=eq)
    given.__doc__ = given.__doc__ or given.__name__  # or a signature is put together
    made: type = dataclasses.dataclass(
        given, init=False, repr=False, eq=False, slots=slots, kw_only=kw_only
    )
    _put(made, "__repr__", _repr)
    _put(made, "__init__", _later(made, "__init__", partial(_init, made, frozen)))
    if frozen:
        _put(made, "__setattr__", _refuse)
        _put(made, "__delattr__", _refuse)
    if eq:
        _put(made, "__eq__", _later(made, "__eq__", partial(_eq, made)))
        _put(made, "__hash__", _later(made, "__hash__", partial(_hash, made)) if frozen else None)
    return made


if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    dataclass = _value_class


def _put(made: type, name: str, method: Any) -> None:
    """Add a method, unless the class has its own."""
    if made.__dict__.get(name) is None:
        setattr(made, name, method)


def _later(made: type, name: str, text: Callable[[], Text]) -> Callable[..., Any]:
    """A method that writes the real one in its place when it is first called."""

    def first(self: object, *given: Any, **named: Any) -> Any:
        source, scope = text()
        exec(source, scope)  # noqa: S102 - built from names of fields
        method = scope[name]
        method.__qualname__ = f"{made.__qualname__}.{name}"
        setattr(made, name, method)
        return method(self, *given, **named)

    return first


def _init(made: type, frozen: bool) -> Text:
    scope: dict[str, Any] = {"__MISSING": MISSING, "__set": object.__setattr__}
    asked, by_name, lines = ["self"], ["*"], []
    for each in fields(made):
        name, value, default = each.name, each.name, f"__default_{each.name}"
        shown = name
        if each.default is not MISSING:
            scope[default], shown = each.default, f"{name}={default}"
            value = value if each.init else default
        elif each.default_factory is not MISSING:
            scope[default], shown = each.default_factory, f"{name}=__MISSING"
            value = (
                f"{default}() if {name} is __MISSING else {name}" if each.init else f"{default}()"
            )
        elif not each.init:
            continue
        if each.init:
            (by_name if each.kw_only else asked).append(shown)
        slot = getattr(made, name, None)
        if not frozen:
            lines.append(f"self.{name} = {value}")
        elif isinstance(slot, MemberDescriptorType):
            scope[f"__set_{name}"] = slot.__set__
            lines.append(f"__set_{name}(self, {value})")
        else:
            lines.append(f"__set(self, {name!r}, {value})")
    if hasattr(made, "__post_init__"):
        lines.append("self.__post_init__()")
    head = ", ".join(asked + (by_name if by_name[1:] else []))
    return f"def __init__({head}):\n " + "\n ".join(lines or ["pass"]), scope


def _eq(made: type) -> Text:
    mine, others = _tuple_of(made, "self"), _tuple_of(made, "other")
    return (
        "def __eq__(self, other):\n"
        " if other.__class__ is self.__class__:\n"
        f"  return {mine} == {others}\n"
        " return NotImplemented"
    ), {}


def _hash(made: type) -> Text:
    return f"def __hash__(self):\n return hash({_tuple_of(made, 'self')})", {}


def _tuple_of(made: type, name: str) -> str:
    return f"({''.join(f'{name}.{each.name}, ' for each in fields(made) if each.compare)})"


def _repr(self: Any) -> str:
    shown = (f"{f.name}={getattr(self, f.name)!r}" for f in fields(self) if f.repr)
    return f"{type(self).__qualname__}({', '.join(shown)})"


def _refuse(self: object, name: str, *value: object) -> NoReturn:
    change = "assign to" if value else "delete"
    raise FrozenInstanceError(f"cannot {change} field {name!r} of {type(self).__qualname__}")
