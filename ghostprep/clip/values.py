"""Our values as a file of the cache: dataclasses, tuples, text, numbers, arrays, and nothing that runs."""

from __future__ import annotations

import importlib
import json
from dataclasses import fields, is_dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from ghostprep.clip.archive import UNREADABLE

Arrays = dict[str, npt.NDArray[Any]]


def write_value(path: Path, value: object) -> None:
    """Write a value: its arrays as NumPy keeps them, the rest as JSON.

    Raises
    ------
    TypeError
        A part of it is of another kind.
    """
    arrays: Arrays = {}
    text = json.dumps(_told(value, arrays))
    with path.open("wb") as file:
        np.savez(file, allow_pickle=False, text=np.array(text), **arrays)


def read_value(path: Path) -> Any:
    """Read what `write_value` wrote; None where the file is missing, damaged, or not one of ours."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            return _made(json.loads(str(arrays["text"])), arrays)
    except (*UNREADABLE, ImportError, AttributeError):
        return None


def _told(value: object, arrays: Arrays) -> object:
    """Return what JSON can hold of a value, a kind and its parts; arrays go beside it."""
    if isinstance(value, (np.ndarray, np.generic)):
        name = f"array{len(arrays)}"
        arrays[name] = np.asarray(value)
        return ["number" if isinstance(value, np.generic) else "array", name]
    if isinstance(value, Fraction):
        return ["fraction", str(value)]
    if is_dataclass(value) or isinstance(value, tuple):
        parts = (getattr(value, one.name) for one in fields(value)) if is_dataclass(value) else iter(value)
        kind = type(value)
        return [f"{kind.__module__}:{kind.__qualname__}", *(_told(part, arrays) for part in parts)]
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    raise TypeError(f"a {type(value).__name__} cannot be kept")


def _made(told: Any, arrays: Any) -> Any:
    """Return the value again; only dataclasses and named tuples of ours are called."""
    if not isinstance(told, list):
        return told
    kind, *parts = told
    if kind in {"array", "number"}:
        array = arrays[parts[0]]
        return array[()] if kind == "number" else array
    if kind == "fraction":
        return Fraction(parts[0])
    made = [_made(part, arrays) for part in parts]
    if kind == "builtins:tuple":
        return tuple(made)
    module, name = kind.split(":")
    found = getattr(importlib.import_module(module), name) if module.startswith("ghostprep.") else None
    if not (isinstance(found, type) and (is_dataclass(found) or issubclass(found, tuple))):
        raise ValueError(f"{kind} is not kept")
    return found(*made)
