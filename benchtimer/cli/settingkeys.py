"""The keys of the settings file: their names, their values, and setting one."""

from __future__ import annotations

from typing import Any, Literal, get_args, get_origin

from benchtimer.cli.common import NO, USAGE, Wrong
from benchtimer.quantity import did_you_mean
from benchtimer.settings import known_keys, model_of, parse_settings, parse_table

TABLES = (("vessels",), ("bath",), ("place",), ("alarm",), ("screen",))
"""Keys whose value is a table: you can only set the keys in it."""


YES_NO = {"true": True, "false": False}
"""How TOML writes them."""


def with_key(text: str, key: str, value: str, name: str) -> str:
    """A settings text with one key set and everything else unchanged.

    Args:
        text: the text of the file.
        key: its name with dots, such as ``bath.etchant.max_parts``.
        value: as typed: bare words; lists with commas between.
        name: what messages call the file.

    Raises:
        SettingsError: the text is invalid, or would be with this value.
        Wrong: no such key, or it can't be set in this text.
    """
    from benchtimer.recipe.toml_edit import NotEdited, with_values

    path = tuple(part.strip() for part in key.split("."))
    found = _read_value(_kind_of(path, key), value)
    parse_table(text, name)
    try:
        new = with_values(text, {path: found})
    except NotEdited as error:
        raise Wrong(
            f"{name}: {key} can't be set here: {error}; edit the file by hand", NO
        ) from None
    parse_settings(new, name)
    return new


def all_keys() -> list[str]:
    """Every key that can be set; MIX is the id of any mix, PLACE any id for a place."""
    listed = [k for k in known_keys(()) if (k,) not in TABLES]
    listed += [f"{table}.{k}" for table in ("alarm", "screen") for k in known_keys((table,))]
    by_id = [("bath", "MIX"), ("place", "PLACE")]
    listed += [f"{table}.{any_id}.{k}" for table, any_id in by_id for k in known_keys((table, ""))]
    return [*listed, "vessels.MIX"]


def choices_of(key: str) -> tuple[str, ...]:
    """The possible words for a key, if it takes only certain words."""
    *table, name = key.split(".")
    model = model_of(tuple(table))
    field = model.model_fields.get(name) if model is not None else None
    if field is not None and isinstance(field.default, bool):
        return tuple(YES_NO)
    if field is None:
        return ()
    kinds = (field.annotation, *get_args(field.annotation))  # a key without a default is a union
    words = (get_args(kind) for kind in kinds if get_origin(kind) is Literal)
    return tuple(str(choice) for choice in next(words, ()))


def _kind_of(path: tuple[str, ...], key: str) -> str:
    """How the value of a key is written: ``whole``, ``yes-no``, ``list`` or ``text``."""
    if len(path) == 2 and path[0] == "vessels" and path[1]:
        return "text"
    model = model_of(path[:-1])
    if model is None or path[-1] not in known_keys(path[:-1]) or path in TABLES:
        listed = all_keys()
        hint = did_you_mean(key, listed) or f"the keys are {', '.join(listed)}"
        raise Wrong(f'there is no key "{key}"; {hint}', USAGE)
    field = next(f for n, f in model.model_fields.items() if (f.alias or n) == path[-1])
    if path[-1] in ("hands", "max_parts", "holds"):
        return "whole"
    if isinstance(field.default, bool):
        return "yes-no"
    return "list" if isinstance(field.default, tuple) else "text"


def _read_value(kind: str, value: str) -> Any:
    if kind == "list":
        pieces = value.removeprefix("[").removesuffix("]").split(",")
        return [piece.strip().strip("\"'") for piece in pieces if piece.strip()]
    if kind == "whole" and value.isdecimal() and len(value) < 9:
        return int(value)
    return YES_NO.get(value, value) if kind == "yes-no" else value
