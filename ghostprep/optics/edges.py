"""Where the pane's free edges are seen, and how wide a trim or a post hides them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import PaneFit, box_faces
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, eye_corners, opening_of, seen_through
from ghostprep.optics.vectors import Vector, pairs
from ghostprep.optics.visible import Lines, clear
from ghostprep.optics.world import World
from ghostprep.scene import Scene, rounded_up, ruler_step

AGAINST_MM: Final = 1.5
"""An edge this near to a surface counts as standing against it. Common practice, no source."""
SPARE_MM: Final = 2.0
"""What is added to a trim that was found along single lines."""
WIDE_TRIM: Final = 0.1
"""A trim that takes more of the opening than this share is worse than a longer pane, or than a post."""
_ALONG: Final = 13
"""Points along an edge that lines are drawn to."""
_BESIDE: Final = {"left": ("right", 0), "right": ("left", 0), "bottom": ("up", 1), "top": ("down", 1)}


@dataclass(frozen=True, slots=True)
class Trim:
    """A strip along one side of the opening, or an upright one within it: a post."""

    side: str
    """left, right, bottom or top."""
    width_mm: float
    clear: bool
    """Whether the whole ghost is still seen from everywhere."""
    off_mm: float = 0.0
    """From the opening's side to where it begins; 0 for all but a post."""

    @property
    def name(self) -> str:
        """What it is called in drawings and lists."""
        return f"{'post' if self.off_mm else 'trim'}, {self.side}"

    def face(self, scene: Scene) -> Rectangle:
        """Return it as seen from the front (x, y), mm; its width is up to a mark on the ruler."""
        o, far = opening_of(scene), self.off_mm + rounded_up(self.width_mm, scene.units)
        return {
            "left": Rectangle(o.left + self.off_mm, o.low, o.left + far, o.high),
            "right": Rectangle(o.right - far, o.low, o.right - self.off_mm, o.high),
            "bottom": Rectangle(o.left, o.low, o.right, o.low + far),
            "top": Rectangle(o.left, o.high - far, o.right, o.high),
        }[self.side]


@dataclass(frozen=True, slots=True, eq=False)
class Edge:
    """One edge of the pane."""

    name: str
    """front, back, bottom, top; left and right for screens on floor and ceiling."""
    ends: Vector
    """Its two ends on the front face (2, 3), mm."""
    against: str
    """The surface that it stands against; empty if the edge is free."""
    seen: bool
    """Whether the free edge is seen from anywhere, through the opening and past all bodies."""
    seen_at: str
    """The side of the opening next to which it shows."""
    from_mm: float
    towards: str
    """It shows from eye positions more than `from_mm` towards this side (left, right, up, down) of the middle
    eye."""
    trim: Trim | None
    """The narrowest strip that hides it from everywhere."""

    def as_dict(self) -> dict[str, object]:
        """Return the edge as it stands in a report."""
        return {
            "edge": self.name,
            "against": self.against or None,
            "seen": self.seen,
            "seen_at": self.seen_at or None,
            "seen_from": {"towards": self.towards, "beyond": self.from_mm} if self.seen else None,
            "trim": {
                "side": self.trim.side,
                "from": self.trim.off_mm,
                "width": self.trim.width_mm,
                "clear": self.trim.clear,
            }
            if self.trim
            else None,
        }


def find_edges(scene: Scene, layout: Layout, pane: PaneFit, world: World) -> tuple[Edge, ...]:
    """Return the pane's four edges: both ends of the slope, then both ends across it.

    An edge that bodies hide in part is followed along single lines, and what its trim must hide is
    then known to a few millimetres; else its trim is exact.
    """
    low, high = ("bottom", "top") if scene.screen.upright else ("left", "right")
    sides = (("front", [0, 3]), ("back", [1, 2]), (low, [0, 1]), (high, [3, 2]))
    ghost = bounds(crossings(eye_corners(scene), layout.image.corners()))
    return tuple(
        _edge(scene, world, name, (pane.corners[ends], pane.back_corners[ends]), ghost)
        for name, ends in sides
    )


