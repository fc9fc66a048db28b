"""Alpha that comes with the clip: whether it says anything, and whether colour was multiplied by it."""

from __future__ import annotations

import numpy as np

from ghostprep.arrays import Frame


def alpha_varies(frames: Frame) -> bool:
    """Tell whether the alpha of frames (n, h, w, 4) leaves anything out."""
    return bool((frames[..., 3] < 250).mean() > 0.001)


def looks_premultiplied(frames: Frame) -> bool | None:
    """Tell from frames (n, h, w, 4) whether colour was multiplied by alpha; None if they do not show it.

    Multiplied colour never exceeds alpha; colour that was not soon does where alpha is small.
    """
    alpha = frames[..., 3]
    partial = (alpha > 8) & (alpha < 200)
    if partial.sum() < 200:
        return None
    over = frames[..., :3][partial].max(-1).astype(np.int16) - alpha[partial] > 6
    return bool(over.mean() < 0.002)
