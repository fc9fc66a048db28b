"""What general tools do with the same clips, each at the best of a grid of its settings.

The settings are chosen on the tuning clip of the same backing, as ours were, and scored on another.
"""

from __future__ import annotations

import itertools
import resource
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from keying_clips import SIZE, Made, ffmpeg, raw_input
from keying_scores import score_figures

Key = Callable[[Made, np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True)
class Rival:
    """A tool at its best settings: how to key, what they are, CPU time a frame (ms)."""

    name: str
    settings: str
    figures: np.ndarray
    mattes: np.ndarray
    frame_ms: float


def middle(made: Made) -> str:
    """Return the backing's middle colour as ffmpeg writes it."""
    r, g, b = (round(float(c)) for c in made.plate.mean((0, 1)))
    return f"0x{r:02x}{g:02x}{b:02x}"


def through_filter(frames: np.ndarray, chain: str) -> tuple[np.ndarray, np.ndarray]:
    """Send frames through an ffmpeg filter that makes alpha; return them premultiplied, and the matte."""
    arguments = [*raw_input(), "-vf", chain + ",format=rgba", "-f", "rawvideo", "-pix_fmt", "rgba", "-"]
    data = ffmpeg(["-filter_threads", "1", *arguments], data=frames.tobytes())
    rgba = np.frombuffer(data, np.uint8).reshape(-1, SIZE[1], SIZE[0], 4)
    matte = rgba[..., 3]
    figures = np.rint(rgba[..., :3] * (matte[..., None] / np.float32(255))).astype(np.uint8)
    return figures, matte


def _filter(chain: str) -> Key:
    return lambda made, frames: through_filter(frames, chain.replace("MIDDLE", middle(made)))


def _grid(kind: str) -> dict[str, Iterable[tuple[str, Key]]]:
    """Return the rivals that suit a kind of backing, each with its settings."""
    sims, blends = (0.04, 0.07, 0.1, 0.14, 0.18, 0.24, 0.3), (0.0, 0.05, 0.1, 0.2)
    chroma = [f"chromakey=MIDDLE:{s}:{b}" for s, b in itertools.product(sims, blends)]
    colour = [
        f"colorkey=MIDDLE:{s}:{b}"
        for s, b in itertools.product((0.1, 0.16, 0.22, 0.3, 0.4), (0.0, 0.1, 0.2, 0.35))
    ]
    luma = [
        f"lumakey={t}:{w}:{s}"
        for t, w, s in itertools.product((0.0, 0.05, 0.1), (0.02, 0.06, 0.1), (0.0, 0.05, 0.1))
    ]
    rivals: dict[str, Iterable[tuple[str, Key]]] = {}
    if kind in ("green", "blue"):
        despill = [
            f",despill=type={kind}:mix={m}:expand={e}" for m, e in itertools.product((0.5, 0.8), (0.0, 0.3))
        ]
        rivals["ffmpeg chromakey + despill"] = [
            (c + d, _filter("format=yuva444p," + c + ",format=rgba" + d))
            for c, d in itertools.product(chroma[4:24], despill)
        ]
    if kind in ("green", "blue", "colour"):
        rivals["ffmpeg chromakey"] = [(c, _filter("format=yuva444p," + c)) for c in chroma]
        rivals["moviepy MaskColor"] = [
            (f"threshold={t} stiffness={s}", _mask_color(t, s))
            for t, s in itertools.product((40, 70, 100, 130), (1, 3, 6))
        ]
    if kind in ("green", "blue", "colour", "white"):
        rivals["ffmpeg colorkey"] = [(c, _filter("format=rgba," + c)) for c in colour]
    if kind == "black":
        rivals["ffmpeg lumakey"] = [(c, _filter("format=yuva444p," + c)) for c in luma]
    if kind == "plate":
        rivals["difference, threshold"] = [
            (f"threshold={t} soft={s}", _difference(t, s))
            for t, s in itertools.product((10, 18, 28, 40), (1, 10, 25))
        ]
    return rivals


def _mask_color(threshold: float, stiffness: float) -> Key:
    def run(made: Made, frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        from moviepy import ImageClip
        from moviepy.video.fx import MaskColor

        colour = tuple(float(c) for c in made.plate.mean((0, 1)))
        masks = []
        for frame in frames:
            keyed = ImageClip(frame).with_effects(
                [MaskColor(color=colour, threshold=threshold, stiffness=stiffness)]
            )
            masks.append(keyed.mask.get_frame(0))
        matte = np.stack(masks).astype(np.float32)
        figures = np.rint(frames * matte[..., None]).astype(np.uint8)
        return figures, np.rint(matte * 255).astype(np.uint8)

    return run


def _difference(threshold: float, soft: float) -> Key:
    def run(made: Made, frames: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        apart = np.abs(frames.astype(np.float32) - made.plate).max(-1)
        matte = np.clip((apart - threshold) / soft, 0, 1)
        return np.rint(frames * matte[..., None]).astype(np.uint8), np.rint(matte * 255).astype(np.uint8)

    return run


def best_rivals(kind: str, tune: Made, scored: Made) -> list[Rival]:
    """Return each rival at the settings that do best on `tune`, keying `scored`."""
    few = slice(2, None, 14)
    out = []
    for name, settings in _grid(kind).items():
        trials = [
            (score_figures(run(tune, tune.frames[few])[0], tune.truth[few]), label, run)
            for label, run in settings
        ]
        _, label, run = min(trials, key=lambda t: t[0])
        before = _cpu()
        figures, mattes = run(scored, scored.frames)
        out.append(Rival(name, label, figures, mattes, 1e3 * (_cpu() - before) / len(scored.frames)))
    return out


def _cpu() -> float:
    return sum(
        u.ru_utime + u.ru_stime
        for u in (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def closed_form(made: Made, which: list[int]) -> Rival:
    """Key some frames by closed-form matting [1]_ with a trimap from the truth: a reference, no rival.

    References
    ----------
    .. [1] Levin, Lischinski, Weiss, "A Closed-Form Solution to Natural Image Matting", PAMI 2008; as in pymatting.
    """
    from pymatting import estimate_alpha_cf, estimate_foreground_ml

    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (11, 11))
    figures, mattes, before = [], [], _cpu()
    for i in which:
        alpha = made.alpha[i]
        trimap = np.full(alpha.shape, 0.5)
        trimap[cv2.erode((alpha == 255).astype(np.uint8), disc, borderValue=1) > 0] = 1
        trimap[cv2.dilate((alpha > 0).astype(np.uint8), disc) == 0] = 0
        photo = made.frames[i] / 255.0
        solved = np.clip(estimate_alpha_cf(photo, trimap), 0, 1)
        colour = estimate_foreground_ml(photo, solved)
        figures.append(np.rint(np.clip(colour * solved[..., None], 0, 1) * 255).astype(np.uint8))
        mattes.append(np.rint(solved * 255).astype(np.uint8))
    ms = 1e3 * (_cpu() - before) / len(which)
    return Rival("closed-form matting, true trimap", "pymatting", np.stack(figures), np.stack(mattes), ms)
