"""The key of a clip before an even backing: a colour, or white."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ghostprep.arrays import Frame
from ghostprep.picture.key.backing import Backing, Mix
from ghostprep.picture.key.curve import Curve
from ghostprep.picture.key.hue import like
from ghostprep.picture.key.key import Key, hue_among_amounts
from ghostprep.picture.key.keyed import floats, to_codes
from ghostprep.picture.key.marks import Gauge
from ghostprep.picture.key.outside import Outside
from ghostprep.picture.key.plate import cut_to
from ghostprep.picture.learn.camera import backing_moves
from ghostprep.picture.learn.cloth import ToldCloths, cloths_of, palette_of, swatches_of
from ghostprep.picture.learn.colours import find_colours
from ghostprep.picture.learn.detect import bright, from_hex
from ghostprep.picture.learn.even import learn_even_plate
from ghostprep.picture.learn.figure import MIDDLE, at_most, with_figure_remarks
from ghostprep.picture.learn.fixed_marks import find_marks
from ghostprep.picture.learn.glare import find_glare
from ghostprep.picture.learn.outside import find_outside
from ghostprep.picture.learn.remarks import on_backing, on_cloths, on_even, on_glare
from ghostprep.picture.learn.remarks_outside import on_fixed

_CHOSEN = 6
"""Glimpses at most from which hues are learned."""


def even_key(
    frames: Frame,
    backing: Backing,
    told: Mix | None = None,
    solid: Sequence[str] = (),
    sheer: Sequence[str] = (),
) -> Key:
    """Return the key before an even backing.

    Parameters
    ----------
    frames : ndarray of uint8 (n, h, w, 3)
        Glimpses over the clip.
    backing : Backing
        As told or detected: a colour, or white.
    told : {"light", "codes"}, optional
        How figure and backing were mixed; else a curve between the two is taken.
    solid, sheer : sequence of str, optional
        Colours of the figure's solid cloths, and of those that the backing is seen through.
    """
    middle = at_most(frames, MIDDLE)
    white = backing.kind == "white"
    # for clips that never show it bare
    flat = from_hex(backing.colour or ("#e6e6e6" if white else "#28aa46"))
    first = bright(middle) if white else like(middle, flat)
    wanders = backing_moves(middle, first)
    even = learn_even_plate(middle, first, blur=3)
    backing = replace(backing, moving_camera=wanders, coverage=float(even.empty.mean()))
    if not even.empty.any():
        even = even._replace(plate=np.broadcast_to(flat, middle.shape[1:]).copy(), noise=3.0)
        wanders = False
    noise = np.full(even.plate.shape[:2], max(even.noise, 0.7), np.float32)
    if white:
        remarks = [*on_backing(backing), *on_even(even.plate, None)]
        return with_figure_remarks(Key(backing, even.plate, noise, remarks=tuple(remarks)), frames)
    outside = None if wanders else find_outside(middle, even.empty, max(even.noise, 1))
    chosen = _within(frames[:: -(-len(frames) // _CHOSEN)], outside)
    remarks = [*on_backing(backing), *on_even(even.plate, outside)]
    curve = Curve(told)
    axis = hue_among_amounts(floats(even.plate.mean((0, 1))), curve)
    colours = find_colours(chosen, even, axis, curve)
    known = ToldCloths.of(solid, sheer, curve)
    cloths = cloths_of(colours.found, axis, known)
    palette, swatches = palette_of(cloths, colours.glow), swatches_of(cloths, curve)
    backing = replace(backing, mix=told)
    key = Key(backing, even.plate, noise, outside, palette=palette, cloths=swatches, remarks=tuple(remarks))
    size = (middle.shape[2], middle.shape[1])
    keyer = key.at(None, size, size)
    marks = find_marks(keyer, list(middle), Gauge.of(None, size, size)) if wanders else None
    # only a still camera's picture tells of glare
    tells = told != "codes" and not backing.moving_camera
    glare = find_glare(keyer, to_codes(even.plate), list(middle[::2])) if tells else 0.0
    remarks += [*on_cloths(swatches, known.missed(colours.found)), *on_glare(glare), *on_fixed(marks)]
    return with_figure_remarks(replace(key, glare=glare, marks=marks, remarks=tuple(remarks)), frames)


def _within(frames: Frame, outside: Outside | None) -> Frame:
    """Return the frames black outside the backing, so that its edges do not count as the figure's."""
    if outside is None:
        return frames
    size = (frames.shape[2], frames.shape[1])
    inner = frames.copy()
    inner[:, cut_to(outside.mask, None, size, size) > 0.05] = 0
    return inner
