"""What the eye sees from everywhere: the whole ghost, and nothing else of the trick."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics.baffle import Baffle, board_depth, find_baffle, lines_to_block, outermost_lines
from ghostprep.optics.bodies import Body
from ghostprep.optics.collisions import LEAST_MM
from ghostprep.optics.edges import Edge, Trim, find_edges
from ghostprep.optics.lamps import LampSeen, find_lamps
from ghostprep.optics.layout import Layout
from ghostprep.optics.panefit import PaneFit, face_points, on_face, pane_hits
from ghostprep.optics.sightlines import Rectangle, bounds, crossings, eye_corners, opening_of, outline
from ghostprep.optics.solids import Block, Bundle, around, gap, player_block
from ghostprep.optics.vectors import Vector, vector
from ghostprep.optics.visible import (
    NO_LINES,
    Lines,
    Patch,
    ScreenInMirror,
    find_in_mirrors,
    find_patches,
    lines_to,
)
from ghostprep.optics.world import Sheet, World, lit_area
from ghostprep.scene import Scene

_BLOCKS: Final = frozenset({"divider", "thing", "holder", "baffle"})


@dataclass(frozen=True, slots=True)
class Blocked:
    """A body that stands in the ghost's light."""

    name: str
    overlap_mm: float
    """The shortest way out of the light."""
    middle: bool
    """Whether it cuts the picture off even for the middle eye."""
    before_pane: bool
    """Whether it stands between eye and pane, else between pane and screen."""


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """The sightlines, judged over the viewer's whole sway and past all bodies."""

    window: Rectangle
    """The part of the opening's plane through which the whole ghost is seen from everywhere."""
    cut_off: dict[str, float]
    cut_off_middle: dict[str, float]
    """How far the ghost's lines pass outside the opening at each side, mm, from everywhere and from the
    middle eye; 0 where they do not."""
    blocked: tuple[Blocked, ...]
    """What stands in the ghost's light."""
    seen_from_everywhere: bool
    """Whether neither opening, pane nor any body cuts the lit area off anywhere."""
    screen: Lines
    player: Lines
    holder: Lines
    """Lines of sight to the lit area, the player's body, and player and holder in one, without the baffle."""
    in_mirrors: tuple[ScreenInMirror, ...]
    """Ways over mirrors by which the lit area is seen."""
    baffle: Baffle | None
    """What hides player and holder; None if they are hidden already."""
    edges: tuple[Edge, ...]
    patches: tuple[Patch, ...]
    """What the pane mirrors; it must be dark."""
    lamps: tuple[LampSeen, ...]
    behind_back_mm: float
    """How far the ghost stands behind the back wall; below 0, before it."""

    @property
    def screen_hidden(self) -> bool:
        """Whether the lit area is seen directly from nowhere, without a baffle."""
        return not self.screen

    @property
    def player_hidden(self) -> bool:
        """Whether neither the lit area nor the player's body is seen directly, without a baffle."""
        return not self.screen and not self.player

    def trims(self) -> list[Trim]:
        """Return the posts, and for each side of the opening the strip, that hide the pane's edges."""
        widest: dict[str, Trim] = {}
        for trim in (edge.trim for edge in self.edges):
            if trim is not None and trim.clear:
                widest[trim.name] = max(trim, widest.get(trim.name, trim), key=lambda t: t.width_mm)
        return list(widest.values())

    def as_dict(self) -> dict[str, object]:
        """Return the keys of the report."""
        return {
            "seen_from_everywhere": self.seen_from_everywhere,
            "screen_hidden": self.screen_hidden,
            "player_hidden": self.player_hidden,
            "screen_in_mirror": bool(self.in_mirrors),
            "baffle": self.baffle.as_dict() if self.baffle else None,
            "edges": [edge.as_dict() for edge in self.edges],
        }


def find_sight(scene: Scene, layout: Layout, pane: PaneFit, world: World) -> Sight:
    """Return the sightlines of a scene; `world` is without a baffle."""
    opening, corners = opening_of(scene), layout.image.corners()
    window = bounds(crossings(eye_corners(scene), corners))
    cut_off = opening.excess(window)
    eyes = Sheet("eyes", eye_corners(scene), vector((0.0, 0.0, 1.0)))
    legs = ghost_bundles(layout, eyes.corners)
    # the holder is left out too: it hides the player, but is itself a thing to hide
    bare = world.without("player", "holder")
    kit = kit_block(layout, world)
    outermost = outermost_lines(scene, kit, board_depth(kit))
    # opening and walls are not asked again
    furniture = bare.without(*(body.name for body in bare.bodies if body.role in {"wall", "front"}))
    holder = lines_to_block(bare, eyes, kit) + outermost.past(furniture)
    baffle = find_baffle(scene, bare, eyes, kit, lines=holder, outermost=outermost, legs=legs)
    body = player_block(layout.screen, scene.screen.body)
    player = screen = NO_LINES
    if holder:
        screen = lines_to(bare, eyes, lit_area(layout.screen))
        player = screen if screen else lines_to_block(bare, eyes, body)
    blocked = find_blocked(world.bodies, legs, ghost_bundles(layout, layout.eye[None, :]))
    return Sight(
        window,
        cut_off,
        opening.excess(bounds(crossings(layout.eye[None, :], corners))),
        blocked,
        max(cut_off.values()) <= 1e-6 and pane.covers and not blocked,
        screen,
        player,
        holder,
        find_in_mirrors(world, eyes),
        baffle,
        find_edges(scene, layout, pane, world),
        find_patches(world, eyes),
        find_lamps(scene, world, eyes, legs),
        float(corners[:, 2].max()) - scene.box.depth,
    )


def ghost_bundles(layout: Layout, eyes: Vector) -> tuple[Bundle, Bundle]:
    """Return all lines of the ghost from eyes (m, 3): to the pane, and from there to the screen."""
    corners = layout.image.corners()
    hits = pane_hits(layout, eyes, corners)
    patch = face_points(layout, outline(on_face(layout, hits)))
    to_pane = (corners[None, :, :] - eyes[:, None, :]).reshape(-1, 3)
    to_screen = np.tile(layout.screen.corners(), (len(eyes), 1)) - hits
    return (Bundle.between(eyes, patch, to_pane), Bundle.between(patch, layout.screen.corners(), to_screen))


def find_blocked(
    bodies: Iterable[Body], legs: tuple[Bundle, Bundle], middle: tuple[Bundle, Bundle]
) -> tuple[Blocked, ...]:
    """Return the bodies that stand in a bundle: convex against convex, so nothing slips between rays."""
    found: dict[tuple[str, bool], Blocked] = {}
    for body in bodies:
        if body.role not in _BLOCKS:
            continue
        for leg, (everywhere, straight) in enumerate(zip(legs, middle, strict=True)):
            overlap = -gap(everywhere, body.block)
            key = (body.name, leg == 0)
            if overlap > LEAST_MM and (key not in found or overlap > found[key].overlap_mm):
                cuts = -gap(straight, body.block) > LEAST_MM or (key in found and found[key].middle)
                found[key] = Blocked(body.name, overlap, cuts, leg == 0)
    return tuple(found.values())


def kit_block(layout: Layout, world: World) -> Block:
    """Return player and holder in one block."""
    screen = layout.screen
    axes = np.array([screen.right, screen.up, screen.normal])
    return around([b.block for b in world.bodies if b.role in {"player", "holder"}], axes)
