"""The sample clip keyed by us, by ffmpeg's own filters and by moviepy's mask, against the script's truth."""

from __future__ import annotations

import importlib.util
import itertools
import subprocess
import sys
from pathlib import Path

import cv2
import imageio_ffmpeg
import numpy as np
import pytest
from moviepy import ImageClip
from moviepy.video.fx import MaskColor

from ghostprep.clip import glance, probe, read_frames
from ghostprep.picture import learn_key

SAMPLES = Path(__file__).parent.parent.parent / "sample_media"
SIZE = (640, 360)
INDEXES = (40, 170, 300)


@pytest.fixture(scope="module")
def filmed() -> np.ndarray:
    facts = probe(SAMPLES / "purser_green.mp4")
    with read_frames(facts, size=SIZE) as stream:
        return np.stack([frame for number, frame in enumerate(stream) if number in INDEXES])


@pytest.fixture(scope="module")
def truth() -> np.ndarray:
    """The figure premultiplied on black, as the script renders it."""
    spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
    assert spec
    assert spec.loader
    script = sys.modules.get("make_samples") or importlib.util.module_from_spec(spec)
    if "make_samples" not in sys.modules:
        sys.modules["make_samples"] = script
        spec.loader.exec_module(script)
    figures = [script.truth(index)[0] for index in INDEXES]
    return np.stack([cv2.resize(figure, SIZE, interpolation=cv2.INTER_AREA) for figure in figures])


def error(found: np.ndarray, truth: np.ndarray) -> float:
    return float(np.mean((found.astype(np.float64) - truth) ** 2))


def by_ffmpeg(frames: np.ndarray, colour: str, similarity: float, blend: float) -> np.ndarray:
    graph = f"chromakey=0x{colour}:{similarity}:{blend},despill=type=green,format=rgba"
    raw = ["-f", "rawvideo", "-s", f"{SIZE[0]}x{SIZE[1]}"]
    done = subprocess.run(
        [
            *(imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", *raw, "-pix_fmt", "rgb24", "-i", "pipe:0"),
            *("-vf", graph, "-f", "rawvideo", "-pix_fmt", "rgba", "pipe:1"),
        ],
        input=frames.tobytes(),
        capture_output=True,
        check=True,
    )
    keyed = np.frombuffer(done.stdout, np.uint8).reshape(len(frames), SIZE[1], SIZE[0], 4).astype(np.float64)
    return keyed[..., :3] * keyed[..., 3:] / 255


def by_moviepy(
    frames: np.ndarray, colour: tuple[int, int, int], threshold: float, stiffness: float
) -> np.ndarray:
    found = []
    for frame in frames:
        clip = ImageClip(frame).with_effects(
            [MaskColor(color=colour, threshold=threshold, stiffness=stiffness)]
        )
        found.append(frame * clip.mask.get_frame(0)[..., None])
    return np.stack(found)


def test_ours_has_under_half_the_error_of_either(filmed: np.ndarray, truth: np.ndarray) -> None:
    facts = probe(SAMPLES / "purser_green.mp4")
    key = learn_key([glimpse.frame for glimpse in glance(facts)])
    keyer = key.at(None, facts.size, SIZE)
    ours = error(np.stack([keyer(frame).codes for frame in filmed]), truth)
    assert key.backing.colour is not None
    colour = key.backing.colour.lstrip("#")
    codes = tuple(int(colour[n : n + 2], 16) for n in (0, 2, 4))
    ffmpeg = min(
        error(by_ffmpeg(filmed, colour, similarity, blend), truth)
        for similarity, blend in itertools.product((0.06, 0.09, 0.12, 0.16), (0.0, 0.05, 0.1, 0.2))
    )
    moviepy = min(
        error(by_moviepy(filmed, codes, threshold, stiffness), truth)
        for threshold, stiffness in itertools.product((40, 60, 80, 110), (1, 3, 6, 12))
    )
    print(f"mean square error: ours {ours:.2f}, ffmpeg {ffmpeg:.2f}, moviepy {moviepy:.2f}")
    assert ours < ffmpeg / 2
    assert ours < moviepy / 2
