"""The key of a clip whose backing is a scene that stands still: a clean plate, given or found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.errors import InputError
from ghostprep.picture.key.backing import Backing, Mix
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.key.plate import cut_to
from ghostprep.picture.learn.camera import find_shake
from ghostprep.picture.learn.figure import MIDDLE, at_most, with_figure_remarks
from ghostprep.picture.learn.plate_match import matched
from ghostprep.picture.learn.remarks import SHAKES, STAYS, on_backing, on_found, on_given, on_place, on_shake
from ghostprep.picture.learn.still import find_still, stays_in_place

_OTHER_SHAPE = 0.02
"""Difference of two ratios of width to height, as a share, from which they are other pictures."""


def still_key(frames: Frame, given: Frame | None, backing: Backing, told: Mix | None = None) -> Key:
    """Return the key against a plate.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Glimpses over the clip.
    given : ndarray of uint8 (h, w, 3), optional
        A picture of the scene alone, any size; else it is put together from the glimpses.
    backing : Backing
        As told or detected.
    told : {"light", "codes"}, optional
        How figure and scene were mixed; else codes are taken.

    Raises
    ------
    InputError
        The picture has no colour, or another shape than the clip.
    """
    stays, match = 0.0, None
    shake = find_shake(at_most(frames, MIDDLE)).share
    backing = replace(backing, moving_camera=shake >= SHAKES)
    if given is None:
        still = find_still(frames)
        stays = stays_in_place(still.seen)
        if stays >= STAYS and backing.confidence < 1:
            # half a figure is worse than a whole frame: say what is missing, and key nothing
            reason = backing.reason + ", and the figure never leaves its place"
            backing = Backing("none", None, 0.3, reason, moving_camera=backing.moving_camera)
            return Key(backing, remarks=(*on_backing(backing), *on_shake(shake), *on_place(stays)))
    else:
        if given.ndim != 3 or given.shape[-1] < 3:
            raise InputError("is not a colour picture", where="--plate", remedy="give an RGB picture")
        size = (frames.shape[2], frames.shape[1])
        _check_shape(given.shape, size)
        match = matched(floats(given[..., :3]), frames)
        whole = match.picture
        shrunk = cut_to(whole, None, size, size)
        still = find_still(frames, shrunk)
        if whole.shape[0] > shrunk.shape[0]:
            # the small glimpses tell what has changed since the plate was taken, the plate the detail
            large = (whole.shape[1], whole.shape[0])
            change = cut_to(still.plate - shrunk, None, large, large)
            still = still._replace(plate=floats(np.clip(whole + change, 0, 255)))
        backing = replace(backing, reason="a clean plate was given")
    backing = replace(backing, coverage=float(np.clip(still.seen.mean(), 0, 1)), mix=told)
    remarks = [*on_backing(backing), *on_shake(shake), *on_place(stays)]
    remarks += on_found(still.seen) if match is None else on_given(match, still.seen)
    key = Key(backing, still.plate, still.noise, remarks=tuple(remarks))
    return with_figure_remarks(key, frames)


def _check_shape(given: tuple[int, ...], size: tuple[int, int]) -> None:
    """Refuse a picture that is wider or higher than the clip for its size."""
    ours, theirs = size[0] / size[1], given[1] / given[0]
    if abs(theirs / ours - 1) > _OTHER_SHAPE:
        raise InputError(
            f"is {theirs:.2f} times as wide as high, and the clip {ours:.2f} times",
            where="--plate",
            remedy="give a picture of all that the clip shows: a frame of a clip from the same place will do",
        )
