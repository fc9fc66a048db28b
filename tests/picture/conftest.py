"""A small made clip with a known figure, for the key's tests."""

from collections.abc import Callable
from typing import NamedTuple

import cv2
import numpy as np
import pytest

from ghostprep.transfer import codes_to_light, from_linear, light_to_codes


class Shot(NamedTuple):
    """Frames (n, h, w, 3), the figure premultiplied on black, its matte 0..1, and the plate, codes."""

    frames: np.ndarray
    truth: np.ndarray
    mattes: np.ndarray
    plate: np.ndarray


def _figure(colour: tuple[int, int, int], size: tuple[int, int], x: float) -> tuple[np.ndarray, np.ndarray]:
    """Return codes and matte of a coated figure with a skin-coloured head, 100 px tall."""
    w, h = size
    canvas, matte = np.zeros((h * 4, w * 4, 3), np.uint8), np.zeros((h * 4, w * 4), np.uint8)
    at = round(x * 4)
    cv2.ellipse(canvas, (at, h * 4 - 190), (110, 160), 0, 0, 360, colour, -1)
    cv2.circle(canvas, (at, h * 4 - 380), 64, (214, 164, 130), -1)
    cv2.ellipse(matte, (at, h * 4 - 190), (110, 160), 0, 0, 360, 255, -1)
    cv2.circle(matte, (at, h * 4 - 380), 64, 255, -1)
    small = cv2.resize(matte, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    codes = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    return codes / np.maximum(small, 0.02)[..., None], small


@pytest.fixture(scope="session")
def shoot() -> Callable[..., Shot]:
    """Return a maker of shots: a figure walks over an even backing under uneven light, with noise."""

    def make(
        backing: tuple[int, int, int],
        coat: tuple[int, int, int] = (126, 118, 110),
        *,
        count: int = 8,
        sigma: float = 2.0,
        linear: bool = True,
        uneven: float = 0.1,
        stands: bool = False,
        pan: float = 0.0,
        reach: float = 90,
    ) -> Shot:
        rng = np.random.default_rng(5)
        w, h = 240, 180
        across = np.arange(w * 3)[None, :, None]
        light = codes_to_light(np.array(backing, np.uint8)) * (1 + uneven * np.sin(across / 37 + 1.0))
        wide = np.broadcast_to(light, (h, w * 3, 3)).astype(np.float32).copy()
        if stands:
            wide[:, :36] = codes_to_light(np.array((120, 96, 80), np.uint8))
            wide[:, 206:] = codes_to_light(np.array((30, 28, 26), np.uint8))
            wide[:, 30:36] = 0.9
        shot = [[], [], []]
        for i in range(count):
            first = round(pan * i)
            behind = wide[:, first : first + w]
            codes, matte = _figure(coat, (w, h), w / 2 + reach * (i / (count - 1) - 0.5) * 2 * 0.75)
            a = matte[..., None]
            if linear:
                figure = codes_to_light(np.clip(codes, 0, 255).astype(np.uint8)) * a
                truth, seen = light_to_codes(figure), from_linear(figure + (1 - a) * behind) * 255
            else:
                truth = np.rint(codes * a).astype(np.uint8)
                seen = codes * a + (1 - a) * from_linear(behind) * 255
            noisy = seen + rng.normal(0, sigma, seen.shape)
            for kept, one in zip(
                shot, (np.clip(np.rint(noisy), 0, 255).astype(np.uint8), truth, matte), strict=True
            ):
                kept.append(one)
        return Shot(*(np.stack(s) for s in shot), light_to_codes(wide[:, :w]))

    return make
