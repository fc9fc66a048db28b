"""How the purser moves: a weight shift, a breath and a swinging lantern that nearly repeat.

Lengths are in heights of the figure (1.0 from cap to soles), x to the picture's right, y up,
origin between the feet. Everything depends on the time alone, so any frame can be made by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

FPS: Final = 30
FRAMES: Final = 360
PERIOD_S: Final = 4.6


@dataclass(frozen=True)
class Pose:
    """Where the parts are at one moment."""

    phase: float
    """The sway's phase, radians; one turn a weight shift."""
    amount: float
    """The sway's amplitude, about 1."""
    hips: float
    shoulders: float
    head: float
    """Sideways shift of hips, shoulders and head."""
    turn: float
    """How far the head is turned, to the picture's right."""
    nod: float
    breath: float
    """-1 breathed out, 1 breathed in."""
    lift: float
    """How far the lantern's hand is lifted."""
    swing: float
    """The lantern's angle, radians."""
    flame: float
    """Brightness of the flame, about 1."""
    blink: float
    """0 eyes open, 1 shut."""


def pose_at(index: int) -> Pose:
    """Return the pose in frame `index`."""
    t = index / FPS
    # amplitude and phase wander slowly, at rates that share no period with the sway:
    # every turn is nearly, but never exactly, the one before
    phase = 2 * np.pi * t / PERIOD_S + 0.07 * np.sin(2 * np.pi * t / 7.9 + 0.6)
    amount = 1 + 0.06 * np.sin(2 * np.pi * t / 10.7 + 0.9)
    slow = 0.04 * np.sin(2 * np.pi * t / 13.0)
    flame = 1 + 0.035 * np.sin(2 * phase + 3 * np.sin(phase)) + 0.012 * np.sin(9.1 * t) * np.sin(4.3 * t)
    blinks = [(t - b) / 0.09 for b in (2.15, 6.8, 11.3)]
    return Pose(
        phase=float(phase),
        amount=float(amount),
        hips=float(0.017 * amount * np.sin(phase)),
        shoulders=float(0.011 * amount * np.sin(phase - 0.55)),
        head=float(0.014 * amount * np.sin(phase - 0.95)),
        turn=float(amount * np.sin(phase - 1.2) * 0.55 - 0.25 + slow),
        nod=float(0.004 * np.sin(phase - 0.3) * amount),
        breath=float(np.sin(phase + 1.1) * amount),
        lift=float(0.012 * amount * np.sin(phase - 0.8)),
        swing=float(0.11 * amount * np.sin(phase - 1.9) + 0.035 * np.sin(2 * phase + 0.4)),
        flame=float(flame),
        blink=float(max(np.exp(-b * b) for b in blinks)),
    )
