"""Reads frames of a clip: cropped, scaled and converted by the decoder, exactly counted."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ghostprep.box import Box
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.filters import Pixels
from ghostprep.clip.request import Request
from ghostprep.clip.stream import FrameStream


def read_frames(
    facts: ClipFacts,
    *,
    size: tuple[int, int] | None = None,
    crop: Box | None = None,
    start: int = 0,
    stop: int | None = None,
    step: int = 1,
    times: Sequence[Fraction] | None = None,
    pixels: Pixels = "rgb24",
) -> FrameStream:
    """Decode frames of a clip.

    Parameters
    ----------
    facts : ClipFacts
        From `probe`.
    size : (int, int), optional
        Width and height wanted; default: that of the crop, or of the whole frame.
    crop : Box, optional
        Part of the frame, in delivered (upright, square) pixels; cut first, then scaled.
    start, stop, step : int
        Which frames, counted in the clip as a slice counts: every frame that the file holds is one.
    times : sequence of Fraction, optional
        Presentation time of every frame, from an earlier whole pass (`FrameStream.times`, all frames)
        whose clock did not jump.
        Allows to jump near ``start`` instead of decoding all that comes before.
    pixels : {"rgb24", "rgba", "i420"}
        ``rgb24``: (h, w, 3), BT.709/sRGB full range; a clip with alpha is laid on black. ``rgba``:
        (h, w, 4), alpha straight unless the facts say premultiplied. ``i420``: (h*3//2, w), the file's
        own 8-bit codes, planes Y, U, V; sizes must be even.

    Returns
    -------
    FrameStream

    Raises
    ------
    InputError
        Settings that fit no frame of this clip.
    JobError
        While iterating: the decoder failed or stood still.
    """
    if size is None:
        size = facts.size if crop is None else (crop.width, crop.height)
    return FrameStream(
        Request(
            facts=facts, size=size, crop=crop, start=start, stop=stop, step=step, times=times, pixels=pixels
        )
    )
