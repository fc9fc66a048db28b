"""The board before the player that hides it from every eye position, and the lines that it must stop."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ghostprep.optics.bodies import Body
from ghostprep.optics.sightlines import GRAZING_MM, bounds, eye_corners, opening_of
from ghostprep.optics.solids import Block, Bundle, gap, upright_block
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import NO_LINES, Lines, faces, lines_to
from ghostprep.optics.world import Sheet, World
from ghostprep.scene import Scene, rounded_up

BEFORE_MM: Final = 2.0
"""How far before the player and its holder the baffle stands. Common practice, no source."""
SPARE_MM: Final = 1.0
"""What it reaches beyond a net's outermost line where bodies cut the view: no finer is the net."""
_SAME_MM: Final = 1e-6
"""Two lengths are the same: rounding."""
_THIN_MM: Final = 0.01
"""A board is no thinner, however little room it has."""
_ROUNDS: Final = 3
"""Times that the board is made larger where lines still pass it."""


@dataclass(frozen=True, slots=True)
class Baffle:
    """A board parallel to the opening that stands out from the screen's wall before the player.

    It is the one that is cut: up to marks on the builder's ruler.
    """

    wall: str
    """The wall that it stands on."""
    depth_mm: float
    """How far behind the opening its back face is; 0 puts it in the opening itself."""
    thickness_mm: float
    """Towards the opening."""
    reach_mm: float
    """How far it stands out from the inside of the wall (in plan; for a screen on floor or ceiling, in
    elevation)."""
    low_mm: float
    high_mm: float
    """From where to where it runs along the wall: heights above the floor for a screen on the left or right;
    x from the middle for floor and ceiling."""
    clearance_mm: float
    """Room between it and the nearest ray of the ghost; below 0 it would cut the ghost."""

    @property
    def clear(self) -> bool:
        """Whether the whole ghost is still seen from everywhere."""
        return self.clearance_mm >= 0

    @property
    def extent(self) -> Vector:
        """How far it reaches out from the wall, and towards both ends of it, as `_extent` counts."""
        return np.array([self.reach_mm, -self.low_mm, self.high_mm])

    @property
    def size(self) -> tuple[float, float]:
        """How far it stands out, and how long it is along the wall, mm."""
        return self.reach_mm, self.high_mm - self.low_mm

    def body(self, scene: Scene) -> Body:
        """Return the board where it stands."""
        box, near = scene.box, self.depth_mm - self.thickness_mm
        half, out = box.width / 2, self.reach_mm
        a, b, c, d = self.low_mm, self.high_mm, near, self.depth_mm
        low, high = {
            "left": ((-half, a, c), (-half + out, b, d)),
            "right": ((half - out, a, c), (half, b, d)),
            "floor": ((a, 0.0, c), (b, out, d)),
            "ceiling": ((a, box.height - out, c), (b, box.height, d)),
        }[self.wall]
        return Body("baffle", "baffle", "", upright_block(low, high))

    def as_dict(self) -> dict[str, object]:
        """Return the baffle as it stands in a report."""
        return {
            "wall": self.wall,
            "depth": self.depth_mm,
            "reach": self.reach_mm,
            "from": self.low_mm,
            "to": self.high_mm,
            "clearance": self.clearance_mm,
        }


def find_baffle(
    scene: Scene,
    world: World,
    eyes: Sheet,
    kit: Block,
    *,
    lines: Lines,
    outermost: Lines,
    legs: Sequence[Bundle],
) -> Baffle | None:
    """Return the board that hides the player and its holder; None if nothing shows them.

    `world` is without player and holder, and `kit` is both in one; `lines` are the lines of sight to it,
    `outermost` the outermost ones at `board_depth`, whether bodies stop them or not, and `legs` all lines of
    the ghost.

    Notes
    -----
    A side of the board is exact where the outermost line there arrives. Where a body stops it, the lines
    of a net give that side, with something to spare; what still looks past the board is looked for again,
    beside its edges too, and it grows until nothing is left.
    """
    depth = board_depth(kit)
    baffle: Baffle | None = None
    for _ in range(_ROUNDS):
        if len(through := lines.crossing(depth)) == 0:
            break
        found, beyond = _extent(scene, through), outermost.crossing(depth)
        most = _extent(scene, beyond) if len(beyond) else np.full(3, np.inf)
        exact = found >= most - _SAME_MM
        extent = np.where(exact, most, np.minimum(found + SPARE_MM, most))
        baffle = _board(scene, kit, extent if baffle is None else np.maximum(extent, baffle.extent))
        if exact.all():
            break
        lines = lines_to_block(world.with_bodies([baffle.body(scene)]), eyes, kit)
    return None if baffle is None else _as_cut(scene, baffle, legs)


