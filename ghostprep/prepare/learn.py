"""What is behind the figure, from a few glimpses over the whole clip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.backings import Mixed
from ghostprep.box import small_size
from ghostprep.channels import largest_channel
from ghostprep.clip import Footage, probe, read_frames
from ghostprep.clip.glance import COARSE
from ghostprep.digest import sha256_of
from ghostprep.errors import InputError
from ghostprep.heap import give_back
from ghostprep.picture import Key, learn_key
from ghostprep.prepare.recipe import Recipe
from ghostprep.progress import Progress, silent

FINE: Final = 1280
"""Longer side of the glimpses from which a cluttered backing is learned."""

_DIM: Final = 0.2
_LEAST: Final = 16.0
"""Share of its usual codes, and codes, by which a pixel is darker in a fade than elsewhere."""
_EVERYWHERE: Final = 0.9
"""Share of the bright pixels that must be: a figure's shadow or absence leaves most as they are."""
_MOST_BRIGHT: Final = 0.5
"""Share of the picture that must be bright at all: on black a fade leaves nothing to tell it by."""


def learn(footage: Footage, recipe: Recipe, progress: Progress = silent) -> Key:
    """Look at the clip here and there and learn what is behind the figure, as far as the recipe does not say.

    Raises
    ------
    InputError
        No picture of it can be decoded, or it has no such backing as was told.
    """
    # a plate that is no single file, or missing, is read each time
    plate = sha256_of(recipe.plate) if recipe.plate and recipe.plate.is_file() else ""
    if recipe.plate and not plate:
        return _learned(footage, recipe, progress)
    about = ("learn", recipe.backing, plate, recipe.mix, recipe.solid, recipe.sheer)
    return footage.recall.worked_out(about, lambda: _learned(footage, recipe, progress))


def _learned(footage: Footage, recipe: Recipe, progress: Progress) -> Key:
    facts = footage.facts

    def glimpses(longest: int) -> Sequence[Frame]:
        frames = footage.glimpses(longest, progress)
        if not frames:
            raise InputError(
                "holds no picture that can be decoded", where=str(facts.path), remedy="export it again"
            )
        return frames

    longest = max(facts.size)
    # finer than the clip it would only take memory
    plate = read_picture(recipe.plate, longest=longest) if recipe.plate else None
    key = key_from(
        glimpses,
        longest,
        kind=recipe.backing,
        plate=plate,
        alpha=facts.alpha,
        mix=recipe.mix,
        solid=recipe.solid,
        sheer=recipe.sheer,
    )
    give_back()
    return key


def key_from(
    glimpses: Callable[[int], Sequence[Frame]],
    longest: int,
    *,
    kind: str,
    plate: Frame | None,
    alpha: str,
    mix: Mixed,
    solid: Sequence[str] = (),
    sheer: Sequence[str] = (),
) -> Key:
    """Learn the key from glimpses of the size at which each kind of backing is learned best.

    `glimpses` returns frames over the whole clip at a longer side, pixels; `longest` is the clip's own. The
    rest is as for `learn_key`.
    """
    seen = lit(glimpses(COARSE))
    key = learn_key(seen, kind=kind, plate=plate, alpha=alpha, mix=mix, solid=solid, sheer=sheer)
    if key.backing.kind != "plate" or plate is not None or longest <= max(seen[0].shape):
        return key
    # a room's detail must be as fine as the frames that are keyed against it
    fine = learn_key(lit(glimpses(FINE)), kind="plate", alpha=alpha, mix=mix)
    return replace(fine, backing=key.backing, remarks=key.remarks)


def lit(glimpses: Sequence[Frame]) -> list[Frame]:
    """Return the glimpses without those of a fade, which are darker than usual nearly everywhere.

    Where a bright figure has left, its places are darker too, but not the backing around.
    """
    light = np.stack([largest_channel(np.ascontiguousarray(frame[..., :3])) for frame in glimpses])
    usual = np.median(light, axis=0)
    bright = usual > 2 * _LEAST
    if bright.mean() < _MOST_BRIGHT:
        return list(glimpses)
    darker = light[:, bright] < usual[bright] - np.maximum(_DIM * usual[bright], _LEAST)
    return [frame for frame, one in zip(glimpses, darker, strict=True) if one.mean() < _EVERYWHERE]


def read_picture(path: Path, *, longest: int | None = None) -> Frame:
    """Return the first frame of a still picture, RGB, its longer side at most `longest` pixels."""
    facts = probe(path)
    with read_frames(facts, size=small_size(facts.size, longest or max(facts.size))) as stream:
        for frame in stream:
            return frame
    raise InputError("holds no picture", where=str(path), remedy="give a PNG or JPEG file")
