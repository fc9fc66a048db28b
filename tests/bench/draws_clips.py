"""Clips drawn at random: everything about one follows from its seed."""

from __future__ import annotations

import colorsys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from draws_figures import SOFT, SoftLight, photograph, solid_figure
from keying_clips import ffmpeg, raw_input, room

from ghostprep.clip import probe, read_frames
from ghostprep.transfer import from_linear, light_to_codes, to_linear

BACKINGS = ("green", "blue", "hue", "black", "plate")
STILL = 6
"""The last frames of a clip, in which the figure stands still: for its flicker."""
CODED = ("-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709")


@dataclass(frozen=True)
class Draw:
    """One case: all that is needed to make its clip."""

    seed: int
    backing: str
    figure: str
    size: tuple[int, int]
    colour: tuple[float, float, float]
    uneven: float
    slope: float
    pattern: float
    linear: bool
    spill: float
    sharpen: float
    noise: float
    full_chroma: bool
    codec: str
    crf: int
    given: bool
    times: int
    """How much smaller its frames are when they are keyed: `make` keys at the raster's size."""
    frames: int = 24

    @property
    def mix(self) -> str:
        """What adds up at the figure's edge."""
        return "light" if self.linear else "codes"

    def __str__(self) -> str:
        colour = "#" + "".join(f"{round(255 * x):02x}" for x in self.colour)
        chroma = "444" if self.full_chroma else "420"
        return (
            f"{self.backing} {colour}, {self.figure}, {self.mix}, "
            f"{self.size[0]}x{self.size[1]} / {self.times} {self.codec} {chroma} crf {self.crf}, noise {self.noise:.1f}, "
            f"spill {self.spill:.2f}, sharpened {self.sharpen:.1f}, uneven {self.uneven:.2f}"
        )


@dataclass(frozen=True)
class Shot:
    """A clip as decoded, and its truth, uint8 codes; `alpha` float32 0..1; `plate` float32 codes."""

    draw: Draw
    frames: np.ndarray
    truth: np.ndarray
    alpha: np.ndarray
    plate: np.ndarray


def draw_case(seed: int, backing: str = "") -> Draw:
    """Draw one case at random; `backing` narrows it."""
    rng = np.random.default_rng(seed)
    kind = backing or str(rng.choice(BACKINGS))
    figure = str(rng.choice(("figure", "photograph")))
    if kind == "black" and rng.random() < 0.6:
        figure = str(rng.choice(SOFT))
    height = int(rng.choice([360, 480, 720, 1080], p=[0.6, 0.32, 0.06, 0.02]))
    hue = {"green": rng.uniform(0.3, 0.42), "blue": rng.uniform(0.58, 0.68)}.get(kind, rng.random())
    colour = colorsys.hsv_to_rgb(hue, rng.uniform(0.55, 1), rng.uniform(0.4, 0.8))
    if kind == "black":
        level = 0.0 if rng.random() < 0.35 else rng.uniform(0, 14) / 255
        colour = tuple(float(x) for x in level * rng.uniform(0.85, 1.15, 3))  # type: ignore[assignment]
    linear = bool(rng.random() < (0.25 if kind == "black" else 0.5))
    camera = rng.random() < (0.8 if linear else 0.4)
    return Draw(
        seed=seed,
        backing=kind,
        figure=figure,
        size=(round(height * float(rng.choice([4 / 3, 16 / 9])) / 2) * 2, height),
        colour=colour,
        uneven=rng.uniform(0, 0.25) * (camera and kind != "black"),
        slope=rng.uniform(-0.25, 0.25) * camera,
        pattern=rng.uniform(0, 0.6) * camera,
        linear=linear,
        spill=rng.uniform(0, 0.06) * (camera and linear and kind not in ("black", "plate")),
        sharpen=rng.uniform(0, 0.8) * bool(camera and rng.random() < 0.5),
        noise=rng.uniform(0.3, 3.5) if camera else float(rng.choice([0.0, 0.0, 1.0])),
        full_chroma=bool(rng.random() < 0.2),
        codec="hevc" if rng.random() < 0.25 else "h264",
        crf=int(rng.integers(16, 31)),
        given=bool(rng.random() < 0.5),
        times=int(rng.choice([1, 2, 3], p=[0.5, 0.3, 0.2])),
    )


def backing_of(draw: Draw, rng: np.random.Generator) -> np.ndarray:
    """Return the backing alone, R'G'B' codes as float32 (h, w, 3)."""
    w, h = draw.size
    if draw.backing == "plate":
        codes = light_to_codes(room())
        codes = codes[:, ::-1] if rng.random() < 0.5 else codes
        x, y = int(rng.integers(0, 120)), int(rng.integers(0, 90))
        cut = np.ascontiguousarray(codes[y : y + 390, x : x + 520])
        return (cv2.resize(cut, (w, h), interpolation=cv2.INTER_AREA) * rng.uniform(0.6, 1.15)).clip(0, 255)
    yy, xx = np.mgrid[:h, :w].astype(np.float32)
    phase = rng.uniform(0, 6.28, 4)
    light = 1 + draw.uneven * np.sin(2.4 * xx / w + phase[0]) * np.cos(2.8 * yy / h + phase[1])
    light = light * (1 + draw.slope * (np.cos(phase[2]) * (xx / w - 0.5) + np.sin(phase[2]) * (yy / h - 0.5)))
    fixed = draw.pattern * cv2.GaussianBlur(rng.normal(0, 1, (h, w, 3)).astype(np.float32), (0, 0), 0.7) * 2
    base = to_linear(np.float32(draw.colour)) if draw.backing != "black" else np.float32(draw.colour)
    whole = base * light[..., None].astype(np.float32)
    codes = whole * 255 if draw.backing == "black" else from_linear(whole) * 255
    return np.clip(codes + fixed * (codes > 0.5), 0, 255).astype(np.float32)


