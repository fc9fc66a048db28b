"""Figures drawn at random, and light without a body: linear light, premultiplied, float32 (h, w, 4)."""

from __future__ import annotations

import colorsys
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from keying_figures import weave
from skimage import data

from ghostprep.transfer import to_linear

Plane = np.ndarray
SHARP = 2
"""Canvas pixels to a pixel of the figure, each way."""
SOFT = ("orb", "smoke", "mist", "steady mist")


def random_colour(rng: np.random.Generator, avoid: Plane | None = None) -> Plane:
    """Return the linear light (3,) of a cloth; none of the hue of `avoid`, which no keyer could keep."""
    while True:
        hue, full, value = rng.random(), rng.random() ** 0.7, rng.uniform(0.12, 0.95)
        code = np.array(colorsys.hsv_to_rgb(hue, full, value), np.float32)
        if avoid is None:
            return to_linear(code)
        theirs = colorsys.rgb_to_hsv(*(float(x) for x in avoid))
        if full * value < 0.12 or abs((hue - theirs[0] + 0.5) % 1 - 0.5) > 0.1:
            return to_linear(code)


def closed(points: Plane, shape: tuple[int, int]) -> Plane:
    """Return the inside of a smooth closed curve through points (n, 2), given in shares of the height."""
    count = len(points)
    ring = np.concatenate([points, points[:3]])
    t = np.linspace(0, count, count * 16, endpoint=False)
    i, f = t.astype(int), (t % 1)[:, None]
    p0, p1, p2 = ring[i % count], ring[i % count + 1], ring[i % count + 2]
    curve = 0.5 * (p0 * (1 - f) ** 2 + p1 * (1 + 2 * f - 2 * f**2) + p2 * f**2)
    out = np.zeros(shape, np.uint8)
    cv2.fillPoly(out, [np.rint(curve * shape[0] * 16).astype(np.int32)], 1, cv2.LINE_8, 4)
    return out.astype(np.float32)


def blob(
    rng: np.random.Generator, x: float, y: float, wide: float, high: float, rough: float = 0.12
) -> Plane:
    """Return points (n, 2) around an ellipse, each moved a little."""
    count = int(rng.integers(7, 12))
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    reach = 1 + rng.normal(0, rough, count)
    return np.stack([x + wide * reach * np.cos(angle), y + high * reach * np.sin(angle)], 1)


def laid_over(below: Plane, light: Plane, alpha: Plane) -> Plane:
    """Return what is below with light (h, w, 3) laid over it where alpha (h, w) covers it."""
    part = np.dstack([light * alpha[..., None], alpha])
    return (part + below * (1 - alpha[..., None])).astype(np.float32)


