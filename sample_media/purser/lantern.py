"""What the purser's hands hold: the lantern with its glow, and the ticket book."""

from __future__ import annotations

from typing import Final

import numpy as np

from purser.body import BRASS, CRUMPLE
from purser.head import SKIN
from purser.motion import Pose
from purser.paint import FLAME, Canvas, Patch, Plane, bend, look_up, smooth, tube

IRON: Final = np.array([0.085, 0.075, 0.070], np.float32)
GLASS: Final = np.array([0.9, 0.78, 0.55], np.float32)
BOOK: Final = np.array([0.30, 0.075, 0.055], np.float32)
PAPER: Final = np.array([0.70, 0.64, 0.52], np.float32)
LONG: Final = 0.125
"""From the hand to the flame."""


def lantern_hand(pose: Pose) -> tuple[float, float]:
    """Return where the hand that holds the lantern is."""
    return -0.262 + 0.5 * pose.shoulders, 0.690 + pose.lift


def flame_at(pose: Pose) -> tuple[float, float]:
    """Return where the flame is."""
    x, y = lantern_hand(pose)
    return x + LONG * np.sin(pose.swing), y - LONG * np.cos(pose.swing)


def finger(canvas: Canvas, points: list[tuple[float, float]], radius: float, depth: float) -> None:
    """Paint one finger."""
    axis = bend(*points, count=7)
    low, high = axis.min(0) - 0.02, axis.max(0) + 0.02
    p = canvas.patch(low[0], low[1], high[0], high[1])
    distance, along, _ = tube(p, axis)
    r = radius * (1 - 0.22 * along)
    relief = np.sqrt(np.clip(r**2 - np.clip(distance, 0, r * 0.98) ** 2, 0, None))
    knuckle = np.exp(-(((along - 0.5) / 0.08) ** 2))[..., None]
    nail = smooth(0.80, 0.86, along)[..., None]
    skin = SKIN * (1 - 0.18 * knuckle) * (1 + np.array([0.18, 0.24, 0.26], np.float32) * nail)
    light = canvas.shade(p, p.normal(relief), skin, depth=depth + relief, gloss=0.06, shine=14, wrap=0.35)
    cover = p.cover(distance - r)
    canvas.under(p, cover, 0.5, 0.004)
    canvas.over(p, light, cover)


def palm(canvas: Canvas, points: list[tuple[float, float]], radius: float, depth: float) -> None:
    """Paint the back of a hand."""
    axis = bend(*points, count=6)
    low, high = axis.min(0) - 0.05, axis.max(0) + 0.05
    p = canvas.patch(low[0], low[1], high[0], high[1])
    distance, along, across = tube(p, axis)
    r = radius * (0.82 + 0.25 * np.sin(np.pi * np.clip(along, 0, 1)))
    relief = 0.6 * np.sqrt(np.clip(r**2 - np.clip(distance, 0, r * 0.98) ** 2, 0, None))
    relief = (
        relief
        + 0.0012 * np.cos(across * 520) * smooth(0.3, 0.9, along)
        + 0.001 * look_up(CRUMPLE, p.x * 5, p.y * 5)
    )
    light = canvas.shade(p, p.normal(relief), SKIN, depth=depth + relief, gloss=0.05, shine=12, wrap=0.35)
    cover = p.cover(distance - r)
    canvas.under(p, cover, 0.5, 0.006)
    canvas.over(p, light, cover)


def holding_hand(canvas: Canvas, pose: Pose) -> None:
    """Paint the hand round the lantern's ring: the fist's back and curled fingers."""
    x, y = lantern_hand(pose)
    palm(canvas, [(x + 0.030, y - 0.024), (x + 0.014, y - 0.006), (x + 0.002, y + 0.004)], 0.0195, 0.10)
    for k in range(4):
        fx, fy = x - 0.013 + 0.0085 * k, y + 0.010 - 0.0035 * k
        finger(
            canvas,
            [(fx + 0.006, fy + 0.012), (fx - 0.004, fy + 0.008), (fx - 0.005, fy - 0.014)],
            0.0066,
            0.12,
        )
    finger(canvas, [(x + 0.020, y - 0.010), (x + 0.004, y - 0.018), (x - 0.010, y - 0.010)], 0.0072, 0.125)


