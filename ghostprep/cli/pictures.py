"""Numbered pictures are one clip, though a shell turns ``walk_*.png`` into many names."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ghostprep.errors import InputError


def refuse_numbered(names: Sequence[Path]) -> None:
    """Raise InputError where the first of several names is one of numbered pictures: they are one clip."""
    from ghostprep.clip.source import pattern_around

    if (pattern := pattern_around(names[0])) is not None:
        what = "is one of several numbered pictures, which are one clip"
        raise InputError(what, where=str(names[0]), remedy=f"name them by a counter: {pattern}")
