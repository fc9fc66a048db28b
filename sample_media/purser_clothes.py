"""The purser's clothes: boots, long coat, sleeves, scarf and a gauze hem."""

from __future__ import annotations

from typing import Final

import numpy as np
from purser_motion import Pose
from purser_paint import Canvas, Patch, Plane, bend, look_up, noise_tile, polygon, smooth, tube

COAT: Final = np.array([0.120, 0.158, 0.255], np.float32)
TROUSER: Final = np.array([0.060, 0.070, 0.105], np.float32)
LEATHER: Final = np.array([0.050, 0.036, 0.030], np.float32)
BRASS: Final = np.array([0.62, 0.42, 0.14], np.float32)
SCARF: Final = np.array([0.40, 0.045, 0.040], np.float32)
GAUZE: Final = np.array([0.52, 0.60, 0.74], np.float32)

WEAVE: Final = noise_tile(11, octaves=(64, 128))
CRUMPLE: Final = noise_tile(12, octaves=(4, 8, 16))

HEM: Final = 0.112
BELT: Final = 0.575


def middle(pose: Pose, y: Plane) -> Plane:
    """Return the body's centre line: feet stand, hips, shoulders and head sway."""
    hips = smooth(0.0, 0.5, y) * (1 - smooth(0.5, 0.8, y))
    shoulders = smooth(0.5, 0.8, y) * (1 - smooth(0.8, 0.92, y))
    # the skirt's hem hangs after the hips
    late = 0.012 * pose.amount * np.sin(pose.phase - 1.1) * (1 - smooth(0.1, 0.42, y))
    return pose.hips * hips + pose.shoulders * shoulders + pose.head * smooth(0.8, 0.92, y) + late


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
        toe = bend((side * 0.062, 0.035 + lifted), (side * 0.080, 0.024 + lifted * 0.5), (side * 0.100, 0.019))
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


def lapels(canvas: Canvas, pose: Pose, p: Patch, relief: Plane, weave: Plane) -> None:
    """Paint the waistcoat in the neck's opening, and the velvet lapels that are folded from it."""
    x0 = float(middle(pose, np.float32(0.75)))
    tip = (x0 + 0.012, 0.672)
    opening = polygon(canvas, p, [(x0 - 0.05, 0.83), tip, (x0 + 0.05, 0.83)])
    light = canvas.shade(p, p.normal(relief), TROUSER * 1.5, depth=relief - 0.06, shadow=0.6)
    canvas.over(p, light, opening)
    for side in (-1, 1):
        inner, outer = x0 + side * 0.040, x0 + side * 0.092
        shape = [(inner, 0.83), (x0 + side * 0.028, 0.770), tip]
        notch = [(x0 + side * 0.062, 0.735), (x0 + side * 0.080, 0.757), (x0 + side * 0.064, 0.768), (outer, 0.790)]
        corners = [*shape, *notch, (x0 + side * 0.06, 0.83)]
        cover = polygon(canvas, p, corners)
        raised = relief + 0.006 * polygon(canvas, p, corners, 0.0022)
        velvet = COAT * 0.45 * (1 + 0.06 * weave)[..., None]
        light = canvas.shade(p, p.normal(raised), velvet, depth=relief, sheen=0.35)
        canvas.under(p, cover, 0.6, 0.005)
        canvas.over(p, light, cover)


