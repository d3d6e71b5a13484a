"""JSON Schema (draft 2020-12) of a register's file, made from the records themselves."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import models_json_schema

from riskkit.model.fields import ID_PATTERN
from riskkit.model.register import SECTIONS, SINGLES

EDITOR_LINE = "# yaml-language-server: $schema={path}"
"""First line of a YAML file that makes editors complete and explain its keys."""


def register_schema() -> dict[str, Any]:
    """The schema of one file: its sections, their records, every field with its description."""
    kinds = (*SINGLES.values(), *SECTIONS.values())
    references, shared = models_json_schema([(kind, "validation") for kind in kinds], ref_template="#/$defs/{model}")
    definitions = shared["$defs"]
    for kind in SECTIONS.values():
        _id_is_the_key(definitions[kind.__name__])
    properties: dict[str, Any] = {}
    for section, single in SINGLES.items():
        properties[section] = dict(references[(single, "validation")])
    properties["policy"] = {"anyOf": [properties["policy"], {"type": "string"}, _policy_in_use()]}
    for section, kind in SECTIONS.items():
        one = dict(references[(kind, "validation")])
        properties[section] = {
            "description": (kind.__doc__ or "").partition("\n")[0],
            "anyOf": [
                {"type": "null"},
                {
                    "type": "object",
                    "propertyNames": {"pattern": ID_PATTERN},
                    "additionalProperties": one,
                },
                {"type": "array", "items": {"type": "object", "required": ["id"]}},
            ],
        }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A file of a riskkit register",
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
        "$defs": definitions,
    }


def _id_is_the_key(definition: dict[str, Any]) -> None:
    definition["properties"].pop("id", None)
    required = [name for name in definition.get("required", ()) if name != "id"]
    definition.pop("required", None)
    if required:
        definition["required"] = required


def _policy_in_use() -> dict[str, Any]:
    return {
        "type": "object",
        "description": "A shipped policy by name, with what this project changes in it.",
        "properties": {"use": {"type": "string"}, "exposure": {"type": "string"}},
        "required": ["use"],
    }
