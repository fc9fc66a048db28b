"""A clip's frames as the main job looks at them, the decoder on its way before anything is learned."""

from __future__ import annotations

from typing import Final

from ghostprep.clip import ClipFacts, Footage
from ghostprep.prepare.recipe import Recipe

SEEN_PX: Final = 160
"""Longer side of the frames in which the figure is looked for, and of those on which joins are judged."""


def begun(facts: ClipFacts, recipe: Recipe, shown: tuple[int, int] | None = None) -> Footage:
    """Return a clip's frames, the decoder on its way already through the stretch that is used.

    It waits where a matte has to be laid beside the clip first.

    Parameters
    ----------
    shown : tuple of int, optional
        Size of the upright picture in which a part of them will be shown, if it will.
    """
    footage = Footage(
        facts, longest=SEEN_PX, start=recipe.start, end=recipe.end, shown=shown, recall=recipe.cache
    )
    if recipe.matte is None:
        footage.begin()
    return footage
