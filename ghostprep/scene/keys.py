"""Every key of the scene file, read off the model that checks it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from ghostprep.scene.fields import Number
from ghostprep.scene.model import Scene
from ghostprep.scene.scales import Scale
from ghostprep.tables import table_of

_NUMBER = get_args(Number)[1]
"""What checks a number that is no length."""


@dataclass(frozen=True, slots=True)
class SceneKey:
    """One key as a builder reads of it."""

    path: str
    """As "box.width"; keys of a table that may stand several times begin with "[[thing]]."."""
    kind: str
    """What may stand there."""
    default: str
    """What is taken where it is left out; "needed" if nothing is."""
    text: str
    """What it means."""


def all_keys() -> list[SceneKey]:
    """Return every key of the scene file, in the order of the file."""
    return list(_keys(Scene, ""))


def _keys(model: type[BaseModel], before: str) -> Iterator[SceneKey]:
    for name, field in model.model_fields.items():
        key = field.alias or name
        inner, many = table_of(field.annotation), get_origin(field.annotation) is tuple
        if inner is not None:
            table = f"{before}[[{key}]]" if many and not before else f"{before}{key}"
            if many and before:
                yield SceneKey(table, "list of tables", "none", field.description or "")
            elif field.description:
                yield SceneKey(table, "table", "", field.description)
            yield from _keys(inner, f"{table}.")
        else:
            kind = _kind(field.annotation, field.metadata)
            yield SceneKey(f"{before}{key}", kind, _default(field), field.description or "")


def _kind(kind: Any, checks: Sequence[object] = ()) -> str:
    if get_origin(kind) is Annotated:
        kind, *checks = get_args(kind)
    parts = get_args(kind)
    if get_origin(kind) in {Union, UnionType}:
        return " or ".join(_kind(one) for one in parts if one is not NoneType)
    if get_origin(kind) is Literal:
        return ", ".join(parts)
    if get_origin(kind) is tuple:
        return f"[{', '.join(map(_kind, parts))}]"
    if kind is float:
        return "number" if _NUMBER in checks else "length"
    return {bool: "true, false", int: "pixels", Scale: "scale"}.get(kind, "text")


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "needed"
    value = field.default
    if value is PydanticUndefined or value is None:
        return "computed" if field.default_factory is not None else "none"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return "[" + ", ".join(f"{one:g}" for one in value) + "]"
    return str(value).lower() if isinstance(value, bool) else str(value) or "none"
