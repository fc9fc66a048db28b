"""Reads frames of a clip: cropped, scaled and converted by the decoder, exactly counted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from ghostprep.box import Box
from ghostprep.clip.child import STALL_S
from ghostprep.clip.colour import HLG
from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.filters import Pixels, chain
from ghostprep.clip.hlg import cube_folder
from ghostprep.clip.source import PIXELS_MAX
from ghostprep.clip.stream import TIME_FORMAT, FrameStream
from ghostprep.errors import InputError

INDEXED: Final = ("mov,", "matroska", "avi")
"""Containers whose index makes a jump land before the wanted frame."""
_GAP_MAX_S: Final = 10.0
_PIX_FMT: Final = {"rgb24": "rgb24", "rgba": "rgba", "i420": "yuv420p"}


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
    """Read frames of a clip.

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
        Presentation time of every frame, from an earlier whole pass (`FrameStream.times`, all frames).
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
    _check(facts, crop=crop, start=start, stop=stop, step=step)
    whole = crop or Box(0, 0, *facts.size)
    size = size or (whole.width, whole.height)
    if min(size) < 1 or size[0] * size[1] > PIXELS_MAX:
        raise InputError(f"a frame of {size[0]}x{size[1]} cannot be made", where=str(facts.path))
    if pixels == "i420" and (size[0] % 2 or size[1] % 2):
        raise InputError(f"planes of 4:2:0 need an even size, not {size[0]}x{size[1]}", where=str(facts.path))
    count = None if stop is None else max(-(-(stop - start) // step), 0)

    def arguments(first: int, jump: Sequence[str]) -> list[str]:
        pick = _pick(first, step)
        filters = chain(facts, pixels=pixels, size=size, crop=crop, pick=pick)
        return [
            *("-loglevel", "level+info", "-nostats", "-copyts", "-noautorotate", *jump, *facts.input),
            *("-map", f"0:{facts.stream}", "-vf", filters, "-fps_mode", "passthrough"),
            # times in the file's own clock, so that uneven ones stay exact
            *("-enc_time_base:v", "demux"),
            *(() if count is None else ("-frames:v", str(max(count, 1)))),
            *("-stats_enc_pre:v", "pipe:2", "-stats_enc_pre_fmt", TIME_FORMAT),
            *("-pix_fmt", _PIX_FMT[pixels], "-f", "rawvideo", "-y", "pipe:1"),
        ]

    attempts: list[tuple[list[str], Fraction | None]] = []
    if count != 0:
        # bwdif looks at the neighbours: give it the same ones as if it had come from the start
        before = 2 if facts.interlaced else 0
        if times is not None and before < start < len(times) and facts.container.startswith(INDEXED):
            target = start - before
            between = facts.start + (times[target - 1] + times[target]) / 2
            jump = ("-seek_timestamp", "1", "-ss", f"{float(between):.6f}")
            attempts.append((arguments(before, jump), facts.start + times[start]))
        attempts.append((arguments(start, ()), None))
    channels = {"rgb24": (size[1], size[0], 3), "rgba": (size[1], size[0], 4)}
    return FrameStream(
        attempts,
        where=str(facts.path),
        shape=channels.get(pixels, (size[1] * 3 // 2, size[0])),
        size=size,
        rate=facts.rate,
        origin=facts.start,
        step=step / facts.rate,
        # without an index a long gap is a splice; with one it is meant
        gap_max_s=math.inf
        if facts.container.startswith(INDEXED) or facts.still
        else _GAP_MAX_S + 2 * step / float(facts.rate),
        # frames before the first wanted one are decoded in silence
        stall_s=STALL_S + start / 2,
        # the filter that picks frames counts anew when the pictures change on the way
        picked=start > 0 or step > 1,
        folder=cube_folder() if facts.transfer == HLG else None,
    )


def _pick(first: int, step: int) -> str:
    conditions = []
    if first > 0:
        conditions.append(f"gte(n,{first})")
    if step > 1:
        conditions.append(f"not(mod(n-{first},{step}))")
    return "*".join(conditions)


def _check(facts: ClipFacts, *, crop: Box | None, start: int, stop: int | None, step: int) -> None:
    if start < 0 or step < 1 or (stop is not None and stop < 0):
        raise InputError(f"no frames lie from {start} to {stop} in steps of {step}", where=str(facts.path))
    if crop is not None and (crop.empty or crop.within(facts.size) != crop):
        width, height = facts.size
        raise InputError(
            f"the crop {crop.width}x{crop.height}+{crop.x}+{crop.y} does not lie in "
            f"the picture of {width}x{height}",
            where=str(facts.path),
        )
