"""The builder's own photograph of the box as the scenery of the view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Doubles, Floats, Frame, Light
from ghostprep.errors import InputError
from ghostprep.eye.paint import read_photo
from ghostprep.optics import Plan
from ghostprep.optics.sightlines import opening_of
from ghostprep.optics.vectors import Vector
from ghostprep.transfer import codes_to_light, luminance

_LONGEST_PX: Final = 1200
"""Longer side of a photograph as it is used: more than the page shows of it."""
_RUN: Final = 30_000
"""OpenCV's remap takes pictures of fewer than 32768 columns."""
_LEAST_SHARE, _MOST_SHARE = 0.06, 0.97
"""Share of the photograph that an opening fills: a knob fills less, the photograph's own edge more."""
_ASPECT_WITHIN: Final = 1.6
"""Times by which the opening's shape may be off: a box that is seen from aside looks narrower."""
_BEYOND: Final = 0.1
"""A corner may lie outside the photograph by this share of its longer side."""
_LEAST_PX: Final = 64
"""Shorter side of a photograph, and of the opening in it, in which one can tell what stands where."""
_FILLED: Final = 0.8
"""Part of its hull that an outline encloses, if it is no open line."""


def find_opening(photo: Frame, aspect: float) -> Floats | None:
    """Find the opening of the box in a photograph taken from the front.

    Parameters
    ----------
    photo : ndarray of uint8 (h, w, 3)
    aspect : float
        Width over height of the opening.

    Returns
    -------
    ndarray of float32 (4, 2) or None
        Top left, top right, bottom right, bottom left; None if no four-sided outline of
        about that shape stands out.
    """
    grey = cv2.GaussianBlur(cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY), (0, 0), 1.5)
    whole = grey.shape[0] * grey.shape[1]
    best: tuple[float, Floats] | None = None
    level, _ = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    edges = cv2.dilate(cv2.Canny(grey, 30, 90), np.ones((3, 3), np.uint8))
    for mask in (edges, (grey > level).astype(np.uint8), (grey <= level).astype(np.uint8)):
        outlines, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
        for outline in outlines:
            hull = cv2.convexHull(outline)
            four = cv2.approxPolyDP(hull, 0.03 * cv2.arcLength(hull, True), True)
            share = cv2.contourArea(hull) / whole
            if len(four) != 4 or not _LEAST_SHARE < share < _MOST_SHARE:
                continue
            corners = _ordered(four.reshape(4, 2).astype(np.float32))
            off = max(_aspect(corners) / aspect, aspect / _aspect(corners))
            filled = cv2.contourArea(outline) / max(cv2.contourArea(hull), 1)
            if off > _ASPECT_WITHIN or filled < _FILLED:
                continue
            # of two that fit alike, the larger one
            score = (off - 1) - 0.2 * share
            if best is None or score < best[0]:
                best = score, corners
    return None if best is None else best[1]


def _ordered(four: Floats) -> Floats:
    by_height = four[np.argsort(four[:, 1])]
    top, bottom = (pair[np.argsort(pair[:, 0])] for pair in (by_height[:2], by_height[2:]))
    return np.vstack([top, bottom[::-1]])


def _aspect(c: Floats) -> float:
    return max(_wide(c), 1e-3) / max(_high(c), 1e-3)


def _wide(c: Floats) -> float:
    return float(np.linalg.norm(c[1] - c[0]) + np.linalg.norm(c[2] - c[3])) / 2


def _high(c: Floats) -> float:
    return float(np.linalg.norm(c[3] - c[0]) + np.linalg.norm(c[2] - c[1])) / 2


def _check_size(what: str, size: tuple[int, int], path: Path) -> None:
    if min(size) < _LEAST_PX:
        raise InputError(
            f"{what} has {size[0]}x{size[1]} px, too few to see the box in; it takes {_LEAST_PX} at least",
            where=str(path),
            remedy="give the photograph as the camera saved it, taken so near that the opening fills it",
        )


