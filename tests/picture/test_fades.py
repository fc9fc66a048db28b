"""Pictures of a fade are left out where the backing is learned; those that a figure left are not."""

from __future__ import annotations

import numpy as np

from ghostprep.picture.learn.fades import without_fades


def test_a_pale_figure_that_leaves_is_no_fade() -> None:
    """It fills most of the picture for most of the clip: the green alone is darker, and what is wanted."""
    green = np.broadcast_to(np.uint8([47, 154, 74]), (90, 160, 3))
    near = green.copy()
    near[10:, 8:] = 230
    pictures = [near] * 7 + [green] * 3
    assert len(without_fades(np.stack(pictures))) == 10
    dim = [np.uint8(0.5 * picture) for picture in pictures[:2]]
    assert len(without_fades(np.stack([*pictures, *dim]))) == 10


def test_on_black_every_glimpse_counts() -> None:
    orb = np.zeros((90, 160, 3), np.uint8)
    orb[30:60, 60:90] = 200
    assert len(without_fades(np.stack([orb] * 5 + [np.zeros_like(orb)] * 3))) == 8
