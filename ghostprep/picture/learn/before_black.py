"""The key on black, from glimpses: its level, its noise, and what kind of light lies before it."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.box import small_size
from ghostprep.channels import largest_channel
from ghostprep.picture.key.backing import Backing, Mix
from ghostprep.picture.key.black import ROUNDING, SMALL, local_light, toe_of
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import floats
from ghostprep.picture.learn.black_level import find_level
from ghostprep.picture.learn.black_mix import added_in_light
from ghostprep.picture.learn.figure import with_figure_remarks
from ghostprep.picture.learn.remarks import on_backing

_CALM = 4.0
"""Codes above the level up to which the picture may be bare."""
_SEEN, _STEEP = 38, 0.73
"""Codes from which an outline is looked at, and the share of its height that a body's outline climbs at once.
The lower quarter of a drawn body's outlines climbs 0.76 and more, of smoke and mist up to 0.69."""


def black_key(frames: Frame, backing: Backing, told: Mix | None = None) -> Key:
    """Return the key on black of glimpses (n, h, w, 3); `told` is their mix, else it is guessed."""
    level, share, sure = find_level(frames)
    body = is_body(frames, level)
    mix = told or ("light" if not body and added_in_light(frames, level) else "codes")
    backing = replace(backing, coverage=share, mix=mix)
    key = Key(
        backing,
        level,
        toe=find_toe(frames, level) if sure else ROUNDING,
        body=body,
        remarks=tuple(on_backing(backing)),
    )
    return with_figure_remarks(key, frames)


def find_toe(frames: Frame, level: Floats) -> float:
    """Return the toe of `BlackKeyer`, from where glimpses (n, h, w, 3) are bare."""
    light = np.stack([local_light(floats(frame - level)) for frame in frames])
    return toe_of(np.append(light[light < _CALM], 0))


def is_body(frames: Frame, level: Floats) -> bool:
    """Tell whether what lies before the black is a body, with an outline, or light, which fades out.

    Where black and light lie side by side, a body's whole height is climbed within two pixels.
    """
    size = small_size((frames.shape[2], frames.shape[1]), SMALL)
    base = cv2.resize(level, size, interpolation=cv2.INTER_AREA)
    near, beside = np.ones((9, 9), np.uint8), np.ones((3, 3), np.uint8)
    climbs = []
    for frame in frames[::4]:
        small = cv2.resize(frame, size, interpolation=cv2.INTER_AREA)
        light = largest_channel(floats(np.maximum(cv2.subtract(small, base, dtype=cv2.CV_32F), 0)))
        height = cv2.dilate(light, near)
        climb = cv2.dilate(cv2.morphologyEx(light, cv2.MORPH_GRADIENT, beside), near)
        outline = (height > _SEEN) & (cv2.erode(light, near) < 0.1 * height)
        climbs.append(climb[outline] / height[outline])
    climbed = np.concatenate(climbs)
    return bool(climbed.size and np.percentile(climbed, 25) > _STEEP)
