"""Every profile: a loop encoded, parsed, proven, and read again by a second reader (PyAV)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import cv2
import numpy as np
import pytest

from ghostprep.player import profile_names
from ghostprep.player.guard import Guard, to_planes
from ghostprep.player.limits import check_limits

av = pytest.importorskip("av")

Loops = Callable[[str], Any]
H264 = [name for name in profile_names() if name.startswith("h264")]
HEVC = [name for name in profile_names() if name.startswith("hevc")]
LOSSY = [name for name in profile_names() if not name.startswith("master")]


@pytest.mark.parametrize("name", profile_names())
def test_the_file_is_within_every_limit(loop_of: Loops, name: str) -> None:
    loop = loop_of(name)
    proofs = check_limits(
        loop.facts, loop.profile, raster=loop.raster, rate=loop.rate, frames=len(loop.frames)
    )
    assert [proof for proof in proofs if not proof.passed] == []
    assert {"form", "raster", "frames", "size"} <= {proof.name for proof in proofs}


@pytest.mark.parametrize("name", profile_names())
def test_a_second_reader_finds_the_same(loop_of: Loops, name: str) -> None:
    loop = loop_of(name)
    codecs = {"mpeg1": "mpeg1video"}
    with av.open(str(loop.path)) as file:
        stream = file.streams.video[0]
        assert stream.codec_context.name == codecs.get(loop.profile.codec, loop.profile.codec)
        assert (stream.width, stream.height) == loop.facts.raster == loop.raster
        if loop.facts.rate is not None and loop.profile.container != "h264-stream":
            assert (
                abs(float(stream.average_rate - loop.rate)) < 0.02
            )  # program streams are guessed from 90 kHz
        packets = [packet for packet in file.demux(stream) if packet.size]
        sizes = [packet.size for packet in packets]
        assert len(sizes) == loop.facts.frames == len(loop.frames)
        if loop.profile.container in ("mp4", "avi", "mkv"):
            assert tuple(sizes) == loop.facts.frame_bytes
            assert tuple(i for i, packet in enumerate(packets) if packet.is_keyframe) == loop.facts.keys
            assert packets[0].pts == 0
            assert packets[0].dts == 0
    with av.open(str(loop.path)) as file:
        pictures = list(file.decode(video=0))
    assert len(pictures) == len(loop.frames)
    if any(loop.facts.coded.kinds):
        kinds = [av.video.frame.PictureType(picture.pict_type).name for picture in pictures]
        assert kinds == loop.facts.coded.kinds


@pytest.mark.parametrize("name", profile_names())
def test_the_picture_is_the_one_that_went_in(loop_of: Loops, name: str) -> None:
    loop = loop_of(name)
    if loop.profile.codec == "ffv1":
        with av.open(str(loop.path)) as file:
            pictures = np.stack([p.to_ndarray(format="rgb24") for p in file.decode(video=0)])
        np.testing.assert_array_equal(pictures, loop.frames)
        return
    # second decoder's luma against BT.709-6 / BT.601-7 by hand, deep inside the figure
    planes = _planes(loop.path)[::5]
    kr, kb = (0.2126, 0.0722) if loop.profile.colour.matrix == "bt709" else (0.299, 0.114)
    rgb = loop.frames[::5].astype(np.float32)
    luma = kr * rgb[..., 0] + (1 - kr - kb) * rgb[..., 1] + kb * rgb[..., 2]
    if loop.profile.colour.range == "limited":
        luma = 16 + luma * 219 / 255
    core = np.ones((31, 31), np.uint8)  # beyond the reach of any treatment of the rim
    deep = np.stack([cv2.erode(f.any(axis=-1).astype(np.uint8), core) for f in rgb]).astype(bool)
    error = np.abs(planes[:, : loop.raster[1]] - luma)[deep]
    assert error.mean() < 3.0


@pytest.mark.parametrize("name", LOSSY)
def test_the_figure_is_as_sharp_as_the_master(loop_of: Loops, name: str) -> None:
    """SSIM (Wang et al. 2004) of the figure's box; the limit is common practice, no source."""
    metrics = pytest.importorskip("skimage.metrics")
    loop = loop_of(name)
    x, y, w, h = cv2.boundingRect(loop.frames.max(axis=(0, 3)))
    planes = _planes(loop.path)
    centred = loop.profile.codec in ("mjpeg", "mpeg1")
    for number in range(0, len(loop.frames), 4):
        truth = to_planes(loop.frames[number], loop.profile.colour, Guard(colour_px=0), centred=centred)
        one, two = (plane[y : y + h, x : x + w] for plane in (planes[number], truth))
        alike = metrics.structural_similarity(
            one, two, gaussian_weights=True, sigma=1.5, use_sample_covariance=False, data_range=255
        )
        assert alike >= 0.95