def satchel(canvas: Canvas, pose: Pose, p: Patch, relief: Plane) -> None:
    """Paint the ticket satchel: a strap over the chest, a small bag at the hip."""
    top = float(middle(pose, np.float32(0.78)))
    hip = float(middle(pose, np.float32(0.50))) - 0.006 * pose.amount * np.sin(pose.phase - 1.4)
    whole, p = p, canvas.patch(-0.17, 0.40, 0.12, 0.83)
    relief = relief[
        p.rows.start - whole.rows.start : p.rows.stop - whole.rows.start,
        p.columns.start - whole.columns.start : p.columns.stop - whole.columns.start,
    ]
    axis = bend((top + 0.075, 0.800), (top + 0.010, 0.70), (hip - 0.060, 0.60), (hip - 0.092, 0.505))
    distance, along, across = tube(p, axis)
    stitch = 0.35 * np.exp(-(((np.abs(across) - 0.0058) / 0.0009) ** 2)) * (np.sin(along * 260) > 0)
    strap = p.cover(distance - 0.0080)
    raised = relief + 0.004 * smooth(0.0085, 0.005, distance)
    tan = np.array([0.200, 0.098, 0.046], np.float32)
    light = canvas.shade(p, p.normal(raised), tan * (1 + stitch)[..., None], depth=relief, gloss=0.12, shine=14)
    canvas.under(p, strap, 0.6, 0.005)
    canvas.over(p, light, strap)
    p = canvas.patch(hip - 0.17, 0.39, hip - 0.03, 0.54)
    x, y = p.x - hip + 0.098, p.y - 0.462
    lean = np.float32(0.09 + 0.05 * pose.amount * np.sin(pose.phase - 1.7))
    x, y = x * np.cos(lean) - y * np.sin(lean), x * np.sin(lean) + y * np.cos(lean)
    grain = look_up(CRUMPLE, x * 4, y * 4)

    def rounded(wide: float, low: float, high: float, corner: float) -> Plane:
        dx = np.abs(x) - wide + corner
        dy = np.abs(y - (low + high) / 2) - (high - low) / 2 + corner
        return np.hypot(np.clip(dx, 0, None), np.clip(dy, 0, None)) + np.minimum(np.maximum(dx, dy), 0) - corner

    bag, flap = rounded(0.043, -0.043, 0.043, 0.010), rounded(0.045, -0.016, 0.046, 0.014)
    for shape, shade in ((bag, 0.85), (flap, 1.1)):
        cover = p.cover(shape)
        swell = 0.02 * np.sqrt(np.clip(1 - (x / 0.05) ** 2, 0, None)) + 0.005 * smooth(0.0, -0.008, shape)
        seam = 1 + 0.3 * np.exp(-(((shape + 0.004) / 0.0009) ** 2)) * (np.sin((x + y) * 1300) > 0)
        colour = tan * (shade * seam * (1 + 0.10 * grain))[..., None]
        light = canvas.shade(p, p.normal(swell + 0.0006 * grain), colour, depth=0.1, gloss=0.14, shine=14)
        canvas.under(p, cover, 0.65, 0.008)
        canvas.over(p, light, cover)
    clasp = np.maximum(np.abs(x) - 0.0065, np.abs(y + 0.013) - 0.0075).astype(np.float32)
    light = canvas.shade(p, p.normal(0.003 * smooth(0, -0.003, clasp)), BRASS, depth=0.11, gloss=1.0, shine=20)
    canvas.over(p, light, p.cover(clasp))


def belt(canvas: Canvas, pose: Pose, p: Patch, angle: Plane, relief: Plane, cover: Plane) -> None:
    """Paint the belt and its buckle."""
    level = p.y - (BELT - 0.010 * np.cos(angle))
    strap = p.cover(np.abs(level) - 0.0125) * cover
    bulge = relief + 0.006 * np.sqrt(np.clip(1 - (level / 0.0135) ** 2, 0, None))
    light = canvas.shade(p, p.normal(bulge), LEATHER * 1.3, depth=relief, gloss=0.25, shine=20)
    canvas.under(p, strap, 0.5, 0.004)
    canvas.over(p, light, strap)
    x = p.x - middle(pose, p.y) - 0.012
    box = np.maximum(np.abs(x) - 0.016, np.abs(level) - 0.0155)
    ring = np.maximum(box, -(box + 0.0062))
    raised = relief + 0.004 * smooth(0.0, -0.003, ring)
    light = canvas.shade(p, p.normal(raised), BRASS, depth=relief, gloss=1.1, shine=30)
    canvas.over(p, light, p.cover(ring))


def buttons(canvas: Canvas, pose: Pose) -> None:
    """Paint two rows of brass buttons."""
    for row, y in enumerate((0.735, 0.685, 0.635, 0.515, 0.455)):
        spread = (0.052, 0.046, 0.042, 0.046, 0.052)[row]
        for side in (-1, 1):
            x0 = float(middle(pose, np.float32(y))) + 0.012 + side * spread
            p = canvas.patch(x0 - 0.02, y - 0.02, x0 + 0.02, y + 0.02)
            d = np.hypot(p.x - x0, p.y - y)
            dome = np.sqrt(np.clip(0.012**2 - d * d, 0, None))
            light = canvas.shade(p, p.normal(dome), BRASS, depth=0.09, gloss=1.3, shine=26)
            cover = p.cover(d - 0.0088)
            canvas.under(p, cover, 0.6, 0.003)
            canvas.over(p, light, cover)


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
    albedo = albedo * (1 - braid[..., None]) + BRASS * braid[..., None] * (0.8 + 0.2 * np.sin(roll * 40))[..., None]
    cover = p.cover(distance - radius)
    light = canvas.shade(p, p.normal(relief), albedo, depth=depth + relief, sheen=0.16, gloss=0.05)
    canvas.under(p, cover, 0.75, 0.016)
    canvas.over(p, light, cover)