def book_hand(canvas: Canvas, x: float, y: float) -> None:
    """Paint the ticket book against the hip, with the fingers round its edge."""
    p = canvas.patch(x - 0.07, y - 0.10, x + 0.07, y + 0.06)
    lean = np.float32(0.16)
    bx = (p.x - x + 0.012) * np.cos(lean) + (p.y - y + 0.030) * np.sin(lean)
    by = -(p.x - x + 0.012) * np.sin(lean) + (p.y - y + 0.030) * np.cos(lean)
    d = np.maximum(np.abs(bx) - 0.034, np.abs(by) - 0.050)
    pages = smooth(0.026, 0.029, bx) * (np.abs(by) < 0.046)
    relief = 0.004 * smooth(0.0, -0.004, d) - 0.002 * pages
    band = np.maximum(np.abs(np.abs(by) - 0.038) - 0.002, bx - 0.026)
    stripe = smooth(0.0008, -0.0008, band)[..., None]
    lines = 0.8 + 0.2 * np.sin(bx * 4000)
    colour = BOOK * (1 + 0.12 * look_up(CRUMPLE, p.x * 4, p.y * 4))[..., None]
    colour = colour * (1 - stripe) + BRASS * stripe
    colour = colour * (1 - pages[..., None]) + (PAPER * lines[..., None]) * pages[..., None]
    cover = p.cover(d)
    canvas.under(p, cover, 0.6, 0.010)
    canvas.over(p, canvas.shade(p, p.normal(relief), colour, depth=0.1, gloss=0.10, shine=16), cover)
    palm(canvas, [(x + 0.022, y + 0.026), (x + 0.024, y + 0.004), (x + 0.020, y - 0.012)], 0.0185, 0.10)
    for k in range(4):
        fy = y + 0.000 - 0.0115 * k
        finger(
            canvas,
            [(x + 0.026, fy), (x + 0.014, fy - 0.010), (x - 0.006 - 0.002 * (k == 1), fy - 0.010)],
            0.0068,
            0.12,
        )
    finger(canvas, [(x + 0.020, y + 0.020), (x + 0.004, y + 0.014), (x - 0.004, y + 0.008)], 0.0074, 0.125)


