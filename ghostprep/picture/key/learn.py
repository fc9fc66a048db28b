"""From glimpses over a clip to its key."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from ghostprep.errors import InputError
from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.chroma import ChromaKeyer
from ghostprep.picture.key.detect import as_hex, bright, commonest_hue, dark, detect, name_of
from ghostprep.picture.key.even import Mask, learn_even_plate, like
from ghostprep.picture.key.glare import find_glare
from ghostprep.picture.key.hue import HueAxis, luma_chroma
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import Bytes, Floats, as_bytes, floats
from ghostprep.picture.key.marks import Gauge, Marks
from ghostprep.picture.key.marks_learn import find_marks
from ghostprep.picture.key.mix import guess_mix
from ghostprep.picture.key.opacity import alpha_varies, looks_premultiplied
from ghostprep.picture.key.outside import find_outside
from ghostprep.picture.key.plate import cut_to
from ghostprep.picture.key.remarks import STAYS, on_backing, on_even, on_figure, on_found, on_glare, on_place
from ghostprep.picture.key.remarks_beside import on_cut, on_fixed, on_marks
from ghostprep.picture.key.still import find_still, stays_in_place
from ghostprep.picture.key.wander import backing_wanders

TOLD = ("auto", "green", "blue", "black", "white", "plate", "alpha", "none")
_PURE = {"green": (40.0, 170.0, 70.0), "blue": (35.0, 70.0, 190.0)}
_AS_DARK, _BLACK = 0.55, 6.0
"""Share of the darkness's usual luma below which something is blacker; codes up to which nothing is."""
_SMALL, _MIDDLE = 160, 320
"""Longest side of the pictures on which the backing is told, and on which its plate is made."""


