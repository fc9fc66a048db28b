"""From the key to the raster light is rounded to codes of 8 bits once."""

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.loop import LoopPlan, Mix
from ghostprep.picture.key.plain import AlphaKeyer
from ghostprep.picture.place import Orientation, Placement
from ghostprep.picture.tone import Tone
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.render import raster_frames
from ghostprep.transfer import from_linear, to_linear

GAIN = 6.0
SIZE = (512, 8)


def faint(code: int) -> np.ndarray:
    """A veil of one code whose coverage rises slowly from left to right, (h, w, 4)."""
    frame = np.full((SIZE[1], SIZE[0], 4), code, np.uint8)
    frame[..., 3] = np.arange(SIZE[0]) // 2
    return frame


@pytest.mark.parametrize("blend", [False, True])
def test_a_slow_ramp_of_faint_light_keeps_its_levels(blend: bool) -> None:
    frames = [faint(8 + i) for i in range(8)]
    keyer = AlphaKeyer(premultiplied=False)
    figures = [keyer(frame).figure for frame in frames]
    steps = tuple(Mix(i, 7 - i, 0.3) if blend else Mix(i) for i in range(8))
    plan = LoopPlan(steps, 0, 7, 0, "crossfade" if blend else "cut", "search")
    fit = Fit(Box(0, 0, *SIZE), SIZE, Placement(SIZE, Orientation(False, 0)), 1.0, 8.0)
    made = list(raster_frames(figures.__getitem__, plan, fit, Tone(gain=GAIN), lambda *_: None))

    def light(number: int) -> np.ndarray:
        cover = np.arange(SIZE[0]) // 2 / 255
        return to_linear(cover * (8 + number) / 255).astype(np.float64)

    for mix, frame in zip(plan.steps, made, strict=True):
        exact = light(mix.a)
        if mix.b is not None:
            exact = exact + (light(mix.b) - exact) * mix.weight
        wanted = 255 * from_linear(exact * GAIN).astype(np.float64)
        # half a code, and three roundings to a 257th of one before the gain
        assert np.abs(frame[0, :, 0] - wanted).max() < 0.5 + 0.03
        # rounded after the key as well, there would be one level for each of the veil's codes
        assert len(np.unique(frame[0, :, 0])) > 2 * (8 + mix.a)
