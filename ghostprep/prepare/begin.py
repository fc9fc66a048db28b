"""A clip's frames as the main job looks at them, the decoder on its way before anything is learned."""

from __future__ import annotations

from typing import Final

from ghostprep.clip import ClipFacts, Footage
from ghostprep.prepare.recipe import Recipe

SEEN_PX: Final = 160
"""Longer side of the frames in which the figure is looked for, and of those on which joins are judged."""


def begun(facts: ClipFacts, recipe: Recipe, *, again: bool = False) -> Footage:
    """Return a clip's frames, the decoder on its way already through the stretch that is used.

    It waits where a matte has to be laid beside the clip first. With `again` a part of them will be
    asked for once more, to be shown: see `Footage.shown_at`.
    """
    footage = Footage(
        facts, longest=SEEN_PX, start=recipe.start, end=recipe.end, again=again, recall=recipe.cache
    )
    if recipe.matte is None:
        footage.begin()
    return footage
