"""Turned, mirrored, stretched, odd, cut and scaled: what stands where."""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from ghostprep.box import Box
from ghostprep.clip import probe, read_frames
from ghostprep.clip.filters import stored_box
from ghostprep.errors import InputError

LOSSLESS = ("-c:v", "libx264", "-preset", "ultrafast", "-qp", "0", "-pix_fmt", "yuv444p")
ORIENTATIONS = [(mirrored, rotation) for mirrored in (False, True) for rotation in (0, 90, 180, 270)]


def upright(stored: np.ndarray, *, mirrored: bool, rotation: int) -> np.ndarray:
    return np.rot90(stored[:, ::-1] if mirrored else stored, -rotation // 90)


def first_frame(path: Path, **settings: Any) -> np.ndarray:
    with read_frames(probe(path), **settings) as frames:
        return next(frames)


@pytest.fixture(scope="module")
def letter() -> np.ndarray:
    """An F: no turn and no mirror image of it is itself."""
    picture = np.full((64, 96, 3), 20, np.uint8)
    picture[8:56, 16:26] = (220, 220, 220)
    picture[8:18, 16:70] = (220, 220, 220)
    picture[28:36, 16:50] = (220, 220, 220)
    return picture


@pytest.mark.parametrize(("mirrored", "rotation"), ORIENTATIONS)
def test_tagged_clips_come_out_upright(
    mirrored: bool,
    rotation: int,
    letter: np.ndarray,
    encode: Callable[..., Path],
    ffmpeg: Callable[..., None],
) -> None:
    """The tag's matrix is that of ISO/IEC 14496-12, tkhd; ffmpeg's option turns anticlockwise."""
    plain = encode("plain.mp4", *LOSSLESS, frames=[letter])
    tagged = plain.with_name("tagged.mp4")
    flip = ("-display_hflip",) if mirrored else ()
    ffmpeg("-display_rotation", -rotation, *flip, "-i", plain, "-c", "copy", tagged)
    facts = probe(tagged)
    got = first_frame(tagged)
    by_eye = [
        o for o in ORIENTATIONS
        if (u := upright(letter, mirrored=o[0], rotation=o[1])).shape == got.shape
        and np.abs(u.astype(int) - got).max() <= 4
    ]  # fmt: skip
    assert by_eye == [(facts.mirrored, facts.rotation)]
    assert facts.size == (got.shape[1], got.shape[0])
    if not mirrored:
        assert facts.rotation == rotation


@pytest.mark.parametrize("tag", range(1, 9))
def test_photographs_follow_their_exif_tag(tag: int, letter: np.ndarray, tmp_path: Path) -> None:
    """Pillow writes the EXIF orientation and is the outside reference for what it means."""
    from PIL import ImageOps

    path = tmp_path / "photo.jpg"
    exif = Image.Exif()
    exif[0x0112] = tag
    Image.fromarray(letter).save(path, quality=98, subsampling=0, exif=exif)
    with Image.open(path) as photo:
        wanted = np.asarray(ImageOps.exif_transpose(photo).convert("RGB"))
    facts = probe(path)
    assert facts.still
    assert facts.frames == 1
    got = first_frame(path)
    assert got.shape == wanted.shape
    assert np.abs(got.astype(int) - wanted).max() <= 4


@given(st.sampled_from(ORIENTATIONS), st.integers(1, 9), st.integers(1, 9), st.data())
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_a_box_is_found_in_the_stored_picture(
    orientation: tuple[bool, int], width: int, height: int, data: st.DataObject
) -> None:
    mirrored, rotation = orientation
    stored = np.arange(width * height).reshape(height, width)
    shown = upright(stored, mirrored=mirrored, rotation=rotation)
    x = data.draw(st.integers(0, shown.shape[1] - 1))
    y = data.draw(st.integers(0, shown.shape[0] - 1))
    box = Box(
        x, y, data.draw(st.integers(1, shown.shape[1] - x)), data.draw(st.integers(1, shown.shape[0] - y))
    )
    there = stored_box(box, (width, height), mirrored=mirrored, rotation=rotation)
    cut = stored[there.y : there.bottom, there.x : there.right]
    assert (
        upright(cut, mirrored=mirrored, rotation=rotation) == shown[box.y : box.bottom, box.x : box.right]
    ).all()


@pytest.mark.parametrize(("mirrored", "rotation"), [(False, 0), (False, 90), (True, 270)])
@pytest.mark.parametrize("pixel_format", ["yuv444p", "yuv420p"])
def test_crops_are_exact(
    mirrored: bool, rotation: int, pixel_format: str, card: Any, encode: Callable[..., Path],
    ffmpeg: Callable[..., None],
) -> None:  # fmt: skip
    """A crop is what slicing the whole frame gives; even where chroma samples lie in between."""
    clip = encode("plain.mp4", *LOSSLESS[:-1], pixel_format, frames=card.frames(2))
    path = clip.with_name("tagged.mp4")
    flip = ("-display_hflip",) if mirrored else ()
    ffmpeg("-display_rotation", -rotation, *flip, "-i", clip, "-c", "copy", path)
    facts = probe(path)
    with read_frames(facts) as frames:
        whole = next(frames).astype(int)
    for box in (Box(0, 0, 96, 64), Box(16, 8, 32, 24), Box(7, 3, 41, 21)):
        with read_frames(facts, crop=box) as frames:
            got = next(frames)
        assert got.shape == (box.height, box.width, 3)
        off = np.abs(got - whole[box.y : box.bottom, box.x : box.right])
        # near a crop's rim chroma is repeated, not taken from the samples outside
        assert off[6:-6, 6:-6].max() <= 1


def test_crop_then_scale(card: Any, encode: Callable[..., Path]) -> None:
    clip = encode("plain.mp4", *LOSSLESS, frames=card.frames(1))
    # the second patch of the lower row, and its neighbour to the right
    got = first_frame(clip, crop=Box(32, 40, 64, 40), size=(16, 10))
    assert got.shape == (10, 16, 3)
    assert np.abs(got[5, 3].astype(int) - card.patches[1, 1]).max() <= 2
    assert np.abs(got[5, 12].astype(int) - card.patches[1, 2]).max() <= 2


@pytest.mark.parametrize("size", [(97, 65), (1, 1), (33, 2), (3, 64)])
def test_odd_sizes_stay_exact(size: tuple[int, int], encode: Callable[..., Path]) -> None:
    rng = np.random.default_rng(4)
    pictures = [rng.integers(0, 256, (size[1], size[0], 3), np.uint8) for _ in range(3)]
    path = encode("odd.mkv", "-c:v", "ffv1", "-pix_fmt", "gbrp", frames=pictures)
    assert probe(path).size == size
    with read_frames(probe(path)) as frames:
        assert all((got == wanted).all() for got, wanted in zip(frames, pictures, strict=True))


def test_odd_sizes_in_420(encode: Callable[..., Path], card: Any) -> None:
    picture = np.pad(card.frame(), ((0, 1), (0, 1), (0, 0)), mode="edge")
    path = encode("odd.webm", "-c:v", "libvpx", "-crf", "4", "-b:v", "9M", frames=[picture])
    assert probe(path).size == (129, 97)
    assert first_frame(path).shape == (97, 129, 3)
    with pytest.raises(InputError, match="even size"):
        read_frames(probe(path), pixels="i420")


@pytest.mark.parametrize("aspect", [Fraction(16, 15), Fraction(8, 9), Fraction(2)])
def test_pixels_are_made_square(aspect: Fraction, card: Any, encode: Callable[..., Path]) -> None:
    path = encode("wide.mp4", "-vf", f"setsar={aspect.numerator}/{aspect.denominator}", *LOSSLESS,
                  frames=card.frames(1))  # fmt: skip
    facts = probe(path)
    assert facts.sample_aspect == aspect
    assert facts.coded_size == card.size
    assert facts.size == (round(128 * aspect), 96)
    whole = first_frame(path)
    assert whole.shape == (96, facts.size[0], 3)
    for x, y in card.centres:
        assert np.abs(whole[y, round(x * aspect)].astype(int) - card.patches[y // 40, x // 32]).max() <= 2
    box = Box(3, 5, 50, 60)
    assert np.abs(first_frame(path, crop=box).astype(int) - whole[5:65, 3:53]).max() <= 1


def test_what_does_not_fit_is_refused(card: Any, encode: Callable[..., Path]) -> None:
    facts = probe(encode("plain.mp4", *LOSSLESS, frames=card.frames(2)))
    with pytest.raises(InputError, match=r"crop 200x10\+0\+0 does not lie in the picture of 128x96"):
        read_frames(facts, crop=Box(0, 0, 200, 10))
    with pytest.raises(InputError, match="no frames lie from -1"):
        read_frames(facts, start=-1)
    with pytest.raises(InputError, match="cannot be made"):
        read_frames(facts, size=(100_000, 100_000))


def test_planes_are_the_files_own_codes(card: Any, encode: Callable[..., Path]) -> None:
    """PyAV reads the same file; nothing may be converted, neither in limited nor in full range."""
    import av

    for tag, scale in (("tv", "limited"), ("pc", "full")):
        path = encode(
            f"{tag}.mp4", "-vf", f"scale=out_range={scale}:out_color_matrix=bt709",
            *("-c:v", "libx264", "-qp", "0", "-pix_fmt", "yuv420p", "-color_range", tag),
            frames=card.frames(2),
        )  # fmt: skip
        with av.open(str(path)) as container:
            wanted = [f.to_ndarray() for f in container.decode(video=0)]
        with read_frames(probe(path), pixels="i420") as frames:
            for got, other in zip(frames, wanted, strict=True):
                assert (got == other).all()
