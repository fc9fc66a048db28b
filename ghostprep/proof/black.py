"""Whether the picture outside the figure decodes to true black."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Frame, Mask
from ghostprep.black import BLOCK_PX, LEAST_FAR, LEAST_NEAR, LEAST_NEAR_BLOCKS, NEAR_PX, NEUTRAL
from ghostprep.box import Box
from ghostprep.finding import Finding
from ghostprep.verdict import Proof


class BlackProof:
    """Counts the pixels outside the figure that decode to black exactly.

    Parameters
    ----------
    full_range : bool
        Whether the file's black is luma 0 (full range) instead of 16 (limited range).
    blocks : bool
        Whether it is coded in whole macroblocks of one quantiser (JPEG, MPEG-1 and -4): there the
        residue reaches farther, and none of them can be spared it.

    Notes
    -----
    Black is luma 16 (0 in full range) with both chroma samples at 128 (ITU-R
    BT.709-6, item 4.5). With 4:2:0 sampling a pixel has the chroma of its block of 2x2.
    """

    def __init__(self, *, full_range: bool, blocks: bool = False) -> None:
        self._near_px = BLOCK_PX if blocks else NEAR_PX
        self._least_near = LEAST_NEAR_BLOCKS if blocks else LEAST_NEAR
        self._black = 0 if full_range else 16
        self._near = np.zeros(2, np.int64)  # pixels seen, pixels exact
        self._far = np.zeros(2, np.int64)
        self._worst = (1.0, 0)
        self._frames = 0

    def add(self, planes: Frame, figure: Mask) -> None:
        """Take in a decoded frame, planar 4:2:0 (h * 3 // 2, w), and the mask (h, w) of what is not black."""
        height, width = figure.shape
        if height % 2 or width % 2 or planes.shape != (height * 3 // 2, width):
            raise ValueError(f"planes are {planes.shape}, they must be ({height * 3 // 2}, {width}) and even")
        halves = _equal(planes[height:], NEUTRAL).reshape(2, height // 2, width // 2)
        # a sixth of the time of two repeats
        neutral = cv2.resize(halves[0] & halves[1], (width, height), interpolation=cv2.INTER_NEAREST)
        exact = np.asarray(cv2.bitwise_and(_equal(planes[:height], self._black), neutral), np.uint8)
        # what lies around the figure is counted by what is left of the whole
        inside = figure.view(np.uint8)
        box = Box(*cv2.boundingRect(inside)).grown(self._near_px).within((width, height))
        part = np.s_[box.y : box.bottom, box.x : box.right]
        reach = 2 * self._near_px + 1
        grown = cv2.dilate(inside[part], np.ones((reach, reach), np.uint8))
        near = cv2.subtract(grown, inside[part])
        close, around = (
            np.array([cv2.countNonZero(m), cv2.countNonZero(cv2.bitwise_and(exact[part], m))])
            for m in (near, grown)
        )
        self._near += close
        beyond = np.array([exact.size, cv2.countNonZero(exact)]) - around
        self._far += beyond
        self._worst = min(self._worst, (_share(beyond), self._frames))
        self._frames += 1

    def shares(self) -> tuple[float, float]:
        """Return the shares (0..1) of exact black near the figure and far from it."""
        return _share(self._near), _share(self._far)

    def proofs(self) -> list[Proof]:
        """Return ``black`` (every pixel outside the figure), ``black near`` and ``black far``."""
        near, far, every = _share(self._near), _share(self._far), _share(self._near + self._far)
        least = self._least_near
        reached = near >= least and far >= LEAST_FAR
        return [
            Proof("black", every, "", "both shares below hold", reached),
            Proof("black near", near, "", f"at least {least:.0%} within {self._near_px} px", near >= least),
            Proof(
                "black far", far, "", f"at least {LEAST_FAR:.1%} beyond {self._near_px} px", far >= LEAST_FAR
            ),
        ]

    def findings(self) -> list[Finding]:
        """Return what to tell the builder; empty if black is black."""
        if all(proof.passed for proof in self.proofs()):
            return []
        share, frame = self._worst
        near, far = self.shares()
        text = (
            f"only {near:.1%} of the pixels close to the figure are exactly black, {far:.2%} of those "
            f"farther away, {share:.2%} in frame {frame}: a grey shimmer shows around the figure"
        )
        remedy = "use a --player that takes more bits, a lower --fps or a smaller figure"
        return [Finding("fault", "black", text, remedy)]


def _equal(plane: Frame, code: int) -> Frame:
    """Return 255 where a plane has a code, else 0."""
    return np.asarray(cv2.inRange(plane, np.array(code), np.array(code)), np.uint8)


def _share(counts: npt.NDArray[np.int64]) -> float:
    return float(counts[1] / counts[0]) if counts[0] else 1.0
