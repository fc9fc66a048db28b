"""In which frames of the loop the figure is on the screen, and where the screen's edge cuts it off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from ghostprep.arrays import Floats, Mask
from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.finding import Finding

_NEAR: Final = 0.01
"""Share of the picture's longer side: a pixel and a half of those on which the figure is measured."""

SIDES: Final = ("left", "top", "right", "bottom")


class Presence(NamedTuple):
    """What of the figure is shown."""

    frames: int
    """Frames of the loop."""
    seen: int
    """Those in which any of the figure is on the screen."""
    cut: int
    """Those in which a part of it is, and another lies past the edge of what is shown."""
    sides: tuple[str, ...]
    """Of `SIDES`, as the eye sees them: where what is shown ends before the figure does."""
    comes: tuple[str, ...]
    """Where the figure comes and goes."""
    screen: bool
    """Whether that edge is the screen's, or that of a part that was asked for; else the clip's own."""


def presence_of(reach: Floats, shown: Box, source: tuple[int, int]) -> Presence:
    """Hold the figure's place in each frame of a loop against the part of the clip that is shown.

    Parameters
    ----------
    reach : ndarray of float32 (frames, 4)
        Left, top, right, bottom of all that the figure touches, source px; NaN: no figure.
    shown : Box
        In source px.
    source : tuple of int
        Width and height of the clip.
    """
    near = _NEAR * max(source)
    outwards = np.array([-1, -1, 1, 1])
    edges = np.array([shown.x, shown.y, shown.right, shown.bottom])
    borders = np.array([0, 0, *source])
    there = ~np.isnan(reach[:, 0])
    low, high = reach[:, :2], reach[:, 2:]
    inside = (
        there & (high > edges[:2] + near).all(axis=1) & (low < edges[2:] - near).all(axis=1)
    )  # an edge's softness hides less than `near`
    beyond = (reach - edges) * outwards
    past = beyond > near
    gone = ~inside
    beside_gone = inside & (np.roll(gone, 1) | np.roll(gone, -1))
    # in the frame before it is gone, it may be a step of its own motion away from the edge
    steps = np.abs(np.diff(reach, axis=0))[inside[1:] & inside[:-1]]
    step = np.median(steps, axis=0) if len(steps) else np.zeros(4)
    close = beyond > -near - 2 * step
    always = close[inside].all(axis=0) & (inside & ~beside_gone).any()
    comes = (close[beside_gone].any(axis=0) & ~always) | past[gone & there].any(axis=0)
    own = np.abs(edges - borders) <= near
    return Presence(
        frames=len(reach),
        seen=int(inside.sum()),
        cut=int((inside & past.any(axis=1)).sum()),
        sides=_named(past[inside].any(axis=0)),
        comes=_named(comes),
        screen=bool((comes & ~own).any()),
    )


def presence_findings(found: Presence, *, remedy: str) -> list[Finding]:
    """Return what to tell the builder of a figure that is not on the screen all the time, or not whole.

    `remedy` says what makes more of the figure fit: it depends on what decided the part that is shown.
    """
    stay = "use a part in which it stays (--start, --end), or let it come out of the dark (--join fades)"
    if not found.seen:
        text = "it is on the screen in no frame of the loop: the scene stays empty"
        return [Finding("fault", "figure", text, remedy or stay)]
    if found.seen < found.frames and found.comes:
        text = (
            f"it is seen in {found.seen} of {found.frames} frames, and comes and goes at the "
            f"{'screen' if found.screen else 'picture'}'s {_edges(found.comes)}: nobody sees that in the "
            "scene, so it pops in and out of nothing"
        )
        more = f"; or {remedy}" if remedy and found.screen else ""
        return [Finding("caution", "figure", text, stay + more)]
    if found.cut:
        text = f"in {found.cut} of {found.frames} frames it is cut off by the screen's {_edges(found.sides)}"
        return [Finding("caution", "figure", text, remedy or stay)]
    return []


def refuse_beyond(crop: Box, source: tuple[int, int]) -> None:
    """Refuse a part that does not lie in the clip, `source` (width, height)."""
    if crop.within(source) != crop:
        raise InputError(
            f"{crop.width}x{crop.height}+{crop.x}+{crop.y} reaches past the clip, which is "
            f"{source[0]}x{source[1]}",
            where="--crop",
            remedy="name a part that lies in it",
        )


def refuse_nothing(found: Presence, figure: Box, crop: Box) -> None:
    """Refuse a part of the clip in which no figure is ever seen."""
    if not found.seen:
        raise InputError(
            f"{crop} holds nothing of the figure", where="--crop", remedy=f"the figure lies in {figure}"
        )


def _named(flags: Sequence[bool] | Mask) -> tuple[str, ...]:
    return tuple(name for name, flag in zip(SIDES, flags, strict=True) if flag)


def _edges(sides: Sequence[str]) -> str:
    """Return sides in words.

    >>> _edges(("left", "right"))
    'left and right edges'
    """
    return f"{' and '.join(sides)} edge{'s' if len(sides) > 1 else ''}"
