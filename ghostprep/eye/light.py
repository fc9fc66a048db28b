"""How the lamps light the box: one small map of light for each wall."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
import numpy.typing as npt

from ghostprep.eye.stage import Stage
from ghostprep.optics.vectors import Vector

Light = npt.NDArray[np.float32]

GRID: Final = 16
"""Cells along each side of a wall's map; what a lamp does on a wall changes slowly."""

_BOUNCED: Final = 0.7
"""Share of the light that comes from the other walls, the same everywhere: pale walls in a small box."""
_LAMP_MM: Final = 40.0


def light_maps(stage: Stage) -> Mapping[str, Light]:
    """Return each wall's light (GRID, GRID), 1 where the middle eye sees the ghost's centre on the back wall.

    Inverse square and cosine from every lamp, and an even share that the walls throw on
    each other. Without lamps a pendant is taken at three quarters of the height, in the middle.
    """
    width, height, depth = stage.box
    lamps = stage.lamps or ((0.0, height * 0.8, depth * 0.6, 1.0),)
    cells = (np.arange(GRID) + 0.5) / GRID
    u, v = np.meshgrid(cells, cells)
    across, up = (u - 0.5) * width, stage.floor + (1 - v) * (height - stage.floor)
    zero = np.zeros_like(u)
    places: dict[str, tuple[Vector, Vector]] = {
        "back": (np.stack([across, up, zero + depth], -1), np.array([0.0, 0, -1])),
        "left": (np.stack([zero - width / 2, up, u * depth], -1), np.array([1.0, 0, 0])),
        "right": (np.stack([zero + width / 2, up, (1 - u) * depth], -1), np.array([-1.0, 0, 0])),
        "floor": (np.stack([across, zero + stage.floor, (1 - v) * depth], -1), np.array([0.0, 1, 0])),
        "ceiling": (np.stack([across, zero + height, v * depth], -1), np.array([0.0, -1, 0])),
    }
    direct = {name: _direct(points, normal, lamps) for name, (points, normal) in places.items()}
    even = _BOUNCED * float(np.mean([d.mean() for d in direct.values()]))
    behind = stage.eye + (stage.image.centre - stage.eye) * (
        (depth - stage.eye[2]) / (stage.image.centre[2] - stage.eye[2])
    )
    here = float(_direct(behind[None, :], np.array([0.0, 0, -1]), lamps)[0]) + even
    return {name: ((d + even) / max(here, 1e-12)).astype(np.float32) for name, d in direct.items()}


def _direct(
    points: Vector, normal: Vector, lamps: tuple[tuple[float, float, float, float], ...]
) -> npt.NDArray[np.float64]:
    total = np.zeros(points.shape[:-1])
    for x, y, z, lumens in lamps:
        way = np.array([x, y, z]) - points
        # a lamp has a size and a shade: without this the spot on the wall beside it would be endless
        square = (way**2).sum(axis=-1) + _LAMP_MM**2
        total += lumens / (4 * math.pi) * np.maximum(way @ normal, 0) / square**1.5
    return total


def room_share(stage: Stage) -> float:
    """Return the share of the room's light that reaches the back wall through the opening.

    The opening is a small even source seen from the middle of the back wall: its view
    factor is area / (pi distance^2) as long as it is small, and never more than 1.
    """
    o = stage.opening
    area = (o.right - o.left) * (o.high - o.low)
    square = stage.box[2] ** 2
    return area / (math.pi * square + area)