def outermost_board(scene: Scene, kit: Block, legs: Sequence[Bundle]) -> Baffle | None:
    """Return the board that player and holder need in an empty box; None if nothing shows them."""
    through = outermost_lines(scene, kit, depth := board_depth(kit)).crossing(depth)
    if len(through) == 0:
        return None
    return _as_cut(scene, _board(scene, kit, _extent(scene, through)), legs)


def _as_cut(scene: Scene, board: Baffle, legs: Sequence[Bundle]) -> Baffle:
    """Return a board up to marks on the ruler, no longer than its wall, with its room to the light."""
    box, units = scene.box, scene.units
    first, last = (0.0, box.height) if scene.screen.upright else (-box.width / 2, box.width / 2)
    low = max(-rounded_up(-board.low_mm, units), first)
    high = min(rounded_up(board.high_mm, units), last)
    cut = replace(board, reach_mm=rounded_up(board.reach_mm, units), low_mm=low, high_mm=high)
    block = cut.body(scene).block
    return replace(cut, clearance_mm=min(gap(leg, block) for leg in legs))


def board_depth(kit: Block) -> float:
    """Return how far behind the opening the back of a board before player and holder is, mm."""
    return max(float(kit.corners()[:, 2].min()) - BEFORE_MM, 0.0)


def lines_to_block(world: World, eyes: Sheet, block: Block) -> Lines:
    """Return the lines from the eyes to any face of a block that nothing else stops."""
    return sum((lines_to(world, eyes, face) for face in faces(block)), NO_LINES)


def _board(scene: Scene, kit: Block, extent: Vector) -> Baffle:
    depth, (reach, low, high) = board_depth(kit), extent
    thick = max(min(scene.holder.sheet, depth), _THIN_MM)
    return Baffle(scene.screen.wall, depth, thick, float(reach), -float(low), float(high), 0.0)


def _extent(scene: Scene, points: Vector) -> Vector:
    """Return how far points (n, 3) reach out from the wall, and towards both ends of it (3,), mm."""
    along = points[:, 1 if scene.screen.upright else 0]
    return np.array([lateral(scene, points).max(), -along.min(), along.max()])


def lateral(scene: Scene, points: Vector) -> Vector:
    """Return how far points (..., 3) stand out from the inside of the screen's wall, mm."""
    wall, box = scene.screen.wall, scene.box
    return {
        "left": points[..., 0] + box.width / 2,
        "right": box.width / 2 - points[..., 0],
        "floor": points[..., 1],
        "ceiling": box.height - points[..., 1],
    }[wall]


_ON_MM: Final = 1e-7
"""A point this far beyond a plane still counts as on it: rounding, mm."""
_BEHIND_MM: Final = 1e-3
"""What touches the plane from behind is not behind it."""


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
        for r in (opening_of(scene).grown(-GRAZING_MM), bounds(eye_corners(scene)))
    )
    seen, parts = [], []
    for axis in (0, 1):
        seen += [_plane(axis, -1.0, low, eye_high, far), _plane(axis, 1.0, high, eye_low, far)]
        parts += [_plane(axis, -1.0, low, eye_low, far), _plane(axis, 1.0, high, eye_high, far)]
    room = upright_block((-box.width / 2, 0.0, depth_mm + _BEHIND_MM), (box.width / 2, box.height, box.depth))
    corners = _corners(np.vstack([_sides(block), _sides(room), seen]), np.array(parts))
    if len(corners) == 0:
        return NO_LINES
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
    return plane / np.linalg.norm(plane[:3])


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
