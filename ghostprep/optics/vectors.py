"""Points and directions in the scene: x to the viewer's right, y up, z into the box (mm)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

Vector: TypeAlias = npt.NDArray[np.float64]
"""One point or direction (3,), or many (..., 3)."""
AXES: Final[dict[str, tuple[float, float, float]]] = {
    "left": (-1.0, 0.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "down": (0.0, -1.0, 0.0),
    "up": (0.0, 1.0, 0.0),
    "front": (0.0, 0.0, -1.0),
    "back": (0.0, 0.0, 1.0),
}
"""Directions by the words of the scene file."""


def vector(values: Sequence[float]) -> Vector:
    """Return three numbers as a read-only vector."""
    made = np.array(values, np.float64)
    made.setflags(write=False)
    return made


def unit(v: Vector) -> Vector:
    """Return `v` (..., 3) at length 1."""
    scaled: Vector = v / np.linalg.norm(v, axis=-1, keepdims=True)
    return scaled


def reflect_direction(v: Vector, normal: Vector) -> Vector:
    """Return directions `v` (..., 3) mirrored in a plane with the unit `normal` (3,)."""
    return v - 2 * (v @ normal)[..., None] * normal


def reflect_point(p: Vector, on_plane: Vector, normal: Vector) -> Vector:
    """Return points `p` (..., 3) mirrored in the plane through `on_plane` with the unit `normal`."""
    return on_plane + reflect_direction(p - on_plane, normal)


def pairs(starts: Vector, ends: Vector) -> tuple[Vector, Vector]:
    """Return each of m starts with each of n ends, both (m * n, 3)."""
    return np.repeat(starts, len(ends), axis=0), np.tile(ends, (len(starts), 1))


def meet_plane(start: Vector, end: Vector, on_plane: Vector, normal: Vector) -> Vector:
    """Return where the straight lines through `start` and `end` (..., 3) meet a plane.

    Lines parallel to the plane give infinities; callers that can meet one look for them.
    """
    way = end - start
    with np.errstate(divide="ignore", invalid="ignore"):
        along = ((on_plane - start) @ normal) / (way @ normal)
        met: Vector = start + np.asarray(along)[..., None] * way
    return met
