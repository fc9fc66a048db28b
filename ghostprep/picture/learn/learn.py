"""From glimpses over a clip to its key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

import numpy as np

from ghostprep.arrays import Floats, Frame, Mask
from ghostprep.backings import BACKINGS, COLOUR, Mixed
from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing, Mix
from ghostprep.picture.key.hue import HueAxis, like
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import as_bytes, floats
from ghostprep.picture.learn.before_black import black_key
from ghostprep.picture.learn.before_even import even_key
from ghostprep.picture.learn.before_scene import still_key
from ghostprep.picture.learn.camera import find_shake, steadied
from ghostprep.picture.learn.detect import as_hex, bright, commonest_hue, dark, detect, from_hex, name_of
from ghostprep.picture.learn.fades import without_fades
from ghostprep.picture.learn.figure import MIDDLE, at_most, with_figure_remarks
from ghostprep.picture.learn.remarks import SHAKES, on_backing

_PURE = {"green": (40.0, 170.0, 70.0), "blue": (35.0, 70.0, 190.0)}
_SMALL = 160
"""Longest side of the pictures on which the backing is told."""


def learn_key(
    glimpses: Sequence[Frame],
    *,
    kind: str = "auto",
    plate: Frame | None = None,
    alpha: str = "none",
    mix: Mixed = "auto",
    solid: Sequence[str] = (),
    sheer: Sequence[str] = (),
) -> Key:
    """Learn the backing from frames over the whole clip.

    Parameters
    ----------
    glimpses : sequence of uint8 (h, w, 3) or (h, w, 4)
        Whole frames of one size, at least one.
    kind : str
        ``auto``, ``green``, ``blue``, ``black``, ``white``, ``plate``, ``alpha``, ``none`` or ``#rrggbb``.
    plate : ndarray of uint8 (h, w, 3), optional
        A picture of the backing alone, any size; it shows the whole frame.
    alpha : {"none", "straight", "premultiplied"}
        What the clip's own alpha is said to be.
    mix : {"auto", "light", "codes"}
        What of figure and backing added up at the figure's edge: light, as in a camera, or codes, as in most
        programs.
    solid, sheer : sequence of str
        The figure's cloths before a coloured backing, ``#rrggbb`` each: colours of solid ones as the clip
        shows them, and the own colours of those that the backing is seen through.

    Returns
    -------
    Key

    Raises
    ------
    InputError
        The kind is unknown or asks for what the clip does not have, or the plate is of another shape.
    """
    key = _learned(glimpses, kind=kind, plate=plate, alpha=alpha, mix=mix, solid=solid, sheer=sheer)
    if key.palette is None and (solid or sheer):
        raise InputError(
            f"tells a cloth, and with the backing {key.backing.kind} no cloths are told apart",
            where="--solid" if solid else "--sheer",
            remedy="leave it out, or name the backing's colour with --backing",
        )
    return key


def _learned(
    glimpses: Sequence[Frame],
    *,
    kind: str,
    plate: Frame | None,
    alpha: str,
    mix: Mixed,
    solid: Sequence[str],
    sheer: Sequence[str],
) -> Key:
    told, colour = _told_mix(mix), told_colour(kind)
    if not len(glimpses):
        raise InputError("there are no frames to learn the backing from", where="clip")
    stack = np.stack(glimpses)
    if kind == "alpha" or (kind == "auto" and plate is None and alpha != "none"):
        if alpha == "none" or stack.shape[-1] != 4:
            raise InputError(
                "the clip has no alpha", where="--backing alpha", remedy="choose another backing"
            )
        if kind == "alpha" or alpha_varies(stack):
            return _alpha_key(stack, alpha)
    frames = without_fades(np.ascontiguousarray(stack[..., :3]))
    if kind == "none":
        return Key(Backing("none", None, 1.0, "as told"))
    if plate is not None or kind == "plate":
        return still_key(frames, plate, Backing("plate", None, 1.0, "as told"), told)
    small = at_most(frames, _SMALL)
    backing = _detected(frames, small) if kind == "auto" else _as_told(kind, colour, small)
    if backing.kind == "none":
        return Key(backing, remarks=tuple(on_backing(backing)))
    if backing.kind == "plate":
        return still_key(frames, None, backing, told)
    if backing.kind == "black":
        return black_key(frames, backing, told)
    return even_key(frames, backing, told, solid, sheer)


def _told_mix(mix: Mixed) -> Mix | None:
    if mix not in get_args(Mixed):
        remedy = f"use one of {', '.join(get_args(Mixed))}"
        raise InputError(f"unknown mix {mix!r}", where="--mix", remedy=remedy)
    return None if mix == "auto" else mix


def told_colour(kind: str) -> Floats | None:
    """Return the R'G'B' codes (3,) of a kind ``#rrggbb``, None for the others.

    Raises
    ------
    InputError
        `kind` is none that we know, or a grey, which has no hue to key by.
    """
    if not COLOUR.fullmatch(kind):
        if kind not in BACKINGS:
            remedy = f"use one of {', '.join(BACKINGS)} or #rrggbb"
            raise InputError(f"unknown backing {kind!r}", where="--backing", remedy=remedy)
        return None
    colour = from_hex(kind)
    if float(colour.max() - colour.min()) < 16:
        remedy = "use black, white, or --plate with a picture of the backing"
        raise InputError(
            f"{kind} is grey: the figure cannot be told from it by colour", where="--backing", remedy=remedy
        )
    return colour


def _detected(frames: Frame, small: Frame) -> Backing:
    """Tell the backing; a room looks like many things to a camera that shakes."""
    backing = detect(small)
    if backing.kind not in ("black", "white", "none"):
        return backing
    middle = at_most(frames, MIDDLE)
    shake = find_shake(middle)
    if shake.share < SHAKES:
        return backing
    steady = detect(at_most(steadied(middle, shake), _SMALL))
    return steady if steady.kind == "plate" else backing


def _as_told(kind: str, colour: Floats | None, small: Frame) -> Backing:
    if kind in ("black", "white"):
        mask = dark(small) if kind == "black" else bright(small)
        middle = as_hex(np.median(small[mask], axis=0)) if mask.any() else None
        return Backing(kind, middle, 1.0, "as told", float(mask.mean()))  # type: ignore[arg-type]
    if colour is None:
        # the clip's own green, not the pure one
        colour = floats(_PURE[kind])
        close = _of_hue(small, colour)
        own = commonest_hue(as_bytes(small[close][None, None])) if close.any() else None
        colour = colour if own is None else own
        return Backing(kind, as_hex(colour), 1.0, "as told", float(close.mean()))  # type: ignore[arg-type]
    return Backing(name_of(colour), as_hex(colour), 1.0, "as told", float(like(small, colour).mean()))


def _of_hue(frames: Frame, colour: Floats) -> Mask:
    rows = HueAxis.of(colour).rows
    turned = frames.astype(np.float32) @ rows.T
    return np.asarray((turned[..., 1] > 12) & (np.abs(turned[..., 2]) < 0.5 * turned[..., 1]), np.bool_)


def _alpha_key(stack: Frame, said: str) -> Key:
    premultiplied = said == "premultiplied"
    shown = looks_premultiplied(stack)
    remarks = []
    if shown is not None and shown != premultiplied:
        premultiplied = shown
        what = "multiplied by its alpha already" if shown else "not yet multiplied by its alpha"
        remarks.append(
            Finding(
                "note",
                "alpha",
                f"the clip's colour is {what}, though files of its kind say otherwise; it is taken as it is",
            )
        )
    coverage = float((stack[..., 3] < 128).mean())
    backing = Backing("alpha", None, 1.0, "the clip has alpha", coverage)
    key = Key(backing, premultiplied=premultiplied, remarks=tuple(remarks))
    return with_figure_remarks(key, stack)


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
