"""Whether a clip has alpha that says anything, and of which kind."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ghostprep.clip.facts import Alpha, ClipFacts
from ghostprep.clip.glance import glance

_ALPHA_FORMATS: Final = ("yuva", "rgba", "bgra", "argb", "abgr", "gbrap", "ya", "pal8", "ayuv", "vuya")
_OFTEN_PREMULTIPLIED: Final = (
    "prores",
    "qtrle",
    "png",
    "ffv1",
    "utvideo",
    "rawvideo",
    "cfhd",
    "dnxhd",
    "vp8",
    "vp9",
    "tiff",
    "unknown",
)
_LOOK: Final = 8
_LEAST_SOFT: Final = 64
"""So many soft pixels are needed before their colours are believed."""


def has_alpha(pixel_format: str) -> bool:
    """Return whether a pixel format carries alpha."""
    return pixel_format.startswith(_ALPHA_FORMATS)


def kind_of_alpha(facts: ClipFacts) -> Alpha:
    """Look at a few frames for full, straight or premultiplied alpha.

    Parameters
    ----------
    facts : ClipFacts
        Of a clip whose pixel format has alpha.

    Notes
    -----
    No colour of a premultiplied picture is brighter than its coverage. Files seldom say which kind theirs is:
    it is taken for premultiplied if that holds for every soft pixel seen, and some of them are
    bright enough for it to mean something.
    """
    # read as premultiplied so that nothing is divided or multiplied on the way
    views = [g.frame for g in glance(replace(facts, alpha="premultiplied"), _LOOK, longest=max(facts.size))]
    if not views:
        return "straight"
    if all(int(view[..., 3].min()) == 255 for view in views):
        return "none"
    if facts.codec not in _OFTEN_PREMULTIPLIED:
        return "straight"
    soft_count = bright_count = 0
    for view in views:
        alpha = view[..., 3].astype(np.int16)
        brightest = view[..., :3].max(axis=2).astype(np.int16)
        # 3 codes for rounding and lossy coding
        if bool((brightest > alpha + 3).any()):
            return "straight"
        soft = (alpha > 16) & (alpha < 240)
        soft_count += int(soft.sum())
        bright_count += int((soft & (brightest > alpha * 3 // 4)).sum())
    return "premultiplied" if soft_count >= _LEAST_SOFT and bright_count * 10 >= soft_count else "straight"
