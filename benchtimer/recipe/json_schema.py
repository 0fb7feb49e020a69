"""The recipe format as a JSON Schema (draft 2020-12), for editors and other programs.

The schema describes each entry. It can't check entries against each other (an undefined station,
min over max); ``benchtimer validate`` does.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from benchtimer.recipe.model import Recipe

FILE_NAME = "recipe.schema.json"
"""The schema as a file next to the recipes, which name it on their first line."""


def recipe_schema() -> dict[str, Any]:
    """The JSON Schema of a recipe file."""
    schema = published(Recipe, "benchtimer recipe")
    required = [name for name in schema["required"] if name != "id"]  # the file name supplies it
    guarded = schema["$defs"]["Hazard"]["properties"]
    guarded["before"] = _one_or_more(guarded["before"])
    return schema | {"required": required}


def published(model: type[BaseModel], title: str) -> dict[str, Any]:
    """The JSON Schema of a file that a model reads."""
    schema: dict[str, Any] = _plain(model.model_json_schema(by_alias=True))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": title}


def _one_or_more(listed: dict[str, Any]) -> dict[str, Any]:
    """One name, or a list of them; the model turns the first form into the second before
    counting.
    """
    bounds = {"minItems": listed["minLength"], "maxItems": listed["maxLength"]}
    return {"anyOf": [listed["items"], {"type": "array", "items": listed["items"], **bounds}]}


def _plain(schema: Any) -> Any:
    """Remove what TOML doesn't have (null) and what isn't JSON Schema (the discriminator)."""
    if isinstance(schema, list):
        return [_plain(entry) for entry in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {
        key: _plain(value)
        for key, value in schema.items()
        if key != "discriminator" and (key, value) != ("default", None)
    }
    if "patternProperties" in kept:
        kept["additionalProperties"] = False
    options = [option for option in kept.get("anyOf", ()) if option != {"type": "null"}]
    if len(options) == 1:
        del kept["anyOf"]
        return {**options[0], **kept}
    return kept
