"""What the simulated view needs to know of a plan: planes, sizes and luminances, as plain numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from ghostprep.optics import Panel, Plan
from ghostprep.optics.fresnel import doubling_mm, face_reflectance, pane_reflectance
from ghostprep.optics.sightlines import Rectangle, opening_of
from ghostprep.optics.vectors import Vector, meet_plane, unit, vector
from ghostprep.scene import Scale

_LOW_GROUND: Final = 0.35
"""Ground up to this share of the box's height is taken for a raised floor, not for a shelf."""


@dataclass(frozen=True, slots=True)
class Reflection:
    """What the pane does for one eye, at the ray to the ghost's centre.

    Attributes
    ----------
    incidence_deg : float
    first, second : float
        Share of the screen's light in the image from the front face, and in those from the
        back face taken together; their sum is the reflectance of the whole pane.
    deeper_mm : float
        How far behind the first image, along the pane's normal, the second one lies.
    transmittance : float
        Of the scenery's (unpolarised) light.
    """

    incidence_deg: float
    first: float
    second: float
    deeper_mm: float
    transmittance: float


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """Box, pane and images in space (mm; x right, y up, z into the box), and their light.

    Attributes
    ----------
    box : tuple of float
        Inside width, height and depth.
    wall : float
        Thickness of the sheet that the box is built of.
    opening : Rectangle
    eye : Vector
        The middle eye position.
    sway : tuple of float
        How far the eye may move to each side, and up and down.
    screen, image : Panel
        The screen, and its image in the pane's front face.
    screen_shows : bool
        Whether the lit screen itself can be seen from somewhere.
    pane : Vector
        Corners (4, 3) of the pane's front face, all the way round.
    pane_normal : Vector
    thickness, index : float
        Of the pane.
    share_s : float
        Share of the screen's light that swings across the plane of incidence.
    white, screen_contrast : float
        Luminance of the screen's white, cd/m2, and how many times darker its black is.
    scenery : float
        Luminance of the scenery behind the ghost, cd/m2.
    reflectance : float
        Of the scenery, on the mean.
    lamps : tuple of tuple of float
        x, y, z and lumens of each.
    ground : float
        Height of the ground under the ghost's feet.
    floor : float
        Height at which the scene's floor is drawn: the ground where that is low, else 0.
    baffle : tuple of float or None
        The board that hides the screen: x and y of its lower left and upper right corner, and its depth.
    figure_mm : float
        Height of the figure on the ghost plane.
    factor : float
        Scene millimetres in one full-size millimetre at the ghost's depth.
    back_factor : float
        The same at the back wall.
    """

    box: tuple[float, float, float]
    wall: float
    opening: Rectangle
    eye: Vector
    sway: tuple[float, float]
    screen: Panel
    image: Panel
    screen_shows: bool
    pane: Vector
    pane_normal: Vector
    thickness: float
    index: float
    share_s: float
    white: float
    screen_contrast: float
    scenery: float
    reflectance: float
    lamps: tuple[tuple[float, float, float, float], ...]
    ground: float
    floor: float
    baffle: tuple[float, float, float, float, float] | None
    figure_mm: float
    factor: float
    back_factor: float

    def reflection(self, eye: Vector) -> Reflection:
        """Return what the pane does for an eye.

        Both faces reflect, each polarisation by itself: R from the front, and 2R/(1+R) in all
        (see `ghostprep.optics.fresnel`). Where the two rays leave the pane they are
        `doubling_mm` apart across the ray, so the second image lies deeper along the normal by
        that over the sine of the incidence.
        """
        sight = unit(self.image.centre - eye)
        incidence = math.degrees(math.acos(min(1.0, abs(float(sight @ self.pane_normal)))))
        whole = pane_reflectance(incidence, self.index)
        first = face_reflectance(incidence, self.index).mixed(self.share_s)
        sine = math.sin(math.radians(incidence))
        deeper = (
            2 * self.thickness / self.index  # the limit at normal incidence
            if sine < 1e-6
            else doubling_mm(incidence, self.index, self.thickness) / sine
        )
        return Reflection(incidence, first, whole.mixed(self.share_s) - first, deeper, 1 - whole.mixed(0.5))

    def second_image(self, reflection: Reflection) -> Panel:
        """Return the screen's image from the pane's back face, as an eye sees it."""
        image = self.image
        centre = image.centre - reflection.deeper_mm * self.pane_normal
        return Panel(centre, image.right, image.up, image.normal, image.active, image.raster)

    def visible_share(self, eye: Vector, px: Vector) -> float:
        """Return the share of raster positions (n, 2) that an eye sees in the pane, through the opening.

        Parameters
        ----------
        eye : Vector
        px : ndarray (n, 2)
            For instance a grid over the figure.
        """
        points = self.image.at(px)
        front = meet_plane(eye, points, vector((0.0, 0.0, 0.0)), vector((0.0, 0.0, -1.0)))
        o = self.opening
        seen = (front[:, 0] >= o.left) & (front[:, 0] <= o.right)
        seen &= (front[:, 1] >= o.low) & (front[:, 1] <= o.high)
        on_pane = meet_plane(eye, points, self.pane[0], self.pane_normal)
        slope, across = self.pane[1] - self.pane[0], self.pane[3] - self.pane[0]
        for edge in (slope, across):
            along = (on_pane - self.pane[0]) @ edge / float(edge @ edge)
            seen &= (along >= 0) & (along <= 1)
        return float(np.mean(seen))

    def as_dict(self) -> dict[str, object]:
        """Return the stage as plain numbers, for the page's script."""

        def panel(p: Panel) -> dict[str, object]:
            return {
                "centre": p.centre.tolist(),
                "right": p.right.tolist(),
                "up": p.up.tolist(),
                "normal": p.normal.tolist(),
                "active": list(p.active),
                "raster": list(p.raster),
            }

        o = self.opening
        return {
            "box": list(self.box),
            "wall": self.wall,
            "opening": [o.left, o.low, o.right, o.high],
            "eye": self.eye.tolist(),
            "sway": list(self.sway),
            "screen": panel(self.screen),
            "image": panel(self.image),
            "screen_shows": self.screen_shows,
            "pane": self.pane.tolist(),
            "pane_normal": self.pane_normal.tolist(),
            "thickness": self.thickness,
            "index": self.index,
            "share_s": self.share_s,
            "white": self.white,
            "screen_contrast": self.screen_contrast,
            "scenery": self.scenery,
            "reflectance": self.reflectance,
            "ground": self.ground,
            "floor": self.floor,
            "baffle": None if self.baffle is None else list(self.baffle),
            "figure_mm": self.figure_mm,
            "factor": self.factor,
        }


