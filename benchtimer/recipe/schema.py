"""The recipe format as a JSON Schema (draft 2020-12), for editors and other programs.

The schema says what each entry may look like. What entries say about each other (an
undefined station, least over most) no schema of this kind can tell: ``benchtimer check``
does.
"""

from __future__ import annotations

from typing import Any

from benchtimer.recipe.model import Recipe


def recipe_schema() -> dict[str, Any]:
    """The JSON Schema of a recipe file."""
    schema = Recipe.model_json_schema(by_alias=True)
    required = [name for name in schema["required"] if name != "id"]  # the file's name gives it
    before = schema["$defs"]["Caution"]["properties"]["before"]
    before_list = dict(before)
    schema["$defs"]["Caution"]["properties"]["before"] = {
        "anyOf": [before["items"], before_list],
        "title": before.get("title", "Before"),
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "benchtimer recipe",
        "required": required,
    }
