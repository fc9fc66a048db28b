"""The builder's own photograph of the box as the scenery of the view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.errors import InputError
from ghostprep.eye.rays import Sight, Surface
from ghostprep.eye.stage import Stage
from ghostprep.transfer import codes_to_light, luminance

Codes = npt.NDArray[np.uint8]
Light = npt.NDArray[np.float32]
Corners = npt.NDArray[np.float32]

_LONGEST_PX: Final = 1200
_LARGEST_BYTES: Final = 100_000_000
_LEAST_SHARE: Final = 0.06
_MOST_SHARE: Final = 0.97
_ASPECT_WITHIN: Final = 1.6


def read_photo(path: Path) -> tuple[Codes, float]:
    """Read a photograph, turned upright by its own tag.

    Returns
    -------
    photo : ndarray of uint8 (h, w, 3)
        RGB, its longer side at most 1200 px.
    shrink : float
        Its size over the file's.

    Raises
    ------
    InputError
        The file is missing or holds no picture.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise InputError("is larger than 100 MB", where=str(path), remedy="save a smaller copy")
        data = np.frombuffer(path.read_bytes(), np.uint8)
    except OSError as error:
        raise InputError(error.strerror or "cannot be read", where=str(path)) from None
    try:
        picture = cv2.imdecode(data, cv2.IMREAD_COLOR) if len(data) else None
    except cv2.error:
        picture = None  # more pixels than the decoder takes
    if picture is None:
        raise InputError(
            "is not a picture that can be read", where=str(path), remedy="give a JPEG or PNG file"
        )
    shrink = min(1.0, _LONGEST_PX / max(picture.shape[:2]))
    if shrink < 1:
        size = max(round(picture.shape[1] * shrink), 1), max(round(picture.shape[0] * shrink), 1)
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.ascontiguousarray(picture[..., ::-1], np.uint8), shrink


def find_opening(photo: Codes, aspect: float) -> Corners | None:
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
    best: tuple[float, Corners] | None = None
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
            if off > _ASPECT_WITHIN or filled < 0.8:
                continue
            score = (off - 1) - 0.2 * share
            if best is None or score < best[0]:
                best = score, corners
    return None if best is None else best[1]


def _ordered(four: Corners) -> Corners:
    by_height = four[np.argsort(four[:, 1])]
    top, bottom = by_height[:2], by_height[2:]
    return np.array(
        [
            top[top[:, 0].argmin()],
            top[top[:, 0].argmax()],
            bottom[bottom[:, 0].argmax()],
            bottom[bottom[:, 0].argmin()],
        ],
        np.float32,
    )


def _aspect(c: Corners) -> float:
    wide = float(np.linalg.norm(c[1] - c[0]) + np.linalg.norm(c[2] - c[3]))
    high = float(np.linalg.norm(c[3] - c[0]) + np.linalg.norm(c[2] - c[1]))
    return max(wide, 1e-3) / max(high, 1e-3)


@dataclass(frozen=True, eq=False)
class PhotoScenery:
    """A photograph taken from the middle eye, laid at the ghost's depth.

    From the middle eye the opening shows the photograph as it is; from other eyes it
    moves as what stands at the ghost's depth would, so that the ghost keeps its place in it.

    Attributes
    ----------
    stage : Stage
    photo : ndarray of uint8 (h, w, 3)
    to_photo : ndarray of float64 (3, 3)
        From the opening's plane (mm, y up) to the photograph's pixels.
    gain : float
        cd/m2 of the photograph's white, so that the part behind the ghost has the scene's luminance.
    """

    stage: Stage
    photo: Codes
    to_photo: npt.NDArray[np.float64]
    gain: float

    def light(self, sight: Sight, lamps: float, room: float) -> Light:
        """See `ghostprep.eye.view.Scenery`; the front of the box is lit by the room."""
        front = sight.front.astype(np.float64)
        inside = (sight.surface != Surface.FRONT) & (sight.surface != Surface.ROOM)
        place = np.where(inside[..., None], self._as_from_the_middle(sight.eye, front), front)
        px = place @ self.to_photo[:, :2].T + self.to_photo[:, 2]
        px = (px[..., :2] / px[..., 2:] - 0.5).astype(np.float32)
        linear = codes_to_light(self.photo)
        light = cv2.remap(linear, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(light * np.float32(self.gain * lamps), np.float32)

    def _as_from_the_middle(
        self, eye: npt.NDArray[np.float64], front: npt.NDArray[np.float64]
    ) -> npt.NDArray[np.float64]:
        depth, middle = float(self.stage.image.centre[2]), self.stage.eye
        there = eye[:2] + (front - eye[:2]) * ((depth - eye[2]) / -eye[2])
        back: npt.NDArray[np.float64] = middle[:2] + (there - middle[:2]) * (-middle[2] / (depth - middle[2]))
        return back


def photo_scenery(
    stage: Stage, path: Path, corners: Sequence[tuple[float, float]] | None = None
) -> PhotoScenery:
    """Return a photograph as scenery.

    Parameters
    ----------
    stage : Stage
    path : Path
        A photograph of the box from the viewer's place, without the pane or with the screen off.
    corners : sequence of four (x, y), optional
        Where the opening's corners lie in the file, px: top left, top right, bottom right,
        bottom left. Left out: the opening is looked for.

    Raises
    ------
    InputError
        No picture, no opening found, or corners that enclose nothing.
    """
    photo, shrink = read_photo(path)
    o = stage.opening
    if corners is not None:
        at = np.array(corners, np.float32) * np.float32(shrink)
        if cv2.contourArea(at) < 16 or not cv2.isContourConvex(at):
            raise InputError(
                "the four corners enclose no four-sided area",
                where=str(path),
                remedy="give them in the order top left, top right, bottom right, bottom left",
            )
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
    return PhotoScenery(stage, photo, to_photo, _gain(stage, photo, to_photo))


def _gain(stage: Stage, photo: Codes, to_photo: npt.NDArray[np.float64]) -> float:
    """Return cd/m2 of white so that the photograph's mean behind the figure is the scenery's luminance."""
    eye, centre = stage.eye, stage.image.centre
    x = centre[0] + np.linspace(-0.25, 0.25, 9) * stage.figure_mm
    y = stage.ground + np.linspace(0.05, 0.95, 15) * stage.figure_mm
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    front = eye[:2] + (grid - eye[:2]) * (-eye[2] / (centre[2] - eye[2]))
    px = front @ to_photo[:, :2].T + to_photo[:, 2]
    px = px[:, :2] / px[:, 2:]
    rows, columns = photo.shape[:2]
    here = photo[np.clip(px[:, 1].astype(int), 0, rows - 1), np.clip(px[:, 0].astype(int), 0, columns - 1)]
    mean = float(luminance(codes_to_light(here)).mean())
    return stage.scenery / max(mean, 0.002)
