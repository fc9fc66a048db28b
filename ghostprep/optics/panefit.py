"""How large the pane must be, where it then stands, and whether it has room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.sightlines import Rectangle, bounds, eye_corners
from ghostprep.optics.vectors import Vector, meet_plane
from ghostprep.scene import Scene, rounded_up

MARGIN_MM: Final = 3.0
"""What the cut size adds on each side, for a groove or a strip of tape. Common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class PaneFit:
    """The pane as a sheet in the box.

    Attributes
    ----------
    needed : tuple of float
        Along the slope, and across it: the smallest rectangle through which the whole lit area
        is seen from everywhere, mm.
    cut : tuple of float
        The size to order: the scene's own, or `needed` with a margin, rounded up.
    given : bool
        Whether `cut` is the scene's own size.
    needed_place, place : Rectangle
        The needed and the cut rectangle in the front face's plane, mm along the slope (x, from
        front to back) and across it (y) from ``Layout.on_pane``.
    corners : Vector
        Of the front face (4, 3): front low, back low, back high, front high ("low": the near end
        across the slope: bottom, or left on floor and ceiling).
    back_corners : Vector
        Of the back face, in the same order.
    outside : dict
        How far the sheet reaches through each surface of the box, mm; empty if it lies inside.
    covers : bool
        Whether the cut rectangle holds the needed one.
    """

    needed: tuple[float, float]
    cut: tuple[float, float]
    given: bool
    needed_place: Rectangle
    place: Rectangle
    corners: Vector
    back_corners: Vector
    outside: dict[str, float]
    covers: bool

    @property
    def inside_box(self) -> bool:
        """Whether the whole sheet lies inside the box."""
        return not self.outside


def fit_pane(scene: Scene, layout: Layout) -> PaneFit:
    """Return the pane's needed and cut sizes and where the sheet stands.

    ``pane.through`` only fixes the plane. In it the sheet is centred on what is needed and then,
    where that helps, shifted so that it lies inside the box.
    """
    hits = pane_hits(layout, eye_corners(scene), layout.image.corners())
    needed_place = bounds(on_face(layout, hits))
    needed = needed_place.size
    cut = scene.pane.size or tuple(rounded_up(n + 2 * MARGIN_MM, scene.units) for n in needed)
    place = _shifted_inside(scene, layout, _centred(needed_place, (cut[0], cut[1])))
    return placed_pane(scene, layout, needed_place, place, given=scene.pane.size is not None)


def placed_pane(
    scene: Scene, layout: Layout, needed_place: Rectangle, place: Rectangle, *, given: bool
) -> PaneFit:
    """Return the sheet that fills `place` of the pane's plane."""
    corners = face_points(layout, place.corners())
    back = corners - scene.pane.thickness * layout.pane_normal
    return PaneFit(
        needed_place.size,
        place.size,
        given,
        needed_place,
        place,
        corners,
        back,
        _outside(scene, np.vstack([corners, back])),
        max(place.excess(needed_place).values()) <= 1e-6,
    )


def pane_hits(layout: Layout, eyes: Vector, image_points: Vector) -> Vector:
    """Return where lines from eyes (m, 3) to image points (n, 3) meet the front face: (m * n, 3)."""
    starts = np.repeat(eyes, len(image_points), axis=0)
    ends = np.tile(image_points, (len(eyes), 1))
    return meet_plane(starts, ends, layout.on_pane, layout.pane_normal)


def on_face(layout: Layout, points: Vector) -> Vector:
    """Return points (..., 3) of the front face as mm along the slope and across it (..., 2)."""
    away = points - layout.on_pane
    return np.stack([away @ layout.slope, away @ layout.across], axis=-1)


def face_points(layout: Layout, places: Vector) -> Vector:
    """Return the points (..., 3) of places (..., 2) on the front face; undoes `on_face`."""
    points: Vector = layout.on_pane + places[..., :1] * layout.slope + places[..., 1:] * layout.across
    return points


def _centred(on: Rectangle, size: tuple[float, float]) -> Rectangle:
    x, y = (on.left + on.right) / 2, (on.low + on.high) / 2
    return Rectangle(x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2)


def _shifted_inside(scene: Scene, layout: Layout, place: Rectangle) -> Rectangle:
    """Return the rectangle slid along its plane so that it lies inside the box, if it can."""
    for axis in (0, 1):
        low, high = free_run(scene, layout, place, axis)
        start, end = (place.left, place.right) if axis == 0 else (place.low, place.high)
        if start < low:
            shift = min(low - start, max(high - end, 0.0))
        elif end > high:
            shift = max(high - end, min(low - start, 0.0))
        else:
            shift = 0.0
        place = (
            Rectangle(place.left + shift, place.low, place.right + shift, place.high)
            if axis == 0
            else Rectangle(place.left, place.low + shift, place.right, place.high + shift)
        )
    return place


def free_run(scene: Scene, layout: Layout, place: Rectangle, axis: int) -> tuple[float, float]:
    """Return from where to where, along one direction of the face, the sheet has room in the box."""
    direction = layout.slope if axis == 0 else layout.across
    thick = scene.pane.thickness * layout.pane_normal
    # both faces' edges at both ends of the other direction must stay inside
    others = (place.low, place.high) if axis == 0 else (place.left, place.right)
    other = layout.across if axis == 0 else layout.slope
    low, high = -math.inf, math.inf
    for along in others:
        for base in (layout.on_pane + along * other, layout.on_pane + along * other - thick):
            for normal, limit in box_faces(scene):
                speed = float(direction @ normal)
                room = limit - float(base @ normal)
                if speed > 1e-9:
                    high = min(high, room / speed)
                elif speed < -1e-9:
                    low = max(low, room / speed)
    return low, high


def box_faces(scene: Scene) -> list[tuple[Vector, float]]:
    """Return the box's six inner surfaces as outward normal and limit: inside is p . normal <= limit."""
    box = scene.box
    return [
        (np.array([-1.0, 0, 0]), box.width / 2),
        (np.array([1.0, 0, 0]), box.width / 2),
        (np.array([0, -1.0, 0]), 0.0),
        (np.array([0, 1.0, 0]), box.height),
        (np.array([0, 0, -1.0]), 0.0),
        (np.array([0, 0, 1.0]), box.depth),
    ]


FACE_NAMES: Final = ("left wall", "right wall", "floor", "ceiling", "opening", "back wall")


def _outside(scene: Scene, points: Vector) -> dict[str, float]:
    over = {}
    for name, (normal, limit) in zip(FACE_NAMES, box_faces(scene), strict=True):
        reach = float((points @ normal).max()) - limit
        if reach > 1e-6:
            over[name] = reach
    return over
