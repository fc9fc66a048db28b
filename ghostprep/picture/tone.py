"""Brightness and colour of the figure, and how it fades where it leaves the picture."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Figure, Light
from ghostprep.transfer import (
    codes_to_light,
    figure_of_light,
    light_of_roots,
    linear_table,
    luminance,
    roots_of_light,
)

MAX_GAIN: Final = 6.0
"""`--gain auto` goes no further: noise and banding grow with it."""

_SHOULDER: Final = 0.8
"""Share of white from which light that is made brighter is bent, so that it keeps its detail."""
_AIM: Final = 0.9
"""Share of white at which `--gain auto` puts the bright part: the rest is for what is brighter still."""


@dataclass(frozen=True, slots=True)
class Tone:
    """How light the figure is, in which colour, and how soft at the raster's edge."""

    gain: float = 1.0
    """Factor on linear light, 0.05..20. Above 80 % of white a shoulder keeps detail."""
    tint: tuple[int, int, int] | None = None
    """Colour (R, G, B), codes 0..255, that the whole figure takes on; its luminance pattern stays."""
    edge: int = 0
    """Pixels over which the figure fades at the raster's edge; 0 for none."""

    def __post_init__(self) -> None:
        if not 0.05 <= self.gain <= 20:
            raise ValueError(f"gain is {self.gain:g}, it must be in 0.05..20")
        if self.edge < 0:
            raise ValueError(f"edge is {self.edge}, it must be 0 or more")

    def __call__(self, figure: Figure) -> Figure:
        """Return the toned figure (h, w, 3); exact black stays exact black."""
        if self.tint is not None:
            # all that comes out follows from the luminance
            roots = roots_of_light(luminance(codes_to_light(figure)))
            channels = [cv2.LUT(roots, table) for table in tint_tables(self.tint, self.gain)]
            figure = np.asarray(cv2.merge(channels), np.uint16).reshape(figure.shape)
        elif self.gain != 1.0:
            figure = np.asarray(cv2.LUT(figure, gain_table(self.gain)), np.uint16)
        if not self.edge:
            return figure
        return figure_of_light(codes_to_light(figure) * edge_fade(figure.shape[:2], self.edge)[..., None])


def _colour_of(tint: tuple[int, int, int]) -> Light:
    """Return the light (3,) of a tint; its brightest channel reaches what a white figure would."""
    colour = linear_table()[np.asarray(tint)]
    return np.asarray(colour / max(float(colour.max()), 1e-6), np.float32)


def brightened(light: Light, gain: float) -> Light:
    """Return light, any shape, times `gain`.

    Above 80 % of white it is bent by an exponential shoulder of matching slope, so that a bright
    lamp keeps its shape instead of becoming a flat patch.
    """
    more = np.asarray(light * np.float32(gain), np.float32)
    if gain > 1:
        room = 1 - _SHOULDER
        high = more > _SHOULDER
        more[high] = _SHOULDER + room * (1 - np.exp(-(more[high] - _SHOULDER) / room))
    return more


@functools.lru_cache(4)
def gain_table(gain: float) -> Figure:
    """Return the 65536 codes that `gain` on linear light turns each of a figure's into; see `brightened`."""
    return figure_of_light(brightened(codes_to_light(np.arange(65536, dtype=np.uint16)), gain))


@functools.lru_cache(4)
def tint_tables(tint: tuple[int, int, int], gain: float) -> tuple[Figure, ...]:
    """Return each channel's code (65536,) for each step of `roots_of_light` of a figure's luminance."""
    grey = light_of_roots().astype(np.float32)
    return tuple(figure_of_light(brightened(grey * colour, gain)) for colour in _colour_of(tint))


def edge_fade(shape: tuple[int, int], width: int) -> npt.NDArray[np.float32]:
    """Return the factor on light (h, w), 0 just outside the edge and 1 from `width` px inside on."""

    def ramp(length: int) -> npt.NDArray[np.float32]:
        steps = np.arange(length, dtype=np.float32)
        from_edge = np.minimum(steps, length - 1 - steps) + np.float32(0.5)
        t = np.clip(from_edge / width, 0, 1)
        return (t * t * (3 - 2 * t)).astype(np.float32)  # smoothstep: no visible corner in the fade

    fade: npt.NDArray[np.float32] = ramp(shape[0])[:, None] * ramp(shape[1])[None, :]
    return fade


def auto_gain(bright: float) -> float:
    """Return the gain that brings the figure's bright part to `_AIM` of white.

    Parameters
    ----------
    bright : float
        Linear light, 0..1, that 99 % of the figure's pixels stay below (largest channel).

    Returns
    -------
    float
        1..`MAX_GAIN`; never darkens.
    """
    return float(np.clip(_AIM / bright, 1.0, MAX_GAIN)) if bright > 0 else 1.0
