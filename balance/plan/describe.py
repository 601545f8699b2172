"""How the fields of a plan are described: an example of each as a plan writes it."""

from __future__ import annotations

import json
from typing import Any

from pydantic.fields import FieldInfo

from balance.plan.pieces import Table


def field_of(model: type[Table], key: str) -> FieldInfo:
    """Give the field that a key of a table is read into."""
    for name, info in model.model_fields.items():
        if key == (info.alias or name):
            return info
    raise KeyError(key)


def example_of(model: type[Table], key: str) -> str:
    """Give an example of a key's value as TOML."""
    return as_toml(example_value(field_of(model, key)))


def example_value(info: FieldInfo) -> Any:
    """Give an example of a field's value: its own, or that of its kind of quantity."""
    if info.examples:
        return info.examples[0]
    for mark in info.metadata:
        schema = getattr(mark, "schema", None)
        if isinstance(schema, dict) and schema.get("examples"):
            return schema["examples"][0]
    return "..."


def as_toml(value: Any) -> str:
    """Write a value as TOML does on one line."""
    return json.dumps(value, ensure_ascii=False)
