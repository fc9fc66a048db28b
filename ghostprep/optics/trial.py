"""One layout of a search as a scene: where screen, pane, dividers and doorways then stand."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.baffle import outermost_board
from ghostprep.optics.bodies import divider_frame, divider_height
from ghostprep.optics.changes import deeper, with_keys
from ghostprep.optics.collisions import LEAST_MM
from ghostprep.optics.layout import TOWARDS, Layout, lay_out, pane_normal
from ghostprep.optics.mount import find_figure
from ghostprep.optics.panefit import PaneFit, fit_pane, free_run, outside, placed_pane
from ghostprep.optics.sight import ghost_bundles
from ghostprep.optics.sightlines import bounds, crossings, eye_corners, opening_of
from ghostprep.optics.solids import Block, gap, pane_block, player_block
from ghostprep.optics.vectors import AXES, Vector, vector
from ghostprep.scene import Scene, rounded_up
from ghostprep.scene.furniture import Divider, Doorway
from ghostprep.scene.lengths import ruler_step
from ghostprep.scene.model import Top, Wall, standing_side

_SPARE_MM: Final = 1.0
"""Clearance at walls and doorways."""
_BEFORE_MM: Final = 3.0
"""Between a divider and the holder behind it."""
_ROOMY_MM: Final = 15.0
"""A baffle between player and light has room enough from here on."""
_WRONG: Final = 0.5
_SERIOUS_MM: Final = 10.0
"""What a fault costs in a quick guess, and how far from being none it is to cost as much as one more."""
OFF_MIDDLE: Final = 0.5
"""What a ghost costs at a side wall, twice over: less than a fault."""
_STEEPEST: Final = (35.0, 55.0)
"""Pane angles that are looked at: beyond them the pane grows faster than anything is won."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One layout to be judged."""

    wall: Wall
    top: Top
    """Where the screen hangs, and where its upper edge points."""
    out_mm: float
    """How far the player's back stands off its wall."""
    angle_deg: float
    """Of the pane; the screen's swivel follows, so that the ghost stands square to the eye."""
    depth_mm: float
    """The ghost's; not used where it follows from what the scene gives."""
    divider_mm: float
    """How much deeper the dividers stand."""
    aside_mm: float = 0.0
    """How far off the middle of the width the ghost stands, towards the wall on which the screen hangs."""


def given(scene: Scene, key: str) -> bool:
    """Return whether a scene file gives a key: "screen.wall", "divider", "doorways"."""
    if key == "divider":
        return bool(scene.divider)
    if key == "doorways":
        return any(divider.doorways for divider in scene.divider)
    table, name = key.split(".")
    part = getattr(scene, table)
    return name in part.model_fields_set and getattr(part, name) is not None


def scene_of(scene: Scene, trial: Trial, pinned: AbstractSet[str], free: AbstractSet[str]) -> Scene | None:
    """Return the scene with a trial's screen and pane, or None where the player has no room for it.

    Keys in `pinned` keep what the scene gives; of those set `free`, "divider" and "doorways" count here.
    """
    if not _STEEPEST[0] <= trial.angle_deg <= _STEEPEST[1] and "pane.angle" not in pinned:
        return None
    s = scene.screen
    swivel = s.swivel if "screen.swivel" in pinned else 2 * trial.angle_deg - 90
    placed = _placed(scene, trial, pinned, swivel)
    if placed is None:
        return None
    centre, through = placed
    made = with_keys(scene, "screen", wall=trial.wall, top=trial.top, centre=_point(centre), swivel=swivel)
    made = with_keys(made, "pane", angle=trial.angle_deg, through=through)
    if "pane.size" not in pinned:
        made = with_keys(made, "pane", size=None)
    if "ghost.at" in free:
        made = with_keys(made, "ghost", at=None)
    return _with_dividers(made, trial, free)


