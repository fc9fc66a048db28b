"""What is behind the figure, from a few glimpses over the whole clip."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.clip import ClipFacts, glance, probe, read_frames
from ghostprep.errors import InputError
from ghostprep.picture import Key, learn_key
from ghostprep.prepare.recipe import Recipe

Frame: TypeAlias = npt.NDArray[np.uint8]


class Learned(NamedTuple):
    """The key, and the frames that it was learned from."""

    key: Key
    glimpses: list[Frame]


def learn(facts: ClipFacts, recipe: Recipe) -> Learned:
    """Look at the clip here and there and learn what is behind the figure."""
    glimpses = [glimpse.frame for glimpse in glance(facts)]
    if not glimpses:
        raise InputError(
            "holds no picture that can be decoded", where=str(facts.path), remedy="export it again"
        )
    plate = read_picture(recipe.plate) if recipe.plate else None
    return Learned(learn_key(glimpses, kind=recipe.backing, plate=plate, alpha=facts.alpha), glimpses)


def read_picture(path: Path) -> Frame:
    """Return the first frame of a still picture, RGB, at its own size."""
    with read_frames(probe(path)) as stream:
        for frame in stream:
            return frame
    raise InputError("holds no picture", where=str(path), remedy="give a PNG or JPEG file")
