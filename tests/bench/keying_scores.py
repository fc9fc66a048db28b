"""The measures of the keying bench."""

from __future__ import annotations

import cv2
import numpy as np
from keying_clips import Made

from ghostprep.transfer import LUMA_709, codes_to_light, from_linear


def score_figures(figures: np.ndarray, truth: np.ndarray) -> float:
    """Return the mean squared error on black, 8-bit codes."""
    return float(((figures.astype(np.float32) - truth) ** 2).mean())


def score(
    made: Made, figures: np.ndarray, mattes: np.ndarray, which: list[int] | None = None
) -> dict[str, float]:
    """Return the measures of keyed frames (n, h, w, 3) and mattes (n, h, w), uint8.

    ``mse``: on black, 8-bit codes squared, whole frame; ``edge``: where 0.02 < alpha < 0.98; ``sad``: mean
    error of the matte, codes; ``back``: 99.9th percentile of luma 9 px and more from the figure and its glow;
    ``flicker``: mean step from frame to frame where the figure stands still; ``lost``: share of the solid
    figure's own light that is lost (linear; below 0 is light gained from spill).
    """
    some = list(range(len(made.frames))) if which is None else which
    truth, alpha = made.truth[some], made.alpha[some]
    apart = (figures.astype(np.float32) - truth) ** 2
    a = alpha.astype(np.float32) / 255
    edge = (a > 0.02) & (a < 0.98)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (19, 19))
    lit = (alpha > 0) | (truth.max(-1) > 0)
    far = np.stack([cv2.dilate(m.astype(np.uint8), disc) == 0 for m in lit])
    luma = figures @ np.array(LUMA_709, np.float32)
    whole = a > 0.98
    got, wanted = codes_to_light(figures[whole]).sum(), codes_to_light(truth[whole]).sum()
    flicker = float("nan")
    if which is None and made.recipe.still:
        still = slice(made.recipe.frames - made.recipe.still + 1, None)
        steps = np.abs(np.diff(figures[still].astype(np.float32), axis=0))[a[still][1:] > 0.02]
        flicker = float(steps.mean())
    return {
        "mse": float(apart.mean()),
        "edge": float(apart[edge].mean()),
        "sad": float(np.abs(mattes.astype(np.float32) - alpha).mean()),
        "back": float(np.percentile(luma[far], 99.9)) if far.any() else 0.0,
        "flicker": flicker,
        "lost": float(1 - got / max(wanted, 1e-6)),
    }


def lost_in(made: Made, figures: np.ndarray, low: tuple[int, int, int], high: tuple[int, int, int]) -> float:
    """Return the share of light lost where the truth's codes lie between two colours: one cloth of the figure."""
    there = ((made.truth >= low) & (made.truth <= high)).all(-1) & (made.alpha > 250)
    if there.sum() < 500:
        return float("nan")
    return float(1 - codes_to_light(figures[there]).sum() / codes_to_light(made.truth[there]).sum())


def oracle(made: Made, plates: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Key with the true matte and the true plate, in the mix that made the clip; 0 where the truth is black.

    What is left is what noise, codec and spill do.
    """
    figures = []
    for i, (frame, alpha) in enumerate(zip(made.frames, made.alpha, strict=True)):
        a = alpha[..., None].astype(np.float32) / 255
        figure = (a > 0) | (made.truth[i].max(-1, keepdims=True) > 0)
        plate = made.plate if plates is None else plates[i]
        if made.recipe.linear:
            light = codes_to_light(frame) - (1 - a) * codes_to_light(plate)
            codes = from_linear(light) * 255
        else:
            codes = frame - (1 - a) * plate.astype(np.float32)
        figures.append(np.where(figure, np.clip(np.rint(codes), 0, 255), 0).astype(np.uint8))
    return np.stack(figures), made.alpha
