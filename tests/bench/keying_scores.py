"""The measures of the keying bench."""

from __future__ import annotations

import cv2
import numpy as np
from keying_clips import Made

from ghostprep.transfer import LUMA_709, codes_to_light, from_linear


def score(made: Made, figures: np.ndarray, mattes: np.ndarray) -> dict[str, float]:
    """Return the measures of keyed frames (n, h, w, 3) and mattes (n, h, w), uint8.

    ``mse``: on black, 8-bit codes squared, whole frame; ``edge``: where 0.02 < alpha < 0.98; ``sad``: mean
    error of the matte, codes; ``back``: 99.9th percentile of luma 9 px and more from the figure; ``flicker``:
    mean step from frame to frame where the figure stands still; ``light``: share of the figure's own
    light that is lost (linear).
    """
    apart = (figures.astype(np.float32) - made.truth) ** 2
    a = made.alpha.astype(np.float32) / 255
    edge = (a > 0.02) & (a < 0.98)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (19, 19))
    lit = (made.alpha > 0) | (made.truth.max(-1) > 0)
    far = np.stack([cv2.dilate(m.astype(np.uint8), disc) == 0 for m in lit])
    luma = figures @ np.array(LUMA_709, np.float32)
    still = slice(made.recipe.frames - made.recipe.still + 1, None)
    steps = np.abs(np.diff(figures[still].astype(np.float32), axis=0))[a[still][1:] > 0.02]
    whole = a > 0.98
    got, wanted = codes_to_light(figures[whole]).sum(), codes_to_light(made.truth[whole]).sum()
    return {
        "mse": float(apart.mean()),
        "edge": float(apart[edge].mean()),
        "sad": float(np.abs(mattes.astype(np.float32) - made.alpha).mean()),
        "back": float(np.percentile(luma[far], 99.9)) if far.any() else 0.0,
        "flicker": float(steps.mean()),
        "lost": float(1 - got / max(wanted, 1e-6)),
    }


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
