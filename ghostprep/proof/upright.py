"""Whether the decoded file, seen through the scene's optics, stands as it was shot."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Doubles, Floats, Frame
from ghostprep.black import LIT_CODE
from ghostprep.channels import largest_channel
from ghostprep.finding import Finding, Level
from ghostprep.verdict import Proof

_SIDE: Final = 96  # pixels along each side of the compared pictures
_SAME: Final = 0.005
"""Two likenesses no farther apart than this are the same, even where coding cost nothing: it is what
bringing a round figure to one size costs."""
UNTOLD: Final = "cannot be told"
_TURNS: Final = ("turned 90 degrees", "turned 180 degrees", "turned 270 degrees")
ORIENTATIONS: Final = ("as shot", *_TURNS, "mirrored", *(f"mirrored and {turn}" for turn in _TURNS))
"""The eight flips and turns; turns are clockwise, after the mirroring (left with right)."""


def mount_homography(raster: tuple[int, int], *, mirrored: bool, quarter_turns: int) -> Doubles:
    """Return the map (3, 3) from the seen picture to the raster where no scene is known.

    Parameters
    ----------
    raster : (int, int)
        Width and height in pixels.
    mirrored : bool
        Whether the picture is mirrored left-right on its way to the eye.
    quarter_turns : int
        Clockwise quarter turns that the upright (and, if so, mirrored) picture gets to become the raster.

    Returns
    -------
    ndarray (3, 3)
        From the seen picture (units of pixels, x right, y up, origin at its bottom
        left corner) to raster pixels (y down, origin at the top left corner): the
        same convention as a scene's homography, with pixels for millimetres.
    """
    width, height = raster if quarter_turns % 2 == 0 else raster[::-1]
    to_raster = np.array([[1, 0, 0], [0, -1, height], [0, 0, 1]], float)  # y down
    if mirrored:
        to_raster = np.array([[-1, 0, width], [0, 1, 0], [0, 0, 1]], float) @ to_raster
    for _ in range(quarter_turns % 4):
        # one turn clockwise takes (x, y) of a picture `height` tall to (height - y, x)
        to_raster = np.array([[0, -1, height], [1, 0, 0], [0, 0, 1]], float) @ to_raster
        width, height = height, width
    return to_raster


def as_seen(frame: Frame, homography: Doubles) -> Frame:
    """Return a raster frame, (h, w) or (h, w, 3), as the eye sees it: upright, about as many pixels."""
    onto, size = _onto_raster((frame.shape[1], frame.shape[0]), homography)
    seen = cv2.warpPerspective(frame, onto, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    return np.asarray(seen, np.uint8)


def _onto_raster(raster: tuple[int, int], homography: Doubles) -> tuple[Doubles, tuple[int, int]]:
    """Return the map (3, 3) from pixels of the seen picture to the raster's, and that picture's size."""
    width, height = raster
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    plane = _through(np.linalg.inv(homography).astype(np.float64), corners)
    low, high = plane.min(axis=0), plane.max(axis=0)
    pitch = float(np.sqrt(np.prod(high - low) / (width * height)))
    columns, rows = (max(round(side / pitch), 1) for side in high - low)
    x, y = (high - low) / (columns, rows)
    # whole numbers are the middles of pixels, which are half a pixel from their corners
    to_plane = np.array([[x, 0, low[0] + x / 2], [0, -y, high[1] - y / 2], [0, 0, 1]])
    to_middle = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
    return to_middle @ homography @ to_plane, (columns, rows)


class UprightProof:
    """Compares seen frames with the figure as shot over all eight flips and turns.

    Parameters
    ----------
    homography : ndarray (3, 3)
        From the ghost plane (x right, y up) to raster pixels: the scene's, from ray
        tracing, so that the proof does not lean on the code that placed the figure;
        without a scene `mount_homography`.

    Notes
    -----
    Both pictures are cut to what is lit, brought to one size and compared by the
    correlation coefficient of their signals, so placing and scale do not matter.
    """

    def __init__(self, homography: Doubles) -> None:
        self._homography = np.asarray(homography, np.float64)
        self._scores = np.zeros(8)
        self._frames = 0

    def add(self, decoded: Frame, figure: Frame) -> None:
        """Take in one decoded frame and its figure on black as shot, not yet mirrored or turned, of any size.

        A few frames spread over the loop are enough.
        """
        seen = _cut(as_seen(_grey(decoded), self._homography))
        shot = _cut(_grey(figure))
        if seen is None or shot is None:
            return
        self._scores += [_likeness(eighth, shot) for eighth in _eighths(seen)]
        self._frames += 1

    def best(self) -> str:
        """Return the orientation, one of `ORIENTATIONS`, in which the ghost is seen."""
        return ORIENTATIONS[int(np.argmax(self._scores))] if self._frames else ORIENTATIONS[0]

    def proof(self) -> Proof:
        """Return ``upright``: passed if the best of the eight is "as shot", or the figure looks the same."""
        best = self.best() if self._frames else "nothing is lit"
        if self._frames and self._untold():
            return Proof("upright", UNTOLD, "", f"{ORIENTATIONS[0]}, where it can be told", passed=True)
        return Proof("upright", best, "", ORIENTATIONS[0], best == ORIENTATIONS[0])

    def _untold(self) -> bool:
        """Return whether "as shot" and another are alike, within what coding took from the likeness."""
        scores = self._scores / self._frames
        as_shot, other = float(scores[0]), float(scores[1:].max())
        return abs(as_shot - other) <= max(1 - max(as_shot, other), _SAME)

    def findings(self) -> list[Finding]:
        """Return what to tell the builder; empty if the ghost stands upright."""
        level: Level = "fault"
        proof, remedy = self.proof(), "look at --crop, --backing and --gain"
        if proof.value == UNTOLD:
            level, remedy = "note", "make a chart for the scene: its letters tell"
            text = "the figure looks the same turned or mirrored: which way up it is seen cannot be told"
        elif proof.passed:
            return []
        elif not self._frames:
            text = "nothing is lit: the screen stays black"
        else:
            text = f"the eye would see the figure {proof.value}"
            remedy = "make a chart for the scene and answer its questions: they correct the mount"
        return [Finding(level, "upright", text, remedy)]


def _eighths(picture: Floats) -> list[Floats]:
    """Undo each of `ORIENTATIONS` on a square picture."""
    turned = [np.rot90(picture, turns) for turns in range(4)]
    return [*turned, *(view[:, ::-1] for view in turned)]


def _grey(frame: Frame) -> Frame:
    return frame if frame.ndim == 2 else largest_channel(frame[..., :3])


def _cut(grey: Frame) -> Floats | None:
    """Cut a picture to what is lit and bring it to one size; None if nothing is."""
    lit = grey >= LIT_CODE
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    if not len(rows):
        return None
    part = grey[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1].astype(np.float32)
    return cv2.resize(part, (_SIDE, _SIDE), interpolation=cv2.INTER_AREA).astype(np.float32)


def _likeness(a: Floats, b: Floats) -> float:
    a, b = a - a.mean(), b - b.mean()
    scale = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / scale if scale else 0.0


def _through(homography: Doubles, points: Doubles) -> Doubles:
    moved = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(moved[:, :2] / moved[:, 2:], np.float64)
