"""Which backing a clip has, seen from glimpses over its whole length."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.picture.key.backing import Backing, Kind
from ghostprep.picture.key.hue import luma_chroma
from ghostprep.picture.key.keyed import floats

_HUE_HALF_ANGLE = np.deg2rad(22)


def as_hex(colour: npt.NDArray[np.generic]) -> str:
    """Return R'G'B' codes (3,) as ``#rrggbb``."""
    r, g, b = (int(c) for c in np.clip(np.rint(np.asarray(colour, np.float64)), 0, 255))
    return f"#{r:02x}{g:02x}{b:02x}"


def name_of(colour: npt.NDArray[np.generic]) -> Kind:
    """Return the trade name of a backing's colour: green, blue or just a colour."""
    _, cb, cr = luma_chroma(colour)
    angle = float(np.rad2deg(np.arctan2(cr, cb))) % 360
    # pure green lies at 230 degrees in the BT.709 CbCr plane, pure blue at 355
    if abs(angle - 228) < 22:
        return "green"
    return "blue" if abs((angle - 352 + 180) % 360 - 180) < 22 else "colour"


def near_hue(codes: npt.NDArray[np.generic], colour: npt.NDArray[np.generic]) -> npt.NDArray[np.bool_]:
    """Return where codes (..., 3) have the hue of `colour` and at least half its chroma."""
    ycc = luma_chroma(codes)
    _, cb, cr = luma_chroma(colour)
    length = float(np.hypot(cb, cr))
    along = (ycc[..., 1] * cb + ycc[..., 2] * cr) / length
    across = (ycc[..., 2] * cb - ycc[..., 1] * cr) / length
    return np.asarray((along > 0.5 * length) & (np.abs(across) < np.tan(_HUE_HALF_ANGLE) * along), np.bool_)


def commonest_hue(frames: npt.NDArray[np.uint8]) -> npt.NDArray[np.float32] | None:
    """Return the R'G'B' colour (3,) of the largest heap of coloured pixels, None if there is none."""
    ycc = luma_chroma(frames).reshape(-1, 3)
    coloured = np.hypot(ycc[:, 1], ycc[:, 2]) > 9
    if coloured.mean() < 0.08:
        return None
    bins = np.clip((ycc[coloured, 1:] + 128) / 4, 0, 63).astype(np.int32)
    heap = np.bincount(bins[:, 0] * 64 + bins[:, 1], minlength=4096).reshape(64, 64).astype(np.float32)
    peak = np.unravel_index(int(np.argmax(cv2.GaussianBlur(heap, (0, 0), 1.2))), heap.shape)
    near = np.hypot(*(bins - np.array(peak)).T) < 4
    return floats(np.median(frames.reshape(-1, 3)[coloured][near], axis=0))


def detect(frames: npt.NDArray[np.uint8]) -> Backing:
    """Tell the backing of a clip.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Small glimpses over the whole clip.
    """
    luma = luma_chroma(frames)[..., 0]
    spread = frames.max(-1).astype(np.int16) - frames.min(-1)
    dark, bright = (luma < 44) & (spread < 30), (luma > 205) & (spread < 24)
    found: list[tuple[float, Kind, str | None, str]] = []
    colour = commonest_hue(frames)
    if colour is not None:
        share = float(near_hue(frames, colour).mean())
        found.append(
            (share, name_of(colour), as_hex(colour), f"{share:.0%} of the pixels are {as_hex(colour)}")
        )
    for kind, mask in (("black", dark), ("white", bright)):
        share = float(mask.mean())
        middle = as_hex(np.median(frames[mask], axis=0)) if share > 0.02 else None
        found.append((share, kind, middle, f"{share:.0%} of the pixels are {kind}"))  # type: ignore[arg-type]
    share, best, middle, reason = max(found)
    if share < 0.25:
        return Backing("none", None, 0.3, "no even backing was seen", 0.0)
    return Backing(best, middle, float(np.clip((share - 0.15) / 0.25, 0.1, 1)), reason, share)
