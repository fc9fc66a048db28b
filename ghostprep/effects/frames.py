"""A moviepy clip as counted frames, and back."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any, Final

import cv2
import numpy as np
from moviepy import Clip

from ghostprep.arrays import Frame
from ghostprep.box import small_size
from ghostprep.errors import InputError

_GLIMPSES: Final = 24
"""Glimpses of a clip at most; each is a jump."""


def frame_count(clip: Any) -> int:
    """Return how many frames a clip has; InputError: it has no rate or no duration, as moviepy's stills."""
    for name in ("fps", "duration"):
        if getattr(clip, name, None) is None:
            raise InputError(f"has no {name}", where="clip", remedy=f"give it one by with_{name}")
    return max(round(float(clip.duration) * float(clip.fps)), 1)


def _middle_of(clip: Any, number: int) -> float:
    """Return the middle of a frame's time, seconds: there no rounding reaches a neighbour."""
    return float((number + 0.5) / clip.fps)


def frame_at(clip: Any, number: int) -> Frame:
    """Return frame `number` (h, w, 3)."""
    return np.asarray(clip.get_frame(_middle_of(clip, number)), np.uint8)


def frames_of(clip: Any) -> Iterator[Frame]:
    """Yield every frame (h, w, 3) in order."""
    return (frame_at(clip, number) for number in range(frame_count(clip)))


def with_alpha(clip: Any, time: float) -> Frame:
    """Return the frame (h, w, 3) at a time, or (h, w, 4) with the clip's mask as its alpha."""
    frame = np.asarray(clip.get_frame(time), np.uint8)
    if clip.mask is None:
        return frame
    return np.dstack([frame, np.rint(clip.mask.get_frame(time) * 255).astype(np.uint8)])


def glimpses_of(clip: Any, longest: int | None = None) -> list[Frame]:
    """Return up to 24 frames, spread evenly over the clip, each as `with_alpha` does.

    Their longer side is at most `longest` pixels.
    """
    full = (int(clip.w), int(clip.h))
    size = small_size(full, longest or max(full))
    count = frame_count(clip)
    numbers = sorted({n * count // _GLIMPSES for n in range(_GLIMPSES)})
    frames = (with_alpha(clip, _middle_of(clip, n)) for n in numbers)
    if size == full:
        return list(frames)
    return [np.asarray(cv2.resize(frame, size, interpolation=cv2.INTER_AREA), np.uint8) for frame in frames]


def rate_of(clip: Any) -> Fraction:
    """Return frames a second; 29.97 and its kin as the broadcast rates."""
    return Fraction(clip.fps).limit_denominator(1001)


def counted(clip: Any, count: int, frame: Callable[[int], Frame]) -> Clip:
    """Return a silent clip of `count` frames without a mask, each made from its number."""
    rate = rate_of(clip)
    shown = functools.lru_cache(maxsize=4)(frame)

    def at(time: float) -> Frame:
        return shown(min(int(time * float(rate) + 1e-6), count - 1))

    made = clip.with_updated_frame_function(at).without_audio().without_mask()
    return made.with_duration(float(count / rate))
