"""What is sewn to the coat or worn over it: lapels, belt, buttons, the ticket satchel."""

from __future__ import annotations

import numpy as np

from purser.body import BELT, BRASS, COAT, CRUMPLE, LEATHER, TROUSER, middle
from purser.motion import Pose
from purser.paint import Canvas, Patch, Plane, bend, look_up, polygon, smooth, tube


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
        notch = [
            (x0 + side * 0.062, 0.735),
            (x0 + side * 0.080, 0.757),
            (x0 + side * 0.064, 0.768),
            (outer, 0.790),
        ]
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
    light = canvas.shade(
        p, p.normal(raised), tan * (1 + stitch)[..., None], depth=relief, gloss=0.12, shine=14
    )
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
        return (
            np.hypot(np.clip(dx, 0, None), np.clip(dy, 0, None)) + np.minimum(np.maximum(dx, dy), 0) - corner
        )

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
    light = canvas.shade(
        p, p.normal(0.003 * smooth(0, -0.003, clasp)), BRASS, depth=0.11, gloss=1.0, shine=20
    )
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
