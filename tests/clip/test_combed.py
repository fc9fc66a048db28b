"""Interlaced pictures that no frame calls so: told by their combed edges, and woven apart."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ghostprep.clip import probe, read_frames
from ghostprep.clip.combed import is_combed

Frame = np.ndarray
UNTOLD = (
    "-vf",
    "setfield=prog",
    "-c:v",
    "libx264",
    "-crf",
    "18",
    "-preset",
    "ultrafast",
    "-pix_fmt",
    "yuv420p",
)


def walk(rows: int, *, fields: bool) -> list[Frame]:
    """A ball of 200 rows that walks 8 px a frame; with `fields`, its odd rows are half a frame on."""
    pictures = []
    for i in range(12):
        picture = np.full((rows, 160, 3), 40, np.uint8)
        for field in range(2):
            left = 10 + 8 * i + 4 * field * fields
            picture[100 + field : 300 : 2, left : left + 40] = 200
        pictures.append(picture)
    return pictures


def combed_rows(frame: Frame) -> float:
    luma = frame[100:300, :, 1].astype(float)
    return float(np.abs(luma[1:-1] - (luma[:-2] + luma[2:]) / 2).mean())


@pytest.mark.parametrize("rows", [480, 576])
def test_fields_of_which_no_frame_tells_are_woven_apart(rows: int, encode: Callable[..., Path]) -> None:
    pictures = walk(rows, fields=True)
    path = encode("untold.mp4", *UNTOLD, frames=pictures)
    facts = probe(path)
    assert (facts.interlaced, facts.combed) == (True, True)
    with read_frames(facts) as frames:
        seen = list(frames)
    assert len(seen) == 12
    assert all(
        4 * combed_rows(ours) < combed_rows(theirs) for ours, theirs in zip(seen, pictures, strict=True)
    )


@pytest.mark.parametrize(("rows", "fields"), [(480, False), (360, True)])
def test_whole_pictures_and_others_than_televisions_stay_as_they_are(
    rows: int, fields: bool, encode: Callable[..., Path]
) -> None:
    facts = probe(encode("whole.mp4", *UNTOLD, frames=walk(rows, fields=fields)))
    assert (facts.interlaced, facts.combed) == (False, False)


def striped(frames: list[Frame], *, moves: bool) -> list[Frame]:
    """Lay stripes of one row on all frames: a grille, or the comb of something that moves."""
    pattern = np.where(np.arange(100)[:, None, None] % 2, 200, 40).astype(np.uint8)
    for i, frame in enumerate(frames):
        left = 12 * i if moves else 100
        frame[320:420, left : left + 10] = pattern
    return frames


def test_a_grille_that_stands_still_is_no_comb() -> None:
    assert not is_combed(striped(walk(480, fields=False), moves=False))
    assert is_combed(striped(walk(480, fields=False), moves=True))


def test_one_combed_frame_is_not_enough() -> None:
    """A cut between two frames, woven by who resampled the clip, makes one."""
    whole, woven = walk(480, fields=False), walk(480, fields=True)
    assert not is_combed([*whole[:5], woven[5], *whole[6:]])
    assert is_combed([*whole[:5], *woven[5:7], *whole[7:]])
    assert not is_combed(woven[:1])


def test_noise_is_no_comb() -> None:
    rng: Any = np.random.default_rng(5)
    assert not is_combed([rng.normal(120, 10, (480, 320, 3)).clip(0, 255).astype(np.uint8) for _ in range(8)])
