"""Two frames made one: both shown at once, or one frame's figure moved onto the other's."""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Codes, Figure, Floats, Frame, Light
from ghostprep.loop.plan import Blend, LoopPlan
from ghostprep.transfer import codes_to_light, figure_of_light, light_to_codes, rounded

FADE: Final = 0.3
"""Share of the way, in its middle, over which the one frame's light is exchanged for the other's."""
_FLOW_SIDE: Final = 480
"""Longer side at which motion is looked for: it is smooth, and its cost grows with the pixels."""
_local = threading.local()


def _engine() -> cv2.DISOpticalFlow:
    # an engine keeps buffers, so each thread has its own
    if not hasattr(_local, "engine"):
        _local.engine = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_MEDIUM)
    return _local.engine  # type: ignore[no-any-return]


def motion(a: Frame | Figure, b: Frame | Figure) -> Floats:
    """Return where each pixel of `a` is in `b`, as offsets (h, w, 2) in pixels: x right, y down.

    References
    ----------
    Kroeger et al., Fast optical flow using dense inverse search, ECCV 2016; as in OpenCV.
    """
    height, width = a.shape[:2]
    scale = min(1.0, _FLOW_SIDE / max(height, width))
    size = (max(16, round(width * scale)), max(16, round(height * scale)))
    grey_a, grey_b = (
        cv2.resize(cv2.cvtColor(rounded(p), cv2.COLOR_RGB2GRAY), size, interpolation=cv2.INTER_AREA)
        for p in (a, b)
    )
    field = np.asarray(_engine().calc(grey_a, grey_b, None), np.float32)  # type: ignore[call-overload]
    if size != (width, height):
        field = np.asarray(cv2.resize(field, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)
        field *= np.asarray([width / size[0], height / size[1]], np.float32)
    return field


@functools.lru_cache(2)
def _places(height: int, width: int) -> tuple[Floats, Floats]:
    """Return each pixel's column and row (h, w)."""
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    return x, y


def move(light: Light, field: Floats, part: float) -> Light:
    """Return `light` (h, w) or (h, w, 3) with every pixel moved by `part` of its offset in `field`."""
    x, y = _places(*light.shape[:2])
    offset = field * np.float32(part)
    # a pixel that arrives here started elsewhere: find its start by repeated substitution
    for _ in range(3):
        offset = np.asarray(
            cv2.remap(
                field,
                x - offset[..., 0],
                y - offset[..., 1],
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            ),
            np.float32,
        ) * np.float32(part)
    moved = cv2.remap(
        light,
        x - offset[..., 0],
        y - offset[..., 1],
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,  # a figure may be cut off by the picture's edge
    )
    return np.asarray(np.maximum(moved, 0), np.float32)


def exchange(weight: float) -> float:
    """Return the share of the second frame's light at `weight` of the way."""
    return float(np.clip((weight - 0.5) / FADE + 0.5, 0, 1))


class Pair:
    """Two figures of which one shall become the other; their motion is found once, when it is needed."""

    def __init__(self, a: Frame | Figure, b: Frame | Figure) -> None:
        self.a, self.b = a, b

    @functools.cached_property
    def ahead(self) -> Floats:
        """Where each pixel of `a` is in `b`."""
        return motion(self.a, self.b)

    @functools.cached_property
    def back(self) -> Floats:
        """Where each pixel of `b` is in `a`."""
        return motion(self.b, self.a)

    def meet(self, light_a: Light, light_b: Light, weight: float) -> tuple[Light, Light, float]:
        """Move the two to where they meet.

        Parameters
        ----------
        light_a, light_b : ndarray of float32, shape (h, w) or (h, w, 3)
            Linear light of the two frames.
        weight : float
            Where on the way from `a` to `b`, 0..1.

        Returns
        -------
        moved_a, moved_b : ndarray of float32
            Of which one stands for both where the share leaves the other out.
        share : float
            Of `b`'s light, 0..1: exchanged in the middle of the way only, where they lie on each other.
        """
        share = exchange(weight)
        moved_a = move(light_a, self.ahead, weight) if share < 1 else None
        moved_b = move(light_b, self.back, 1 - weight) if share > 0 else moved_a
        moved_a = moved_b if moved_a is None else moved_a
        assert moved_a is not None
        assert moved_b is not None
        return moved_a, moved_b, share


def crossfade(a: Light, b: Light, weight: float) -> Light:
    """Return the frame (h, w, 3) that shows `a` and `b` at once, `weight` 0..1 of `b`; in linear light."""
    return np.asarray(a + (b - a) * np.float32(weight), np.float32)


def flow_blend(a: Frame | Figure, b: Frame | Figure, weight: float) -> Light:
    """Blend two frames (h, w, 3) along their motion, `weight` 0..1 of the way; returns linear light."""
    moved_a, moved_b, share = Pair(a, b).meet(codes_to_light(a), codes_to_light(b), weight)
    return moved_a if share == 0 else crossfade(moved_a, moved_b, share)


def mixed(plan: LoopPlan, step: Blend, fetch: Callable[[int], Codes]) -> Codes:
    """Return one frame (h, w, 3) of a planned loop.

    A frame that is not mixed is handed on as it is, bit for bit; blends are made in linear light. `fetch`
    is called once or twice, and returns a source frame (h, w, 3), premultiplied on black, with as many bits
    as the frame is to have.
    """
    a = fetch(step.a)
    if step.b is None and step.gain == 1.0:
        return a
    light = codes_to_light(a)
    if step.b is not None:
        b = fetch(step.b)
        if plan.method == "flow":
            light = flow_blend(a, b, step.weight)
        else:
            light = crossfade(light, codes_to_light(b), step.weight)
    light = light * np.float32(step.gain)
    return np.asarray(light_to_codes(light) if a.dtype == np.uint8 else figure_of_light(light), a.dtype)
