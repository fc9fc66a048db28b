"""From the key to the raster light is rounded to codes of 8 bits once."""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from ghostprep.box import Box
from ghostprep.clip import probe, write_frames
from ghostprep.loop import Blend, LoopPlan
from ghostprep.picture.key.plain import AlphaKeyer
from ghostprep.picture.place import Orientation, Placement
from ghostprep.picture.tone import Tone
from ghostprep.prepare.begin import begun
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.ghost import prepare_ghost
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.render import calmed, raster_frames
from ghostprep.prepare.setup import set_up
from ghostprep.progress import silent
from ghostprep.proof.flash import FlashProof
from ghostprep.transfer import from_linear, rounded, to_linear

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
    steps = tuple(Blend(i, 7 - i, 0.3) if blend else Blend(i) for i in range(8))
    plan = LoopPlan(steps, 0, 7, 0, "crossfade" if blend else "cut", "search")
    fit = Fit(Box(0, 0, *SIZE), SIZE, Placement(SIZE, Orientation(False, 0)), 1.0, 8.0)
    made = list(
        raster_frames(figures.__getitem__, plan, fit, Tone(gain=GAIN), lambda *_: None, finish=rounded)
    )

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


def test_what_is_calmed_beside_a_strobe_keeps_its_levels() -> None:
    """The veil stands still and stays as it is; only the white rows above it are softened."""
    keyer = AlphaKeyer(premultiplied=False)
    figures = []
    for number in range(25):
        figure = np.asarray(keyer(faint(8)).figure)
        figure[:4] = 65535 * (number % 2)
        figures.append(figure)
    plan = LoopPlan(tuple(Blend(i) for i in range(25)), 0, 24, 0, "cut", "search")
    fit = Fit(Box(0, 0, *SIZE), SIZE, Placement(SIZE, Orientation(False, 0)), 1.0, 8.0)
    made = raster_frames(
        figures.__getitem__, plan, fit, Tone(), lambda *_: None, finish=lambda figure: figure
    )
    flash = FlashProof(SIZE, Fraction(25))
    after = list(calmed(made, SIZE, flash, Fraction(25)))
    assert not flash.passed()
    wanted = np.arange(SIZE[0]) // 2 / 255 * 8
    for figure in after:
        assert np.abs(figure[-1, :, 0] / 257 - wanted).max() < 0.02
        assert figure[0].max() < 65535


def test_a_panel_s_pattern_is_laid_over_what_was_calmed(tmp_path: Path) -> None:
    """A disk, lit and dark in turn: calmed after the pattern, there would be codes below one step."""
    path = tmp_path / "disk.mkv"
    column, row = np.meshgrid(np.arange(64), np.arange(48))
    disk = np.repeat(np.clip(20 - np.hypot(column - 32, row - 24), 0, 1)[..., None], 3, axis=2)
    frames = (np.rint(disk * (20 + 215 * (n // 2 % 2))).astype(np.uint8) for n in range(48))
    write_frames(path, frames, size=(64, 48), rate=Fraction(24), arguments=("-c:v", "ffv1"))
    recipe = Recipe(backing="black", join="none", calm=True, cache=False, player="mjpeg-avi-qvga")
    facts = probe(path)
    with prepare_ghost(begun(facts, recipe), recipe, set_up(recipe), facts.rate, silent) as made:
        assert made.calmed
        largest = np.stack(list(made.shown)).max(axis=3)
    assert ((largest == 0) | (largest >= 8)).all()
    # the pattern itself: neighbours within an even disk differ
    assert len(np.unique(largest[20, 110:130, 150:170])) > 4
