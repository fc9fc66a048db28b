"""Paint for the purser: coverage, noise, relief, light and layers, all in linear light.

A part of the figure is a relief: a height over the picture's plane. Its slope gives the normal, the
normal and the lights give the colour, and layers go over one another from the back to the front.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

Plane = npt.NDArray[np.float32]
Colour = tuple[float, float, float]

KEY_LIGHT: Final = np.array([0.50, 0.52, 0.69], np.float32)
KEY_COLOUR: Final = np.array([0.84, 0.94, 1.08], np.float32) * 1.45
SKY: Final = np.array([0.15, 0.19, 0.27], np.float32)
GROUND: Final = np.array([0.055, 0.048, 0.045], np.float32)
FLAME: Final = np.array([1.0, 0.50, 0.17], np.float32)


def smooth(a: float, b: float, x: npt.ArrayLike) -> Plane:
    """Rise from 0 at `a` to 1 at `b` without a corner."""
    t = np.clip((np.asarray(x, np.float32) - a) / (b - a), 0, 1)
    return (t * t * (3 - 2 * t)).astype(np.float32)


def noise_tile(seed: int, size: int = 512, octaves: tuple[int, ...] = (8, 16, 32, 64)) -> Plane:
    """Return smooth noise (size, size), mean 0, deviation 1, that tiles without a seam."""
    rng = np.random.default_rng(seed)
    total = np.zeros((size, size), np.float32)
    for cells in octaves:
        grid = rng.standard_normal((cells, cells)).astype(np.float32)
        grid = np.pad(grid, 3, mode="wrap")
        step = size // cells
        big = cv2.resize(grid, None, fx=step, fy=step, interpolation=cv2.INTER_CUBIC)
        total += big[3 * step : 3 * step + size, 3 * step : 3 * step + size] / cells**0.8
    return ((total - total.mean()) / total.std()).astype(np.float32)


def look_up(tile: Plane, u: Plane, v: Plane) -> Plane:
    """Read a tile at (u, v), one tile a unit."""
    size = tile.shape[0]
    return cv2.remap(
        tile,
        np.ascontiguousarray(u * size, np.float32) % size,
        np.ascontiguousarray(v * size, np.float32) % size,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )


def length(vectors: Plane) -> Plane:
    """Return the lengths of vectors (..., 3)."""
    return np.sqrt(np.einsum("...c,...c->...", vectors, vectors))


@dataclass
class Patch:
    """A rectangle of the canvas with its coordinates."""

    rows: slice
    columns: slice
    x: Plane
    y: Plane
    pixel: float
    """Size of a canvas pixel, in heights of the figure."""

    def cover(self, distance: Plane, soft: float = 0.0) -> Plane:
        """Turn a signed distance (negative inside) into coverage 0..1."""
        width = self.pixel * 1.2 + soft
        return np.clip(0.5 - distance / width, 0, 1)

    def normal(self, relief: Plane) -> Plane:
        """Return the normals (h, w, 3) of a relief."""
        down, right = np.gradient(relief, self.pixel)
        n = np.stack([-right, down, np.ones_like(relief)], -1)
        return (n / length(n)[..., None]).astype(np.float32)


@dataclass
class Lantern:
    """The light that the purser carries."""

    at: npt.NDArray[np.float32]
    power: float


@dataclass
class Canvas:
    """Layers over one another: premultiplied linear light and coverage."""

    width: int
    height: int
    scale: float
    """Canvas pixels in one height of the figure."""
    foot: tuple[float, float]
    """Canvas pixel of the origin."""
    lantern: Lantern
    light: Plane = field(init=False)
    alpha: Plane = field(init=False)

    def __post_init__(self) -> None:
        self.light = np.zeros((self.height, self.width, 3), np.float32)
        self.alpha = np.zeros((self.height, self.width), np.float32)

    def pixel_of(self, x: float, y: float) -> tuple[float, float]:
        """Return the canvas pixel of a point."""
        return self.foot[0] + x * self.scale, self.foot[1] - y * self.scale

    def patch(self, left: float, bottom: float, right: float, top: float) -> Patch:
        """Return the part of the canvas inside these bounds."""
        c0, r1 = self.pixel_of(left, bottom)
        c1, r0 = self.pixel_of(right, top)
        rows = slice(max(0, int(r0)), min(self.height, int(r1) + 1))
        columns = slice(max(0, int(c0)), min(self.width, int(c1) + 1))
        x = (np.arange(columns.start, columns.stop, dtype=np.float32) + 0.5 - self.foot[0]) / self.scale
        y = (self.foot[1] - np.arange(rows.start, rows.stop, dtype=np.float32) - 0.5) / self.scale
        xs, ys = np.meshgrid(x, y)
        return Patch(rows, columns, xs, ys, 1 / self.scale)

    def shade(
        self,
        p: Patch,
        normal: Plane,
        albedo: npt.ArrayLike,
        *,
        depth: npt.ArrayLike = 0.0,
        gloss: float = 0.0,
        shine: float = 24.0,
        sheen: float = 0.0,
        wrap: float = 0.10,
        shadow: npt.ArrayLike = 1.0,
    ) -> Plane:
        """Light a surface: window light, the hall's dim fill, and the lantern.

        `depth` is the surface's distance towards the viewer; `sheen` the soft bright rim of wool.
        """
        occlusion = np.asarray(shadow, np.float32)[..., None] if np.ndim(shadow) else np.float32(shadow)
        nz = np.clip(normal[..., 2], 0, 1)
        facing = np.clip((normal @ KEY_LIGHT + wrap) / (1 + wrap), 0, None)[..., None]
        up = (normal[..., 1:2] + 1) / 2
        light = facing * KEY_COLOUR * occlusion + (up * SKY + (1 - up) * GROUND) * (0.35 + 0.65 * occlusion)
        to = np.stack(
            [
                self.lantern.at[0] - p.x,
                self.lantern.at[1] - p.y,
                np.broadcast_to(np.float32(self.lantern.at[2]) - depth, p.x.shape),
            ],
            -1,
        )
        far = length(to)
        towards = np.einsum("hwc,hwc->hw", normal, to) / np.maximum(far, 1e-3)
        warm = np.clip((towards + 0.25) / 1.25, 0, None) * self.lantern.power / (far * far + 0.012)
        light = light + warm[..., None] * FLAME * (0.4 + 0.6 * occlusion)
        out = np.asarray(albedo, np.float32) * light
        rim = (1 - nz) ** 3
        out = out + sheen * (rim * (0.4 + 0.6 * up[..., 0]))[..., None] * SKY * 4.0
        out = out + sheen * ((1 - nz) ** 1.5 * warm)[..., None] * FLAME * 0.35
        if gloss:
            half = KEY_LIGHT + np.array([0, 0, 1], np.float32)
            half /= np.linalg.norm(half)
            spark = np.clip(normal @ half, 0, 1) ** shine
            to_unit = to / np.maximum(far, 1e-3)[..., None] + np.array([0, 0, 1], np.float32)
            to_unit /= length(to_unit)[..., None]
            warm_spark = np.clip(np.einsum("hwc,hwc->hw", normal, to_unit), 0, 1) ** shine
            out = out + gloss * (
                spark[..., None] * KEY_COLOUR
                + (warm_spark * self.lantern.power / (far * far + 0.02))[..., None] * FLAME
            )
        return out.astype(np.float32)

    def under(self, p: Patch, cover: Plane, strength: float, reach: float) -> None:
        """Darken what lies beneath a layer that will come over it: its contact shadow."""
        blurred = cv2.GaussianBlur(cover, (0, 0), max(0.5, reach * self.scale))
        shift = np.float32([[1, 0, -0.5 * reach * self.scale], [0, 1, 0.8 * reach * self.scale]])
        blurred = cv2.warpAffine(blurred, shift, blurred.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
        self.light[p.rows, p.columns] *= (1 - strength * blurred)[..., None]

    def over(self, p: Patch, colour: npt.ArrayLike, cover: Plane) -> None:
        """Lay a colour (straight, linear) over the canvas with this coverage."""
        a = cover[..., None]
        self.light[p.rows, p.columns] = self.light[p.rows, p.columns] * (1 - a) + np.asarray(colour) * a
        self.alpha[p.rows, p.columns] = self.alpha[p.rows, p.columns] * (1 - cover) + cover

    def glow(self, p: Patch, light: Plane, cover: Plane) -> None:
        """Add light of its own, with the little coverage of lit haze."""
        self.light[p.rows, p.columns] = self.light[p.rows, p.columns] * (1 - cover[..., None]) + light
        self.alpha[p.rows, p.columns] = self.alpha[p.rows, p.columns] * (1 - cover) + cover


def polygon(canvas: Canvas, p: Patch, points: list[tuple[float, float]], soft: float = 0.0) -> Plane:
    """Return the coverage of a polygon, its edge softened over `soft`."""
    mask = np.zeros(p.x.shape, np.uint8)
    origin = np.array([p.columns.start, p.rows.start])
    corners = np.array([canvas.pixel_of(*q) for q in points]) - origin - 0.5
    cv2.fillPoly(mask, [np.round(corners * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    cover = mask.astype(np.float32) / 255
    return cv2.GaussianBlur(cover, (0, 0), soft / p.pixel) if soft else cover


def tube(p: Patch, points: npt.NDArray[np.floating]) -> tuple[Plane, Plane, Plane]:
    """Measure from a bent line: distance, place along it 0..1, and the signed side."""
    best = np.full(p.x.shape, 9, np.float32)
    along, side = np.zeros_like(best), np.zeros_like(best)
    last = len(points) - 1
    for i in range(last):
        a, b = points[i], points[i + 1]
        d = b - a
        length = float(np.hypot(*d))
        t = np.clip(((p.x - a[0]) * d[0] + (p.y - a[1]) * d[1]) / length**2, 0, 1)
        px, py = p.x - (a[0] + t * d[0]), p.y - (a[1] + t * d[1])
        dist = np.sqrt(px * px + py * py)
        near = dist < best
        best = np.where(near, dist, best)
        along = np.where(near, (i + t) / last, along)
        side = np.where(near, np.sign(px * d[1] - py * d[0]) * dist, side)
    return best, along.astype(np.float32), side.astype(np.float32)


def bend(*points: tuple[float, float], count: int = 12) -> npt.NDArray[np.float64]:
    """Return points on the smooth curve (Bezier) that these points control."""
    t = np.linspace(0, 1, count)[:, None]
    row = [np.array(q, float)[None] * np.ones_like(t) for q in points]
    while len(row) > 1:
        row = [(1 - t) * a + t * b for a, b in itertools.pairwise(row)]
    return row[0]
