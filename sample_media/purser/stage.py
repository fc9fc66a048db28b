"""What is behind the purser, and the camera that films it."""

from __future__ import annotations

import functools
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from purser.figure import HEIGHT, WIDTH
from purser.paint import Plane, noise_tile

Frame = npt.NDArray[np.uint8]

GREEN: Final = np.array([0.035, 0.330, 0.062], np.float32)
"""The green cloth in light 1, linear."""


def to_codes(light: Plane) -> Plane:
    """Turn linear light into sRGB codes 0..255, not rounded (IEC 61966-2-1)."""
    return code_table()[(np.clip(light, 0, 1) * np.float32(65535) + np.float32(0.5)).astype(np.uint16)]


@functools.cache
def code_table() -> Plane:
    """Return the codes of 65536 even steps of light; looking up is ten times as fast as the power."""
    v = np.arange(65536) / 65535
    return (np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055) * 255).astype(np.float32)


def green_backing() -> Plane:
    """Return a green cloth in uneven light, 0.8 to 1.2 across the frame, linear."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    uneven = 0.8 * np.exp(-(((x - 430) / 620) ** 2) - ((y - 240) / 520) ** 2) + 0.25 * x / WIDTH
    wrinkles = cv2.resize(noise_tile(31, octaves=(2, 4)), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    uneven += 0.03 * wrinkles
    uneven = 0.8 + 0.4 * (uneven - uneven.min()) / (uneven.max() - uneven.min())
    return uneven[..., None] * GREEN


def dark_backing() -> Plane:
    """Return a black cloth that the camera sees as codes 10 to 17, linear."""
    tone = cv2.resize(noise_tile(32, octaves=(2, 4)), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    tone = (tone - tone.min()) / (tone.max() - tone.min())
    codes = 10.5 + 6 * tone[..., None] * np.array([0.92, 0.96, 1.0], np.float32)
    v = codes / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


def grounded(alpha: Plane, backing: Plane) -> Plane:
    """Return the backing with the faint shade that the purser's feet throw on the floor."""
    feet = np.zeros_like(alpha)
    feet[596:616] = alpha[596:616]
    feet = cv2.GaussianBlur(feet, (0, 0), sigmaX=14, sigmaY=4)
    return backing * (1 - 0.45 * np.clip(feet * 1.6, 0, 1))[..., None]


def with_spill(figure: Plane, alpha: Plane, backing: Plane) -> Plane:
    """Add the backing's light on the figure: 4 % everywhere, up to 30 % where it is near."""
    near = cv2.GaussianBlur(1 - alpha, (0, 0), 5.0)
    share = 0.04 + 0.26 * np.clip(near / 0.6, 0, 1)
    return figure + (share * alpha)[..., None] * backing


def film(figure: Plane, alpha: Plane, backing: Plane, *, noise: float, seed: int) -> Frame:
    """Return the frame that the camera delivers: the figure before the backing, with sensor noise."""
    light = figure + (1 - alpha)[..., None] * backing
    rng = np.random.default_rng(seed)
    grain = rng.standard_normal((HEIGHT, WIDTH, 3), dtype=np.float32) * noise
    return np.clip(to_codes(light) + grain + 0.5, 0, 255).astype(np.uint8)
