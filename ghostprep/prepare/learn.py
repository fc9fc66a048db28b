"""What is behind the figure, from a few glimpses over the whole clip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from ghostprep.arrays import Frame
from ghostprep.backings import Mixed
from ghostprep.box import small_size
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
    seen = glimpses(COARSE)
    key = learn_key(seen, kind=kind, plate=plate, alpha=alpha, mix=mix, solid=solid, sheer=sheer)
    if key.backing.kind != "plate" or plate is not None or longest <= max(seen[0].shape):
        return key
    # a room's detail must be as fine as the frames that are keyed against it
    fine = learn_key(glimpses(FINE), kind="plate", alpha=alpha, mix=mix)
    return replace(fine, backing=key.backing, remarks=key.remarks)


def read_picture(path: Path, *, longest: int | None = None) -> Frame:
    """Return the first frame of a still picture, RGB, its longer side at most `longest` pixels."""
    facts = probe(path)
    with read_frames(facts, size=small_size(facts.size, longest or max(facts.size))) as stream:
        for frame in stream:
            return frame
    raise InputError("holds no picture", where=str(path), remedy="give a PNG or JPEG file")
