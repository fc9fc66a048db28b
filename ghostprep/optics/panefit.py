"""How large the pane must be, where it then stands, and whether it has room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.sightlines import Rectangle, bounds, eye_corners
from ghostprep.optics.vectors import AXES, Vector, meet_plane, pairs, vector
from ghostprep.scene import Scene, rounded_up

MARGIN_MM: Final = 3.0
"""What the cut size adds on each side, for a groove or a strip of tape. Common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class PaneFit:
    """The pane as a sheet in the box."""

    given: bool
    """Whether `cut` is the scene's own size."""
    needed_place: Rectangle
    place: Rectangle
    """The smallest rectangle through which the whole lit area is seen from everywhere, and the one to cut, in
    the front face's plane, mm along the slope (x, from front to back) and across it (y) from
    ``Layout.on_pane``."""
    corners: Vector
    """Of the front face (4, 3): front low, back low, back high, front high ("low": the near end across the
    slope: bottom, or left on floor and ceiling)."""
    back_corners: Vector
    """Of the back face, in the same order."""
    outside: dict[str, float]
    """How far the sheet reaches through each surface of the box, mm; empty if it lies inside."""
    covers: bool
    """Whether the cut rectangle holds the needed one."""

    @property
    def needed(self) -> tuple[float, float]:
        """The smallest size that shows the whole ghost from everywhere, mm."""
        return self.needed_place.size

    @property
    def cut(self) -> tuple[float, float]:
        """The size to order: the scene's own, or `needed` with a margin, rounded up."""
        return self.place.size


def fit_pane(scene: Scene, layout: Layout) -> PaneFit:
    """Return the pane's needed and cut sizes and where the sheet stands.

    ``pane.through`` only fixes the plane. In it the sheet is centred on what is needed and then,
    where that helps, shifted so that it lies inside the box.
    """
    hits = pane_hits(layout, eye_corners(scene), layout.image.corners())
    needed_place = bounds(on_face(layout, hits))
    wide, high = scene.pane.size or (
        rounded_up(side + 2 * MARGIN_MM, scene.units) for side in needed_place.size
    )
    x, y = needed_place.centre
    place = Rectangle(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
    place = _shifted_inside(scene, layout, place)
    return placed_pane(scene, layout, needed_place, place, given=scene.pane.size is not None)


def placed_pane(
    scene: Scene, layout: Layout, needed_place: Rectangle, place: Rectangle, *, given: bool
) -> PaneFit:
    """Return the sheet that fills `place` of the pane's plane."""
    corners = face_points(layout, place.corners())
    back = corners - scene.pane.thickness * layout.pane_normal
    reach = {face: float((np.vstack([corners, back]) @ n).max()) - most for face, n, most in box_faces(scene)}
    outside = {face: mm for face, mm in reach.items() if mm > 1e-6}
    covers = max(place.excess(needed_place).values()) <= 1e-6
    return PaneFit(given, needed_place, place, corners, back, outside, covers)


def pane_hits(layout: Layout, eyes: Vector, image_points: Vector) -> Vector:
    """Return where lines from eyes (m, 3) to image points (n, 3) meet the front face: (m * n, 3)."""
    return meet_plane(*pairs(eyes, image_points), layout.on_pane, layout.pane_normal)


def on_face(layout: Layout, points: Vector) -> Vector:
    """Return points (..., 3) of the front face as mm along the slope and across it (..., 2)."""
    away = points - layout.on_pane
    return np.stack([away @ layout.slope, away @ layout.across], axis=-1)


def face_points(layout: Layout, places: Vector) -> Vector:
    """Return the points (..., 3) of places (..., 2) on the front face; undoes `on_face`."""
    return layout.on_pane + places[..., :1] * layout.slope + places[..., 1:] * layout.across


def _shifted_inside(scene: Scene, layout: Layout, place: Rectangle) -> Rectangle:
    """Return the rectangle slid along its plane so that it lies inside the box, if it can."""
    for axis in (0, 1):
        low, high = free_run(scene, layout, place, axis)
        start, end = (place.left, place.right) if axis == 0 else (place.low, place.high)
        shift = 0.0
        if start < low:
            shift = min(low - start, max(high - end, 0.0))
        elif end > high:
            shift = max(high - end, min(low - start, 0.0))
        place = place.moved(*((shift, 0.0) if axis == 0 else (0.0, shift)))
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
            for _, normal, limit in box_faces(scene):
                speed = float(direction @ normal)
                room = limit - float(base @ normal)
                if speed > 1e-9:
                    high = min(high, room / speed)
                elif speed < -1e-9:
                    low = max(low, room / speed)
    return low, high


def box_faces(scene: Scene) -> list[tuple[str, Vector, float]]:
    """Return the box's inner surfaces by name, outward normal and limit: inside, p . normal <= limit."""
    box = scene.box
    return [
        ("left wall", vector(AXES["left"]), box.width / 2),
        ("right wall", vector(AXES["right"]), box.width / 2),
        ("floor", vector(AXES["down"]), 0.0),
        ("ceiling", vector(AXES["up"]), box.height),
        ("opening", vector(AXES["front"]), 0.0),
        ("back wall", vector(AXES["back"]), box.depth),
    ]


def outside(scene: Scene, points: Vector) -> float:
    """Return how far points (n, 3) lie outside the box's inner surfaces at most, mm; below 0 if inside."""
    return max(float((points @ normal).max()) - limit for _, normal, limit in box_faces(scene))
