"""The purser's clothes: boots, long coat, sleeves."""

from __future__ import annotations

import numpy as np

from purser.body import BELT, BRASS, COAT, CRUMPLE, HEM, LEATHER, TROUSER, WEAVE, middle
from purser.motion import Pose
from purser.paint import Canvas, Patch, Plane, bend, look_up, smooth, tube
from purser.trim import belt, buttons, lapels, satchel


def folds(pose: Pose, angle: Plane, y: Plane) -> Plane:
    """Return the relief of hanging cloth: ridges that start at the belt and deepen to the hem."""
    drop = np.clip((BELT - y) / (BELT - HEM), 0, 1)
    # the folds swing after the hips, later the lower they hang
    swing = 0.16 * pose.amount * drop * np.sin(pose.phase - 0.4 - 1.5 * drop)
    warp = 0.22 * look_up(CRUMPLE, angle * 0.11 + 0.3, y * 0.55)
    a = angle + swing + warp * (0.3 + 0.7 * drop)
    deep = np.zeros_like(a)
    for turns, size, start in ((3.6, 1.0, 0.4), (6.1, 0.55, 2.1), (10.3, 0.16, 4.0)):
        wave = np.sin(turns * a + start + 0.5 * drop * np.sin(pose.phase - 1.0 - drop))
        deep += size * (1 - np.abs(wave) ** 1.6)
    return (deep * (0.002 + 0.024 * drop**0.9)).astype(np.float32)


def legs(canvas: Canvas, pose: Pose) -> None:
    """Paint trousers and boots."""
    for side in (-1, 1):
        lifted = 0.004 * max(0.0, side * pose.hips / 0.017)
        p = canvas.patch(side * 0.06 - 0.09, -0.01, side * 0.06 + 0.09, 0.3)
        axis = bend((side * 0.058 + pose.hips * 0.5, 0.3), (side * 0.062, 0.15), (side * 0.062, 0.05))
        distance, along, across = tube(p, axis)
        radius = 0.042 - 0.008 * along
        relief = np.sqrt(np.clip(radius**2 - distance**2, 0, None)) + 0.003 * look_up(
            CRUMPLE, across * 2 + 0.2 * side, p.y * 2
        )
        light = canvas.shade(p, p.normal(relief), TROUSER, depth=relief - 0.04, sheen=0.08)
        canvas.over(p, light, p.cover(distance - radius))
        # the boot: an ankle, and a toe turned outwards
        ankle = bend((side * 0.062, 0.10), (side * 0.062, 0.05), (side * 0.064, 0.03 + lifted))
        toe = bend(
            (side * 0.062, 0.035 + lifted), (side * 0.080, 0.024 + lifted * 0.5), (side * 0.100, 0.019)
        )
        d1, a1, _ = tube(p, ankle)
        d2, a2, _ = tube(p, toe)
        r1, r2 = 0.031 - 0.003 * a1, 0.0245 - 0.005 * a2
        s1, s2 = d1 - r1, d2 - r2
        blend = np.clip(0.5 + 0.5 * (s2 - s1) / 0.018, 0, 1)
        shape = s2 * (1 - blend) + s1 * blend - 0.018 * blend * (1 - blend)
        shape = np.maximum(shape, 0.001 + lifted * (1 - a2) - p.y)
        relief = np.sqrt(np.clip(0.03**2 - np.clip(shape + 0.03, 0, 0.03) ** 2, 0, None))
        relief = relief + 0.0012 * look_up(CRUMPLE, p.x * 3, p.y * 3)
        sole = smooth(0.010, 0.008, p.y - lifted * (1 - a2))
        skin = LEATHER * (1 - 0.6 * sole)[..., None]
        light = canvas.shade(p, p.normal(relief), skin, depth=relief, gloss=0.35, shine=18)
        canvas.over(p, light, p.cover(shape))


def coat_shape(pose: Pose, p: Patch) -> tuple[Plane, ...]:
    """Return distance, angle round the body, half-width, relief and folds of the coat."""
    y = p.y
    drop = np.clip((BELT - y) / (BELT - HEM), 0, 1)
    width = np.interp(
        y,
        [0.05, 0.12, 0.30, 0.46, 0.555, 0.60, 0.68, 0.74, 0.775, 0.80, 0.825, 0.85],
        [0.172, 0.168, 0.142, 0.117, 0.094, 0.095, 0.110, 0.121, 0.121, 0.105, 0.062, 0.045],
    ).astype(np.float32)
    width = width * (1 + 0.012 * pose.breath * smooth(0.56, 0.7, y))
    x = p.x - middle(pose, y)
    # folds also push the outline in and out
    left, right = (folds(pose, np.full_like(y[:, :1], s * 1.45), y[:, :1]) for s in (-1, 1))
    out = width + (np.where(x < 0, left, right) - 0.014) * 0.8 * drop
    u = x / out
    angle = np.arcsin(np.clip(u, -0.999, 0.999))
    deep = folds(pose, angle, y)
    hem = HEM - 0.012 * np.cos(angle) - 0.5 * (deep - 0.020)
    distance = np.maximum((np.abs(u) - 1) * out * 0.96, hem - y)
    relief = 0.72 * out * np.sqrt(np.clip(1 - np.clip(u, -0.985, 0.985) ** 2, 0, None)) + deep
    return tuple(a.astype(np.float32) for a in (distance, angle, out, relief, deep))


