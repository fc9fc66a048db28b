"""Where the file itself begins and ends, which is not where the loop is joined."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.arrays import Light
from ghostprep.loop.plan import Blend, LoopPlan
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.transfer import STILL

_AROUND: Final = 2
"""Steps before and after the seam that a pause interrupts."""


def quietest(plan: LoopPlan, strip: ThumbnailStrip) -> int:
    """Return the frame with which the file should begin: the darkest, stillest moment outside the blend.

    Notes
    -----
    A player that starts over shows black, or its last frame, for some tenths of a second. Black shows least
    where the ghost is darkest, a held frame where it moves least; so brightness over its mean and motion over
    its median are added. A loop that stands still and keeps its light begins where it began.
    """
    brightness, steps = _brightness(plan, strip), _steps(plan, strip)
    around = np.arange(-_AROUND, _AROUND)
    places = np.arange(len(plan))
    # the motion across the seam and on both sides of it, all of which a pause interrupts
    motion = np.mean(steps[(places[:, None] + around) % len(plan)], axis=1)
    dark = np.maximum(brightness, np.roll(brightness, 1))
    cost = dark / max(float(brightness.mean()), STILL) + motion / max(float(np.median(steps)), STILL)
    cost[np.asarray(plan.blend_frames, np.int64)] += 1.0
    best = int(np.argmin(cost))
    return best if cost[best] < cost[0] - 1e-3 else 0


def _brightness(plan: LoopPlan, strip: ThumbnailStrip) -> Light:
    source = strip.brightness
    return np.asarray([_brightness_of(step, source) for step in plan.steps], np.float32)


def _brightness_of(step: Blend, brightness: Light) -> float:
    light = float(brightness[step.a])
    if step.b is not None:
        light += step.weight * (float(brightness[step.b]) - light)
    return light * step.gain


def _steps(plan: LoopPlan, strip: ThumbnailStrip) -> Light:
    """Return the step (frames,) from each frame of the loop to the next, as far as the strip knows it."""
    source = strip.steps
    # where frames are mixed or the clip jumps, no seam is wanted: take the largest
    steps = np.full(len(plan), float(source.max(initial=0.0)), np.float32)
    for i, step in enumerate(plan.steps):
        after = plan.steps[(i + 1) % len(plan)]
        if step.b is None and after.b is None and abs(after.a - step.a) == 1:
            steps[i] = float(source[min(step.a, after.a)])
        steps[i] *= max(step.gain, after.gain)
    return steps