def gauze(canvas: Canvas, pose: Pose, layer: int) -> None:
    """Paint the translucent hem: a thin veil below the coat that trails after the sway."""
    p = canvas.patch(-0.27, 0.015, 0.27, 0.34)
    lag = 1.5 + 0.7 * layer
    drop = np.clip((0.32 - p.y) / 0.28, 0, 1)
    shift = 0.035 * pose.amount * drop**1.6 * np.sin(pose.phase - lag) * (1 if layer else 0.7)
    half = 0.128 + (0.050 + 0.014 * layer) * drop
    u = (p.x - middle(pose, p.y) + shift + 0.012 * layer) / half
    angle = np.arcsin(np.clip(u, -0.999, 0.999))
    a = angle + 0.25 * look_up(CRUMPLE, angle * 0.1 + 0.4 * layer, p.y * 0.5)
    waves = np.sin(7 * a + 1.1 * layer + 0.8 * np.sin(pose.phase - lag - drop))
    waves = 0.6 * waves + 0.4 * np.sin(15.3 * a + 2.0 * layer - 0.9 * np.sin(pose.phase - lag))
    hem = 0.050 + 0.012 * waves + 0.014 * layer
    distance = np.maximum((np.abs(u) - 1) * half, hem - p.y)
    # cloth seen edge-on is denser: along the folds and at the sides
    dense = 0.20 + 0.30 * np.abs(waves) ** 3 + 0.25 * smooth(0.7, 1.0, np.abs(u))
    # thin where it lies on the coat, full where it hangs free below
    cover = p.cover(distance, 0.004) * dense * smooth(0.30, 0.85, drop)
    relief = 0.01 * waves
    light = canvas.shade(p, p.normal(relief), GAUZE, depth=0.06, sheen=0.5, wrap=0.6)
    canvas.over(p, light, np.clip(cover, 0, 0.85))


def scarf_tail(canvas: Canvas, pose: Pose) -> None:
    """Paint the scarf's loose end: it drifts, and thins out to nothing."""
    x0 = float(middle(pose, np.float32(0.8)))
    w1 = 0.035 * pose.amount * np.sin(pose.phase - 1.3)
    w2 = 0.050 * pose.amount * np.sin(pose.phase - 2.2) + 0.012 * np.sin(2 * pose.phase)
    axis = bend(
        (x0 + 0.055, 0.815),
        (x0 + 0.14 + w1 * 0.3, 0.80),
        (0.175 + w1, 0.70),
        (0.215 + w1, 0.58),
        (0.235 + w2, 0.47),
        count=16,
    )
    p = canvas.patch(0.0, 0.42, 0.34, 0.86)
    distance, along, across = tube(p, axis)
    half = 0.020 + 0.018 * along + 0.004 * np.sin(along * 9 - pose.phase)
    ripple = np.sin(across * 190 + 3 * np.sin(along * 6 - pose.phase))
    ripple2 = np.sin(along * 16 - 1.5 * np.sin(pose.phase) + across * 25)
    relief = 0.003 * ripple + 0.008 * ripple2 * along
    fringe = 0.5 + 0.5 * np.sin(across * 900)
    end = smooth(1.0, 0.93, along + 0.045 * fringe)
    thin = (1 - 0.72 * smooth(0.25, 1.0, along)) * end
    cover = p.cover(distance - half, 0.003) * thin * (0.85 + 0.15 * np.abs(ripple))
    light = canvas.shade(p, p.normal(relief), SCARF, depth=-0.03, sheen=0.3, wrap=0.5)
    canvas.over(p, light, cover)


def scarf_wrap(canvas: Canvas, pose: Pose) -> None:
    """Paint the scarf's turns round the neck."""
    x0 = float(middle(pose, np.float32(0.82)))
    for k, (y, wide, thick) in enumerate(((0.800, 0.074, 0.026), (0.822, 0.064, 0.025))):
        axis = bend((x0 - wide, y + 0.014), (x0 - 0.02, y - 0.030), (x0 + wide, y + 0.010))
        p = canvas.patch(x0 - 0.13, 0.74, x0 + 0.13, 0.88)
        distance, along, across = tube(p, axis)
        relief = np.sqrt(np.clip(thick**2 - np.clip(distance, 0, thick * 0.98) ** 2, 0, None))
        lines = np.sin(across * 260 + 2.5 * np.sin(along * 5 + k) + 3 * look_up(CRUMPLE, along * 0.4, across * 3))
        relief = relief + 0.0022 * lines + 0.002 * look_up(CRUMPLE, along + 0.3 * k, across * 6)
        cover = p.cover(distance - thick)
        knit = SCARF * (1 + 0.12 * lines)[..., None]
        light = canvas.shade(p, p.normal(relief), knit, depth=relief + 0.05, sheen=0.25)
        canvas.under(p, cover, 0.6, 0.008)
        canvas.over(p, light, cover)
