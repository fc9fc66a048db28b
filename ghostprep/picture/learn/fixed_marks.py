"""Which of the small things beside the figure are fixed to the backing.

A mark's place on the backing does not change. So from picture to picture all marks move alike, as the camera
makes them, and in time away from the figure. What is thrown, or moves with the figure, does not.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.arrays import Floats, Frame
from ghostprep.picture.key.keyed import Keyer, floats
from ghostprep.picture.key.marks import Gauge, Islands, Marks, looks_like

_SMALL = 0.03
"""Size of a mark, for that of the figure, at most."""
_NEAR = 0.015
"""Part of the picture's longer side by which a mark may miss its place: cameras also turn and come nearer."""
_AWAY = 0.06
"""Part of it by which figure and marks must have moved against each other over the clip, to be two things."""
_MOSTLY = 0.75
"""Part of the things seen, and of the pairs of pictures, that must agree."""
_PAIRS = 4
"""Pairs of pictures below which agreement is chance."""
_LOOKS, _SHADE = 4, 16
"""Looks that marks may have, the commonest first; and codes to which a look is told."""
_MARGIN = 0.04
"""Part of the picture's longer side at its border where a mark may be missing."""


Numbers: TypeAlias = npt.NDArray[np.intp]


class _Way(NamedTuple):
    """How things moved to the next picture; `kept` are the numbers, in the first, of those that did."""

    x: float
    y: float
    kept: list[int]
    agree: float


def find_marks(keyer: Keyer, frames: Sequence[Frame], gauge: Gauge) -> Marks | None:
    """Find the marks of a backing before which the camera moves; None if nothing is surely one.

    Parameters
    ----------
    keyer : Keyer
    frames : sequence of ndarray of uint8 (h, w, 3)
        Over the clip, in order.
    gauge : Gauge
        Of the frames.
    """
    seen = [gauge.islands(keyer(frame)) for frame in frames]
    figure = float(np.median([island.mass.max() for island in seen]))
    small = [np.flatnonzero((s.mass > 0) & (s.mass < _SMALL * figure)) for s in seen]
    h, w = frames[0].shape[:2]
    border = (w / max(h, w), h / max(h, w))
    marks = [found for alike in _alike(seen, small) if (found := _fixed(seen, alike, border)) is not None]
    if not marks:
        return None
    return Marks(
        floats(np.concatenate([mark.colours for mark in marks])),
        max(mark.size for mark in marks),
        sum(mark.usual for mark in marks),
    )


def _alike(seen: Sequence[Islands], small: Sequence[Numbers]) -> Iterator[list[Numbers]]:
    """Yield the numbers of small things of one look in each picture, the commonest look first."""
    rest = list(small)
    for _ in range(_LOOKS):
        colours = np.concatenate([s.colours[n] for s, n in zip(seen, rest, strict=True)])
        if not len(colours):
            return
        bins, counts = np.unique(np.rint(colours / _SHADE), axis=0, return_counts=True)
        look = floats(bins[counts.argmax()][None] * _SHADE)
        close = [looks_like(s.colours[n], look) for s, n in zip(seen, rest, strict=True)]
        yield [n[c] for n, c in zip(rest, close, strict=True)]
        rest = [n[~c] for n, c in zip(rest, close, strict=True)]


def _fixed(seen: Sequence[Islands], small: Sequence[Numbers], border: tuple[float, float]) -> Marks | None:
    """Return things of one look as marks if they are fixed to the backing."""
    found: list[tuple[int, _Way]] = []
    against = [(0.0, 0.0)]
    pairs = 0
    for i, (before, after) in enumerate(itertools.pairwise(seen)):
        way = _common_way(before, small[i], after, small[i + 1], border=border)
        if way is None:
            continue
        pairs += 1
        if way.agree < _MOSTLY:
            continue
        found.append((i, way))
        own = after.middles[after.mass.argmax()] - before.middles[before.mass.argmax()]
        against.append((way.x - own[0], way.y - own[1]))
    if (
        pairs < _PAIRS
        or len(found) < _MOSTLY * pairs
        or np.ptp(np.cumsum(against, axis=0), axis=0).max() < _AWAY
    ):
        return None
    colours = np.concatenate([seen[i].colours[way.kept] for i, way in found])
    sizes = np.concatenate([seen[i].mass[way.kept] for i, way in found])
    looks = np.unique(np.rint(colours / _SHADE), axis=0) * _SHADE
    return Marks(floats(looks), float(sizes.max()), round(float(np.median([len(n) for n in small]))))


def _common_way(
    before: Islands, first: Numbers, after: Islands, second: Numbers, *, border: tuple[float, float]
) -> _Way | None:
    """Return the way that most things went; None where too few are seen to tell."""
    start, end = before.middles[first], after.middles[second]
    best: _Way | None = None
    for way in (end[:, None] - start[None]).reshape(-1, 2):
        places = start + way
        within = ((places > _MARGIN) & (places < np.array(border) - _MARGIN)).all(1)
        within &= ~_hidden(places, after)
        hits = np.linalg.norm(places[:, None] - end[None], axis=2).min(1) < _NEAR
        agree = float(hits.sum() / (hits | within).sum())
        if hits.sum() >= 2 and (best is None or (len(best.kept), best.agree) < (int(hits.sum()), agree)):
            best = _Way(float(way[0]), float(way[1]), [int(n) for n in first[hits]], agree)
    if best is not None or len(start) < 2 or len(end) < 2:
        return best
    return _Way(0, 0, [], 0)


def _hidden(places: Floats, after: Islands) -> npt.NDArray[np.bool_]:
    """Return which places (n, 2) the largest thing hides."""
    h, w = after.zones.shape
    x, y = (np.clip(np.rint(places[:, a] * max(h, w)).astype(int), 0, n - 1) for a, n in ((0, w), (1, h)))
    return np.asarray(after.zones[y, x] == int(after.mass.argmax()), np.bool_)
