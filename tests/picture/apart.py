"""Pictures parted where another picture tells what is near."""

from __future__ import annotations

import numpy as np

from ghostprep.picture.key.near import hues_near
from ghostprep.picture.key.palette import AgainstPlate
from ghostprep.picture.key.unmix import Unmixed, Unmixer


def parted(unmixer: Unmixer, picture: AgainstPlate, shows: AgainstPlate) -> Unmixed:
    """Part a whole picture, with the hues expected where a second one of its size shows them."""
    h, w = picture.light.shape[:2]
    found = Unmixed(
        np.ones((h, w), np.float32), np.zeros((h, w, 3), np.float32), np.zeros((h, w), np.float32)
    )
    near = hues_near(unmixer.palette, unmixer.curve, shows, np.zeros((h, w), np.bool_))
    unmixer._part(picture, near, np.arange(h * w), found)
    return found
