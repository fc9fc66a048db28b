"""Straight lines from every eye position through the opening into the box."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.vectors import Vector, meet_plane, pairs, vector
from ghostprep.scene import Scene

_FRONT = vector((0.0, 0.0, -1.0))
GRAZING_MM: Final = 1e-6
"""Lines that pass the opening's edge as near as this are stopped by it."""


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle, mm: the opening, a part of it or of a wall, a place on a sheet of paper."""

    left: float
    low: float
    right: float
    high: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height; below 0 where nothing is left."""
        return self.right - self.left, self.high - self.low

    def corners(self) -> Vector:
        """Return the corners (4, 2), all the way round."""
        a, b, c, d = self.left, self.low, self.right, self.high
        return np.array([(a, b), (c, b), (c, d), (a, d)], np.float64)

    def excess(self, inner: Rectangle) -> dict[str, float]:
        """Return how far `inner` reaches out of this rectangle at each side; 0 where it does not."""
        over = {
            "left": self.left - inner.left,
            "right": inner.right - self.right,
            "bottom": self.low - inner.low,
            "top": inner.high - self.high,
        }
        return {side: max(value, 0.0) for side, value in over.items()}

    @property
    def centre(self) -> tuple[float, float]:
        """Its middle."""
        return (self.left + self.right) / 2, (self.low + self.high) / 2

    def grown(self, by: float) -> Rectangle:
        """Return the rectangle that reaches farther to all four sides; less far for a number below 0."""
        return Rectangle(self.left - by, self.low - by, self.right + by, self.high + by)

    def moved(self, right: float, up: float) -> Rectangle:
        """Return it at another place."""
        return Rectangle(self.left + right, self.low + up, self.right + right, self.high + up)

    def common(self, other: Rectangle) -> Rectangle:
        """Return what two rectangles have in common; its size is below 0 where they are apart."""
        left, low = max(self.left, other.left), max(self.low, other.low)
        return Rectangle(left, low, min(self.right, other.right), min(self.high, other.high))

    def meets(self, other: Rectangle, spare: float = 0.0) -> bool:
        """Return whether two rectangles overlap, or come nearer than `spare`."""
        return (
            self.left < other.right + spare
            and other.left < self.right + spare
            and self.low < other.high + spare
            and other.low < self.high + spare
        )

    def holds(self, other: Rectangle) -> bool:
        """Return whether another rectangle lies wholly inside this one."""
        return self.common(other) == other


def bounds(points: Vector) -> Rectangle:
    """Return the smallest rectangle round points (n, 2) or the x and y of points (n, 3)."""
    low, high = points.min(axis=0), points.max(axis=0)
    return Rectangle(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def opening_of(scene: Scene) -> Rectangle:
    """Return the opening in its plane, mm."""
    o = scene.box.opening
    return Rectangle(-o.width / 2, o.sill, o.width / 2, o.sill + o.height)


def eye_corners(scene: Scene) -> Vector:
    """Return the corners (4, 3) of the range over which the eye may move.

    Where lines from a convex range of eyes to a convex range of points meet a plane, the
    outermost places belong to corners of both, so corners are enough for every bound here.
    """
    x, y, z = scene.eye
    sx, sy = scene.viewer.sway
    return np.array([(x - sx, y - sy, z), (x + sx, y - sy, z), (x + sx, y + sy, z), (x - sx, y + sy, z)])


def crossings(eyes: Vector, points: Vector) -> Vector:
    """Return where the lines from eyes (m, 3) to points (n, 3) cross the opening's plane: (m * n, 3)."""
    return meet_plane(*pairs(eyes, points), vector((0.0, 0.0, 0.0)), _FRONT)


def outline(points: Vector) -> Vector:
    """Return the convex outline (m, 2) of points (n, 2), counter-clockwise.

    Points on one line give its two ends, and a single point itself: an eye that does not move sees
    a corner along one line only.
    """
    ordered = sorted({(x, y) for x, y in points[:, :2].tolist()})
    if len(ordered) < 3:
        return np.array(ordered)

    def half(way: list[tuple[float, float]]) -> list[tuple[float, float]]:
        kept: list[tuple[float, float]] = []
        for p in way:
            while len(kept) > 1:
                (ax, ay), (bx, by) = kept[-2:]
                if (bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax) > 0:
                    break
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return np.array(half(ordered) + half(ordered[::-1]))


def seen_through(opening: Rectangle, eyes: Vector, points: Vector) -> Vector:
    """Return the part (k, 2) of an opening through which eyes see the outline of points; k is 0 if none.

    Lines that only graze the opening's edge do not count.
    """
    return clipped(outline(crossings(eyes, points)), opening.grown(-GRAZING_MM))


def clipped(polygon: Vector, to: Rectangle) -> Vector:
    """Return the part (k, 2) of a convex polygon (m, 2) inside a rectangle; k is 0 if none is.

    A polygon of two points or one is a line or a point, and is clipped as such.
    """
    for axis, sign, limit in ((0, 1.0, to.left), (0, -1.0, -to.right), (1, 1.0, to.low), (1, -1.0, -to.high)):
        polygon = keep_above(polygon, sign * np.eye(2)[axis], limit)
    return polygon


def keep_above(polygon: Vector, direction: Vector, limit: float) -> Vector:
    """Return the part of a convex polygon (m, d) where p . direction is `limit` or more."""
    points, above = polygon.tolist(), (polygon @ direction - limit).tolist()
    # few corners, so plain numbers are several times quicker than arrays
    kept: list[list[float]] = []
    for index, (here, a) in enumerate(zip(points, above, strict=True)):
        following = (index + 1) % len(points)
        b = above[following]
        if a >= 0:
            kept.append(here)
        if a * b < 0:
            share = a / (a - b)
            kept.append([h + (t - h) * share for h, t in zip(here, points[following], strict=True)])
    return np.array(kept, np.float64).reshape(-1, polygon.shape[1])
