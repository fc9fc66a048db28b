"""A picture of the backing brought onto the clip: the camera was touched between, or its exposure changed."""

from __future__ import annotations

from typing import Final, NamedTuple

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.channels import largest_channel
from ghostprep.picture.key.keyed import as_bytes, floats, to_codes
from ghostprep.transfer import codes_to_light, from_linear

_QUIET: Final = 10.0
"""Codes of spread over time up to which a place shows no figure, whatever it may show."""
_ENOUGH: Final = 0.1
"""Part of the picture that must be quiet."""
_COARSE: Final = 4
"""The way is found on a picture this much smaller first: far moves look like near ones there."""
_FARTHEST: Final = 0.12
"""Move of a corner, as a share of the picture's width, beyond which it is another view."""
_NEAREST: Final = 0.25
"""Pixels of the clip's glimpses below which moving the picture would only soften it."""
_ALIKE: Final = 0.02
"""Gain in correlation from which a move is believed where the pictures already agree a little."""
_SAME_LIGHT: Final = 0.03
"""Difference of a channel's light, as a share, that does not count as another exposure."""
_DARK, _BRIGHT = 12, 243
"""Codes outside which a pixel says little about exposure."""


class Match(NamedTuple):
    """How a picture was brought onto a clip."""

    picture: Floats
    """(h, w, 3): R'G'B' codes, as the clip would show it."""
    moved: float
    """By how much of the picture's width the corner that moved most did, 0 for none."""
    gain: float
    """Light of the clip over that of the picture, 1 for the same."""


def matched(picture: Floats, frames: Frame) -> Match:
    """Bring a picture of the backing alone onto a clip.

    Parameters
    ----------
    picture : ndarray of float32 (h, w, 3)
        R'G'B' codes, of the clip's shape, any size.
    frames : ndarray of uint8 (n, h, w, 3)
        Glimpses over the whole clip.

    Notes
    -----
    The move is affine and maximises the correlation of the picture with the clip's median over time, where
    that is quiet: Evangelidis and Psarakis, "Parametric image alignment using enhanced correlation
    coefficient maximization", IEEE TPAMI 30 (10), 2008. It does not depend on the light, which is compared
    afterwards, channel by channel.
    """
    usual = as_bytes(np.median(frames, axis=0).astype(np.uint8))
    spread = np.zeros(usual.shape[:2], np.float32)
    for frame in frames:
        cv2.accumulate(largest_channel(as_bytes(cv2.absdiff(frame, usual))), spread)
    quiet = (cv2.blur(spread, (5, 5)) < _QUIET * len(frames)).astype(np.uint8)
    if quiet.mean() < _ENOUGH:
        return Match(picture, 0.0, 1.0)
    h, w = usual.shape[:2]
    small = to_codes(cv2.resize(picture, (w, h), interpolation=cv2.INTER_AREA))
    way = _way(_grey(small), _grey(usual), quiet)
    far = 0.0
    if way is not None:
        far = _corner_move(way, (w, h))
        picture, small = _moved(picture, way, (w, h)), to_codes(_moved(floats(small), way, (w, h)))
    gains = _gains(small, usual, quiet > 0)
    if np.abs(gains - 1).max() < _SAME_LIGHT:
        return Match(picture, far / w, 1.0)
    light = codes_to_light(to_codes(picture)) * gains
    return Match(floats(from_linear(light) * 255), far / w, float(gains[1]))


def _grey(codes: Frame) -> Floats:
    return floats(cv2.cvtColor(codes, cv2.COLOR_RGB2GRAY))


def _way(picture: Floats, usual: Floats, quiet: Frame) -> Floats | None:
    """Return the affine map (2, 3) from the clip's pixels to the picture's; None for no move."""
    way = np.eye(2, 3, dtype=np.float32)
    for shrink in (_COARSE, 1):
        size = (usual.shape[1] // shrink, usual.shape[0] // shrink)
        one, other, mask = (
            cv2.resize(x, size, interpolation=cv2.INTER_AREA if x.dtype == np.float32 else cv2.INTER_NEAREST)
            for x in (usual, picture, quiet)
        )
        way[:, 2] /= shrink
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 100, 1e-5)
        try:
            _, found = cv2.findTransformECC(one, other, way, cv2.MOTION_AFFINE, stop, mask, 5)
        except cv2.error:
            return None  # the pictures have nothing in common
        way = floats(found)
        way[:, 2] *= shrink
    size = (usual.shape[1], usual.shape[0])
    # what the search returns is the correlation before its last step: of a small move, hardly any better
    before, after = (cv2.computeECC(usual, x, quiet) for x in (picture, _moved(picture, way, size)))
    if not _NEAREST < _corner_move(way, size) < _FARTHEST * size[0] or after < before + _ALIKE * (1 - before):
        return None
    return way


def _corner_move(way: Floats, size: tuple[int, int]) -> float:
    corners = np.array([[x, y, 1] for x in (0, size[0]) for y in (0, size[1])], np.float32)
    return float(np.linalg.norm(corners @ way.T - corners[:, :2], axis=1).max())


def _moved(picture: Floats, way: Floats, size: tuple[int, int]) -> Floats:
    """Return a picture moved by a map that holds at another size (w, h)."""
    h, w = picture.shape[:2]
    # pixels are counted at their middles
    across, down = w / size[0], h / size[1]
    up = np.array([[across, 0, (across - 1) / 2], [0, down, (down - 1) / 2], [0, 0, 1]])
    whole = up @ np.vstack([way, (0, 0, 1)]) @ np.linalg.inv(up)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    moved = floats(cv2.warpAffine(picture, whole[:2], (w, h), flags=flags, borderMode=cv2.BORDER_REPLICATE))
    return floats(np.clip(moved, 0, 255, out=moved))


def _gains(picture: Frame, usual: Frame, quiet: npt.NDArray[np.bool_]) -> Floats:
    """Return the clip's light over the picture's, (3,)."""
    told = quiet[..., None] & (np.minimum(picture, usual) > _DARK) & (np.maximum(picture, usual) < _BRIGHT)
    ratio = codes_to_light(usual) / np.maximum(codes_to_light(picture), 1e-4)
    count = _ENOUGH * quiet.size
    return floats(
        [
            float(np.median(ratio[..., c][told[..., c]])) if told[..., c].sum() > count else 1.0
            for c in range(3)
        ]
    )