def lantern(canvas: Canvas, pose: Pose) -> None:
    """Paint the lantern: ring, hood, glass with the flame, foot; it swings from the hand."""
    hx, hy = lantern_hand(pose)
    p = canvas.patch(hx - 0.10, hy - 0.24, hx + 0.10, hy + 0.03)
    c, s = np.float32(np.cos(pose.swing)), np.float32(np.sin(pose.swing))
    x = (p.x - hx) * c + (p.y - hy) * s
    y = -(p.x - hx) * s + (p.y - hy) * c
    # the bail: a thin hoop from the hand to the hood's sides
    hoop = np.abs(np.hypot(x / 0.036, (y + 0.055) / 0.055) - 1) * 0.036 - 0.0018
    hoop = np.where(y > -0.062, hoop, 0.05).astype(np.float32)
    wire = canvas.shade(p, p.normal(0.002 * smooth(0.002, -0.002, hoop)), IRON * 1.5, depth=0.09, gloss=0.5)
    canvas.over(p, wire, p.cover(hoop))
    around = {"shine": 16.0, "gloss": 0.8}
    # the glass, lit from inside
    gy = y + LONG
    half = 0.031 * np.sqrt(np.clip(1 - (gy / 0.052) ** 2, 0.15, None))
    body = np.maximum(np.abs(x) - half, np.abs(gy) - 0.037).astype(np.float32)
    bright = np.exp(-((x / 0.020) ** 2 + ((gy + 0.004) / 0.026) ** 2)) * pose.flame
    core = bump_flame(x - 0.0015 * np.sin(3 * pose.phase), gy + 0.004, pose)
    glass = (0.22 + 1.15 * bright)[..., None] * FLAME * GLASS + core[..., None] * np.array(
        [3.2, 2.3, 1.1], np.float32
    )
    edge = smooth(-0.006, 0.0, body)[..., None]
    glass = glass * (1 - 0.4 * edge) + 0.12 * edge
    canvas.over(p, glass, p.cover(body) * (0.72 + 0.28 * np.clip(bright + core, 0, 1)))
    # a pale streak where the window mirrors in the glass
    streak = np.exp(-(((x + 0.6 * half) / 0.0028) ** 2)) * smooth(0.034, 0.020, np.abs(gy))
    canvas.glow(p, streak[..., None] * np.array([0.30, 0.34, 0.40], np.float32) * 0.6, streak * 0.2)
    # guard wires
    for k in (-0.62, 0.0, 0.62):
        w = np.maximum(np.abs(x - k * half * 1.12) - 0.0013, np.abs(gy) - 0.040).astype(np.float32)
        canvas.over(p, IRON * 0.8 + FLAME * 0.10, p.cover(w) * (1 - 0.75 * np.clip(core, 0, 1)))
    # hood, cap and foot: turned metal
    for bottom, top, low, high in (
        (-LONG - 0.060, -LONG - 0.046, 0.038, 0.040),
        (-LONG - 0.046, -LONG - 0.034, 0.035, 0.026),
        (-LONG + 0.033, -LONG + 0.043, 0.033, 0.037),
        (-LONG + 0.043, -LONG + 0.060, 0.033, 0.016),
        (-LONG + 0.060, -LONG + 0.068, 0.017, 0.015),
    ):
        part = np.clip((y - bottom) / (top - bottom), 0, 1)
        r = low + (high - low) * part
        d = np.maximum(np.abs(x) - r, np.maximum(bottom - y, y - top)).astype(np.float32)
        relief = np.sqrt(np.clip(r**2 - np.clip(np.abs(x), 0, r * 0.985) ** 2, 0, None)) + 0.004 * np.sin(
            part * np.pi
        )
        warm = np.exp(-(((y + LONG) / 0.05) ** 2))[..., None] * FLAME * 0.10
        light = canvas.shade(p, p.normal(relief), BRASS * 0.55, depth=0.08, **around) + warm
        canvas.over(p, light, p.cover(d))


def bump_flame(x: Plane, y: Plane, pose: Pose) -> Plane:
    """Return the flame's body: a drop with a fine tip."""
    tall = 0.0175 * pose.flame
    t = np.clip((y + 0.010) / (2 * tall), 0, 1)
    half = 0.0075 * np.sqrt(t + 0.02) * (1 - t) ** 0.7 * 1.9
    inside = smooth(1.25, 0.35, np.abs(x) / np.maximum(half, 1e-4))
    return inside * smooth(-0.014, -0.008, y) * smooth(2 * tall - 0.010, tall - 0.012, y)


def halo(canvas: Canvas, pose: Pose) -> None:
    """Paint the lit haze round the lantern."""
    fx, fy = flame_at(pose)
    reach = 0.15
    p: Patch = canvas.patch(fx - reach, fy - reach, fx + reach, fy + reach)
    d = np.hypot(p.x - fx, p.y - fy)
    fall = np.exp(-((d / 0.034) ** 2)) * 0.30 + np.exp(-((d / 0.075) ** 2)) * 0.11
    fall = fall * smooth(reach, 0.09, d) * pose.flame
    canvas.glow(p, fall[..., None] * np.array([1.0, 0.52, 0.20], np.float32), 0.45 * fall)