def _placed(
    scene: Scene, trial: Trial, pinned: AbstractSet[str], swivel: float
) -> tuple[Vector, tuple[float, float, float] | None] | None:
    """Return the screen's centre and a point of the pane (None: it follows from the ghost's wish)."""
    s, box = scene.screen, scene.box
    away, normal = vector(AXES[TOWARDS[trial.wall]]), pane_normal(trial.wall, trial.angle_deg)
    aside = float(trial.aside_mm * away[0])
    tall = standing_side(trial.wall, trial.top)
    deep_side = tall if trial.wall in {"floor", "ceiling"} else 1 - tall
    half_deep = s.body[deep_side] / 2
    # a swivelled player's back corner must still clear its wall
    turned = math.radians(abs(swivel))
    out = s.body[2] * math.cos(turned) + half_deep * math.sin(turned) + trial.out_mm
    face = {"left": box.width / 2, "right": box.width / 2, "floor": 0.0, "ceiling": box.height}[trial.wall]
    wished = scene.ghost.at if "ghost.at" in pinned else None
    plane = scene.pane.through if "pane.through" in pinned else None
    height = _ghost_height(scene, trial, tall)
    axis, place = (0, aside) if trial.wall in {"left", "right"} else (1, height)
    if "screen.centre" in pinned and s.centre is not None:
        centre = vector(s.centre)
        if plane is not None:
            return centre, plane
        if wished is not None:
            return centre, None
        # the ghost stands as far across as is tried, or as high as its feet want it
        way = (place - centre[axis]) / normal[axis]
        return None if way > -2 * _SPARE_MM else (centre, _point(centre + normal * way / 2))
    if plane is not None:
        # the screen lies where its image stands at that place
        start = vector((0.0, height, 0.0))
        start = start + (face - out - float(start @ away)) * away
        # image[axis] = start[axis] - 2 ((start + z front - plane) . normal) normal[axis] is linear in z
        at0 = float((start - vector(plane)) @ normal)
        z = ((start[axis] - place) / (2 * normal[axis]) - at0) / normal[2]
        screen = start + vector((0.0, 0.0, float(z)))
    else:
        ghost = vector(wished or (aside, height, trial.depth_mm))
        way = (face - out - float(ghost @ away)) / float(normal @ away)
        if way <= 2 * _SPARE_MM:
            return None
        screen = ghost + way * normal
    if screen[2] - half_deep < _SPARE_MM or screen[2] + half_deep > box.depth:
        return None
    if plane is not None:
        return screen, plane
    return screen, _point((screen + ghost) / 2)


def _ghost_height(scene: Scene, trial: Trial, tall: int) -> float:
    """Return the height of the ghost's middle that puts its feet on the ground, if the player has room."""
    s = scene.screen
    stands = scene.ghost.feet - _SPARE_MM + s.active[tall] / 2
    if trial.wall in {"floor", "ceiling"}:
        return stands
    return min(max(stands, s.body[tall] / 2), max(scene.box.height - s.body[tall] / 2, s.body[tall] / 2))


def _point(p: Vector) -> tuple[float, float, float]:
    return (round(float(p[0]), 3), round(float(p[1]), 3), round(float(p[2]), 3))


def on_marks(scene: Scene, pinned: AbstractSet[str]) -> Iterator[Scene]:
    """Yield a found layout with its screen at marks on the builder's ruler, where that is left open.

    How far it stands out from its wall stays, and the ghost keeps its place across, or its height.
    """
    centre, through, step = scene.screen.centre, scene.pane.through, ruler_step(scene.units)
    if centre is None or through is None or pinned & {"screen.centre", "pane.through", "ghost.at"}:
        return
    out = 0 if scene.screen.upright else 1
    normal, ghost = pane_normal(scene.screen.wall, scene.pane.angle), lay_out(scene).ghost
    for rounded in (math.floor, math.ceil):
        places = [v if axis == out else round(v / step) * step for axis, v in enumerate(centre)]
        if out == 0:
            places[1] = rounded(centre[1] / step) * step
        new = vector((places[0], places[1], places[2]))
        way = float((ghost[out] - new[out]) / normal[out])
        made = with_keys(scene, "screen", centre=_point(new))
        yield with_keys(made, "pane", through=_point(new + normal * way / 2))


def _with_dividers(scene: Scene, trial: Trial, free: AbstractSet[str]) -> Scene | None:
    """Return the scene with its dividers moved, or one set before the player, and doorways cut."""
    if not free & {"divider", "doorways"}:
        return scene
    try:
        layout = lay_out(scene)
    except InputError:
        return None
    dividers = list(scene.divider)
    if "divider" in free:
        dividers = [deeper(d, trial.divider_mm) for d in dividers]
        if not dividers:
            front = float(player_block(layout.screen, scene.screen.body).corners()[:, 2].min())
            room = (
                scene.holder.slack
                + scene.holder.sheet
                + _BEFORE_MM
                + Divider.model_fields["thickness"].default
            )
            z, half = front - room + trial.divider_mm, scene.box.width / 2
            if z <= _BEFORE_MM:
                return None
            dividers = [Divider.model_validate({"from": (-half, z), "to": (half, z)})]
    if any(not 0 < z < scene.box.depth for d in dividers for z in (d.start[1], d.end[1])):
        return None
    if "doorways" in free or not scene.divider:
        dividers = [_recut(scene, layout, d) for d in dividers]
    return scene.model_copy(update={"divider": tuple(dividers)})


