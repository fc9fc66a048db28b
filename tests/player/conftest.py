"""A small moving figure, and the whole way from frames to a proven file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pytest

from ghostprep.clip import write_frames
from ghostprep.player import Profile, load_profile
from ghostprep.player.attempt import Attempt
from ghostprep.player.control import RateControl
from ghostprep.player.measured import Measured, measured
from ghostprep.player.rate import choose_rate
from ghostprep.player.read import StreamFacts, read_stream_facts

Frames = npt.NDArray[np.uint8]


@dataclass
class Encoded:
    """A loop as encoded, with everything that went into it."""

    path: Path
    profile: Profile
    raster: tuple[int, int]
    rate: Fraction
    frames: Frames
    facts: StreamFacts
    attempts: list[tuple[Attempt, Measured]]
    best: Attempt


def lantern(raster: tuple[int, int], count: int, *, size: float = 0.22) -> Frames:
    """A textured, softly edged figure that sways and turns, on exact black; uint8 (n, h, w, 3)."""
    width, height = raster
    y, x = np.mgrid[:height, :width].astype(np.float32)
    unit = min(width, height)
    frames = np.zeros((count, height, width, 3), np.uint8)
    for i in range(count):
        t = 2 * np.pi * i / count
        cx, cy = width / 2 + 0.02 * unit * np.sin(t), height / 2 + 0.008 * unit * np.cos(t)
        u, v = (x - cx) / (size * unit), (y - cy) / (1.6 * size * unit)
        radius = np.hypot(u, v) + 0.05 * np.sin(3 * np.arctan2(v, u) + t)
        cover = np.clip((1 - radius) * size * unit / 1.5, 0, 1)
        cloth = 0.55 + 0.2 * np.sin(14 * u + 3 * v) + 0.15 * np.sin(23 * v - 5 * u)
        colour = np.stack([cloth * 0.9 + 0.1, cloth * 0.7, 0.25 + 0.5 * cloth], axis=-1)
        frames[i] = np.rint(255 * colour * cover[..., None])
    return frames


def near_and_far(planes: Frames, frames: Frames, *, black: int) -> tuple[float, float]:
    """Shares of exact black within 4 px of the figure and farther away; counted apart from the package."""
    counts = np.zeros(4)
    for plane, frame in zip(planes, frames, strict=True):
        height, width = frame.shape[:2]
        figure = frame.any(axis=-1)
        distance = cv2.distanceTransform((~figure).astype(np.uint8), cv2.DIST_C, 3)
        luma = plane[:height] == black
        chroma = (plane[height:].reshape(2, height // 2, width // 2) == 128).all(axis=0)
        exact = luma & np.kron(chroma, np.ones((2, 2), bool))
        near, far = (distance > 0) & (distance <= 4), distance > 4
        counts += [near.sum(), (near & exact).sum(), far.sum(), (far & exact).sum()]
    return counts[1] / counts[0], counts[3] / counts[2]


def decoded_planes(path: Path) -> Frames:
    """All pictures of a file as planar 4:2:0, by a decoder that is not ours."""
    av = pytest.importorskip("av")
    with av.open(str(path)) as file:
        return np.stack(
            [f.reformat(format=_planar(f.format.name)).to_ndarray() for f in file.decode(video=0)]
        )


def _planar(name: str) -> str:
    return name if name in ("yuv420p", "yuvj420p") else "yuv420p"


def encode(
    folder: Path, profile: Profile, frames: Frames, rate: Fraction | None = None, *, keyed: bool = True
) -> Encoded:
    """Go the way that the main job goes: attempts, measured, the best one kept."""
    count, height, width = frames.shape[:3]
    rate = rate or choose_rate(profile, Fraction(30))
    control = RateControl(profile, (width, height), rate, count, keyed=keyed, loop=frames)
    path, tried, draft = (folder / f"{name}{profile.ending}" for name in ("loop", "tried", "draft"))
    attempt: Attempt | None = control.first()
    history: list[tuple[Attempt, Measured]] = []
    kept: StreamFacts | None = None
    while attempt is not None:
        target = draft if attempt.draft else tried
        shown = frames if attempt.part is None else frames[slice(*attempt.part)]
        write_frames(
            target,
            attempt.prepared(shown, decoded_planes(draft) if attempt.from_draft else ()),
            size=(width, height),
            rate=rate,
            arguments=attempt.arguments,
            pixels=attempt.pixels,
        )
        facts = read_stream_facts(target)
        near = far = None
        if control.asks_for_black and not attempt.draft:
            near, far = near_and_far(decoded_planes(target), shown, black=16)
        made = measured(facts, rate_kbps=profile.bits.rate_kbps, black_near=near, black_far=far)
        history.append((attempt, made))
        following = control.next(attempt, made)
        if control.is_best(attempt):
            kept = replace(facts, path=tried.replace(path))
        attempt = following
    assert kept is not None
    return Encoded(path, profile, (width, height), rate, frames, kept, history, control.best)


@pytest.fixture(scope="session")
def loop_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Encoded]:
    """Give each profile's loop at its usual raster, encoded once a session."""
    kept: dict[str, Encoded] = {}

    def make(name: str) -> Encoded:
        if name not in kept:
            profile = load_profile(name)
            width, height = profile.raster.usual
            count = 32 if width * height < 200_000 else 8 if width * height < 500_000 else 4
            kept[name] = encode(tmp_path_factory.mktemp(name), profile, lantern((width, height), count))
        return kept[name]

    return make


@pytest.fixture(scope="session")
def make_lantern() -> Callable[..., Frames]:
    return lantern


@pytest.fixture(scope="session")
def encode_loop() -> Callable[..., Encoded]:
    return encode


@pytest.fixture(scope="session")
def planes_of() -> Callable[[Path], Frames]:
    return decoded_planes


@pytest.fixture(scope="session")
def shares_of_black() -> Callable[..., tuple[float, float]]:
    return near_and_far
