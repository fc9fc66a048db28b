"""Alpha, exactly: which kind, which values, and nothing lit where nothing is."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from ghostprep.clip import probe, read_frames
from ghostprep.errors import InputError


@pytest.fixture(scope="module")
def cutout() -> np.ndarray:
    """A soft disc over transparent ground whose hidden colour is loud magenta."""
    y, x = np.mgrid[0:64, 0:96]
    coverage = np.clip(1.5 - np.hypot(x - 48, y - 32) / 18, 0, 1)
    picture = np.empty((64, 96, 4), np.uint8)
    picture[..., :3] = (250, 0, 250)
    picture[..., 3] = np.round(coverage * 255)
    picture[picture[..., 3] > 0, :3] = (90, 200, 120)
    return picture


def read_all(path: Path, **settings: Any) -> list[np.ndarray]:
    with read_frames(probe(path), **settings) as frames:
        return list(frames)


LOSSLESS = [
    ("clip.mkv", ("-c:v", "ffv1", "-pix_fmt", "bgra")),
    ("clip.mov", ("-c:v", "qtrle", "-pix_fmt", "argb")),
    ("clip.apng", ("-c:v", "apng", "-pix_fmt", "rgba", "-f", "apng")),
    ("still.png", ("-c:v", "png", "-pix_fmt", "rgba", "-frames:v", "1", "-update", "1")),
]


@pytest.mark.parametrize(("name", "arguments"), LOSSLESS, ids=[name for name, _ in LOSSLESS])
def test_lossless_alpha_is_exact(
    name: str, arguments: tuple[str, ...], cutout: np.ndarray, encode: Callable[..., Path]
) -> None:
    path = encode(name, *arguments, frames=[cutout, cutout])
    assert probe(path).alpha == "straight"
    for got in read_all(path, pixels="rgba"):
        assert (got == cutout).all()


def test_webp_alpha_is_exact(cutout: np.ndarray, tmp_path: Path) -> None:
    """Animated WebP by Pillow, three frames of uneven length, without loss."""
    path = tmp_path / "clip.webp"
    pictures = [Image.fromarray(np.roll(cutout, 9 * i, axis=1)) for i in range(3)]
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=[40, 120, 80], lossless=True,
                     exact=True)  # fmt: skip
    facts = probe(path)
    assert (facts.alpha, facts.size) == ("straight", (96, 64))
    with read_frames(facts, pixels="rgba") as frames:
        seen = list(frames)
    assert [float(t) for t in frames.times] == [0, 0.04, 0.16]
    for i, got in enumerate(seen):
        wanted = np.roll(cutout, 9 * i, axis=1)
        assert (got[..., 3] == wanted[..., 3]).all()
        visible = wanted[..., 3] > 0
        assert (got[visible] == wanted[visible]).all()


def test_gif_alpha_and_times(tmp_path: Path) -> None:
    path = tmp_path / "clip.gif"
    pictures = []
    for i in range(4):
        picture = Image.new("P", (60, 40), 0)
        picture.putpalette([255, 0, 255, 10, 200, 30, 200, 30, 20])
        picture.paste(1 + i % 2, (5 + 10 * i, 10, 20 + 10 * i, 30))
        pictures.append(picture)
    pictures[0].save(path, save_all=True, append_images=pictures[1:], duration=[50, 50, 100, 50],
                     transparency=0, disposal=2, loop=0)  # fmt: skip
    facts = probe(path)
    assert (facts.alpha, facts.still) == ("straight", False)
    with read_frames(facts, pixels="rgba") as frames:
        seen = list(frames)
    assert [float(t) for t in frames.times] == [0, 0.05, 0.1, 0.2]
    for i, got in enumerate(seen):
        assert {int(v) for v in np.unique(got[..., 3])} == {0, 255}
        assert (got[15, 10 + 10 * i] == [*((10, 200, 30), (200, 30, 20))[i % 2], 255]).all()
        assert (got[..., 3] > 0).sum() == 15 * 20


VPX = [
    ("vp8.webm", ("-c:v", "libvpx", "-crf", "4", "-b:v", "9M"), 24),
    ("vp9.webm", ("-c:v", "libvpx-vp9", "-crf", "0", "-lossless", "1"), 0),
]


@pytest.mark.parametrize(("name", "arguments", "loss"), VPX, ids=[row[0] for row in VPX])
def test_webm_alpha_is_read(
    name: str,
    arguments: tuple[str, ...],
    loss: int,
    cutout: np.ndarray,
    ffmpeg: Callable[..., None],
    tmp_path: Path,
) -> None:
    """Planes go in as they are, so that what comes out can be held to them."""
    grey = np.full((64, 96), 120, np.uint8).tobytes() + np.full((32, 96), 128, np.uint8).tobytes()
    path = tmp_path / name
    ffmpeg(
        *("-f", "rawvideo", "-pix_fmt", "yuva420p", "-video_size", "96x64", "-i", "pipe:0"),
        *(*arguments, "-auto-alt-ref", "0", path),
        feed=(grey + cutout[..., 3].tobytes()) * 5,
    )
    assert probe(path).alpha == "straight"
    seen = read_all(path, pixels="rgba")
    assert len(seen) == 5
    off = np.abs(seen[-1][..., 3].astype(int) - cutout[..., 3])
    assert off.max() <= loss
    assert off.mean() <= 1


def test_spoilt_webm_alpha_is_refused(cutout: np.ndarray, encode: Callable[..., Path]) -> None:
    with_alpha = ("-c:v", "libvpx", "-pix_fmt", "yuva420p", "-auto-alt-ref", "0")
    path = encode("clip.webm", *with_alpha, frames=[cutout] * 2)
    # what is added to each block, Matroska's BlockAddID 1, is the alpha's own picture
    added = b"\xee\x81\x01\xa5"
    head, *pieces = path.read_bytes().split(added)
    assert len(pieces) == 2
    path.write_bytes(added.join([head, *(piece[:2] + b"\xff" * 8 + piece[10:] for piece in pieces)]))
    with pytest.raises(InputError, match=r"clip\.webm: not one picture in it can be decoded \(.*\); copy or"):
        probe(path)


def test_prores_alpha_is_exact(cutout: np.ndarray, encode: Callable[..., Path]) -> None:
    path = encode("clip.mov", "-c:v", "prores_ks", "-profile:v", "4444", "-pix_fmt", "yuva444p10le",
                  "-alpha_bits", "16", frames=[cutout] * 2)  # fmt: skip
    facts = probe(path)
    assert (facts.alpha, facts.codec) == ("straight", "prores")
    # coded without loss at 16 bits; a code of 8 bits may be rounded once on the way
    assert np.abs(read_all(path, pixels="rgba")[0][..., 3].astype(int) - cutout[..., 3]).max() <= 1


def test_premultiplied_is_told_from_straight(cutout: np.ndarray, encode: Callable[..., Path]) -> None:
    weighed = cutout.copy()
    weighed[..., :3] = np.round(cutout[..., :3] * (cutout[..., 3:] / 255))
    path = encode("clip.mov", "-c:v", "qtrle", "-pix_fmt", "argb", frames=[weighed] * 3)
    assert probe(path).alpha == "premultiplied"
    assert (read_all(path, pixels="rgba")[0] == weighed).all()
    assert (read_all(path)[0] == weighed[..., :3]).all()


def test_full_alpha_is_none(card: Any, encode: Callable[..., Path]) -> None:
    picture = np.dstack([card.frame(), np.full((96, 128), 255, np.uint8)])
    path = encode("clip.mov", "-c:v", "qtrle", "-pix_fmt", "argb", frames=[picture] * 3)
    assert probe(path).alpha == "none"
    assert (read_all(path)[0] == card.frame()).all()


def test_straight_alpha_is_laid_on_black(cutout: np.ndarray, encode: Callable[..., Path]) -> None:
    path = encode("clip.mkv", "-c:v", "ffv1", "-pix_fmt", "bgra", frames=[cutout])
    (got,) = read_all(path)
    wanted = cutout[..., :3] * (cutout[..., 3:] / 255)
    assert np.abs(got - wanted).max() <= 1


@pytest.mark.parametrize("pixels", ["rgb24", "rgba"])
def test_hidden_colours_do_not_leak_when_scaled(
    pixels: str, cutout: np.ndarray, encode: Callable[..., Path]
) -> None:
    """Pillow's box filter on premultiplied colours is the reference; the ground's magenta must not show."""
    path = encode("clip.mkv", "-c:v", "ffv1", "-pix_fmt", "bgra", frames=[cutout])
    (got,) = read_all(path, pixels=pixels, size=(24, 16))
    weighed = cutout.astype(float)
    weighed[..., :3] *= weighed[..., 3:] / 255
    small = weighed.reshape(16, 4, 24, 4, 4).mean(axis=(1, 3))
    if pixels == "rgb24":
        assert np.abs(got - small[..., :3]).max() <= 2
        return
    assert np.abs(got[..., 3] - small[..., 3]).max() <= 2
    covered = small[..., 3] > 64
    assert np.abs(got[covered][:, :3] - np.array([90, 200, 120])).max() <= 4
