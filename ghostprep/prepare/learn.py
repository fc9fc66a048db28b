"""What is behind the figure, from a few glimpses over the whole clip."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.box import small_size
from ghostprep.clip import ClipFacts, probe, read_frames
from ghostprep.errors import InputError
from ghostprep.picture import Key, learn_key
from ghostprep.prepare.glimpses import glimpses_of
from ghostprep.prepare.recipe import Recipe

Frame: TypeAlias = npt.NDArray[np.uint8]


COARSE: Final = 640
"""Longer side of the glimpses, pixels."""

FINE: Final = 1280
"""Longer side of the glimpses from which a cluttered backing is learned."""


class Learned(NamedTuple):
    """The key, and the frames that it was learned from."""

    key: Key
    glimpses: list[Frame]


def learn(facts: ClipFacts, recipe: Recipe, *, content: str = "") -> Learned:
    """Look at the clip here and there and learn what is behind the figure.

    Parameters
    ----------
    facts : ClipFacts
    recipe : Recipe
    content : str
        The clip's SHA-256; empty: nothing is recalled or kept.
    """
    kept = content if recipe.cache else ""
    glimpses = glimpses_of(facts, longest=COARSE, content=kept)
    if not glimpses:
        raise InputError(
            "holds no picture that can be decoded", where=str(facts.path), remedy="export it again"
        )
    # finer than the clip it would only take memory
    plate = read_picture(recipe.plate, longest=max(facts.size)) if recipe.plate else None
    key = learn_key(glimpses, kind=recipe.backing, plate=plate, alpha=facts.alpha)
    if key.backing.kind == "plate" and plate is None and max(facts.size) > max(glimpses[0].shape):
        # a room's detail must be as fine as the frames that are keyed against it
        finer = glimpses_of(facts, longest=FINE, content=kept)
        fine = learn_key(finer, kind="plate", alpha=facts.alpha)
        key = replace(fine, backing=key.backing, remarks=key.remarks)
    return Learned(key, glimpses)


def read_picture(path: Path, *, longest: int | None = None) -> Frame:
    """Return the first frame of a still picture, RGB, its longer side at most so many pixels."""
    facts = probe(path)
    with read_frames(facts, size=small_size(facts.size, longest or max(facts.size))) as stream:
        for frame in stream:
            return frame
    raise InputError("holds no picture", where=str(path), remedy="give a PNG or JPEG file")
