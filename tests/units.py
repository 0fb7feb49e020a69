"""Units by a general-purpose library: one registry for all tests, because it reads a long file."""

from __future__ import annotations

import warnings
from typing import Any

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # ignore warnings from a library's own imports
    import pint

UNITS: Any = pint.get_application_registry()  # type: ignore[no-untyped-call]
"""Reads its file when first used."""
