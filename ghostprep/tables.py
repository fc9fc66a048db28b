"""The tables of a TOML file, as the pydantic models that check it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from pydantic import BaseModel


def table_of(kind: Any) -> type[BaseModel] | None:
    """Return the table among a key's types; None where the key holds a plain value."""
    for one in (kind, *get_args(kind)):
        if isinstance(one, type) and issubclass(one, BaseModel):
            return one
    return None


def keys_at(model: type[BaseModel], path: Sequence[str | int]) -> list[str]:
    """Return the keys, as written, of the table at a path, in which numbers, of items of lists, may stand."""
    for name in path:
        if isinstance(name, str) and (inner := table_of(model.model_fields[name].annotation)):
            model = inner
    return [field.alias or name for name, field in model.model_fields.items()]
