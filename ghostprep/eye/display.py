"""How luminances are shown on the reader's display."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.arrays import Frame, Light
from ghostprep.transfer import light_to_codes

KNEE: Final = 0.7
"""Below this share of the display's white luminances are shown true to each other; above they bend."""
_AT_WHITE: Final = 0.85
"""Where the brightest large surface is put; lamps and highlights use the rest."""


def exposure(ghost: float, scenery: float, reflectance: float) -> float:
    """Return the factor from cd/m2 to shares of the display's white.

    The eye settles on what is bright in sight: the ghost's white before the scenery, or paper white (0.8) in
    the scenery's light. `ghost` and `scenery` are as seen, cd/m2, and `reflectance` is the scenery's mean.
    """
    return _AT_WHITE / max(ghost + scenery, scenery * 0.8 / reflectance, 1e-6)


def shoulder(share: Light) -> Light:
    """Bend what lies above `KNEE` so that it stays under 1; the rest is untouched."""
    room = np.float32(1 - KNEE)
    bent = KNEE + room * (1 - np.exp(-np.maximum(share - KNEE, 0) / room))
    return np.where(share > KNEE, bent, share).astype(np.float32)


def to_display(cd_m2: Light, factor: float) -> Frame:
    """Return the codes (h, w, 3) that show luminances (h, w, 3), given as linear RGB in cd/m2."""
    return light_to_codes(shoulder(cd_m2 * np.float32(factor)))