@pytest.mark.parametrize("name", [*H264, *HEVC])
def test_black_stays_black_at_the_figures_rim(
    loop_of: Loops, shares_of_black: Callable[..., tuple[float, float]], name: str
) -> None:
    loop = loop_of(name)
    near, far = shares_of_black(_planes(loop.path), loop.frames, black=16)
    assert near >= 0.95
    assert far >= 0.9995


@pytest.mark.parametrize("name", H264)
def test_h264_says_what_players_ask_for(loop_of: Loops, name: str) -> None:
    loop = loop_of(name)
    (sequence,), picture = loop.facts.coded.sequences.values(), loop.facts.coded.pictures[0]
    limits = loop.profile.h264
    assert loop.facts.profile == limits.profile
    assert float(loop.facts.level) <= float(limits.level)
    assert sequence.references <= limits.references
    assert set(loop.facts.coded.kinds) <= {"I", "P"}
    assert loop.facts.coded.instant[0]
    with av.open(str(loop.path)) as file:
        coding = file.streams.video[0].codec_context
        # ITU-T H.273: limited range (1 by ffmpeg's count), and 1 each for BT.709
        told = (coding.color_range, coding.color_primaries, coding.color_trc, coding.colorspace)
        assert told == (1, 1, 1, 1)
    if limits.profile == "constrained-baseline":
        # ITU-T H.264 A.2.1.1: neither CABAC nor weighted prediction
        assert not picture.cabac
        assert not picture.weighted
        assert sequence.frames_only


def test_the_mp4_starts_at_once(loop_of: Loops) -> None:
    mp4 = loop_of("h264-baseline-qvga").facts.mp4
    assert mp4.order.index("moov") < mp4.order.index("mdat")
    assert all(track.edits == 0 for track in mp4.tracks)
    raw = loop_of("h264-baseline-qvga").path.read_bytes()
    assert b"elst" not in raw[: raw.index(b"mdat")]


def test_the_bare_stream_can_start_at_every_key_frame(loop_of: Loops) -> None:
    stream = loop_of("h264-annexb").facts.coded
    assert all(there for key, there in zip(stream.instant, stream.sets_before, strict=True) if key)


def test_the_avi_is_of_the_first_kind(loop_of: Loops) -> None:
    loop = loop_of("mjpeg-avi-qvga")
    avi = loop.facts.avi
    raw = loop.path.read_bytes()
    assert int.from_bytes(raw[4:8], "little") == len(raw) - 8
    # idx1 holds 16 bytes a chunk
    at = raw.rindex(b"idx1")
    assert int.from_bytes(raw[at + 4 : at + 8], "little") == 16 * len(loop.frames) == 16 * avi.index_entries
    assert b"indx" not in raw[: avi.header_bytes]
    assert max(loop.facts.frame_bytes) <= 20_480
    assert loop.facts.rate.denominator == 1


def test_the_same_frames_give_the_same_bytes(
    encode_loop: Callable[..., Any],
    make_lantern: Callable[..., Any],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    from ghostprep.player import load_profile

    frames = make_lantern((320, 240), 6)
    profile = load_profile("mjpeg-avi-qvga")
    first, second = (
        encode_loop(tmp_path_factory.mktemp(f"same{i}"), profile, frames, Fraction(15)).path.read_bytes()
        for i in (1, 2)
    )
    assert first == second


def _planes(path: Any) -> Any:
    with av.open(str(path)) as file:
        return np.stack([f.to_ndarray() for f in file.decode(video=0)])
