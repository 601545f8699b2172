"""How the fields of a plan are described: an example of each as a plan writes it."""

from __future__ import annotations

import json
import re
from types import UnionType
from typing import Literal, Union, get_args, get_origin

from pydantic import StrictBool
from pydantic.fields import FieldInfo

from balance.plan.fields import Readable
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


def example_value(info: FieldInfo) -> object:
    """Give an example of a field's value: its own, or that of its kind of quantity."""
    if info.examples:
        return info.examples[0]
    for mark in marks(info):
        if isinstance(mark, Readable) and (examples := mark.schema.get("examples")):
            return examples[0]
    if choices := words(info):
        return choices[0]
    return True if info.annotation is bool or StrictBool in _within(info.annotation) else "..."


def marks(info: FieldInfo) -> list[object]:
    """Give what is known of how a field is read, whether or not it may be left out."""
    return [*info.metadata, *(m for part in _within(info.annotation) for m in _metadata(part))]


def words(info: FieldInfo) -> tuple[str, ...]:
    """Give the words that a field takes, if it takes only some."""
    for part in _within(info.annotation):
        if get_origin(part) is Literal:
            return tuple(str(word) for word in get_args(part))
    return ()


def plain_types(info: FieldInfo) -> tuple[object, ...]:
    """Give the types that a field may have, without what is known of how they are read."""
    return tuple(getattr(part, "__origin__", part) for part in _within(info.annotation))


def _within(annotation: object) -> tuple[object, ...]:
    """Give an annotation and, of a choice, each of its members."""
    is_choice = get_origin(annotation) in (Union, UnionType)
    return (annotation, *(get_args(annotation) if is_choice else ()))


def _metadata(annotation: object) -> tuple[object, ...]:
    return getattr(annotation, "__metadata__", ())


def as_toml(value: object) -> str:
    """Write a value as TOML does on one line."""
    if isinstance(value, dict):
        pairs = (f"{_key(key)} = {as_toml(inner)}" for key, inner in value.items())
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(as_toml(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[\w-]+", key, re.ASCII) else as_toml(key)
