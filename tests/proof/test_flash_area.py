"""How large screens and spots are to the eye, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from ghostprep.proof.flash_area import SeenScreen, screen_sr, spot_side


@pytest.mark.parametrize(
    ("diagonal_in", "pixels", "active", "at_500"),
    [
        (1.3, (240, 240), (23.4, 23.4), 0.00219),
        (2.0, (320, 240), (40.8, 30.6), 0.00499),
        (2.4, (320, 240), (48.96, 36.72), 0.00718),
        (3.5, (480, 320), (73.44, 48.96), 0.01433),
        (7.0, (1024, 600), (154.21, 85.92), 0.05219),
    ],
)
def test_solid_angle_of_common_screens(diagonal_in, pixels, active, at_500) -> None:
    assert screen_sr(active, 500) == pytest.approx(at_500, abs=6e-6)
    # full-screen flashing passes by area only beyond sqrt(area / 0.006), within the on-axis form's 1 %
    beyond = (active[0] * active[1] / 0.006) ** 0.5
    assert screen_sr(active, beyond) == pytest.approx(0.006, rel=0.01)
    side = spot_side(pixels, SeenScreen(active, 500, 200))
    pitches = (active[0] / pixels[0], active[1] / pixels[1])
    largest = np.degrees(np.arctan(side * max(pitches) / 500))
    assert largest <= 0.1
    assert np.degrees(np.arctan((side + 1) * max(pitches) / 500)) > 0.1  # and no finer than need be
