"""Brightness and colour of the figure, and how it fades where it leaves the picture."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.transfer import codes_to_light, light_to_codes, linear_table, luminance

Frame = npt.NDArray[np.uint8]

MAX_GAIN = 6.0
"""`--gain auto` goes no further: noise and banding grow with it."""

_SHOULDER = 0.8


@dataclass(frozen=True, slots=True)
class Tone:
    """How light the figure is, in which colour, and how soft at the raster's edge.

    Attributes
    ----------
    gain : float
        Factor on linear light, 0.05..20. Above 80 % of white a shoulder keeps detail.
    tint : tuple of int or None
        Colour (R, G, B), codes 0..255, that the whole figure takes on; its luminance
        pattern stays.
    edge : int
        Pixels over which the figure fades at the raster's edge; 0 for none.
    """

    gain: float = 1.0
    tint: tuple[int, int, int] | None = None
    edge: int = 0

    def __post_init__(self) -> None:
        if not 0.05 <= self.gain <= 20:
            raise ValueError(f"gain is {self.gain:g}, it must be in 0.05..20")
        if self.edge < 0:
            raise ValueError(f"edge is {self.edge}, it must be 0 or more")

    def __call__(self, raster: Frame) -> Frame:
        """Return the toned raster frame (h, w, 3); exact black stays exact black."""
        frame = raster
        if self.tint is not None:
            colour = linear_table()[np.asarray(self.tint)]
            # the tint's brightest channel reaches what a white figure would
            shade = luminance(codes_to_light(frame))[..., None] * (colour / max(float(colour.max()), 1e-6))
            frame = light_to_codes(shade)
        if self.gain != 1.0:
            frame = np.asarray(cv2.LUT(frame, gain_table(self.gain)), np.uint8)
        if self.edge:
            frame = light_to_codes(codes_to_light(frame) * edge_fade(frame.shape[:2], self.edge)[..., None])
        return frame


def gain_table(gain: float) -> npt.NDArray[np.uint8]:
    """Return the 256 codes that `gain` on linear light turns each code into.

    Light above 80 % of white is bent by an exponential shoulder of matching slope,
    so that a bright lamp keeps its shape instead of becoming a flat patch.
    """
    light = linear_table() * np.float32(gain)
    room = 1 - _SHOULDER
    if gain > 1:
        bent = _SHOULDER + room * (1 - np.exp(-(light - _SHOULDER) / room))
        light = np.where(light > _SHOULDER, bent, light)
    table = light_to_codes(light)
    table[0] = 0
    return table


def edge_fade(shape: tuple[int, int], width: int) -> npt.NDArray[np.float32]:
    """Return the factor on light (h, w), 0 just outside the edge and 1 from `width` px inside on."""

    def ramp(length: int) -> npt.NDArray[np.float32]:
        steps = np.arange(length, dtype=np.float32)
        from_edge = np.minimum(steps, length - 1 - steps) + np.float32(0.5)
        t = np.clip(from_edge / width, 0, 1)
        return (t * t * (3 - 2 * t)).astype(np.float32)  # smoothstep: no visible corner in the fade

    fade: npt.NDArray[np.float32] = ramp(shape[0])[:, None] * ramp(shape[1])[None, :]
    return fade


def auto_gain(bright: float, *, target: float = 0.9) -> float:
    """Return the gain that brings the figure's bright part to `target` of white.

    Parameters
    ----------
    bright : float
        Linear light, 0..1, that 99 % of the figure's pixels stay below (largest channel).
    target : float
        Linear light, 0..1, where that shall lie.

    Returns
    -------
    float
        1..`MAX_GAIN`; never darkens.
    """
    if bright <= 0:
        return 1.0
    return float(np.clip(target / bright, 1.0, MAX_GAIN))
