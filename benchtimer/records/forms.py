"""Every form of a record, by name.

A help page needs only the names, so a form's module is loaded when that form is first written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchtimer.records.record import Record


def _written_by(module: str, name: str) -> Callable[[Record], str]:
    def write(record: Record) -> str:
        text: str = getattr(import_module(f"benchtimer.records.{module}"), name)(record)
        return text

    return write


FORMS: Mapping[str, Callable[[Record], str]] = {
    "text": _written_by("export", "as_text"),
    "markdown": _written_by("markdown", "as_markdown"),
    "csv": _written_by("csvfile", "as_csv"),
    "json": _written_by("export", "as_json"),
    "toml": _written_by("export", "as_toml"),
    "html": _written_by("html_record", "as_html"),
}
