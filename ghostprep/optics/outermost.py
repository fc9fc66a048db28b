"""The outermost lines of sight to a block, exact through the opening and between the walls."""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np

from ghostprep.optics.sightlines import bounds, eye_corners, opening_of
from ghostprep.optics.solids import Block, upright_block
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import Lines
from ghostprep.scene import Scene

_GRAZING_MM: Final = 1e-6
"""Lines that pass the opening's edge as near as this are stopped by it."""
_ON_MM: Final = 1e-7
"""So far beyond a plane a point still counts as on it: rounding."""
_BEHIND_MM: Final = 1e-3


def outermost_lines(scene: Scene, block: Block, depth_mm: float) -> Lines:
    """Return the lines that cross a depth farthest left, right, low and high of all that see a block.

    Parameters
    ----------
    block : Block
        What is looked at; of it counts what lies in the box behind the depth.
    depth_mm : float
        Of the plane that is crossed, behind the opening.

    Returns
    -------
    Lines
        Four, in that order; none if no eye sees the block. Bodies in the box are not asked.

    Notes
    -----
    An eye sees a point p through the opening if on both axes some eye does, which is true between two
    planes each: through one end of the eyes and the other end of the opening. What is seen of the block
    is therefore a convex body. The line through p that crosses the depth farthest to one side comes from
    the end of the eyes there or passes the opening's edge there, whichever is nearer. Either crossing, as a
    function of p, has planes as its level sets, so its largest value is at a corner of the part of that body
    where it is the nearer one; the two parts meet in the plane through that end of the eyes and that edge.
    """
    box, far = scene.box, scene.viewer.distance
    (low, high), (eye_low, eye_high) = (
        (np.array([r.left, r.low]), np.array([r.right, r.high]))
        for r in (opening_of(scene).grown(-_GRAZING_MM), bounds(eye_corners(scene)))
    )
    seen, parts = [], []
    for axis in (0, 1):
        seen += [_plane(axis, -1.0, low, eye_high, far), _plane(axis, 1.0, high, eye_low, far)]
        parts += [_plane(axis, -1.0, low, eye_low, far), _plane(axis, 1.0, high, eye_high, far)]
    room = upright_block((-box.width / 2, 0.0, depth_mm + _BEHIND_MM), (box.width / 2, box.height, box.depth))
    corners = _corners(np.vstack([_sides(block), _sides(room), seen]), np.array(parts))
    if len(corners) == 0:
        return Lines(np.empty((0, 3)), np.empty((0, 3)))
    # of the eyes that see a corner through the opening, the first and the last on both axes
    passed = far / (corners[:, 2:] + far)
    first = np.maximum(eye_low, (low - passed * corners[:, :2]) / (1 - passed))
    last = np.minimum(eye_high, (high - passed * corners[:, :2]) / (1 - passed))
    share = (depth_mm + far) / (corners[:, 2] + far)
    eyes, points = [], []
    for axis, ends in itertools.product((0, 1), (first, last)):
        eye = (first + last) / 2
        eye[:, axis] = ends[:, axis]
        crossed = eye[:, axis] + share * (corners[:, axis] - eye[:, axis])
        best = int(crossed.argmin() if ends is first else crossed.argmax())
        eyes.append([*eye[best], -far])
        points.append(corners[best])
    return Lines(np.array(eyes), np.array(points))


def _plane(axis: int, sign: float, edge: Vector, eye: Vector, far: float) -> Vector:
    """Return the plane through an eye and an opening's edge as (normal, limit): inside, n . p <= limit."""
    plane = np.zeros(4)
    plane[axis], plane[2], plane[3] = sign, -sign * (edge[axis] - eye[axis]) / far, sign * edge[axis]
    unit: Vector = plane / np.linalg.norm(plane[:3])
    return unit


def _sides(block: Block) -> Vector:
    """Return the six planes of a block as (normal, limit), (6, 4)."""
    normals = np.vstack([block.axes, -block.axes])
    limits = normals @ block.centre + np.tile(block.half, 2)
    return np.column_stack([normals, limits])


def _corners(inside: Vector, across: Vector) -> Vector:
    """Return the corners (k, 3) of the body within planes (m, 4), and those that more planes cut into it."""
    planes = np.vstack([inside, across])
    first, second, third = planes[list(itertools.combinations(range(len(planes)), 3))].swapaxes(0, 1)
    # Cramer's rule for three planes
    ways = [np.cross(a[:, :3], b[:, :3]) for a, b in ((second, third), (third, first), (first, second))]
    size = (first[:, :3] * ways[0]).sum(axis=1)
    meet = np.abs(size) > 1e-9
    total = sum(plane[:, 3:] * way for plane, way in zip((first, second, third), ways, strict=True))
    points = total[meet] / size[meet, None]
    kept: Vector = points[(points @ inside[:, :3].T <= inside[:, 3] + _ON_MM).all(axis=1)]
    return kept
