"""Make the frames of a planned loop."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ghostprep.arrays import Codes, Light
from ghostprep.loop.flow import flow_blend
from ghostprep.loop.plan import LoopPlan, Mix
from ghostprep.transfer import codes_to_light, figure_of_light, light_to_codes


def crossfade(a: Light, b: Light, weight: float) -> Light:
    """Return the frame (h, w, 3) that shows `a` and `b` at once, `weight` 0..1 of `b`; in linear light."""
    return np.asarray(a + (b - a) * np.float32(weight), np.float32)


def mixed(plan: LoopPlan, mix: Mix, fetch: Callable[[int], Codes]) -> Codes:
    """Return one frame (h, w, 3) of a planned loop.

    A frame that is not mixed is handed on as it is, bit for bit; blends are made in linear light.

    Parameters
    ----------
    mix : Mix
        One of its steps.
    fetch : callable
        ``fetch(i)`` returns source frame i (h, w, 3), premultiplied on black, with as many bits as the frame
        is to have; it is called once or twice.
    """
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
    light = light * np.float32(mix.gain)
    return np.asarray(light_to_codes(light) if a.dtype == np.uint8 else figure_of_light(light), a.dtype)
