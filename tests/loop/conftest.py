"""Clips made on the spot, with a known truth."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest

SIZE = (160, 120)


def _cloth(width: int, height: int, seed: int) -> np.ndarray:
    """Return an oval with a soft pattern, premultiplied on black, float32."""
    rng = np.random.default_rng(seed)
    pattern = cv2.resize(rng.random((14, 8, 3)).astype(np.float32), (width, height)) * 190 + 40
    y, x = np.mgrid[:height, :width]
    oval = ((x - width / 2) / (width / 2)) ** 2 + ((y - height / 2) / (height / 2)) ** 2 < 0.9
    return (pattern * cv2.GaussianBlur(oval.astype(np.float32), (5, 5), 1)[..., None]).astype(np.float32)


def _draw(canvas: np.ndarray, part: np.ndarray, x: float, y: float, angle_deg: float) -> None:
    turn = cv2.getRotationMatrix2D((part.shape[1] / 2, part.shape[0] / 2), angle_deg, 1.0)
    turn[:, 2] += [x - part.shape[1] / 2, y - part.shape[0] / 2]
    moved = cv2.warpAffine(part, turn, (canvas.shape[1], canvas.shape[0]), flags=cv2.INTER_LINEAR)
    np.copyto(canvas, moved, where=moved.max(axis=2, keepdims=True) > 3)


@pytest.fixture(scope="session")
def sway() -> Callable[..., list[np.ndarray]]:
    """Return a maker of clips: a body that sways with `period_s`, an arm with another, and a slow drift."""
    body, arm = _cloth(44, 84, 0), _cloth(14, 34, 1)

    def make(
        count: int,
        *,
        rate: float = 25,
        period_s: float = 4.0,
        arm_s: float | None = None,
        drift: float = 0.0,
        noise: float = 0.0,
        still: bool = False,
    ) -> list[np.ndarray]:
        rng = np.random.default_rng(5)
        frames = []
        for i in range(count):
            t = 0.0 if still else i / rate
            a, b = 2 * np.pi * t / period_s, 2 * np.pi * t / (arm_s or period_s)
            canvas = np.zeros((SIZE[1], SIZE[0], 3), np.float32)
            x = SIZE[0] / 2 + 14 * np.sin(a) + drift * (7 * np.sin(0.31 * t) + 4 * np.sin(0.83 * t + 1))
            y = SIZE[1] / 2 + 4 * np.sin(2 * a + 0.4) + drift * 3 * np.sin(0.5 * t + 2)
            _draw(canvas, body, x, y, 8 * np.sin(a + 0.7))
            _draw(canvas, arm, x + 20 + 3 * np.sin(b), y - 8 + 8 * np.sin(b), 30 * np.sin(b))
            if noise:
                canvas += rng.normal(0, noise, canvas.shape).astype(np.float32) * (canvas > 0)
            frames.append(np.clip(np.rint(canvas), 0, 255).astype(np.uint8))
        return frames

    return make
