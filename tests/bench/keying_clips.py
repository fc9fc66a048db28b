"""Clips with a known figure: backing, light, spill, mix, noise and codec as asked for."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import imageio_ffmpeg
import numpy as np
from keying_figures import light_of, painted, photograph

from ghostprep.transfer import codes_to_light, from_linear, light_to_codes, to_linear

SIZE = (640, 480)


@dataclass(frozen=True)
class Recipe:
    """How one clip of the bench is made.

    `backing` is ``#rrggbb``, ``room`` (a cluttered photograph) or ``moving`` (a camera that pans over
    green cloth). `walk` lets the figure cross the whole picture and leave it. `linear` mixes in linear light as a camera does, else in codes as a program does.
    """

    name: str
    figure: str
    backing: str
    linear: bool = True
    uneven: float = 0.2
    spill: float = 0.04
    edge_spill: float = 0.26
    noise: float = 3.0
    crf: int = 20
    frames: int = 60
    still: int = 16
    seed: int = 1
    stands: bool = False
    gain: float = 1.0
    walk: bool = False
    expected: tuple[str, ...] = ()


@dataclass(frozen=True)
class Made:
    """A clip and its truth. All uint8 codes; `alpha` is the matte 0..255, `plate` has no noise."""

    recipe: Recipe
    frames: np.ndarray
    truth: np.ndarray
    alpha: np.ndarray
    plate: np.ndarray
    parts: dict[str, np.ndarray] = field(default_factory=dict)


def figure_named(name: str) -> np.ndarray:
    """Return ``painted1``, ``painted2`` ..., with a scarf as in ``painted2 #b02a2a``, ``astronaut`` or ``chelsea``."""
    if not name.startswith("painted"):
        return photograph(name)
    seed, _, scarf = name[7:].partition(" ")
    return painted(int(seed), scarf)


def room() -> np.ndarray:
    """Return a cluttered backing (linear light): the photographs of a coffee table and of a workshop."""
    import skimage.data

    table = cv2.resize(skimage.data.coffee(), (400, 480), interpolation=cv2.INTER_AREA)
    shop = cv2.resize(skimage.data.stereo_motorcycle()[0], (400, 480), interpolation=cv2.INTER_AREA)
    both = np.hstack([shop[:, :320], table[:, 80:]])
    return codes_to_light(np.clip(both.astype(np.float32) * 0.75, 0, 255).astype(np.uint8))


def backing_light(recipe: Recipe, index: int) -> np.ndarray:
    """Return the backing's linear light at frame `index`, without the figure."""
    w, h = SIZE
    yy, xx = np.mgrid[:h, :w].astype(np.float32)
    if recipe.backing == "room":
        return room()
    if recipe.backing == "moving":
        wide = np.ones((h, w * 2, 3), np.float32) * light_of("#2f9a4a")
        at = np.arange(w * 2, dtype=np.float32)
        wide *= (1 + 0.25 * np.sin(at / 47) * np.sin(at / 131))[None, :, None]
        for x in range(40, w * 2, 210):
            cv2.line(wide, (x, 40), (x + 18, 60), (0.5, 0.5, 0.45), 3, cv2.LINE_AA)
        shift = np.float32([[1, 0, -3.7 * index], [0, 1, 0]])
        wide = cv2.warpAffine(wide, shift, (w * 2, h), borderMode=cv2.BORDER_WRAP)
        return wide[:, :w]
    light = 1 + recipe.uneven * np.sin(2.2 * xx / w - 0.4) * np.cos(2.6 * yy / h - 1.1)
    out = light_of(recipe.backing) * light[..., None]
    if recipe.stands:
        out = _with_stands(out.astype(np.float32))
    return out.astype(np.float32)


def _with_stands(light: np.ndarray) -> np.ndarray:
    """Let the cloth end before the frame does: wall and floor around it, two stands beside it."""
    h, _w = light.shape[:2]
    whole = np.empty_like(light)
    whole[:] = light_of("#8d8478") * np.linspace(1.1, 0.7, h, dtype=np.float32)[:, None, None]
    whole[440:] = light_of("#5a4a3c")
    whole[24:446, 70:575] = light[24:446, 70:575]
    for x in (52, 588):
        cv2.line(whole, (x, 0), (x, h), (0.02, 0.02, 0.02), 7, cv2.LINE_AA)
    cv2.rectangle(whole, (0, 300), (38, 440), (0.5, 0.08, 0.05), -1)
    return whole


