"""When a clip is delivered at a half, a quarter or an eighth, and what is cut from it then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av
import cv2
import numpy as np
import pytest
from av.video.format import VideoFormat

from ghostprep.box import Box
from ghostprep.clip import probe, read_frames
from ghostprep.clip.colour import is_yuv, kept, matrix_of, narrow_gamut, reading
from ghostprep.clip.shrunk import cut_out, serves, shrink_of, worth_keeping


def clip(width: int, height: int, seconds: float | None = 10, alpha: str = "none") -> Any:
    return SimpleNamespace(size=(width, height), duration_s=seconds, alpha=alpha)


@pytest.mark.parametrize(
    ("facts", "shrink"),
    [
        (clip(1920, 1080), 2),
        (clip(1080, 1920), 2),
        (clip(1900, 1080), 1),  # its half has fewer than 960 columns
        (clip(1898, 1080), 1),
        (clip(3840, 2160), 4),
        (clip(3838, 2160), 2),  # no four of its columns are one
        (clip(7680, 4320), 8),
        (clip(15360, 8640), 8),
        (clip(1922, 1081), 1),
        (clip(1920, 1080, 30), 2),
        (clip(1920, 1080, 30.1), 1),
        (clip(1920, 1080, 0), 1),
        (clip(1920, 1080, None), 1),
        (clip(1920, 1080, alpha="straight"), 1),
    ],
)
def test_a_short_large_clip_is_delivered_smaller_but_not_below_960(facts: Any, shrink: int) -> None:
    assert shrink_of(facts) == shrink


def test_what_is_delivered_serves_where_it_has_two_fifths_more_pixels() -> None:
    part = Box(40, 20, 280, 140)
    # shrunk to a half: 140 columns, of which 100 may be asked for
    assert serves(part, (100, 50), 2)
    assert not serves(part, (101, 50), 2)
    assert not serves(part, (100, 51), 2)
    assert not serves(part, (20, 10), 1)
    assert serves(part, (50, 25), 4)
    assert not serves(Box(42, 20, 280, 140), (50, 25), 4)
    assert not serves(Box(40, 20, 280, 142), (50, 25), 4)


@pytest.mark.parametrize(
    ("size", "kept"),
    [
        ((685, 385), True),  # of the 540 rows that are delivered, 385 may be asked for
        ((690, 388), False),
        ((5000, 380), True),  # the picture, fitted into the size, has 380 rows
        ((680, 5000), True),
        ((5000, 390), False),
    ],
)
def test_frames_are_kept_where_the_picture_as_it_fits_a_size_is_small_enough(
    size: tuple[int, int], kept: bool
) -> None:
    facts = SimpleNamespace(size=(1920, 1080), duration_s=2, alpha="none", rate=25)
    assert worth_keeping(facts, size) is kept  # type: ignore[arg-type]


def test_a_part_is_cut_from_where_it_lies_and_made_small_by_its_mean() -> None:
    source = np.random.default_rng(1).integers(0, 256, (80, 120, 3), dtype=np.uint8)
    frame = source.reshape(40, 2, 60, 2, 3).mean((1, 3)).round().astype(np.uint8)
    got = cut_out(frame, Box(40, 20, 40, 24), 2, (10, 6))
    wanted = source[20:44, 40:80].reshape(6, 4, 10, 4, 3).mean((1, 3))
    assert np.abs(got - wanted).max() <= 1
    whole = cut_out(frame, Box(40, 20, 40, 24), 2, (20, 12))
    np.testing.assert_array_equal(whole, frame[10:22, 20:40])
    assert cv2.norm(whole, frame[10:22, 20:40]) == 0


def test_luma_and_chroma_are_told_from_rgb_as_pyav_tells_them() -> None:
    for name in sorted(av.video.format.names):
        form = VideoFormat(name, 16, 16)
        if any(component.is_chroma for component in form.components):
            assert is_yuv(name), name
        elif form.is_rgb or name.startswith(("gray", "bayer", "mono", "pal8", "ya", "xyz")):
            assert not is_yuv(name), name


@pytest.mark.parametrize("pixel_format", ["yuyv422", "uyvy422"])
def test_packed_codes_of_a_capture_card_are_limited_and_read_by_their_matrix(
    pixel_format: str, encode: Callable[..., Path], card: Any
) -> None:
    to_709 = "scale=out_color_matrix=bt709:out_range=limited:flags=full_chroma_int+accurate_rnd"
    coding = ("-vf", to_709, "-c:v", "rawvideo", "-pix_fmt", pixel_format, "-colorspace", "bt709")
    found = probe(encode("packed.nut", *coding, frames=card.frames(2)))
    assert (found.pixel_format, found.range) == (pixel_format, "limited")
    with read_frames(replace(found, matrix="bt709")) as frames:
        shown = card.colours(next(iter(frames)))
    assert np.abs(shown - card.patches.reshape(8, 3)).max() <= 4


def facts(**more: Any) -> Any:
    plain = {
        "matrix": "unknown", "transfer": "bt709", "primaries": "bt709", "coded_size": (1920, 1080),
        "pixel_format": "yuv420p", "range": "limited",
    }  # fmt: skip
    return SimpleNamespace(**plain | more)


@pytest.mark.parametrize(
    ("told", "matrix"),
    [
        (facts(), "bt709"),
        (facts(coded_size=(720, 576)), "smpte170m"),
        (facts(coded_size=(576, 720)), "smpte170m"),
        (facts(coded_size=(1279, 576)), "smpte170m"),
        (facts(coded_size=(1280, 576)), "bt709"),
        (facts(coded_size=(1024, 577)), "bt709"),
        (facts(pixel_format="yuvj420p"), "smpte170m"),
        (facts(primaries="bt2020"), "bt2020"),
        (facts(transfer="smpte2084", coded_size=(720, 576)), "bt2020"),
        (facts(transfer="arib-std-b67"), "bt2020"),
        (facts(matrix="bt470bg"), "smpte170m"),
        (facts(matrix="bt2020nc"), "bt2020"),
        (facts(matrix="smpte240m", coded_size=(720, 576)), "smpte240m"),
        (facts(matrix="fcc"), "fcc"),
    ],
)
def test_the_matrix_that_a_clip_is_read_with(told: Any, matrix: str) -> None:
    """Common practice, no source: BT.601 up to 576 lines, BT.709 above; what is tagged counts."""
    assert matrix_of(told) == matrix
    assert reading(told) == f":in_range=limited:in_color_matrix={matrix}"
    assert kept(told).endswith(f"in_color_matrix={matrix}:out_color_matrix={matrix}")


def test_greys_have_a_range_alone_and_rgb_has_neither() -> None:
    assert reading(facts(pixel_format="gray", range="full")) == ":in_range=full:out_range=full"
    assert reading(facts(pixel_format="rgb24")) == ""
    assert kept(facts(pixel_format="gbrp")) == ":out_range=limited:out_color_matrix=bt709"
    assert kept(facts(pixel_format="gray", range="full")).startswith(":in_range=full:out_range=full")
    for primaries in ("bt2020", "smpte431", "smpte432"):
        assert f"pin={primaries}:" in narrow_gamut(facts(primaries=primaries))[0]
