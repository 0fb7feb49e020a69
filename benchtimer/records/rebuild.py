"""From a record's table form, as JSON or TOML keep it, back to an equal record."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from typing import Any

from benchtimer.records.record import FORMAT, Line, PartRecord, Record, Visit

DERIVED = {"format", "dwell_s"}
"""What the table form tells besides the record itself."""


class NotARecord(ValueError):
    """A table that is no record of a run, or one of a newer program.

    Attributes:
        reason: what is wrong with it.
    """

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(f"this is no record that this program can read: {reason}")


def record_from_toml(text: str) -> Record:
    """The record in the text of a TOML export.

    Raises:
        NotARecord: it is not TOML, or not a record.
    """
    try:
        return record_from_table(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise NotARecord(f"it is not TOML ({error})") from None


def record_from_json(text: str) -> Record:
    """The record in the text of a JSON export.

    Raises:
        NotARecord: it is not JSON, or not a record.
    """
    try:
        table = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise NotARecord(f"it is not JSON ({error})") from None
    if not isinstance(table, dict):
        raise NotARecord("it is not a table")
    return record_from_table(table)


def record_from_table(table: Mapping[str, Any]) -> Record:
    """The record of a table made by ``export.as_table``; what was left out is None or empty.

    Raises:
        NotARecord: a field is missing or unknown, or the form is a newer one.
    """
    form = table.get("format")
    if not isinstance(form, int) or form > FORMAT:
        raise NotARecord(f"its format is {form!r}, this program knows {FORMAT}")
    record: Record = _made(Record, table)
    record.adjustments = tuple(record.adjustments)
    record.parts = [_part(part) for part in table["parts"]]
    record.lines = [_made(Line, line) for line in table["lines"]]
    return record


def _part(table: Mapping[str, Any]) -> PartRecord:
    part: PartRecord = _made(PartRecord, table)
    part.visits = [_made(Visit, visit) for visit in table.get("visits", ())]
    return part


def _made(cls: Any, table: Any) -> Any:
    """A dataclass from its table; a missing field that has no default is None where it may be."""
    if not isinstance(table, Mapping):
        raise NotARecord(f"a table of a {cls.__name__.lower()} is wanted")
    known = {field.name: field for field in fields(cls)}
    extra = sorted(set(table) - set(known) - DERIVED)
    if extra:
        raise NotARecord(f"unknown field {extra[0]}")
    values = {name: value for name, value in table.items() if name in known}
    for name, field in known.items():
        needed = field.default is MISSING and field.default_factory is MISSING
        if name not in values and needed:
            if "None" not in str(field.type):
                raise NotARecord(f"missing field {name}")
            values[name] = None
    return cls(**values)