def coat(canvas: Canvas, pose: Pose) -> None:
    """Paint the coat: skirt, chest, lapels, belt and two rows of buttons."""
    p = canvas.patch(-0.23, 0.06, 0.23, 0.86)
    distance, angle, width, relief, deep = coat_shape(pose, p)
    y, u = p.y, np.sin(angle)
    chest = smooth(0.58, 0.64, y)
    # creases drawn in by the belt, and across the chest
    crease = look_up(CRUMPLE, angle * 0.25 + 0.1, y * 1.1)
    relief = relief + (0.0035 * chest + 0.0012) * crease
    relief = relief + 0.004 * np.exp(-(((y - BELT - 0.03) / 0.02) ** 2)) * np.sin(angle * 9 + 0.8)
    # the front edge: one side lies over the other, from the collar to the hem
    front = u - 0.16 - 0.05 * smooth(0.5, 0.12, y) - 0.10 * np.sin(pose.phase - 1.6) * smooth(0.5, 0.1, y)
    relief = relief + 0.006 * smooth(0.012, -0.012, front * width)
    weave = look_up(WEAVE, angle * 0.5, y * 2.6)
    relief = relief + 0.00022 * weave
    albedo = COAT * (1 + 0.05 * weave + 0.05 * crease)[..., None]
    albedo = albedo * (1 - 0.45 * smooth(0.0025, 0.0, np.abs(front * width)))[..., None]
    # valleys see less of the light
    valley = 1 - 0.65 * smooth(0.020, 0.0, deep) * smooth(BELT, 0.40, y)
    cover = p.cover(distance)
    light = canvas.shade(p, p.normal(relief), albedo, depth=relief - 0.05, sheen=0.16, shadow=valley)
    canvas.under(p, cover, 0.7, 0.012)
    canvas.over(p, light, cover)
    lapels(canvas, pose, p, relief, weave)
    buttons(canvas, pose)
    satchel(canvas, pose, p, relief)
    belt(canvas, pose, p, angle, relief, cover)


def sleeve(canvas: Canvas, pose: Pose, axis: Plane, depth: float, seed: float) -> None:
    """Paint a sleeve along an axis, with creases at the elbow and a braided cuff."""
    low, high = axis.min(0) - 0.07, axis.max(0) + 0.07
    p = canvas.patch(low[0], low[1], high[0], high[1])
    distance, along, across = tube(p, axis)
    radius = np.interp(along, [0, 0.12, 0.5, 0.86, 0.87, 1.0], [0.026, 0.038, 0.035, 0.029, 0.034, 0.033])
    radius = radius.astype(np.float32) * (1 + 0.03 * np.sin(along * 17 + 9 * seed))
    roll = np.arcsin(np.clip(across / radius, -0.999, 0.999))
    relief = np.sqrt(np.clip(radius**2 - np.clip(distance, 0, radius * 0.985) ** 2, 0, None))
    bentness = np.exp(-(((along - 0.5) / 0.16) ** 2)) + 0.45 * np.exp(-(((along - 0.78) / 0.10) ** 2))
    rings = 1 - np.abs(np.sin(along * 24 + 1.3 * roll + 0.5 * np.sin(pose.phase) + 7 * seed)) ** 1.3
    relief = relief + 0.007 * bentness * rings
    cx, cy = p.x - np.float32(axis[0, 0]) + seed, p.y + np.float32(seed)
    relief = relief + 0.0030 * look_up(CRUMPLE, cx * 1.3, cy * 1.3)
    weave = look_up(WEAVE, cx * 2.6, cy * 2.6)
    relief = relief + 0.00022 * weave
    albedo = COAT * (1 + 0.05 * weave)[..., None]
    braid = np.maximum(
        np.exp(-(((along - 0.905) / 0.010) ** 4)), np.exp(-(((along - 0.945) / 0.010) ** 4))
    ).astype(np.float32)
    albedo = (
        albedo * (1 - braid[..., None])
        + BRASS * braid[..., None] * (0.8 + 0.2 * np.sin(roll * 40))[..., None]
    )
    cover = p.cover(distance - radius)
    light = canvas.shade(p, p.normal(relief), albedo, depth=depth + relief, sheen=0.16, gloss=0.05)
    canvas.under(p, cover, 0.75, 0.016)
    canvas.over(p, light, cover)