def _edge(scene: Scene, world: World, name: str, faces: tuple[Vector, Vector], ghost: Rectangle) -> Edge:
    """Return the edge whose two ends on front and back face are `faces`."""
    front, back = faces
    against = _against(scene, front, back)
    hidden = Edge(name, front, against, False, "", 0.0, "", None)
    opening = opening_of(scene)
    seen = seen_through(opening, eye_corners(scene), np.vstack([front, back]))
    if against or len(seen) == 0:
        return hidden
    part, eyes = bounds(seen), None
    lines, partly = _past_bodies(scene, world, front, back)
    if partly:
        if not lines:
            return hidden
        if len(through := lines.crossing(0.0)):
            part = part.common(bounds(through).grown(SPARE_MM))
        eyes = lines.eyes
    trims = _trims(opening, part, ghost)
    best = min(
        (*trims, *_posts(scene, part, ghost)),
        key=lambda t: (not t.clear, is_wide(scene, t), t.off_mm, t.width_mm),
    )
    # where it shows: next to the side that the narrowest strip would start from
    side = min(trims, key=lambda t: t.width_mm).side
    towards, axis = _BESIDE[side]
    from_mm = _threshold(scene, np.vstack([front, back]), side, axis, opening)
    if eyes is not None:
        sign = 1.0 if towards in {"right", "up"} else -1.0
        from_mm = max(from_mm, float((sign * (eyes[:, axis] - scene.eye[axis])).min()))
    return Edge(name, front, "", True, side, from_mm, towards, best)


def _past_bodies(scene: Scene, world: World, front: Vector, back: Vector) -> tuple[Lines, bool]:
    """Return the lines that see an edge, and whether bodies in the box hide any of it."""
    share = np.linspace(0, 1, _ALONG)[:, None]
    points = np.vstack([ends[0] + share * (ends[1] - ends[0]) for ends in (front, back)])
    corners, u, v = eye_corners(scene), *np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 5))
    u, v = u.reshape(-1, 1), v.reshape(-1, 1)
    eyes = corners[0] + u * (corners[1] - corners[0]) + v * (corners[3] - corners[0])
    starts, ends = pairs(eyes, points)
    seen = clear(world, starts, ends)
    through = clear(world.of_role("wall", "front"), starts, ends)
    return Lines(starts[seen], ends[seen]), bool((through & ~seen).any())


def _against(scene: Scene, front: Vector, back: Vector) -> str:
    """Return the surface that both ends of an edge stand against, or an empty text."""
    for face, normal, limit in box_faces(scene):
        if face == "opening":
            continue
        room = np.minimum(limit - front @ normal, limit - back @ normal)
        if face == "floor":
            # scenery fills the box up to the ground on which the figure stands
            room -= max(scene.ghost.feet, 0.0)
        if float(room.max()) <= AGAINST_MM:
            return face
    return ""


def _trims(opening: Rectangle, seen: Rectangle, ghost: Rectangle) -> list[Trim]:
    widths = {
        "left": (seen.right - opening.left, ghost.left - opening.left),
        "right": (opening.right - seen.left, opening.right - ghost.right),
        "bottom": (seen.high - opening.low, ghost.low - opening.low),
        "top": (opening.high - seen.low, opening.high - ghost.high),
    }
    # rounded, so that of two equal sides the same one is always told
    return [Trim(side, round(width, 6), width <= free + 1e-6) for side, (width, free) in widths.items()]


def _posts(scene: Scene, seen: Rectangle, ghost: Rectangle) -> Iterator[Trim]:
    """Yield the narrow post that hides an edge, where the ghost is seen beside it alone.

    A lying screen's pane has no upright edge.
    """
    if not scene.screen.upright:
        return
    opening, step = opening_of(scene), ruler_step(scene.units)
    # rounded as trims are
    left, right = round(seen.left - opening.left, 6), round(opening.right - seen.right, 6)
    side, first = ("left", left) if left < right else ("right", right)
    off = math.floor(first / step + 1e-6) * step
    post = Trim(side, rounded_up(first + round(seen.size[0], 6) - off, scene.units), True, off)
    face = post.face(scene)
    if off > 0 and not is_wide(scene, post) and (face.left >= ghost.right or face.right <= ghost.left):
        yield post


def is_wide(scene: Scene, trim: Trim) -> bool:
    """Return whether a trim takes so much of the opening that a longer pane or a post is better."""
    return share_of_opening(scene, trim) > WIDE_TRIM


def share_of_opening(scene: Scene, trim: Trim) -> float:
    """Return how much of the opening's width, or height, a trim takes."""
    return trim.width_mm / opening_of(scene).size[0 if trim.side in {"left", "right"} else 1]


def _threshold(scene: Scene, points: Vector, side: str, axis: int, opening: Rectangle) -> float:
    """Return how far from the middle the eye goes before the edge shows beside one side of the opening.

    The line from the eye e to a point p crosses the opening at e (1 - w) + p w with
    w = distance / (distance + depth of p), so it reaches the side s at e = (s - p w) / (1 - w).
    """
    distance = scene.viewer.distance
    w = distance / (distance + np.maximum(points[:, 2], 1e-9))
    limit = {"left": opening.left, "right": opening.right, "bottom": opening.low, "top": opening.high}[side]
    eye = (limit - points[:, axis] * w) / (1 - w)
    sign = 1.0 if side in {"left", "bottom"} else -1.0
    first = float((sign * (eye - scene.eye[axis])).min())
    return min(max(first, -scene.viewer.sway[axis]), scene.viewer.sway[axis])
