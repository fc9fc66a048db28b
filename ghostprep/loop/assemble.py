"""Make the frames of a planned loop."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ghostprep.arrays import Frame, Light
from ghostprep.loop.flow import flow_blend
from ghostprep.loop.plan import LoopPlan, Mix
from ghostprep.transfer import codes_to_light, light_to_codes

Fetch = Callable[[int], Frame]


def crossfade(a: Light, b: Light, weight: float) -> Light:
    """Return the frame (h, w, 3) that shows `a` and `b` at once, `weight` 0..1 of `b`; in linear light."""
    return np.asarray(a + (b - a) * np.float32(weight), np.float32)


def mixed(plan: LoopPlan, mix: Mix, fetch: Fetch) -> Frame | Light:
    """Return one frame (h, w, 3) of the loop: as it was fetched, or linear light where anything was mixed."""
    a = fetch(mix.a)
    if mix.b is None and mix.gain == 1.0:
        return a
    light = codes_to_light(a)
    if mix.b is not None:
        b = fetch(mix.b)
        if plan.method == "flow":
            light = flow_blend(a, b, mix.weight)
        else:
            light = crossfade(light, codes_to_light(b), mix.weight)
    return light * np.float32(mix.gain)


def make_frame(plan: LoopPlan, mix: Mix, fetch: Fetch) -> Frame:
    """Return one frame (h, w, 3) of the loop, in codes; see `assemble`."""
    frame = mixed(plan, mix, fetch)
    return (
        np.asarray(frame, np.uint8)
        if frame.dtype == np.uint8
        else light_to_codes(np.asarray(frame, np.float32))
    )


def assemble(plan: LoopPlan, fetch: Fetch) -> Iterator[Frame]:
    """Make the frames of a planned loop, in order.

    Parameters
    ----------
    plan : LoopPlan
    fetch : callable
        ``fetch(i)`` returns source frame i: the figure (h, w, 3), uint8, premultiplied on black. It is called
        in the order of the plan, once or twice a frame.

    Yields
    ------
    ndarray of uint8, shape (h, w, 3)
        Frames that are not mixed are handed on as they are, bit for bit; blends are made in linear light.
    """
    for mix in plan.steps:
        yield make_frame(plan, mix, fetch)
