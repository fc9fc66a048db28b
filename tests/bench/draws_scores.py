"""What a keyed draw is worth, beside an oracle that knows coverage and backing."""

from __future__ import annotations

import time
from dataclasses import replace

import cv2
import numpy as np
from draws_clips import STILL, Shot
from draws_told import told_cloths

from ghostprep.box import small_size
from ghostprep.picture import Key, learn_key
from ghostprep.picture.key.backing import Mix
from ghostprep.transfer import LUMA_709, codes_to_light, from_linear, to_linear

SCORED = 4
"""Frames of each clip that are scored, beside those that stand still."""


def oracle(shot: Shot, i: int) -> np.ndarray:
    """Return frame `i` keyed by the truth: what is left is what noise, codec, spill and sharpening do."""
    frame, bare = shot.frames[i].astype(np.float32), 1 - shot.alpha[i][..., None]
    there = (bare < 1) | (shot.truth[i].max(-1, keepdims=True) > 0)
    codes = frame - bare * shot.plate
    if shot.draw.linear:
        codes = from_linear(to_linear(frame / 255) - bare * to_linear(shot.plate / 255)) * 255
    return np.where(there, np.clip(np.rint(codes), 0, 255), 0).astype(np.uint8)


def learned(shot: Shot, *, told: bool = False) -> Key:
    """Learn the key from glimpses as `make` does; a plate is given to half of its draws.

    With `told`, the cloths before a colour that were taken wrong are told, as somebody would who looks at them.
    """
    h, w = shot.frames.shape[1:3]
    some = shot.frames[np.linspace(0, len(shot.frames) - STILL, 12).astype(int)]
    size = small_size((w, h), 1280 if shot.draw.backing == "plate" else 640)
    glimpses = [cv2.resize(f, size, interpolation=cv2.INTER_AREA) if size != (w, h) else f for f in some]
    given = shot.draw.given and shot.draw.backing == "plate"
    plate = np.clip(np.rint(shot.plate), 0, 255).astype(np.uint8) if given else None
    key = learn_key(glimpses, plate=plate)
    if not told or key.palette is None:
        return key
    return learn_key(glimpses, **told_cloths(shot, key))  # type: ignore[arg-type]


def as_keyed(shot: Shot) -> Shot:
    """Return a shot at the size at which it is keyed, scaled in codes as the decoder does."""
    w, h = (4 * (side // shot.draw.times // 4) for side in shot.draw.size)

    def scaled(frames: np.ndarray) -> np.ndarray:
        return np.stack([cv2.resize(frame, (w, h), interpolation=cv2.INTER_AREA) for frame in frames])

    parts = (shot.frames, shot.truth, shot.alpha, shot.plate[None])
    frames, truth, alpha, plate = parts if shot.draw.times == 1 else map(scaled, parts)
    return Shot(shot.draw, frames, truth, alpha, plate[0])


def errors(figures: np.ndarray, shot: Shot, which: np.ndarray) -> dict[str, float]:
    """Return the measures of figures (n, h, w, 3) for frames `which`; see `scores`."""
    truth, alpha = shot.truth[which], shot.alpha[which]
    square = ((figures.astype(np.float32) - truth) ** 2).mean(-1)
    high = truth.max(-1)
    partly = (alpha > 0.02) & (alpha < 0.98)
    if not (alpha > 0.02).any():  # light has no edge but where it ends
        partly = (high > 0) & (high < 60)
    lit = ((alpha > 0) | (high > 0)).astype(np.uint8)
    reach = 2 * round(shot.frames.shape[1] / 50) + 1
    far = np.stack([cv2.dilate(m, np.ones((reach, reach), np.uint8)) == 0 for m in lit])
    luma = figures @ np.float32(LUMA_709)
    solid, faint = alpha > 0.98, (high >= 8) & (high <= 60) & (alpha < 0.02)
    return {
        "mse": float(square.mean()),
        "edge": float(square[partly].mean()) if partly.any() else float("nan"),
        "back": float(np.percentile(luma[far], 99.9)) if far.any() else float("nan"),
        "cloth": _share(codes_to_light(figures[solid]), codes_to_light(truth[solid])),
        "faint": _share(figures[faint], truth[faint]),
    }


def _share(got: np.ndarray, wanted: np.ndarray) -> float:
    """Return how much more than was wanted there is, as a share."""
    return (
        float(got.sum(dtype=np.float64) / wanted.sum(dtype=np.float64) - 1)
        if len(wanted) > 400
        else float("nan")
    )


def flicker(figures: np.ndarray, shot: Shot) -> float:
    """Return the mean step, codes, from frame to frame where the figure stands still."""
    there = (shot.truth[-STILL:].max(-1) > 0)[1:]
    steps = np.abs(np.diff(figures.astype(np.float32), axis=0)).mean(-1)
    return float(steps[there].mean()) if there.any() else float("nan")


def mixed_in(key: Key, mix: Mix) -> Key:
    """Return a key for another mix of figure and backing."""
    return replace(key, backing=replace(key.backing, mix=mix))


def scores(shot: Shot, *, told: bool = False) -> dict[str, object]:
    """Learn, key, and measure.

    ``mse`` (whole frame) and ``edge`` (partly covered; of soft light: 1 to 60 codes) over the oracle's, in 8-bit
    codes; ``back``: 99.9th percentile of luma far from the figure; ``cloth``: solid cloth's light, more (or
    less) than it was, as a share, and the oracle's own taken off; ``faint``: uncovered light of 8 to 60 codes
    in the same way, in codes; ``flicker`` over the oracle's; ``ms``: CPU of one thread a frame.
    """
    key, shot = learned(shot, told=told), as_keyed(shot)
    size = (shot.frames.shape[2], shot.frames.shape[1])
    keyer, spent = key.at(None, shot.draw.size, size), []

    def keyed(i: int) -> np.ndarray:
        before = time.thread_time()
        figure = keyer(np.ascontiguousarray(shot.frames[i])).codes
        spent.append(time.thread_time() - before)
        return figure

    which = np.linspace(1, len(shot.frames) - STILL - 1, SCORED).astype(int)
    still = range(len(shot.frames) - STILL, len(shot.frames))
    figures = np.stack([keyed(int(i)) for i in which])
    floor = np.stack([oracle(shot, int(i)) for i in which])
    ours, best = errors(figures, shot, which), errors(floor, shot, which)
    rest = np.stack([keyed(i) for i in still])
    steps = flicker(rest, shot) / max(flicker(np.stack([oracle(shot, i) for i in still]), shot), 0.05)
    return {
        "mse": ours["mse"] / max(best["mse"], 1 / 12),
        "edge": ours["edge"] / max(best["edge"], 1 / 12),
        "back": ours["back"],
        "cloth": (1 + ours["cloth"]) / (1 + best["cloth"]) - 1,
        "faint": (1 + ours["faint"]) / (1 + best["faint"]) - 1,
        "flicker": steps,
        "ms": 1e3 * float(np.median(spent)),
        "told": f"{key.backing.kind}{f' in {key.backing.mix}' if key.backing.mix else ''}",
        "codes": ours["mse"],
        "best": best["mse"],
        "pictures": (shot.frames[which[1]], shot.truth[which[1]], floor[1], figures[1]),
    }