def stage_of(plan: Plan) -> Stage:
    """Return what the view needs of a plan."""
    scene, layout, light = plan.scene, plan.layout, plan.light
    whole = pane_reflectance(light.incidence_deg, scene.pane.index)
    spread = whole.s - whole.p
    share = 0.5 if spread < 1e-9 else (light.reflectance - whole.p) / spread
    lamps = tuple((*lamp.at, lamp.lumens) for lamp in scene.light.lamps)
    return Stage(
        box=(scene.box.width, scene.box.height, scene.box.depth),
        wall=scene.box.wall,
        opening=opening_of(scene),
        eye=layout.eye,
        sway=scene.viewer.sway,
        screen=layout.screen,
        image=layout.image,
        screen_shows=not plan.sight.screen_hidden,
        pane=plan.pane.corners,
        pane_normal=layout.pane_normal,
        thickness=scene.pane.thickness,
        index=scene.pane.index,
        share_s=min(max(share, 0.0), 1.0),
        white=scene.screen.luminance,
        screen_contrast=scene.screen.contrast,
        scenery=light.scenery,
        reflectance=scene.light.reflectance,
        lamps=lamps,
        ground=plan.figure.feet_mm,
        floor=plan.figure.feet_mm if 0 < plan.figure.feet_mm < _LOW_GROUND * scene.box.height else 0.0,
        baffle=_board(plan),
        figure_mm=plan.figure.height_mm,
        factor=1 / plan.figure.scale,
        back_factor=_factor_at(scene.scale, scene.box.depth, 1 / plan.figure.scale),
    )


def _board(plan: Plan) -> tuple[float, float, float, float, float] | None:
    baffle, (width, height) = plan.sight.baffle, (plan.scene.box.width, plan.scene.box.height)
    if baffle is None:
        return None
    low, high, reach = baffle.low_mm, baffle.high_mm, baffle.reach_mm
    x0, y0, x1, y1 = {
        "left": (-width / 2, low, reach - width / 2, high),
        "right": (width / 2 - reach, low, width / 2, high),
        "floor": (low, 0.0, high, reach),
        "ceiling": (low, height - reach, high, height),
    }[baffle.wall]
    return x0, y0, x1, y1, baffle.depth_mm


def _factor_at(scale: Scale, depth: float, fallback: float) -> float:
    try:
        return scale.at(depth)
    except ValueError:
        return fallback  # the forced perspective ends before the back wall
