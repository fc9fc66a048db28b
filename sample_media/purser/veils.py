"""What hangs thin and loose: the gauze hem and the scarf."""

from __future__ import annotations

import numpy as np

from purser.body import CRUMPLE, GAUZE, SCARF, middle
from purser.motion import Pose
from purser.paint import Canvas, bend, look_up, smooth, tube


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
        lines = np.sin(
            across * 260 + 2.5 * np.sin(along * 5 + k) + 3 * look_up(CRUMPLE, along * 0.4, across * 3)
        )
        relief = relief + 0.0022 * lines + 0.002 * look_up(CRUMPLE, along + 0.3 * k, across * 6)
        cover = p.cover(distance - thick)
        knit = SCARF * (1 + 0.12 * lines)[..., None]
        light = canvas.shade(p, p.normal(relief), knit, depth=relief + 0.05, sheen=0.25)
        canvas.under(p, cover, 0.6, 0.008)
        canvas.over(p, light, cover)
