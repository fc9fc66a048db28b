"""The purser's head: a weathered face, a white beard, a peaked cap."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from purser.body import BRASS, CRUMPLE, middle
from purser.motion import Pose
from purser.paint import Canvas, Patch, Plane, look_up, noise_tile, smooth

SKIN: Final = np.array([0.68, 0.41, 0.30], np.float32)
HAIR: Final = np.array([0.66, 0.67, 0.70], np.float32)
CAP: Final = np.array([0.040, 0.055, 0.105], np.float32)
CAP_TOP: Final = np.array([0.62, 0.66, 0.72], np.float32)
STRANDS: Final = noise_tile(21, octaves=(64, 128))


def bump(x: Plane, y: Plane, at: tuple[float, float], size: tuple[float, float], height: float) -> Plane:
    """Return a smooth hill."""
    return height * np.exp(-(((x - at[0]) / size[0]) ** 2) - ((y - at[1]) / size[1]) ** 2)


def face(canvas: Canvas, pose: Pose, x0: float, y0: float) -> None:
    """Paint the face; `x0`, `y0` is the middle of the head."""
    p = canvas.patch(x0 - 0.08, y0 - 0.09, x0 + 0.08, y0 + 0.07)
    x, y = p.x - x0, p.y - y0
    # ears first
    for side in (-1, 1):
        ex = x - side * 0.047 + 0.004 * pose.turn
        d = np.hypot(ex / 0.62, y + 0.008) - 0.016
        relief = 0.004 * smooth(0.0, -0.012, d) - 0.004 * smooth(-0.005, -0.014, d)
        canvas.over(p, canvas.shade(p, p.normal(relief), SKIN * 0.9, depth=0), p.cover(d))
    w = 0.0475 * (1 - 0.24 * smooth(-0.01, -0.07, y))
    d = (np.hypot(x / w, y / 0.064) - 1) * 0.05
    # features move with the turn of the head
    s = 0.012 * pose.turn
    fx = x - s
    relief = 0.055 * np.sqrt(np.clip(1 - np.clip(np.hypot(x / w, y / 0.068), 0, 0.985) ** 2, 0, None))
    relief = relief + bump(fx, y, (0, -0.010), (0.0065, 0.016), 0.013)
    relief = relief + bump(fx, y, (0, -0.021), (0.0095, 0.0075), 0.011)
    for side in (-1, 1):
        relief = relief + bump(fx, y, (side * 0.0085, -0.0235), (0.005, 0.005), 0.005)
        relief = relief + bump(fx, y, (side * 0.026, -0.019), (0.013, 0.011), 0.006)
        relief = relief - bump(fx, y, (side * 0.0195, 0.003), (0.0115, 0.008), 0.010)
        relief = relief + bump(fx, y, (side * 0.0195, 0.0025), (0.0075, 0.0055), 0.006)
        relief = relief + bump(fx, y, (side * 0.018, 0.0145), (0.014, 0.005), 0.006)
    relief = relief + 0.0005 * look_up(CRUMPLE, x * 6, y * 6)
    red = bump(fx, y, (0, -0.022), (0.012, 0.009), 0.9)
    for side in (-1, 1):
        red = red + bump(fx, y, (side * 0.027, -0.021), (0.013, 0.011), 0.75)
    albedo = SKIN * (1 + red[..., None] * np.array([0.06, -0.24, -0.26], np.float32))
    for side in (-1, 1):
        socket = bump(fx, y, (side * 0.0195, 0.004), (0.013, 0.009), 0.40)
        albedo = albedo * (1 - socket)[..., None]
    light = canvas.shade(p, p.normal(relief), albedo, depth=relief + 0.02, gloss=0.07, shine=12, wrap=0.35)
    canvas.over(p, light, p.cover(d))
    eyes(canvas, pose, p, fx, y)


def eyes(canvas: Canvas, pose: Pose, p: Patch, fx: Plane, y: Plane) -> None:
    """Paint eyes that look towards where the head turns, and brows."""
    for side in (-1, 1):
        ex, ey = fx - side * 0.0195, y - 0.0025
        opening = 0.0043 * (1 - pose.blink) + 0.0004
        lens = np.hypot(ex / 0.0088, ey / opening) - 1
        white = p.cover(lens * opening)
        canvas.over(p, np.array([0.50, 0.48, 0.46], np.float32) * 0.75, white)
        gaze = 0.0022 * pose.turn
        iris = np.hypot(ex - gaze, ey + 0.0004) - 0.0040
        canvas.over(p, np.array([0.05, 0.085, 0.13], np.float32), p.cover(iris) * white)
        spark = np.hypot(ex - gaze + 0.0014, ey - 0.0014) - 0.0011
        canvas.over(p, np.array([1.0, 0.85, 0.6], np.float32), p.cover(spark) * white)
        lid = np.abs(ey - opening * np.sqrt(np.clip(1 - (ex / 0.0088) ** 2, 0, None))) - 0.0010
        canvas.over(p, SKIN * 0.22, p.cover(lid - 0.0004 * (ey > 0)) * (np.abs(ex) < 0.0094) * 0.85)
        # the lid's fold above, the smile's lines at the outer corner
        fold = np.abs(ey - 0.0062 + 30 * ex**2) - 0.0007
        canvas.over(p, SKIN * 0.35, p.cover(fold) * (np.abs(ex) < 0.010) * 0.5)
        for k in (-1, 0, 1):
            out = side * ex - 0.0125
            line = np.abs(ey + 0.001 - k * (0.0022 + 0.35 * out)) - 0.0004
            canvas.over(
                p, SKIN * 0.40, p.cover(line) * smooth(0, 0.001, out) * smooth(0.008, 0.004, out) * 0.5
            )


def wisps(canvas: Canvas, p: Patch, curves: list[np.ndarray], width: float) -> Plane:
    """Draw fine strands and return their coverage."""
    mask = np.zeros(p.x.shape, np.uint8)
    origin = np.array([p.columns.start, p.rows.start], float)
    for curve in curves:
        pixels = np.array([canvas.pixel_of(a, b) for a, b in curve]) - origin
        fixed = np.round(pixels * 16).astype(np.int32)
        # a strand thins out towards its end
        for points, value in ((fixed, 90), (fixed[:6], 170), (fixed[:4], 255)):
            cv2.polylines(mask, [points], False, value, 1, cv2.LINE_AA, 4)
    return np.clip(cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), width) * 1.4, 0, 1)


def strand_curves(
    rng: np.random.Generator, count: int, root: object, fall: object, pose: Pose, sway: float
) -> list[np.ndarray]:
    """Return curved strands; `root(k)` gives where each starts and `fall(k)` its end, from random numbers."""
    out = []
    for _ in range(count):
        k = rng.random(4)
        a, b = np.array(root(k)), np.array(fall(k))  # type: ignore[operator]
        t = np.linspace(0, 1, 8)[:, None]
        curl = (k[2] - 0.5) * 0.016 * np.sin(t * (2 + 3 * k[3]))
        drift = sway * np.sin(pose.phase - 1.5 - t) * t**1.5
        points = a * (1 - t) + b * t
        points[:, :1] += curl + drift
        out.append(points)
    return out


def beard(canvas: Canvas, pose: Pose, x0: float, y0: float) -> None:
    """Paint beard, moustache, brows and the hair at the temples."""
    p = canvas.patch(x0 - 0.11, y0 - 0.17, x0 + 0.11, y0 + 0.05)
    s = 0.010 * pose.turn
    x, y = p.x - x0 - s * smooth(0.03, -0.06, p.y - y0), p.y - y0
    sway = 0.006 * pose.amount * np.sin(pose.phase - 1.6) * smooth(-0.04, -0.13, y)
    bx = x - sway
    half = np.interp(
        y, [-0.128, -0.122, -0.11, -0.09, -0.05, -0.02, 0.02], [0.0, 0.015, 0.028, 0.040, 0.050, 0.050, 0.046]
    )
    inner = np.interp(y, [-0.046, -0.040, -0.030, 0.0, 0.03], [0.0, 0.020, 0.032, 0.041, 0.0445])
    inside = np.maximum(np.abs(bx) - half, np.where(y > -0.046, inner - np.abs(bx), -1))
    inside = np.maximum(inside, np.maximum(y - 0.02, -0.124 - y)).astype(np.float32)
    lock = look_up(STRANDS, bx * 1.5 + 0.02 * np.sin(y * 50 + 40 * bx), y * 0.16 + 0.5)
    lock = lock + 0.5 * look_up(STRANDS, bx * 3.1 + 0.4 - 0.15 * y, y * 0.25)
    lump = look_up(CRUMPLE, bx * 1.8 + 0.5, y * 1.2)
    body = np.sqrt(np.clip(1 - (bx / 0.062) ** 2 - ((y + 0.04) / 0.105) ** 2, 0, None))
    relief = 0.05 * body + 0.0022 * lock + 0.005 * lump
    albedo = HAIR * (1 + 0.16 * lock)[..., None]
    cover = p.cover(inside + 0.004 * lock, 0.010)
    canvas.under(p, cover, 0.5, 0.008)
    light = canvas.shade(p, p.normal(relief), albedo, depth=relief + 0.05, sheen=0.2, wrap=0.4)
    canvas.over(p, light, cover)
    # mouth hint, then the moustache in two sweeps
    mouth = np.hypot(x / 0.011, (y + 0.0475) / 0.0028) - 1
    canvas.over(p, np.array([0.20, 0.07, 0.06], np.float32), p.cover(mouth * 0.003) * 0.8)
    for side in (-1, 1):
        mx = side * x
        spine = -0.036 - 5.0 * np.clip(mx, 0, None) ** 2 - 0.15 * mx
        thick = 0.0095 * np.sqrt(np.clip(1 - np.clip((mx - 0.018) / 0.026, -1, 1) ** 2, 0, None))
        d = (np.abs(y - spine) - thick).astype(np.float32)
        d = np.where((mx > -0.004) & (mx < 0.046), d, 0.05)
        comb = look_up(STRANDS, (y - spine) * 3 + 0.1, mx * 0.6 + 0.3 * side)
        relief = 0.5 * np.sqrt(np.clip(0.012**2 - (y - spine) ** 2, 0, None)) + 0.0025 * comb
        light = canvas.shade(p, p.normal(relief), HAIR * (1.08 + 0.16 * comb)[..., None], depth=0.1, wrap=0.4)
        canvas.over(p, light, p.cover(d + 0.002 * comb, 0.004))
        bx0, by0 = x + 0.0 - side * 0.019, y - 0.0155 + 6.0 * (side * x - 0.017) ** 2
        d = (np.hypot(bx0 / 0.0125, by0 / 0.0040) - 1) * 0.004
        canvas.over(p, light * 0.95, p.cover(d + 0.0012 * comb, 0.003) * 0.92)
    rng = np.random.default_rng(5)
    curves = strand_curves(
        rng,
        260,
        lambda k: (x0 + s + (k[0] - 0.5) * (0.098 - 0.055 * k[1]), y0 - 0.030 - 0.075 * k[1]),
        lambda k: (x0 + s + (k[0] - 0.5) * (0.122 - 0.085 * k[1]), y0 - 0.072 - 0.070 * k[1] - 0.012 * k[3]),
        pose,
        0.008,
    )
    for side in (-1, 1):
        curves += strand_curves(
            rng,
            45,
            lambda k, side=side: (x0 + side * (0.044 + 0.006 * k[0]), y0 + 0.026 - 0.035 * k[1]),
            lambda k, side=side: (x0 + side * (0.056 + 0.018 * k[0]), y0 - 0.012 - 0.045 * k[1]),
            pose,
            0.006,
        )
    fine = wisps(canvas, p, curves, 0.7)
    canvas.over(p, canvas.shade(p, p.normal(0.02 * body), HAIR * 1.1, depth=0.08, wrap=0.5), fine * 0.55)


def cap(canvas: Canvas, pose: Pose, x0: float, y0: float) -> None:
    """Paint the cap: white crown, dark band with badge, shining peak."""
    p = canvas.patch(x0 - 0.11, y0 - 0.01, x0 + 0.11, y0 + 0.12)
    s = pose.turn
    x, y = p.x - x0, p.y - y0
    # the crown droops a little and is turned with the head
    droop = 0.07 * (x + 0.004 * s)
    d = (np.hypot((x - 0.004 * s) / 0.072, (y - 0.060 - droop) / 0.034) - 1) * 0.034
    relief = 0.05 * np.sqrt(np.clip(1 - np.clip(d / 0.034 + 1, 0, 0.985) ** 2, 0, None))
    relief = relief + 0.0030 * look_up(CRUMPLE, x * 2.0, y * 3.0)
    relief = relief + 0.003 * np.sin((x - 0.004 * s) * 130) * smooth(0.055, 0.035, y)
    light = canvas.shade(p, p.normal(relief), CAP_TOP, depth=relief + 0.02, sheen=0.1, wrap=0.25)
    cover = p.cover(d)
    canvas.over(p, light, cover)
    # the band is a ring seen from slightly below
    arc = 0.034 - 3.0 * (x - 0.002 * s) ** 2
    ring = np.maximum(np.abs(y - arc) - 0.0155, np.abs(x) - 0.0535)
    relief = 0.05 * np.sqrt(np.clip(1 - (x / 0.056) ** 2, 0, None)) + 0.0006 * look_up(STRANDS, x * 4, y * 4)
    edge = np.exp(-(((y - arc - 0.012) / 0.0016) ** 2)) + np.exp(-(((y - arc + 0.012) / 0.0016) ** 2))
    albedo = CAP * (1 - edge[..., None]) + BRASS * edge[..., None]
    light = canvas.shade(p, p.normal(relief), albedo, depth=relief, sheen=0.2, gloss=0.06)
    cover = p.cover(ring)
    canvas.under(p, cover, 0.5, 0.006)
    canvas.over(p, light, cover)
    badge(canvas, p, x - 0.013 * s, y - 0.038)
    peak(canvas, p, x, y, s)


def badge(canvas: Canvas, p: Patch, x: Plane, y: Plane) -> None:
    """Paint the brass badge: a small wheel with a wreath."""
    d = np.hypot(x, y)
    turn = np.arctan2(y, x)
    wheel = np.minimum(
        np.abs(d - 0.0075) - 0.0018, np.maximum(d - 0.0105, np.abs(np.sin(turn * 3)) * d - 0.0011)
    )
    wreath = np.abs(np.hypot(x / 1.25, y + 0.001) - 0.0128) - 0.0018 + 0.05 * np.clip(y - 0.004, 0, None)
    shape = np.minimum(wheel, wreath).astype(np.float32)
    relief = 0.003 * smooth(0.001, -0.002, shape)
    light = canvas.shade(p, p.normal(relief), BRASS * 1.2, depth=0.08, gloss=1.2, shine=14)
    canvas.over(p, light, p.cover(shape))


def peak(canvas: Canvas, p: Patch, x: Plane, y: Plane, turn: float) -> None:
    """Paint the peak, and the shade that it casts on the brow."""
    px = x - 0.008 * turn
    upper = 0.0215 - 3.2 * px**2
    lower = 0.0045 + 1.5 * px**2
    d = np.maximum(np.maximum(y - upper, lower - y), np.abs(px) - 0.051).astype(np.float32)
    relief = 0.03 * np.sqrt(np.clip(1 - (px / 0.06) ** 2, 0, None)) - 0.7 * (y - lower) ** 1
    light = canvas.shade(p, p.normal(relief), CAP * 0.5, depth=0.09, gloss=0.55, shine=10)
    edge = np.exp(-(((y - lower) / 0.0016) ** 2))[..., None]
    light = light * (1 - 0.6 * edge) + 0.6 * edge * np.array([0.22, 0.20, 0.19], np.float32)
    cover = p.cover(d)
    canvas.under(p, cover, 0.45, 0.006)
    canvas.over(p, light, cover)


def head(canvas: Canvas, pose: Pose) -> None:
    """Paint the whole head."""
    x0 = float(middle(pose, np.float32(0.9)))
    y0 = 0.895 + pose.nod
    face(canvas, pose, x0, y0)
    beard(canvas, pose, x0, y0)
    cap(canvas, pose, x0, y0 + 0.010)
