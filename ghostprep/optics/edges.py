"""Where the pane's free edges are seen, how wide a trim hides them, and the size to cut if none is given."""

from __future__ import annotations

from dataclasses import astuple, dataclass
from typing import Final

import numpy as np

from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import PaneFit, box_faces, free_run, placed_pane
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, eye_corners, opening_of, seen_through
from ghostprep.optics.solids import Block, gap, pane_block, player_block
from ghostprep.optics.vectors import Vector, pairs
from ghostprep.optics.visible import Lines, clear
from ghostprep.optics.world import World
from ghostprep.scene import Scene, rounded_up, ruler_step

AGAINST_MM: Final = 1.5
"""An edge this near to a surface counts as standing against it. Common practice, no source."""
SPARE_MM: Final = 2.0
"""What is added to a trim that was found along single lines."""
_ALONG: Final = 13
"""Points along an edge that lines are drawn to."""
_BESIDE: Final = {"left": ("right", 0), "right": ("left", 0), "bottom": ("up", 1), "top": ("down", 1)}


@dataclass(frozen=True, slots=True)
class Trim:
    """A strip along one side of the opening."""

    side: str
    """left, right, bottom or top."""
    width_mm: float
    """From the opening's edge inwards."""
    clear: bool
    """Whether the whole ghost is still seen from everywhere."""


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
            "trim": {"side": self.trim.side, "width": self.trim.width_mm, "clear": self.trim.clear}
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
    best = min(trims, key=lambda t: (not t.clear, t.width_mm))
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


_HALVINGS: Final = 14
"""Of the room that a pane may grow by."""
_WIDE_TRIM: Final = 0.1
"""A trim that takes more of the opening than this share is worse than a longer pane."""


def settle_pane(scene: Scene, layout: Layout, pane: PaneFit, world: World) -> PaneFit:
    """Return the pane; its own size, or the smallest one that neither cuts the ghost nor shows an edge.

    Left open, the size is what the ghost needs, with a margin. Each edge that would then be seen,
    and that no narrow trim hides, is moved out until it stands against the box, unless something
    in the box is in its way.

    The pane comes as `panefit.fit_pane` gives it, the world without holder and baffle.
    """
    if pane.given:
        return pane
    player = player_block(layout.screen, scene.screen.body)
    room = scene.holder.slack + scene.holder.sheet
    # the holder's strips stand beside the player
    kit = Block(player.centre, player.axes, player.half + np.array([room, room, 0.0]))
    blocks = [kit, *(b.block for b in world.bodies if b.role in {"divider", "thing"})]
    for index, edge in enumerate(find_edges(scene, layout, pane, world)):
        if _must_go(scene, edge):
            place = _lengthened(scene, layout, pane.place, index)
            longer = _as_far_as(scene, layout, pane, place, blocks)
            # up to a body that hides the edge, or to the box; else the pane stays as small as it can be
            edges = find_edges(scene, layout, longer, world)
            if not _must_go(scene, edges[index]):
                pane = longer
    return pane


def _as_far_as(scene: Scene, layout: Layout, pane: PaneFit, place: Rectangle, blocks: list[Block]) -> PaneFit:
    """Return the pane grown towards a place, as far as nothing is in its way."""

    def grown(share: float) -> PaneFit:
        ends = (a + share * (b - a) for a, b in zip(astuple(pane.place), astuple(place), strict=True))
        return placed_pane(scene, layout, pane.needed_place, Rectangle(*ends), given=False)

    def free(sheet: PaneFit) -> bool:
        block = pane_block(scene, layout, sheet)
        return all(gap(block, other) > 0 for other in blocks)

    if free(whole := grown(1.0)):
        return whole
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if free(grown(middle)) else (low, middle)
    # rounded down to a mark on the builder's ruler
    fits = grown(low).place
    step = ruler_step(scene.units)
    over = [size % step for size in fits.size]
    ends, old = [fits.left, fits.low, fits.right, fits.high], astuple(pane.place)
    for axis in (0, 1):
        if fits.size[axis] - over[axis] < pane.cut[axis] - 1e-6:
            continue
        if ends[axis] < old[axis] - 1e-9:
            ends[axis] += over[axis]
        else:
            ends[axis + 2] -= over[axis]
    return placed_pane(scene, layout, pane.needed_place, Rectangle(*ends), given=False)


def _must_go(scene: Scene, edge: Edge) -> bool:
    if not edge.seen or edge.trim is None:
        return False
    opening = opening_of(scene)
    across = opening.size[0 if edge.trim.side in {"left", "right"} else 1]
    return not edge.trim.clear or edge.trim.width_mm > _WIDE_TRIM * across


def _lengthened(scene: Scene, layout: Layout, place: Rectangle, index: int) -> Rectangle:
    """Return the rectangle with one edge (front, back, low, high) moved out to the box's surface.

    The opposite edge gives way so that the size stays a whole measure: outwards if it is free, and
    inwards, by less than one step, if it stands against the box already.
    """
    axis, far = divmod(index, 2)
    low, high = free_run(scene, layout, place, axis)
    start, end = ((place.left, place.right), (place.low, place.high))[axis]
    if high - low <= end - start:
        return place  # the box has no room for more
    start, end = (start, high) if far else (low, end)
    step = ruler_step(scene.units)
    size = rounded_up(end - start, scene.units)
    if size > high - low:
        size -= step
        middle = (start + end) / 2
        start, end = middle - size / 2, middle + size / 2
    elif far:
        start = max(end - size, low)
    else:
        end = min(start + size, high)
    if axis == 0:
        return Rectangle(start, place.low, end, place.high)
    return Rectangle(place.left, start, place.right, end)