def mover(draw: Draw, rng: np.random.Generator) -> Callable[[int], np.ndarray]:
    """Return what gives the figure (h, w, 4) of each frame."""
    w, h = draw.size
    last = draw.frames - STILL
    if draw.figure in SOFT:
        soft = SoftLight(draw.figure, draw.size, rng)
        return lambda i: soft.at(min(i, last))
    avoid = None if draw.backing in ("black", "plate") else np.float32(draw.colour)
    drawn = photograph if draw.figure == "photograph" else solid_figure
    part = drawn(rng, round(h * rng.uniform(0.75, 0.95)), avoid)
    fh, fw = part.shape[:2]
    phase, sway = rng.uniform(0, 6.28, 3), rng.uniform(0.05, 0.18) * w

    def at(i: int) -> np.ndarray:
        t = min(i, last) / draw.frames * 6.28
        matrix = cv2.getRotationMatrix2D((fw / 2, fh / 2), 5 * np.sin(t + phase[0]), 0.97 + 0.03 * np.sin(t))
        x = w / 2 + sway * np.sin(0.8 * t + phase[1]) + 0.37 * t
        if draw.backing == "plate":  # it walks through, so that every place is seen without it
            x = w / 2 + (min(i, last) / last - 0.5) * (w + fw) if not draw.given else x
        matrix[:, 2] += [x - fw / 2, h - fh + 0.01 * h * np.sin(2 * t + phase[2])]
        return np.clip(cv2.warpAffine(part, matrix, (w, h), flags=cv2.INTER_LINEAR), 0, 1)

    return at


def mixed(
    draw: Draw, part: np.ndarray, back: np.ndarray, behind: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the signal (codes, float) of a figure before the backing, and the true figure's codes.

    `back` is the backing in codes, `behind` in light. Light without a body is added to a lifted black.
    """
    light, alpha = part[..., :3], part[..., 3:]
    near = cv2.GaussianBlur(part[..., 3], (0, 0), draw.size[1] / 50)
    spill = draw.spill * (1 + 5 * np.clip(1 - near, 0, 1))[..., None] * alpha
    if draw.linear:
        return from_linear(light + (spill + 1 - alpha) * behind) * 255, light_to_codes(light)
    whole = np.divide(light, alpha, out=light.copy(), where=alpha > 1e-3)
    codes = from_linear(whole) * np.where(alpha > 1e-3, alpha, 1) * 255
    return codes + (spill + 1 - alpha) * back, codes


def make(draw: Draw, folder: Path) -> Shot:
    """Make the clip, code it, read it as our program does."""
    rng = np.random.default_rng((draw.seed, 1))
    back, at = backing_of(draw, rng), mover(draw, rng)
    behind = to_linear(back / 255)
    shot, truth, alpha = [], [], []
    for i in range(draw.frames):
        part = at(i)
        signal, codes = mixed(draw, part, back, behind)
        if draw.sharpen:
            signal = signal + draw.sharpen * (signal - cv2.GaussianBlur(signal, (0, 0), 1.0))
        if draw.noise:
            signal = signal + draw.noise * rng.standard_normal(signal.shape, np.float32)
        shot.append(np.clip(np.rint(signal), 0, 255).astype(np.uint8))
        truth.append(np.clip(np.rint(codes), 0, 255).astype(np.uint8))
        alpha.append(part[..., 3])
    path = folder / f"{draw.seed}.mp4"
    encode(draw, np.stack(shot), path)
    with read_frames(probe(path)) as stream:
        frames = np.stack(list(stream))
    path.unlink()
    return Shot(draw, frames, np.stack(truth), np.stack(alpha), back)


def encode(draw: Draw, frames: np.ndarray, path: Path) -> None:
    """Code frames as cameras, phones and programs do (BT.709, limited range)."""
    pixels = "yuv444p" if draw.full_chroma else "yuv420p"
    filters = f"scale=out_color_matrix=bt709:out_range=tv:flags=bicubic+full_chroma_inp+accurate_rnd,format={pixels}"
    codec = ["-c:v", "libx264", "-preset", "fast"]
    if draw.codec == "hevc":
        codec = [
            "-c:v",
            "libx265",
            "-preset",
            "superfast",
            "-x265-params",
            "log-level=error",
            "-tag:v",
            "hvc1",
        ]
    more = ["-crf", str(draw.crf), "-g", "15", "-threads", "1", *CODED]
    ffmpeg([*raw_input(draw.size), "-vf", filters, *codec, *more, str(path)], data=frames.tobytes())
