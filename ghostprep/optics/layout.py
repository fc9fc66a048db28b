"""Where screen, pane and ghost stand: of the three, any two give the third.

The image of a point in a plane mirror is the point reflected in the plane, so a pane that
shall show the screen's centre S at G halves the way from S to G at right angles.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.errors import InputError
from ghostprep.optics.vectors import AXES, Vector, meet_plane, reflect_direction, reflect_point, unit, vector
from ghostprep.scene import Scene, format_length
from ghostprep.scene.model import standing_side

_CLOSEST_MM: Final = 1.0
"""Nearer to each other, screen and ghost are at one place."""
_SAME_DEG: Final = 0.5
"""Two angles of a pane are the same: nobody sets one nearer by hand (common practice, no source)."""
_BELOW_MM: Final = 1.0
"""How far below the figure's ground a lying screen's picture begins."""
_ROUNDS: Final = 4
"""Rounds in which the place of a picture that leans is found to a hair."""
_FACING: Final = {"left": "right", "right": "left", "floor": "up", "ceiling": "down"}
TOWARDS: Final = {"left": "left", "right": "right", "floor": "down", "ceiling": "up"}
"""The ways in which a screen on each side of the box faces, and in which that side lies."""


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """A lit rectangle in space: the screen, or its image in the pane."""

    centre: Vector
    """Middle of the lit area, mm."""
    right: Vector
    up: Vector
    normal: Vector
    """Unit directions of the raster's x, of its upper edge, and away from its lit face."""
    active: tuple[float, float]
    """Lit area along the raster's width and height, mm."""
    raster: tuple[int, int]
    """Pixels wide and high."""

    @property
    def pitch(self) -> tuple[float, float]:
        """Millimetres from pixel to pixel, along the raster's width and height."""
        return self.active[0] / self.raster[0], self.active[1] / self.raster[1]

    def at(self, px: Vector) -> Vector:
        """Return where raster positions (..., 2) lie, mm; (0, 0) is the raster's top left corner."""
        share = np.asarray(px, np.float64) / self.raster - 0.5
        x, y = share[..., :1] * self.active[0], share[..., 1:] * self.active[1]
        return self.centre + x * self.right - y * self.up

    def corners(self) -> Vector:
        """Return the lit area's corners (4, 3): top left, top right, bottom right, bottom left."""
        w, h = self.raster
        return self.at(np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float64))

    def mirrored(self, on_plane: Vector, normal: Vector) -> Panel:
        """Return this panel's image in a plane."""
        return Panel(
            reflect_point(self.centre, on_plane, normal),
            reflect_direction(self.right, normal),
            reflect_direction(self.up, normal),
            reflect_direction(self.normal, normal),
            self.active,
            self.raster,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Screen, pane and ghost in space, complete."""

    screen: Panel
    image: Panel
    """The screen, and its image in the pane's front face; the image's centre is the ghost's."""
    on_pane: Vector
    pane_normal: Vector
    """A point of the pane's front face, mm; its unit normal, towards screen and eye."""
    slope: Vector
    across: Vector
    """Unit directions in the front face: along the slope, and across it (upright for screens on the left and
    right, to the right for floor and ceiling)."""
    angle_deg: float
    """Between the pane and the opening's plane."""
    eye: Vector
    """The middle eye position, mm."""
    wanted: Vector | None
    """Where the ghost was asked to stand, if the pane decided otherwise."""

    @property
    def ghost(self) -> Vector:
        """The ghost's centre, mm."""
        return self.image.centre


def lay_out(scene: Scene) -> Layout:
    """Complete the layout of screen, pane and ghost.

    Without ``screen.centre`` the screen is found from pane and ghost where both are given; else it
    lies with the player's back against its wall, at the middle of the box's height (on floor and
    ceiling: of its width), and as deep that a 45 degree pane puts the ghost at two thirds of the
    depth. With neither pane nor ghost given, the pane has its ``angle`` and the ghost stands in the
    middle of the width; with a screen on floor or ceiling, before or behind it, as high that its
    picture begins a millimetre below the ground on which the figure stands.

    Raises
    ------
    InputError
        The ghost would be at the screen, the screen does not face the pane, or its image turns
        its back to the eye.
    """
    through, at = scene.pane.through, scene.ghost.at
    screen, wanted = _screen_panel(scene, _screen_centre(scene)), None
    if through is None:
        on_pane, normal = _pane_halving(scene, screen.centre)
    else:
        on_pane, normal = vector(through), pane_normal(scene.screen.wall, scene.pane.angle)
        if at is not None and scene.screen.centre is not None:
            wanted = vector(at)
    _check_sides(scene, screen, on_pane, normal)
    image = screen.mirrored(on_pane, normal)
    eye = vector(scene.eye)
    if float((eye - image.centre) @ image.normal) <= 0:
        raise InputError(
            "the screen faces away: its image in the pane turns its back to the eye",
            where=scene.where("screen", "swivel" if scene.screen.swivel else "wall"),
            remedy="turn the screen or the pane so that the screen faces the pane at about 45 degrees",
        )
    slope, across = _directions(scene.screen.wall, normal)
    angle = math.degrees(math.acos(min(1.0, max(-1.0, float(-normal[2])))))
    told = scene.pane.angle if "angle" in scene.pane.model_fields_set else angle
    if through is None and at is not None and abs(told - angle) > _SAME_DEG:
        raise InputError(
            f"is {told:g} degrees, but from the screen to ghost.at it must be {angle:.1f}",
            where=scene.where("pane", "angle"),
            remedy="leave pane.angle out, or leave ghost.at out to have the ghost's place computed",
        )
    return Layout(screen, image, on_pane, normal, slope, across, angle, eye, wanted)


def _screen_opposite(scene: Scene, ghost: Vector, on_pane: Vector) -> Vector:
    """Return the middle of the screen that the pane shows as the ghost."""
    box, centre = scene.box, reflect_point(ghost, on_pane, pane_normal(scene.screen.wall, scene.pane.angle))
    if abs(centre[0]) > box.width / 2 or not 0 <= centre[1] <= box.height or not 0 <= centre[2] <= box.depth:
        place = ", ".join(format_length(float(v), scene.units) for v in centre)
        raise InputError(
            f"pane and ghost put the screen outside the box, at {place}",
            where=scene.where("ghost", "at"),
            remedy="set the ghost nearer to the pane, or turn the pane",
        )
    return centre


def _screen_panel(scene: Scene, centre: Vector) -> Panel:
    """Return the mounted screen; the swivel turns it from facing straight across towards the front."""
    s = scene.screen
    across, front = vector(AXES[_FACING[s.wall]]), vector(AXES["front"])
    cos, sin = math.cos(math.radians(s.swivel)), math.sin(math.radians(s.swivel))

    def swivelled(v: Vector) -> Vector:
        a, f = float(v @ across), float(v @ front)
        return v + ((cos - 1) * a - sin * f) * across + (sin * a + (cos - 1) * f) * front

    normal, up = swivelled(across), swivelled(vector(AXES[s.top]))
    # x right, y up, z away from the viewer is a left-handed frame: "right" is up x forward
    right = np.cross(up, normal) if s.mirrored else np.cross(normal, up)
    return Panel(centre, right, up, normal, s.active, s.raster)


def _screen_centre(scene: Scene) -> Vector:
    s, box = scene.screen, scene.box
    if s.centre is not None:
        return vector(s.centre)
    if scene.pane.through is not None and scene.ghost.at is not None:
        return _screen_opposite(scene, vector(scene.ghost.at), vector(scene.pane.through))
    thick = s.body[2]
    depth = box.depth * 2 / 3
    if s.upright:
        reach = box.width / 2 - thick
        return vector((-reach if s.wall == "left" else reach, box.height / 2, max(depth - reach, thick)))
    height = thick if s.wall == "floor" else box.height - thick
    return vector((0.0, height, max(depth - abs(_standing_height(scene) - height), thick)))


def pane_normal(wall: str, angle_deg: float) -> Vector:
    """Return the front face's normal; the wall gives the sign of the angle."""
    a = math.radians(angle_deg)
    return math.sin(a) * vector(AXES[TOWARDS[wall]]) + math.cos(a) * vector(AXES["front"])


def _pane_halving(scene: Scene, screen: Vector) -> tuple[Vector, Vector]:
    """Return a point and the normal of the pane that puts the ghost where it is wanted."""
    if scene.ghost.at is not None:
        ghost = vector(scene.ghost.at)
        gap = screen - ghost
        if float(np.linalg.norm(gap)) < _CLOSEST_MM:
            raise InputError(
                "the ghost is wanted at the screen itself",
                where=scene.where("ghost", "at"),
                remedy="a ghost stands behind the pane, as far from it as the screen is before it",
            )
        normal = unit(gap)
        if normal[2] >= 0:
            raise InputError(
                "the ghost is wanted before the screen or beside it, where no pane can put it",
                where=scene.where("ghost", "at"),
                remedy="set it deeper in the box than the screen's middle",
            )
        return (screen + ghost) / 2, normal
    normal = pane_normal(scene.screen.wall, scene.pane.angle)
    # along the normal from the screen to the middle of the width, or to where the figure stands
    axis = 0 if scene.screen.upright else 1
    middle = 0.0 if axis == 0 else _standing_height(scene)
    for _ in range(_ROUNDS):
        way = (middle - screen[axis]) / normal[axis]
        if way > -_CLOSEST_MM:
            raise InputError(
                "the screen lies beyond the place of the ghost, so none follows from it",
                where=scene.where("screen", "centre"),
                remedy="give ghost.at or pane.through, or set the screen nearer to its wall",
            )
        on_pane = screen + normal * way / 2
        if axis == 0:
            break
        # a picture that leans begins elsewhere than half its height below its middle
        image = _screen_panel(scene, screen).mirrored(on_pane, normal)
        begins = meet_plane(vector(scene.eye), image.corners(), image.centre, vector(AXES["back"]))
        middle += scene.ghost.feet - _BELOW_MM - float(begins[:, 1].min())
    return on_pane, normal


def _standing_height(scene: Scene) -> float:
    """Return the height of the ghost's middle at which a lying screen shows the figure on its ground."""
    s = scene.screen
    return scene.ghost.feet - _BELOW_MM + s.active[standing_side(s.wall, s.top)] / 2


def _check_sides(scene: Scene, screen: Panel, on_pane: Vector, normal: Vector) -> None:
    before = float((screen.centre - on_pane) @ normal)
    if abs(before) < _CLOSEST_MM / 2:
        raise InputError(
            "the pane passes through the middle of the screen, so the ghost would be at the screen",
            where=scene.where("pane", "through"),
            remedy="move the pane away from the screen",
        )
    if before < 0:
        raise InputError(
            "the screen stands behind the pane's front face",
            where=scene.where("pane", "through"),
            remedy="move the pane deeper, or the screen towards its wall and the opening",
        )
    if float(screen.normal @ normal) >= 0:
        raise InputError(
            "the screen faces away from the pane",
            where=scene.where("screen", "swivel" if scene.screen.swivel else "wall"),
            remedy="turn it towards the pane's front face",
        )


def _directions(wall: str, normal: Vector) -> tuple[Vector, Vector]:
    lean = vector(AXES["up" if wall in {"left", "right"} else "right"])
    across = unit(lean - float(lean @ normal) * normal)
    slope = np.cross(across, normal)
    # the slope counts from the front edge to the back edge
    return (slope if slope[2] >= 0 else -slope), across