def placed(figure: np.ndarray, recipe: Recipe, index: int) -> np.ndarray:
    """Return the figure (h, w, 4) where it stands in frame `index`; it stands still at the end."""
    rng = np.random.default_rng(recipe.seed)
    phase = rng.random(4) * 6.28
    t = min(index, recipe.frames - recipe.still) / 60 * 6.28
    fh, fw = figure.shape[:2]
    turn = 5 * np.sin(t + phase[0])
    scale = (0.97 + 0.06 * np.sin(t * 1.3 + phase[1])) * min(440 / fh, 1.1)
    # a slow start at one side, so that every place is empty at some time, if it is a plate's clip
    reach = 150 if recipe.backing in ("room", "moving") or recipe.stands is False else 60
    if recipe.walk:
        reach, t = 0, index / 60 * 6.28
    x = SIZE[0] / 2 + (index / recipe.frames - 0.5) * (SIZE[0] + 320) * recipe.walk
    x += reach * np.sin(t * 0.8 + phase[2]) + 0.37 * index
    y = SIZE[1] - fh * scale / 2 + 10 * np.sin(t * 2 + phase[3]) - 6
    matrix = cv2.getRotationMatrix2D((fw / 2, fh / 2), turn, scale)
    matrix[:, 2] += [x - fw / 2, y - fh / 2]
    out = cv2.warpAffine(figure, matrix, SIZE, flags=cv2.INTER_LINEAR)
    out[out[..., 3] < 1e-3] *= [1, 1, 1, 0]
    return np.clip(out, 0, 1)


def make(recipe: Recipe, folder: Path) -> Made:
    """Mix, add noise, encode, decode."""
    figure = figure_named(recipe.figure)
    rng = np.random.default_rng(recipe.seed + 77)
    truth, alpha, shot = [], [], []
    for i in range(recipe.frames):
        part = placed(figure, recipe, i)
        part[..., :3] *= recipe.gain
        back = backing_light(recipe, i)
        near = cv2.GaussianBlur(part[..., 3], (0, 0), 9)
        spill = (recipe.spill + recipe.edge_spill * np.clip(1 - near, 0, 1) * 1.3)[..., None] * part[..., 3:]
        if recipe.linear:
            light = part[..., :3] + spill * back + (1 - part[..., 3:]) * back
            signal = from_linear(light) * 255
            truth.append(light_to_codes(part[..., :3]))
        else:
            whole = from_linear(part[..., :3] / np.maximum(part[..., 3:], 1e-3)) * part[..., 3:]
            behind = from_linear(back)
            signal = (whole + spill * behind + (1 - part[..., 3:]) * behind) * 255
            truth.append(np.rint(np.clip(whole, 0, 1) * 255).astype(np.uint8))
        signal = signal + rng.normal(0, recipe.noise, signal.shape) if recipe.noise else signal
        shot.append(np.rint(np.clip(signal, 0, 255)).astype(np.uint8))
        alpha.append(np.rint(part[..., 3] * 255).astype(np.uint8))
    frames = through_codec(np.stack(shot), recipe.crf, folder / f"{recipe.name.replace(' ', '-')}.mp4")
    plate = light_to_codes(backing_light(recipe, 0))
    return Made(recipe, frames, np.stack(truth), np.stack(alpha), plate)


def ffmpeg(arguments: list[str], *, data: bytes = b"") -> bytes:
    """Run ffmpeg and return what it writes on stdout."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-hide_banner", "-loglevel", "error", "-y", *arguments]
    return subprocess.run(command, input=data, capture_output=True, check=True).stdout


def raw_input(size: tuple[int, int] = SIZE) -> list[str]:
    """Return the arguments with which ffmpeg reads our frames from stdin."""
    return ["-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{size[0]}x{size[1]}", "-r", "30", "-i", "-"]


TO_RGB = "scale=in_color_matrix=bt709:in_range=tv:out_range=pc:flags=bicubic+full_chroma_int+accurate_rnd"


def through_codec(frames: np.ndarray, crf: int, path: Path) -> np.ndarray:
    """Encode as cameras and phones do (4:2:0, BT.709), and decode with full chroma accuracy."""
    to_yuv = (
        "scale=out_color_matrix=bt709:out_range=tv:flags=bicubic+full_chroma_inp+accurate_rnd,format=yuv420p"
    )
    codec = ["-c:v", "libx264", "-preset", "medium", "-crf", str(crf), "-threads", "2"]
    tags = ["-color_range", "tv", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709"]
    ffmpeg([*raw_input(), "-vf", to_yuv, *codec, *tags, str(path)], data=frames.tobytes())
    return decoded(path)


def decoded(path: Path, size: tuple[int, int] = SIZE, before: str = "") -> np.ndarray:
    """Decode a clip of the bench to RGB, scaled to `size`."""
    chain = before + TO_RGB.replace("scale=", f"scale={size[0]}:{size[1]}:") + ",format=rgb24"
    data = ffmpeg(["-i", str(path), "-vf", chain, "-f", "rawvideo", "-"])
    return np.frombuffer(data, np.uint8).reshape(-1, size[1], size[0], 3)


__all__ = ["SIZE", "Made", "Recipe", "decoded", "ffmpeg", "make", "raw_input", "to_linear"]