def learn_key(
    glimpses: Sequence[Bytes],
    *,
    kind: str = "auto",
    plate: Bytes | None = None,
    alpha: str = "none",
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

    Returns
    -------
    Key

    Raises
    ------
    InputError
        The kind is unknown or asks for what the clip does not have, or the plate is of another shape.
    """
    colour = told_colour(kind)
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
    frames = np.ascontiguousarray(stack[..., :3])
    if kind == "none":
        return Key(Backing("none", None, 1.0, "as told"))
    if plate is not None or kind == "plate":
        return _still_key(frames, plate, Backing("plate", None, 1.0, "as told"))
    small = _at_most(frames, _SMALL)
    backing = detect(small) if kind == "auto" else _as_told(kind, colour, small)
    if backing.kind == "none":
        return Key(backing, remarks=tuple(on_backing(backing)))
    if backing.kind == "plate":
        return _still_key(frames, None, backing)
    return _even_key(frames, backing)


def told_colour(kind: str) -> Floats | None:
    """Return the R'G'B' codes (3,) of a kind ``#rrggbb``, None for the others.

    Raises
    ------
    InputError
        `kind` is none that we know, or a grey, which has no hue to key by.
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", kind):
        if kind not in TOLD:
            remedy = f"use one of {', '.join(TOLD)} or #rrggbb"
            raise InputError(f"unknown backing {kind!r}", where="--backing", remedy=remedy)
        return None
    colour = floats([int(kind[i : i + 2], 16) for i in (1, 3, 5)])
    if float(colour.max() - colour.min()) < 16:
        remedy = "use black, white, or --plate with a picture of the backing"
        raise InputError(f"{kind} is grey, there is no hue to key by", where="--backing", remedy=remedy)
    return colour


def _as_told(kind: str, colour: Floats | None, small: Bytes) -> Backing:
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


def _of_hue(frames: Bytes, colour: Floats) -> Mask:
    rows = HueAxis.of(colour).rows()
    turned = frames.astype(np.float32) @ rows.T
    return np.asarray((turned[..., 1] > 12) & (np.abs(turned[..., 2]) < 0.5 * turned[..., 1]), np.bool_)


def _alpha_key(stack: Bytes, said: str) -> Key:
    premultiplied = said == "premultiplied"
    shown = looks_premultiplied(stack)
    remarks = []
    if shown is not None and shown != premultiplied:
        premultiplied = shown
        what = "multiplied by its alpha already" if shown else "not yet multiplied by its alpha"
        remarks.append(
            Finding("note", "alpha", f"the clip's colour is {what}, other than its kind of file says")
        )
    coverage = float((stack[..., 3] < 128).mean())
    backing = Backing("alpha", None, 1.0, "the clip has alpha", coverage)
    key = Key(backing, premultiplied=premultiplied, remarks=tuple(remarks))
    return _with_figure_remarks(key, stack)


def _still_key(frames: Bytes, given: Bytes | None, backing: Backing) -> Key:
    stays = 0.0
    if given is None:
        still = find_still(frames)
        stays = stays_in_place(still.seen)
        if stays >= STAYS and backing.confidence < 1:
            # half a figure is worse than a whole frame: say what is missing, and key nothing
            backing = Backing("none", None, 0.3, backing.reason + ", and the figure never leaves its place")
            return Key(backing, remarks=(*on_backing(backing), *on_place(stays)))
    else:
        if given.ndim != 3 or given.shape[-1] < 3:
            raise InputError("is not a colour picture", where="--plate", remedy="give an RGB picture")
        size = (frames.shape[2], frames.shape[1])
        whole = floats(given[..., :3])
        shrunk = cut_to(whole, None, size, size)
        still = find_still(frames, shrunk)
        if whole.shape[0] > shrunk.shape[0]:
            # the glimpses are small: from them comes what changed since the picture, from it the detail
            still = still._replace(plate=_with_detail(still.plate - shrunk, whole))
        backing = replace(backing, reason="a clean plate was given")
    backing = replace(backing, coverage=float(np.clip(still.seen.mean(), 0, 1)))
    remarks = [*on_backing(backing), *on_place(stays)]
    remarks += on_found(still.seen) if given is None else []
    key = Key(backing, still.plate, still.noise, remarks=tuple(remarks))
    return _with_figure_remarks(key, frames)


def _with_detail(change: Floats, whole: Floats) -> Floats:
    """Return a picture (h, w, 3) with a change of light, known in small, brought in."""
    h, w = whole.shape[:2]
    return floats(np.clip(whole + cut_to(change, None, (w, h), (w, h)), 0, 255))


def _even_key(frames: Bytes, backing: Backing) -> Key:
    middle = _at_most(frames, _MIDDLE)
    if backing.kind in ("black", "white"):
        first = dark(middle) if backing.kind == "black" else bright(middle)
        if backing.kind == "black":
            middle, first = _without_blacker(middle, first)
    else:
        colour = floats([int((backing.colour or "#00ff00")[i : i + 2], 16) for i in (1, 3, 5)])
        first = like(middle, colour)
    wanders = backing_wanders(middle, first)
    even = learn_even_plate(middle, first, blur=3)
    backing = replace(backing, moving_camera=wanders, coverage=float(even.empty.mean()))
    if not even.empty.any():
        flat = _flat_plate(backing, middle.shape[1:3])
        even = even._replace(plate=flat, noise=3.0)
        wanders = False
    noise = np.full(even.plate.shape[:2], max(even.noise, 0.7), np.float32)
    if backing.kind in ("black", "white"):
        remarks = [*on_backing(backing), *on_even(even.plate, None)]
        return _with_figure_remarks(Key(backing, even.plate, noise, remarks=tuple(remarks)), frames)
    outside = (
        None if wanders or not even.empty.any() else find_outside(middle, even.empty, max(even.noise, 1))
    )
    size = (frames.shape[2], frames.shape[1])
    inner = frames if outside is None else _within(frames, outside.mask)
    chosen = inner[:: max(len(frames) // 10, 1)]
    mix = guess_mix(chosen, cut_to(even.plate, None, size, size), even.noise)
    remarks = [*on_backing(backing), *on_even(even.plate, outside)]
    key = Key(backing, even.plate, noise, mix.linear, outside, remarks=tuple(remarks))
    glare = _glare_of(key, middle)
    marks = _marks_of(key, middle) if wanders else None
    remarks += [*on_glare(glare), *on_fixed(marks)]
    return _with_figure_remarks(replace(key, glare=glare, marks=marks, remarks=tuple(remarks)), frames)


def _marks_of(key: Key, frames: Bytes) -> Marks | None:
    size = (frames.shape[2], frames.shape[1])
    return find_marks(key.at(None, size, size), list(frames), Gauge.of(None, size, size))


def _glare_of(key: Key, frames: Bytes) -> float:
    """Return the veiling glare, of which only the light of a still camera's picture tells."""
    if not key.linear or key.backing.moving_camera:
        return 0.0
    size = (frames.shape[2], frames.shape[1])
    keyer = key.at(None, size, size)
    return find_glare(keyer, list(frames[::2])) if isinstance(keyer, ChromaKeyer) else 0.0


def _without_blacker(frames: Bytes, darkness: Mask) -> tuple[Bytes, Mask]:
    """Make what is much darker than the darkness behind grey and no part of it, so that it is not learned.

    No room is as black as black cloth in it: the figure's own black must not become the backing's.
    """
    luma = luma_chroma(frames)[..., 0]
    usual = float(np.median(luma[darkness])) if darkness.any() else 0.0
    if usual < _BLACK:
        return frames, darkness
    blacker = luma < _AS_DARK * usual
    return as_bytes(np.where(blacker[..., None], np.uint8(128), frames)), darkness & ~blacker


def _flat_plate(backing: Backing, shape: tuple[int, int]) -> Floats:
    """Return a plate of the backing's colour alone, for clips that never show it bare."""
    told = {"black": "#0c0c0c", "white": "#e6e6e6"}.get(backing.kind, backing.colour or "#28aa46")
    return np.broadcast_to(floats([int(told[i : i + 2], 16) for i in (1, 3, 5)]), (*shape, 3)).copy()


def _within(frames: Bytes, mask: Floats) -> Bytes:
    """Return the frames black outside the backing, so that its edges do not count as the figure's."""
    size = (frames.shape[2], frames.shape[1])
    outside = cut_to(mask, None, size, size) > 0.05
    out = frames.copy()
    out[:, outside] = 0
    return out


def _with_figure_remarks(key: Key, frames: Bytes) -> Key:
    h, w = frames.shape[1:3]
    scale = min(_MIDDLE / max(h, w), 1)
    size = (max(round(w * scale), 1), max(round(h * scale), 1))
    keyer = key.at(None, (w, h), size)
    keyed = [keyer(as_bytes(cv2.resize(f, size, interpolation=cv2.INTER_AREA))) for f in frames[::4]]
    mattes = [k.matte for k in keyed]
    said = on_figure([k.figure for k in keyed], mattes)
    if key.backing.kind in ("green", "blue", "colour"):
        said += on_marks(mattes)
    if key.outside is not None:
        said += on_cut(mattes, cut_to(key.outside.mask, None, (w, h), size))
    return replace(key, remarks=(*key.remarks, *said))


def _at_most(frames: Bytes, longest: int) -> Bytes:
    h, w = frames.shape[1:3]
    scale = min(longest / max(h, w), 1)
    size = (max(round(w * scale), 1), max(round(h * scale), 1))
    return as_bytes([cv2.resize(f, size, interpolation=cv2.INTER_AREA) for f in frames])
