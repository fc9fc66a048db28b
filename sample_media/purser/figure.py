"""Joins the purser's parts into one picture of a moment."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from purser.body import middle
from purser.clothes import coat, legs, sleeve
from purser.head import head
from purser.lantern import book_hand, flame_at, halo, holding_hand, lantern, lantern_hand
from purser.motion import pose_at
from purser.paint import Canvas, Lantern, Plane, bend
from purser.veils import gauze, scarf_tail, scarf_wrap

WIDTH: Final = 1280
HEIGHT: Final = 720
TALL: Final = 500
"""Height of the figure, pixels of the clip."""
SAMPLES: Final = 2
"""Canvas pixels to a pixel of the clip, each way."""
WINDOW: Final = (460, 600)
"""The part of the clip that can hold the figure, width and height."""
CORNER: Final = (424, 56)
FOOT: Final = (662.0, 614.0)
"""Where the point between the feet stands in the clip."""


def figure_light(index: int) -> tuple[Plane, Plane]:
    """Return linear light, premultiplied (720, 1280, 3), and alpha (720, 1280), of frame `index`."""
    pose = pose_at(index)
    fx, fy = flame_at(pose)
    canvas = Canvas(
        WINDOW[0] * SAMPLES,
        WINDOW[1] * SAMPLES,
        float(TALL * SAMPLES),
        ((FOOT[0] - CORNER[0]) * SAMPLES, (FOOT[1] - CORNER[1]) * SAMPLES),
        Lantern(np.array([fx, fy, 0.16], np.float32), 0.075 * pose.flame),
    )
    x = float(middle(pose, np.float32(0.78)))
    scarf_tail(canvas, pose)
    gauze(canvas, pose, 0)
    legs(canvas, pose)
    coat(canvas, pose)
    gauze(canvas, pose, 1)
    hand = (0.148 + pose.shoulders + 0.4 * pose.hips, 0.485 + 0.3 * pose.lift)
    arm = bend(
        (x + 0.097, 0.764), (x + 0.160, 0.68), (hand[0] + 0.035, 0.57), (hand[0] + 0.022, hand[1] + 0.035)
    )
    sleeve(canvas, pose, arm, 0.04, 0.3)
    book_hand(canvas, *hand)
    scarf_wrap(canvas, pose)
    head(canvas, pose)
    hx, hy = lantern_hand(pose)
    arm = bend((x - 0.097, 0.764), (x - 0.140, 0.62), (x - 0.160, 0.55), (hx + 0.044, hy - 0.042))
    sleeve(canvas, pose, arm, 0.05, 0.7)
    lantern(canvas, pose)
    holding_hand(canvas, pose)
    halo(canvas, pose)
    light = cv2.resize(canvas.light, WINDOW, interpolation=cv2.INTER_AREA)
    alpha = cv2.resize(canvas.alpha, WINDOW, interpolation=cv2.INTER_AREA)
    # highlights roll off like film instead of clipping
    light = np.where(light > 0.6, 0.6 + 0.4 * np.tanh((light - 0.6) / 0.4 * 0.8), light)
    whole = np.zeros((HEIGHT, WIDTH, 3), np.float32)
    cover = np.zeros((HEIGHT, WIDTH), np.float32)
    here = slice(CORNER[1], CORNER[1] + WINDOW[1]), slice(CORNER[0], CORNER[0] + WINDOW[0])
    whole[here], cover[here] = light, np.clip(alpha, 0, 1)
    return whole, cover
