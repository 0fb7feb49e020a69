"""Every form a record can be given out in, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from benchtimer.records.csvfile import as_csv
from benchtimer.records.export import as_json, as_text, as_toml
from benchtimer.records.html_record import as_html
from benchtimer.records.markdown import as_markdown
from benchtimer.records.record import Record

FORMS: Mapping[str, Callable[[Record], str]] = {
    "text": as_text,
    "markdown": as_markdown,
    "csv": as_csv,
    "json": as_json,
    "toml": as_toml,
    "html": as_html,
}