@dataclass(frozen=True, slots=True, eq=False)
class PhotoScenery:
    """A photograph taken from the middle eye, laid at the ghost's depth.

    From the middle eye the opening shows the photograph as it is; from other eyes it
    moves as what stands at the ghost's depth would, so that the ghost keeps its place in it.
    """

    plan: Plan
    photo: Frame
    """(h, w, 3)."""
    to_photo: Doubles
    """(3, 3): from the opening's plane (mm, y up) to the photograph's pixels."""
    gain: float
    """cd/m2 of the photograph's white, so that the part behind the ghost has the scene's luminance."""

    def light(self, eye: Vector, ways: Vector) -> Light:
        """Return its luminance (n, 3) along ways from an eye, linear RGB in cd/m2, without the pane."""
        front = eye[:2] + ways[:, :2] * (-eye[2] / ways[:, 2:])
        o = opening_of(self.plan.scene)
        inside = (front > (o.left, o.low)).all(axis=1) & (front < (o.right, o.high)).all(axis=1)
        place = np.where(inside[:, None], self._as_from_the_middle(eye, front), front)
        px = place @ self.to_photo[:, :2].T + self.to_photo[:, 2]
        x, y = ((px[:, :2] / px[:, 2:] - 0.5).astype(np.float32)).T.reshape(2, 1, -1)
        light = _remapped(codes_to_light(self.photo), x, y)
        return np.asarray(light * np.float32(self.gain), np.float32)

    def _as_from_the_middle(self, eye: Vector, front: Vector) -> Vector:
        depth, middle = float(self.plan.layout.ghost[2]), self.plan.layout.eye
        there = eye[:2] + (front - eye[:2]) * ((depth - eye[2]) / -eye[2])
        back: Vector = middle[:2] + (there - middle[:2]) * (-middle[2] / (depth - middle[2]))
        return back


def _remapped(picture: Light, x: Light, y: Light) -> Light:
    """Return values (n, 3) at places (1, n) in px, in runs that the remapping takes."""
    runs = [
        cv2.remap(
            picture, x[:, k : k + _RUN], y[:, k : k + _RUN], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        for k in range(0, x.shape[1], _RUN)
    ]
    return np.asarray(np.concatenate(runs, axis=1)[0], np.float32)


def photo_scenery(
    plan: Plan, path: Path, corners: Sequence[tuple[float, float]] | None = None
) -> PhotoScenery:
    """Return a photograph as scenery.

    Parameters
    ----------
    path : Path
        A photograph of the box from the viewer's place, without the pane or with the screen off.
    corners : sequence of four (x, y), optional
        Where the opening's corners lie in the file, px: top left, top right, bottom right,
        bottom left. Left out: the opening is looked for.

    Raises
    ------
    InputError
        No picture, too small a one, no opening found, or corners that enclose nothing.
    """
    photo, shrink = read_photo(path, _LONGEST_PX)
    high, wide = (round(side / shrink) for side in photo.shape[:2])
    _check_size("it", (wide, high), path)
    o = opening_of(plan.scene)
    if corners is not None:
        own = np.array(corners, np.float32)
        # the other way round they would show the box mirrored
        if cv2.contourArea(own, oriented=True) <= 0 or not cv2.isContourConvex(own):
            raise InputError(
                "the four corners enclose no four-sided area clockwise",
                where=str(path),
                remedy="give them in the order top left, top right, bottom right, bottom left",
            )
        beyond = float(np.maximum(-own, own - (wide, high)).max())
        if beyond > _BEYOND * max(wide, high):
            raise InputError(
                f"a corner lies {beyond:.0f} px outside the photograph, which has {wide}x{high} px",
                where=str(path),
                remedy="give the corners in this photograph's own px",
            )
        _check_size("the opening in it", (round(_wide(own)), round(_high(own))), path)
        at = own * np.float32(shrink)
    else:
        found = find_opening(photo, (o.right - o.left) / (o.high - o.low))
        if found is None:
            raise InputError(
                "the box's opening was not found in the photograph",
                where=str(path),
                remedy="name its corners in px: --corners X,Y X,Y X,Y X,Y from the top left, clockwise",
            )
        at = found
    plane = np.array([(o.left, o.high), (o.right, o.high), (o.right, o.low), (o.left, o.low)], np.float32)
    to_photo = cv2.getPerspectiveTransform(plane, at).astype(np.float64)
    return PhotoScenery(plan, photo, to_photo, _gain(plan, photo, to_photo))


def _gain(plan: Plan, photo: Frame, to_photo: Doubles) -> float:
    """Return cd/m2 of white so that the photograph's mean behind the figure is the scenery's luminance."""
    eye, centre = plan.layout.eye, plan.layout.ghost
    x = centre[0] + np.linspace(-0.25, 0.25, 9) * plan.figure.height_mm
    y = plan.figure.feet_mm + np.linspace(0.05, 0.95, 15) * plan.figure.height_mm
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    front = eye[:2] + (grid - eye[:2]) * (-eye[2] / (centre[2] - eye[2]))
    px = front @ to_photo[:, :2].T + to_photo[:, 2]
    px = px[:, :2] / px[:, 2:]
    rows, columns = photo.shape[:2]
    here = photo[np.clip(px[:, 1].astype(int), 0, rows - 1), np.clip(px[:, 0].astype(int), 0, columns - 1)]
    mean = float(luminance(codes_to_light(here)).mean())
    return plan.light.scenery / max(mean, 0.002)