def solid_figure(rng: np.random.Generator, height: int, avoid: Plane | None) -> Plane:
    """Draw somebody: cloths, skin or none, perhaps hair, a veil, a lamp with its glow."""
    h, w = height * SHARP, round(height * 0.72) * SHARP
    out = np.zeros((h, w, 4), np.float32)
    yy, xx = np.mgrid[:h, :w].astype(np.float32) / h
    side = (1 + rng.uniform(-0.9, 0.9) * (xx - 0.36))[..., None]

    def over(light: Plane, alpha: Plane) -> None:
        nonlocal out
        out = laid_over(out, light, alpha)

    def cloth(points: Plane, light: Plane, depth: float, alpha: float = 1.0) -> None:
        folds = weave((h, w), int(rng.integers(1 << 30)), depth)[..., None]
        over(light * folds * side, closed(points, (h, w)) * np.float32(alpha))

    x, top = 0.36 + rng.uniform(-0.03, 0.03), rng.uniform(0.16, 0.22)
    if rng.random() < 0.5:
        cloth(blob(rng, x, 0.5, 0.26, 0.45), random_colour(rng, avoid), 0.5, rng.uniform(0.15, 0.6))
    cloth(blob(rng, x, 0.68, rng.uniform(0.12, 0.2), 0.29, 0.08), random_colour(rng, avoid), 0.35)
    for _ in range(int(rng.integers(1, 4))):
        at = (
            x + rng.uniform(-0.12, 0.12),
            rng.uniform(0.4, 0.8),
            rng.uniform(0.04, 0.12),
            rng.uniform(0.05, 0.15),
        )
        cloth(blob(rng, *at), random_colour(rng, avoid), 0.25)
    skin = to_linear(np.array([0.85, 0.65, 0.52], np.float32) * np.float32(rng.uniform(0.35, 1.1)))
    cloth(blob(rng, x, top, 0.06, 0.085, 0.04), skin, 0.08)
    if rng.random() < 0.7:
        strands = _hair(rng, x, top, (h, w))
        shine = (0.7 + 0.6 * np.sin(xx * 90) ** 2)[..., None]
        over(random_colour(rng, avoid) * shine, strands)
    if rng.random() < 0.4:
        cloth(
            blob(rng, x - 0.18, 0.42, 0.12, 0.1, 0.25), random_colour(rng, avoid), 0.3, rng.uniform(0.3, 0.9)
        )
    if rng.random() < 0.45:
        lx, ly, lamp = x + rng.uniform(0.14, 0.22), rng.uniform(0.5, 0.7), random_colour(rng)
        lamp = lamp / max(float(lamp.max()), 0.05)
        cloth(blob(rng, lx, ly, 0.03, 0.04, 0.03), np.float32([0.01, 0.01, 0.01]), 0.1)
        cloth(blob(rng, lx, ly, 0.022, 0.03, 0.03), lamp, 0.05)
        near = ((xx - lx) ** 2 + (yy - ly) ** 2) / (2 * rng.uniform(0.03, 0.08) ** 2)
        # a glow ends nowhere sharply, not at the border of this picture either
        ends = np.clip((w / h - xx) / 0.1, 0, 1) ** 2
        out[..., :3] += rng.uniform(0.05, 0.3) * (ends * np.exp(-near))[..., None] * lamp
    out *= np.clip((0.98 - yy) / 0.015, 0, 1)[..., None]
    return np.clip(cv2.resize(out, (w // SHARP, h // SHARP), interpolation=cv2.INTER_AREA), 0, 1)


@cache
def photographs() -> tuple[Plane, ...]:
    """Return the photographs that scikit-image carries: R'G'B' codes as float32 0..1."""
    some = (data.astronaut, data.cat, data.coffee, data.rocket, data.retina, data.immunohistochemistry)
    return tuple(np.float32(one()) / 255 for one in (*some, lambda: data.stereo_motorcycle()[0]))


def cutting(rng: np.random.Generator, size: tuple[int, int], avoid: Plane | None) -> Plane:
    """Return the linear light (h, w, 3) of a part of a photograph, the one of ten with least of a hue."""
    (w, h), found = size, []
    for _ in range(10):
        whole = photographs()[rng.integers(len(photographs()))]
        tall = int(rng.uniform(0.5, 1) * min(whole.shape[0], whole.shape[1] * h / w))
        y, x = (
            int(rng.integers(a - b + 1)) for a, b in zip(whole.shape, (tall, tall * w // h), strict=False)
        )
        part = np.ascontiguousarray(whole[y : y + tall, x : x + tall * w // h])
        found.append((_alike(part, avoid), part))
        if found[-1][0] < 0.01:
            break
    least = min(found, key=lambda one: one[0])[1]
    return to_linear(cv2.resize(least, (w, h), interpolation=cv2.INTER_LINEAR)) * rng.uniform(0.6, 1.1)


def _alike(part: Plane, avoid: Plane | None) -> float:
    """Return how much of a picture is of a hue, or of no light at all."""
    hue, full, value = cv2.split(cv2.cvtColor(part, cv2.COLOR_RGB2HSV))
    dark = float(part.std() < 0.07)
    if avoid is None:
        return dark
    theirs = cv2.cvtColor(np.float32(avoid)[None, None], cv2.COLOR_RGB2HSV)[0, 0, 0]
    near = np.abs((hue - theirs + 180) % 360 - 180) < 36
    return dark + float((near & (full * value > 0.12)).mean())


def photograph(rng: np.random.Generator, height: int, avoid: Plane | None) -> Plane:
    """Cut somebody out of photographs: body and head, perhaps hair and a veil. No cloth is of one hue."""
    h, w = height * SHARP, round(height * 0.72) * SHARP
    out = np.zeros((h, w, 4), np.float32)
    x, top = 0.36 + rng.uniform(-0.03, 0.03), rng.uniform(0.2, 0.26)

    def over(alpha: Plane, blur: float = 0) -> None:
        nonlocal out
        light = cutting(rng, (w, h), avoid)
        light = cv2.GaussianBlur(light, (0, 0), blur * h) if blur else light
        out = laid_over(out, light, alpha)

    if rng.random() < 0.35:
        over(closed(blob(rng, x, 0.5, 0.26, 0.45), (h, w)) * np.float32(rng.uniform(0.15, 0.6)), 0.025)
    over(closed(blob(rng, x, 0.65, rng.uniform(0.14, 0.24), 0.31, 0.1), (h, w)))
    over(closed(blob(rng, x, top, 0.1, 0.14, 0.06), (h, w)))
    if rng.random() < 0.7:
        over(_hair(rng, x, top, (h, w)), 0.017)
    out *= np.clip((0.98 - np.linspace(0, 1, h, dtype=np.float32)[:, None, None]) / 0.015, 0, 1)
    out = cv2.GaussianBlur(out, (0, 0), rng.uniform(0.1, 1.2) * SHARP * height / 360)
    return np.clip(cv2.resize(out, (w // SHARP, h // SHARP), interpolation=cv2.INTER_AREA), 0, 1)


def _hair(rng: np.random.Generator, x: float, top: float, shape: tuple[int, int]) -> Plane:
    strands = np.zeros(shape, np.float32)
    t = np.linspace(0, 1, 16)[:, None]
    for _ in range(int(rng.integers(80, 400))):
        root = np.array([x + rng.normal(0, 0.04), top - 0.06 + rng.normal(0, 0.015)])
        out = np.sign(rng.normal()) * rng.uniform(0.03, 0.09)
        mid = root + [out, rng.uniform(0.05, 0.1)]  # noqa: RUF005 - arrays
        tip = mid + [out * rng.random(), rng.uniform(0.05, 0.2)]  # noqa: RUF005 - arrays
        curve = (1 - t) ** 2 * root + 2 * t * (1 - t) * mid + t**2 * tip
        line = [np.rint(curve * shape[0]).astype(np.int32)]
        cv2.polylines(strands, line, False, 1.0, 1, cv2.LINE_AA)
    return np.clip(strands, 0, 1)


@dataclass
class SoftLight:
    """Light in the air that covers nothing: an orb, smoke, drifting mist, mist that never leaves."""

    kind: str
    size: tuple[int, int]
    rng: np.random.Generator

    def __post_init__(self) -> None:
        w, h = self.size
        self.grid = np.mgrid[:h, :w].astype(np.float32)
        self.colour = to_linear(np.clip(self.rng.uniform(0.35, 1.0, 3), 0, 1).astype(np.float32))
        self.peak = (
            self.rng.uniform(0.05, 0.9) if self.kind in ("orb", "smoke") else self.rng.uniform(0.03, 0.4)
        )
        self.way = self.rng.uniform(-0.006, 0.006, (5, 2)) * h
        self.phase = self.rng.uniform(0, 6.28, 4)
        self.spread = self.rng.uniform(0.06, 0.16) * h
        self.layers = [
            cv2.resize(
                self.rng.normal(0, 1, (4 * 2**k, round(4 * 2**k * w / h))).astype(np.float32),
                (w, h),
                interpolation=cv2.INTER_CUBIC,
            )
            for k in range(5)
        ]

    def at(self, t: float) -> Plane:
        """Return its light (h, w, 4) at frame `t`; alpha is 0."""
        w, h = self.size
        yy, xx = self.grid
        x = w * (0.5 + 0.22 * np.sin(0.13 * t + self.phase[0]))
        y = h * (0.5 + 0.18 * np.sin(0.1 * t + self.phase[1]))
        amount = getattr(self, "_" + self.kind.replace(" ", "_"))(xx - x, yy - y, yy / h, t)
        light = np.clip(self.peak * amount, 0, 1)[..., None] * self.colour
        return np.dstack([light, np.zeros((h, w), np.float32)]).astype(np.float32)

    def _cloud(self, t: float) -> Plane:
        total = np.zeros(self.size[::-1], np.float32)
        for k, (layer, way) in enumerate(zip(self.layers, self.way, strict=True)):
            shift = np.float32([[1, 0, way[0] * t * (1 + k)], [0, 1, way[1] * t * (1 + k)]])
            total += cv2.warpAffine(layer, shift, self.size, borderMode=cv2.BORDER_REFLECT) / 1.8**k
        return total

    def _orb(self, dx: Plane, dy: Plane, down: Plane, t: float) -> Plane:
        far = (dx**2 + dy**2) / (2 * self.spread**2)
        return 0.7 * np.exp(-far) + 0.5 * np.exp(-far * 9)

    def _smoke(self, dx: Plane, dy: Plane, down: Plane, t: float) -> Plane:
        far = (dx**2 + (0.6 * dy) ** 2) / (2 * (2.2 * self.spread) ** 2)
        return np.clip(self._cloud(t) + 0.2, 0, None) * np.exp(-far)

    def _mist(self, dx: Plane, dy: Plane, down: Plane, t: float) -> Plane:
        return np.clip(0.6 + 0.5 * self._cloud(t), 0, None) * np.clip(down - 0.25, 0, 1) ** 1.5

    def _steady_mist(self, dx: Plane, dy: Plane, down: Plane, t: float) -> Plane:
        return (0.8 + 0.25 * np.tanh(self._cloud(0.3 * t))) * np.clip(down + 0.05, 0, 1) ** 2
