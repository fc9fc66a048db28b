"""The cluttered ticket hall: an albedo, a relief and lamps, painted once."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from purser.paint import Colour, Plane, noise_tile, smooth

WIDE, HIGH = 1280, 720
FINE: Final = 2
"""Painted at twice the size, then shrunk."""
FLOOR: Final = 560
"""Row where the wall meets the floor."""
OAK: Final = (0.155, 0.078, 0.036)
PINE: Final = (0.30, 0.19, 0.10)
CREAM: Final = (0.46, 0.40, 0.29)
BRASS: Final = (0.52, 0.35, 0.12)
TEAL: Final = (0.035, 0.105, 0.115)
PAPER: Final = (0.55, 0.49, 0.37)
INK: Final = (0.025, 0.025, 0.03)


class Wall:
    """Albedo and relief of the hall, and brushes that work on both."""

    def __init__(self) -> None:
        self.y, self.x = (a.astype(np.float32) / FINE for a in np.mgrid[0 : HIGH * FINE, 0 : WIDE * FINE])
        self.albedo = np.zeros((HIGH * FINE, WIDE * FINE, 3), np.float32)
        self.relief = np.zeros((HIGH * FINE, WIDE * FINE), np.float32)
        self.own = np.zeros_like(self.albedo)
        """Light that a thing gives off by itself."""
        self.grain = cv2.resize(noise_tile(41, octaves=(32, 64, 128)), (WIDE * FINE, HIGH * FINE))

    def near(self, x0: float, y0: float, x1: float, y1: float, height: float) -> tuple[slice, slice]:
        """Return the part of the wall that a thing and its shadow can reach."""
        m = 8 + 6 * height
        rows = slice(max(0, int((y0 - m) * FINE)), max(0, int((y1 + m) * FINE)))
        return rows, slice(max(0, int((x0 - m) * FINE)), max(0, int((x1 + m) * FINE)))

    def lay(
        self, here: tuple[slice, slice], shape: Plane, colour: Colour, height: float, round_: float = 3.0
    ) -> None:
        """Lay a thing over a part of the wall: `shape` is a signed distance in pixels, negative inside."""
        cover = np.clip(0.5 - shape * FINE, 0, 1)
        shadow = cv2.GaussianBlur(cover, (0, 0), 2.0 + 1.2 * height)
        shadow = cv2.warpAffine(
            shadow, np.float32([[1, 0, 1.0 * height], [0, 1, 1.4 * height]]), cover.shape[::-1]
        )
        albedo = self.albedo[here] * (1 - 0.55 * shadow)[..., None]
        paint = np.asarray(colour, np.float32) * (1 + 0.05 * self.grain[here])[..., None]
        self.albedo[here] = albedo + cover[..., None] * (paint - albedo)
        self.own[here] *= (1 - cover)[..., None]
        edge = (
            height * np.sqrt(np.clip(1 - np.clip(shape / round_ + 1, 0, 1) ** 2, 0, 1))
            + 0.12 * self.grain[here]
        )
        self.relief[here] += cover * (edge - self.relief[here])

    def box(
        self, x0: float, y0: float, x1: float, y1: float, colour: Colour, height: float = 2, corner: float = 2
    ) -> None:
        """Lay a rectangle with rounded corners."""
        here = self.near(x0, y0, x1, y1, height)
        dx = np.abs(self.x[here] - (x0 + x1) / 2) - (x1 - x0) / 2 + corner
        dy = np.abs(self.y[here] - (y0 + y1) / 2) - (y1 - y0) / 2 + corner
        shape = (
            np.hypot(np.clip(dx, 0, None), np.clip(dy, 0, None)) + np.minimum(np.maximum(dx, dy), 0) - corner
        )
        self.lay(here, shape, colour, height)

    def disc(
        self, x: float, y: float, r: float, colour: Colour, height: float = 2, squeeze: float = 1
    ) -> None:
        """Lay a disc or an ellipse."""
        here = self.near(x - r, y - r, x + r, y + r, height)
        shape = (
            (np.hypot((self.x[here] - x) / r, (self.y[here] - y) / (r * squeeze)) - 1) * r * min(1, squeeze)
        )
        self.lay(here, shape, colour, height, r)

    def line(
        self, x0: float, y0: float, x1: float, y1: float, wide: float, colour: Colour, height: float = 1
    ) -> None:
        """Lay a rod."""
        here = self.near(
            min(x0, x1) - wide, min(y0, y1) - wide, max(x0, x1) + wide, max(y0, y1) + wide, height
        )
        x, y = self.x[here] - x0, self.y[here] - y0
        d = np.array([x1 - x0, y1 - y0], np.float32)
        t = np.clip((x * d[0] + y * d[1]) / (d @ d), 0, 1)
        self.lay(here, np.hypot(x - t * d[0], y - t * d[1]) - wide / 2, colour, height, wide / 2)


def structure(w: Wall) -> None:
    """Paint plaster, panelling and the tiled floor."""
    w.albedo[:] = np.asarray(CREAM, np.float32) * (1 + 0.06 * w.grain)[..., None]
    w.relief += 0.25 * w.grain
    boards = 0.5 + 0.5 * np.cos(2 * np.pi * w.x / 34)
    panel = np.clip(0.5 - (360 - w.y) * FINE, 0, 1)
    wood = np.asarray(TEAL, np.float32) * (1 + 0.10 * w.grain)[..., None]
    w.albedo += panel[..., None] * (wood - w.albedo)
    w.relief += panel * (1.5 - 2.2 * boards**24)
    w.box(-10, 350, 1290, 362, OAK, 4)
    w.box(-10, 534, 1290, 562, OAK, 4)
    # the floor: square tiles, seen from a standing eye
    deep = np.clip((w.y - FLOOR + 70) / 70, 1e-3, None)
    tiles = np.floor((w.x - 640) / deep / 44) + np.floor(9.0 / deep)
    tone = np.where(tiles % 2 == 0, 0.22, 0.06)[..., None] * np.array([1.0, 0.86, 0.68], np.float32)
    tone = cv2.GaussianBlur(tone.astype(np.float32), (0, 0), 0.8) * (1 + 0.12 * w.grain)[..., None]
    floor = np.clip(0.5 - (FLOOR - w.y) * FINE, 0, 1)
    w.albedo += floor[..., None] * (tone - w.albedo)
    w.relief *= 1 - floor


def window(w: Wall) -> None:
    """Paint the window: night sea, moon and its path on the water."""
    w.box(58, 66, 338, 344, OAK, 6)
    w.box(72, 80, 324, 330, (0.0, 0.0, 0.0), 0.1)
    pane = (w.x > 74) & (w.x < 322) & (w.y > 82) & (w.y < 328)
    sky = np.array([0.016, 0.030, 0.075], np.float32) * (1.2 + (w.y[..., None] - 80) / 160)
    sea = np.array([0.010, 0.022, 0.042], np.float32) * (1 + 0.3 * w.grain[..., None])
    view = np.where(w.y[..., None] < 238, sky, sea)
    moon = np.hypot(w.x - 238, w.y - 138)
    view = view + (smooth(19.5, 18.0, moon) * 0.75 + 0.10 * np.exp(-((moon / 46) ** 2)))[..., None]
    path = np.exp(-(((w.x - 238) / (8 + 0.22 * (w.y - 238))) ** 2)) * (w.y > 238)
    path = path * np.clip(np.sin(w.y * 1.7 + 3 * w.grain), 0, 1)
    view = view + 0.35 * path[..., None] * np.array([0.9, 0.95, 1.0], np.float32)
    for at in (110, 138, 150):
        view = view + np.exp(-(np.hypot(w.x - at, (w.y - 236) * 1.6) ** 2) / 5)[..., None] * np.array(
            [0.9, 0.5, 0.15]
        )
    w.own += pane[..., None] * view
    w.box(194, 80, 202, 330, OAK, 4)
    w.box(72, 196, 324, 204, OAK, 4)
    w.box(48, 340, 348, 354, OAK, 7)
    for x in (64, 334):
        for k in range(5):
            w.line(x + 7 * k - 14, 58, x + 7 * k - 14 + (6 - 3 * k), 336, 9, (0.27, 0.035, 0.035), 4)
    w.line(34, 56, 362, 56, 6, BRASS, 4)


def counter(w: Wall) -> None:
    """Paint the ticket window: hatch, grille, sign, counter and what stands on it."""
    w.box(842, 96, 1186, 364, OAK, 8)
    w.box(862, 150, 1166, 352, (0.016, 0.013, 0.012), 0.5)
    for k in range(4):
        w.box(872, 176 + 44 * k, 1156, 182 + 44 * k, PINE, 2)
        rng = np.random.default_rng(50 + k)
        x = 876.0
        while x < 1140:
            wide, tall = rng.uniform(6, 15), rng.uniform(16, 34)
            colour = tuple(rng.uniform(0.03, 0.30, 3))
            w.box(x, 176 + 44 * k - tall, x + wide, 176 + 44 * k, colour, 2, 1)
            x += wide + rng.choice([0.5, 1.0, 9.0], p=[0.5, 0.3, 0.2])
    inside = (w.x > 862) & (w.x < 1166) & (w.y > 150) & (w.y < 352)
    w.own += (inside * 0.05 * np.exp(-(((w.x - 1014) / 110) ** 2) - ((w.y - 180) / 90) ** 2))[
        ..., None
    ] * np.array([1.0, 0.62, 0.25], np.float32)
    for k in range(13):
        w.line(874 + 23.5 * k, 150, 874 + 23.5 * k, 352, 3.4, BRASS, 3)
    for y in (206, 262):
        w.line(862, y, 1166, y, 4, BRASS, 3)
    w.box(888, 108, 1140, 140, TEAL, 3)
    w.box(892, 112, 1136, 136, (0.045, 0.12, 0.13), 1)
    letters(w, "TICKETS", 938, 133, 0.98, (0.62, 0.44, 0.16))
    w.box(820, 352, 1216, 374, PINE, 8)
    w.box(834, 374, 1202, 556, OAK, 6)
    for x in (848, 970, 1092):
        w.box(x, 392, x + 100, 538, (0.19, 0.10, 0.045), 4)
        w.box(x + 12, 404, x + 88, 526, OAK, 3)
    # a bell, a stack of tickets, an ink well
    w.disc(1134, 342, 15, BRASS, 9, 0.75)
    w.box(1117, 346, 1151, 353, OAK, 3)
    for k in range(6):
        w.box(858 + k % 2, 346 - 4 * k, 894 + k % 3, 350 - 4 * k, PAPER, 1, 0.5)
    w.box(1062, 330, 1080, 352, (0.03, 0.05, 0.09), 5, 5)
    w.line(1074, 332, 1094, 296, 2.4, PAPER, 1)


def letters(w: Wall, text: str, x: float, y: float, size: float, colour: Colour) -> None:
    """Paint letters whose foot stands at row `y`."""
    mask = np.zeros(w.relief.shape, np.uint8)
    at = (int(x * FINE), int(y * FINE - 4))
    cv2.putText(
        mask, text, at, cv2.FONT_HERSHEY_DUPLEX, size * FINE, 255, int(2 * size * FINE) or 1, cv2.LINE_AA
    )
    cover = mask.astype(np.float32) / 255
    w.albedo += cover[..., None] * (np.asarray(colour, np.float32) - w.albedo)
    w.relief += 0.6 * cover


def clock(w: Wall) -> None:
    """Paint the clock; it is 1:24."""
    x, y = 566.0, 128.0
    w.disc(x, y, 58, OAK, 10)
    w.disc(x, y, 50, BRASS, 4)
    w.disc(x, y, 46, (0.62, 0.57, 0.45), 0.5)
    for k in range(60):
        a = np.radians(6 * k)
        inner = 37 if k % 5 == 0 else 41
        w_line = 2.6 if k % 5 == 0 else 1.0
        s, c = np.sin(a), -np.cos(a)
        w.line(x + inner * s, y + inner * c, x + 43.5 * s, y + 43.5 * c, w_line, INK, 0.2)
    for turn, long, wide in ((30 * (1 + 24 / 60), 24, 4.2), (6 * 24, 37, 2.8)):
        a = np.radians(turn)
        w.line(x - 6 * np.sin(a), y + 6 * np.cos(a), x + long * np.sin(a), y - long * np.cos(a), wide, INK, 1)
    w.disc(x, y, 4, BRASS, 2)


def notices(w: Wall) -> None:
    """Paint the sailings board and the posters."""
    w.box(400, 214, 490, 342, OAK, 5)
    w.box(407, 221, 483, 335, (0.012, 0.014, 0.018), 1)
    rng = np.random.default_rng(60)
    for k in range(9):
        y = 230 + 11.6 * k
        w.box(412, y, 412 + rng.uniform(18, 34), y + 3.6, (0.52, 0.46, 0.28), 0.1, 1)
        w.box(458, y, 478, y + 3.6, (0.52, 0.46, 0.28), 0.1, 1)
    w.box(700, 190, 800, 334, PAPER, 2)
    w.box(707, 197, 793, 292, (0.05, 0.14, 0.22), 0.3)
    w.disc(770, 222, 13, (0.62, 0.34, 0.08), 0.3)
    here = w.near(700, 245, 800, 270, 0)
    x, y = w.x[here], w.y[here]
    hull = np.maximum(np.abs(x - 748) - (44 - 0.9 * (y - 252)), np.maximum(250 - y, y - 268))
    w.lay(here, hull, (0.50, 0.10, 0.06), 0.4)
    w.box(726, 238, 768, 250, (0.58, 0.54, 0.44), 0.4)
    w.box(744, 216, 754, 238, (0.50, 0.10, 0.06), 0.4)
    w.box(707, 270, 793, 292, (0.03, 0.07, 0.13), 0.2)
    letters(w, "NIGHT", 716, 312, 0.50, INK)
    letters(w, "FERRY", 722, 330, 0.42, INK)


def luggage(w: Wall) -> None:
    """Paint bench, trunks, a barrel of umbrellas and a rope barrier."""
    for x in (70, 342):
        w.box(x, 470, x + 14, 586, OAK, 5)
    for k in range(4):
        w.box(56, 404 + 19 * k, 374, 418 + 19 * k, PINE, 4)
    w.box(46, 484, 384, 502, PINE, 7)
    for x0, y0, x1, y1, colour in (
        (96, 420, 206, 484, (0.20, 0.075, 0.03)),
        (112, 372, 194, 420, (0.075, 0.09, 0.055)),
        (228, 436, 322, 484, (0.27, 0.17, 0.07)),
    ):
        w.box(x0, y0, x1, y1, colour, 9, 7)
        for x in (x0 + 16, x1 - 24):
            w.box(x, y0, x + 8, y1, (0.10, 0.05, 0.025), 1.5, 1)
        w.box((x0 + x1) / 2 - 6, y0 + 12, (x0 + x1) / 2 + 6, y0 + 22, BRASS, 2)
        w.box((x0 + x1) / 2 - 17, y0 - 6, (x0 + x1) / 2 + 17, y0 - 1, (0.10, 0.05, 0.025), 2)
    w.box(1226, 440, 1272, 604, (0.16, 0.08, 0.035), 16, 10)
    for y in (458, 520, 580):
        w.box(1224, y, 1274, y + 8, (0.09, 0.09, 0.10), 4)
    for x0, x1, colour in ((1236, 1218, INK), (1250, 1254, (0.18, 0.03, 0.03)), (1262, 1276, TEAL)):
        w.line(x0, 442, x1, 346, 6, colour, 4)
        w.disc(x1, 340, 7, OAK, 4)
    t = np.linspace(0, 1, 26)
    for left, right in ((-30, 196), (196, 424), (858, 1074), (1074, 1310)):
        xs, ys = left + (right - left) * t, 494 + 210 * t * (1 - t)
        for k in range(25):
            w.line(xs[k], ys[k], xs[k + 1], ys[k + 1], 9, (0.24, 0.03, 0.035), 3)
    for x in (196, 424, 858, 1074):
        w.disc(x, 652, 26, BRASS, 5, 0.28)
        w.line(x, 648, x, 488, 8, BRASS, 4)
        w.disc(x, 482, 10, BRASS, 6)


def lamps(w: Wall) -> Plane:
    """Return the hall in its light: two warm lamps, the moon's cool light, dim fill."""
    down, right = np.gradient(cv2.GaussianBlur(w.relief, (0, 0), 0.8) * FINE)
    n = np.stack([-right, -down, np.full_like(right, 1.6)], -1)
    n /= np.linalg.norm(n, axis=-1, keepdims=True)
    total = np.full((*w.x.shape, 3), 0.075, np.float32) * np.array([0.8, 0.95, 1.3], np.float32)
    for x, y, z, colour, power in (
        (1014, 40, 190, (1.0, 0.66, 0.34), 42000),
        (470, 30, 240, (1.0, 0.70, 0.40), 46000),
        (640, 620, 330, (1.0, 0.72, 0.45), 24000),
        (220, 150, 420, (0.55, 0.72, 1.0), 22000),
    ):
        to = np.stack([x - w.x, y - w.y, np.full_like(w.x, z)], -1)
        far = np.linalg.norm(to, axis=-1)
        facing = np.clip(np.einsum("hwc,hwc->hw", n, to) / far, 0, None)
        total += (facing * power / far**2)[..., None] * np.asarray(colour, np.float32)
    return w.albedo * total + w.own


def room() -> Plane:
    """Return the hall without the purser, linear (720, 1280, 3)."""
    w = Wall()
    for paint in (structure, window, counter, clock, notices, luggage):
        paint(w)
    light = cv2.resize(lamps(w), (WIDE, HIGH), interpolation=cv2.INTER_AREA)
    y, x = np.mgrid[0:HIGH, 0:WIDE].astype(np.float32)
    vignette = 1 - 0.35 * (((x - 640) / 640) ** 2 + ((y - 360) / 360) ** 2) / 2
    light = light * vignette[..., None]
    # a lens that is sharp on the purser leaves the wall a little soft
    return cv2.GaussianBlur(np.clip(light, 0, 1), (0, 0), 0.8).astype(np.float32)
