"""The board before the player that hides it from every eye position."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ghostprep.optics.bodies import Body
from ghostprep.optics.solids import Block, Bundle, upright_block
from ghostprep.optics.vectors import Vector
from ghostprep.optics.visible import Lines, faces, lines_to
from ghostprep.optics.world import Sheet, World
from ghostprep.scene import Scene

BEFORE_MM: Final = 2.0
"""How far before the player and its holder the baffle stands. Common practice, no source."""
SPARE_MM: Final = 1.0
"""What the baffle reaches beyond the outermost sightline on each side."""

_THIN_MM: Final = 0.01
_ROUNDS: Final = 3


@dataclass(frozen=True, slots=True)
class Baffle:
    """A board parallel to the opening that stands out from the screen's wall before the player.

    Attributes
    ----------
    wall : str
        The wall that it stands on.
    depth_mm : float
        How far behind the opening its back face is; 0 puts it in the opening itself.
    thickness_mm : float
        Towards the opening.
    reach_mm : float
        How far it stands out from the inside of the wall (in plan; for a screen on floor or
        ceiling, in elevation).
    low_mm, high_mm : float
        From where to where it runs along the wall: heights above the floor for a screen on the
        left or right; x from the middle for floor and ceiling.
    clearance_mm : float
        Room between it and the nearest ray of the ghost; below 0 it would cut the ghost.
    """

    wall: str
    depth_mm: float
    thickness_mm: float
    reach_mm: float
    low_mm: float
    high_mm: float
    clearance_mm: float

    @property
    def clear(self) -> bool:
        """Whether the whole ghost is still seen from everywhere."""
        return self.clearance_mm >= 0

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
    scene: Scene, world: World, eyes: Sheet, kit: Block, *, lines: Lines, legs: Sequence[Bundle]
) -> Baffle | None:
    """Return the board that hides the player and its holder; None if nothing shows them.

    Parameters
    ----------
    world : World
        Without player and holder.
    eyes : Sheet
        The range of eye positions.
    kit : Block
        Player and holder in one.
    lines : Lines
        The lines of sight to the kit.
    legs : sequence of Bundle
        All lines of the ghost, from the eyes to the pane and on to the screen.

    Notes
    -----
    The board is as large as the lines need that see the kit; what still looks past it is looked for
    again, beside its edges too, and it grows until nothing is left.
    """
    depth = max(float(kit.corners()[:, 2].min()) - BEFORE_MM, 0.0)
    thick = max(min(scene.holder.sheet, depth), _THIN_MM)
    baffle: Baffle | None = None
    for _ in range(_ROUNDS):
        through = lines.crossing(depth)
        if len(through) == 0:
            break
        baffle = _grown(scene, baffle, through, Baffle(scene.screen.wall, depth, thick, 0, 0, 0, 0))
        lines = lines_to_block(world.with_bodies([baffle.body(scene)]), eyes, kit)
    if baffle is None:
        return None
    block = baffle.body(scene).block
    return replace(baffle, clearance_mm=min(leg.gap(block) for leg in legs))


def lines_to_block(world: World, eyes: Sheet, block: Block) -> Lines:
    """Return the lines from the eyes to any face of a block that nothing else stops."""
    found = [lines_to(world, eyes, face) for face in faces(block)]
    return Lines(np.vstack([f.eyes for f in found]), np.vstack([f.points for f in found]))


def _grown(scene: Scene, old: Baffle | None, through: Vector, empty: Baffle) -> Baffle:
    box, upright = scene.box, scene.screen.wall in {"left", "right"}
    reach = float(lateral(scene, through).max()) + SPARE_MM
    along = through[:, 1] if upright else through[:, 0]
    least, most = (0.0, box.height) if upright else (-box.width / 2, box.width / 2)
    low = max(float(along.min()) - SPARE_MM, least)
    high = min(float(along.max()) + SPARE_MM, most)
    if old is not None:
        reach, low, high = max(reach, old.reach_mm), min(low, old.low_mm), max(high, old.high_mm)
    return replace(empty, reach_mm=reach, low_mm=low, high_mm=high)


def lateral(scene: Scene, points: Vector) -> Vector:
    """Return how far points (..., 3) stand out from the inside of the screen's wall, mm."""
    wall, box = scene.screen.wall, scene.box
    distance: Vector = {
        "left": points[..., 0] + box.width / 2,
        "right": box.width / 2 - points[..., 0],
        "floor": points[..., 1],
        "ceiling": box.height - points[..., 1],
    }[wall]
    return distance
