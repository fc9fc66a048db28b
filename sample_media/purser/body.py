"""The colours of the cloth, and the line about which the body sways."""

from __future__ import annotations

from typing import Final

import numpy as np

from purser.motion import Pose
from purser.paint import Plane, noise_tile, smooth

COAT: Final = np.array([0.120, 0.158, 0.255], np.float32)
TROUSER: Final = np.array([0.060, 0.070, 0.105], np.float32)
LEATHER: Final = np.array([0.050, 0.036, 0.030], np.float32)
BRASS: Final = np.array([0.62, 0.42, 0.14], np.float32)
SCARF: Final = np.array([0.40, 0.045, 0.040], np.float32)
GAUZE: Final = np.array([0.52, 0.60, 0.74], np.float32)

WEAVE: Final = noise_tile(11, octaves=(64, 128))
CRUMPLE: Final = noise_tile(12, octaves=(4, 8, 16))

HEM: Final = 0.112
BELT: Final = 0.575


def middle(pose: Pose, y: Plane) -> Plane:
    """Return the body's centre line: feet stand, hips, shoulders and head sway."""
    hips = smooth(0.0, 0.5, y) * (1 - smooth(0.5, 0.8, y))
    shoulders = smooth(0.5, 0.8, y) * (1 - smooth(0.8, 0.92, y))
    # the skirt's hem hangs after the hips
    late = 0.012 * pose.amount * np.sin(pose.phase - 1.1) * (1 - smooth(0.1, 0.42, y))
    return pose.hips * hips + pose.shoulders * shoulders + pose.head * smooth(0.8, 0.92, y) + late