def _recut(scene: Scene, layout: Layout, divider: Divider) -> Divider:
    """Return a divider with one doorway, as large as the ghost's light needs where it crosses."""
    places = light_through(scene, layout, divider)
    if places is None:
        return divider.model_copy(update={"doorways": ()})
    need = bounds(places)
    left, right = max(need.left - _SPARE_MM, 0.0), min(need.right + _SPARE_MM, divider.length)
    high = min(need.high + _SPARE_MM, divider_height(scene, divider))
    if right - left < _SPARE_MM or high <= _SPARE_MM:
        return divider.model_copy(update={"doorways": ()})
    # a doorway without a sill, on the ground that the figure stands on, looks like one
    ground = max(min(scene.ghost.feet, need.low - _SPARE_MM), 0.0)
    width = min(rounded_up(right - left, scene.units), divider.length)
    # what rounding adds goes to the side away from the player, which would show there
    towards = {"left": -1.0, "right": 1.0}.get(scene.screen.wall, 0.0) * (divider.end[0] - divider.start[0])
    middle = (left + right) / 2 if towards == 0 else left + width / 2 if towards < 0 else right - width / 2
    middle = min(max(middle, width / 2), divider.length - width / 2)
    height = min(rounded_up(high - ground, scene.units), divider_height(scene, divider) - ground)
    door = Doorway(at=middle, width=width, height=height, sill=ground)
    return divider.model_copy(update={"doorways": (door,)})


def light_through(scene: Scene, layout: Layout, divider: Divider) -> Vector | None:
    """Return where the ghost's light crosses a divider's faces: along it, and above the floor (k, 2)."""
    start, along, across = divider_frame(divider)
    points = np.vstack(
        [
            leg.cut(start + side * divider.thickness * across, across)
            for leg in ghost_bundles(layout, eye_corners(scene))
            for side in (-0.5, 0.5)
        ]
    )
    if len(points) == 0:
        return None
    away = points - start
    return np.column_stack([away @ along, away[:, 1]])


def rough_cost(scene: Scene) -> float:
    """Return a quick guess of a layout's cost, by geometry alone; InputError: it cannot stand like this.

    What would be a fault in the empty box counts by how far it is from being none.
    """
    layout = lay_out(scene)
    figure, mount = find_figure(scene, layout)
    pane = fit_pane(scene, layout)
    box, corners = scene.box, layout.image.corners()
    window = bounds(crossings(eye_corners(scene), corners))
    lost = max(opening_of(scene).excess(window).values()) / min(box.width, box.height)
    needed = pane.needed[0] * pane.needed[1] / (box.width * box.height)
    kit = rough_kit(scene, layout)
    legs = ghost_bundles(layout, eye_corners(scene))
    # a baffle needs room between the player and the ghost's light
    room = gap(legs[0], player_block(layout.screen, scene.screen.body))
    board = None if scene.divider else outermost_board(scene, kit, legs)
    low, high = figure.lit_mm
    wrong = [
        float(corners[:, 2].max()) - box.depth,
        low - figure.feet_mm,
        figure.feet_mm + figure.height_mm - high,
        outside(scene, kit.corners()),
        -min(gap(leg, kit) for leg in legs),
        -board.clearance_mm if board is not None else 0.0,
        -gap(pane_block(scene, layout, _to_the_walls(scene, layout, pane)), kit),
        *pane.outside.values(),
    ]
    return (
        needed
        + 2 * lost
        + sum(_WRONG + over / _SERIOUS_MM for over in wrong if over > LEAST_MM)
        + 0.1 * min(mount.keystone_px, 10.0)
        + 0.01 * abs(layout.angle_deg - 45)
        + max(1 - room / _ROOMY_MM, 0.0)
        + OFF_MIDDLE * abs(float(layout.ghost[0])) / box.width
    )


def rough_kit(scene: Scene, layout: Layout) -> Block:
    """Return the player with three strips of its holder, open to the side where it goes best into the box."""
    player, strip = (
        player_block(layout.screen, scene.screen.body),
        scene.holder.sheet + scene.holder.slack,
    )
    kits = []
    for axis, sign in itertools.product((0, 1), (-1.0, 1.0)):
        half = player.half + np.array([strip, strip, 0.0])
        half[axis] -= strip / 2
        kits.append(Block(player.centre - sign * strip / 2 * player.axes[axis], player.axes, half))
    return min(kits, key=lambda kit: outside(scene, kit.corners()))


def _to_the_walls(scene: Scene, layout: Layout, pane: PaneFit) -> PaneFit:
    """Return the pane as long as it must be to show no back edge: up to the box."""
    if pane.given:
        return pane
    _, end = free_run(scene, layout, pane.place, 0)
    place = replace(pane.place, right=max(end, pane.place.right))
    return placed_pane(scene, layout, pane.needed_place, place, given=False)
