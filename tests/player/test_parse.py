"""The parsers against files with known faults, against PyAV, and against damage."""

from __future__ import annotations

import dataclasses
import struct
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from hypothesis import HealthCheck, event, example, given, settings
from hypothesis import strategies as st

from ghostprep.clip import run_copy, write_frames
from ghostprep.errors import JobError
from ghostprep.player import extend_profile, load_profile, read
from ghostprep.player.encode.mpeg import is_constrained
from ghostprep.player.limits import check_limits
from ghostprep.player.parse.h264 import read_picture_set, read_sequence_set
from ghostprep.player.parse.hevc import HevcStream
from ghostprep.player.read import read_stream_facts

RATE = Fraction(25)
SIZE = (320, 240)
Lantern = Callable[..., np.ndarray]


def failed(path: Path, name: str, frames: int, rate: Fraction = RATE) -> dict[str, object]:
    """The proofs that do not pass, by name."""
    facts = read_stream_facts(path)
    profile = extend_profile(name, {"key_s": min(load_profile(name).key_s, 1.0)}, where="test")
    proofs = check_limits(facts, profile, raster=SIZE, rate=rate, frames=frames)
    return {proof.name: proof.value for proof in proofs if not proof.passed}


def write(path: Path, frames: np.ndarray, *arguments: str, rate: Fraction = RATE) -> Path:
    filters = ("-vf", "scale=out_color_matrix=bt709:out_range=tv,format=yuv420p")
    write_frames(path, frames, size=SIZE, rate=rate, arguments=(*filters, *arguments))
    return path


@pytest.fixture(scope="module")
def frames(make_lantern: Lantern) -> np.ndarray:
    return make_lantern(SIZE, 30)


X264 = ("-c:v", "libx264", "-preset", "fast", "-crf", "30")
GOOD = (*X264, "-profile:v", "baseline", "-level:v", "1.3", "-refs", "1", "-bf", "0", "-g", "25")
PLAIN = ("-movflags", "+faststart", "-use_editlist", "0")


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ((*GOOD, *PLAIN), set()),
        ((*GOOD, "-use_editlist", "0"), {"boxes"}),
        ((*GOOD, "-movflags", "+faststart", "-use_editlist", "1"), {"edit list"}),
        ((*GOOD[:-1], "250", *PLAIN), {"key frames"}),
        ((*GOOD, "-level:v", "2.1", *PLAIN), {"level"}),
        ((*GOOD, "-level:v", "1.1", *PLAIN), {"level"}),
        ((*GOOD, "-refs", "3", *PLAIN), {"references"}),
        ((*GOOD, "-profile:v", "main", *PLAIN), {"coding", "tools"}),
        ((*GOOD, "-profile:v", "high", *PLAIN), {"coding", "tools"}),
        ((*GOOD, "-profile:v", "main", "-coder", "0", "-weightp", "0", *PLAIN), set()),
        ((*GOOD, "-profile:v", "main", "-bf", "2", *PLAIN), {"B-frames", "coding", "first time", "tools"}),
        ((*GOOD, "-vf", "format=yuv420p,scale=out_range=pc", "-color_range", "pc", *PLAIN), {"range"}),
        ((*GOOD, "-profile:v", "main", "-x264-params", "interlaced=1", *PLAIN), {"coding", "tools"}),
    ],
)  # fmt: skip
def test_each_fault_of_h264_is_found(
    tmp_path: Path, frames: np.ndarray, arguments: tuple[str, ...], expected: set[str]
) -> None:
    path = write(tmp_path / "x.mp4", frames, *arguments)
    found = set(failed(path, "h264-baseline-qvga", len(frames)))
    assert expected <= found
    assert found <= expected | {"references", "level"}


def test_the_right_file_passes_and_wrong_expectations_do_not(tmp_path: Path, frames: np.ndarray) -> None:
    path = write(tmp_path / "x.mp4", frames, *GOOD, *PLAIN)
    facts = read_stream_facts(path)
    profile = load_profile("h264-baseline-qvga")

    def names(**other: Any) -> set[str]:
        asked = {"raster": SIZE, "rate": RATE, "frames": 30} | other
        return {p.name for p in check_limits(facts, profile, **asked) if not p.passed}

    assert names() == set()
    assert names(frames=29) == {"frames"}
    assert names(rate=Fraction(24)) == {"rate"}
    assert names(raster=(240, 320)) == {"raster"}


def test_an_open_group_is_found(tmp_path: Path, frames: np.ndarray) -> None:
    params = "open-gop=1:keyint=10:min-keyint=5:bframes=2:scenecut=0"
    path = write(tmp_path / "x.mp4", frames, *X264, "-x264-params", params, *PLAIN)
    assert "open groups" in failed(path, "h264-main-720p", len(frames))


def test_key_frames_without_their_parameter_sets_are_found(tmp_path: Path, frames: np.ndarray) -> None:
    """A bare stream can be joined at any key frame only where the sets (units 7 and 8) stand before each."""
    path = write(tmp_path / "x.h264", frames, *GOOD[:-1], "10", "-sc_threshold", "0")
    name = "key frames without parameter sets"
    assert name not in failed(path, "h264-annexb", len(frames))
    first, *units = path.read_bytes().split(b"\x00\x00\x01")
    later = [unit for i, unit in enumerate(units) if i < 3 or unit[0] & 31 not in (7, 8)]
    path.write_bytes(b"\x00\x00\x01".join([first, *later]))
    assert failed(path, "h264-annexb", len(frames))[name] == 2  # of three, the first has them


def test_a_dropped_frame_is_found(tmp_path: Path, frames: np.ndarray) -> None:
    path = write(
        tmp_path / "x.mp4",
        frames,
        "-fps_mode",
        "vfr",
        "-vf",
        "format=yuv420p,select=not(eq(n\\,7))",
        *GOOD,
        *PLAIN,
    )
    assert {"frames", "rate"} <= set(failed(path, "h264-baseline-qvga", len(frames)))


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("-c:v", "mjpeg", "-q:v", "5"), set()),
        (("-c:v", "mjpeg", "-q:v", "5", "-vf", "format=yuvj444p"), {"samples"}),
        (("-c:v", "mpeg4", "-q:v", "5"), {"form"}),
    ],
)
def test_each_fault_of_avi_is_found(
    tmp_path: Path, frames: np.ndarray, arguments: tuple[str, ...], expected: set[str]
) -> None:
    full = ("-vf", "scale=out_range=pc,format=yuvj420p")
    path = write(tmp_path / "x.avi", frames[:15], *full, *arguments, rate=Fraction(15))
    found = set(failed(path, "mjpeg-avi-qvga", 15, Fraction(15)))
    assert expected <= found
    if not expected:
        assert found == set()


def test_the_sound_before_the_pictures_is_found(tmp_path: Path, frames: np.ndarray) -> None:
    path = write(tmp_path / "x.avi", frames[:15], "-c:v", "mjpeg", rate=Fraction(15))
    tone = tmp_path / "tone.mkv"
    black = ("-f", "lavfi", "-i", "sine=r=44100", "-map", "1:a", "-t", "1", "-c:a", "pcm_s16le")
    run_copy([path], tone, black)
    swapped = tmp_path / "swapped.avi"
    run_copy([path, tone], swapped, ("-map", "1:a", "-map", "0:v", "-c", "copy"))
    facts = read_stream_facts(swapped)
    assert facts.avi is not None
    assert facts.avi.streams == ("auds", "vids")
    with av.open(str(swapped)) as file:
        assert file.streams.audio[0].codec.canonical_name == "pcm_s16le"
    assert len(facts.frame_bytes) == 15
    assert "streams" in failed(swapped, "mjpeg-avi-qvga", 15, Fraction(15))


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("-bf", "0", "-flags", "+cgop"), set()),
        (("-bf", "2"), {"B-frames", "open groups"}),
        (("-bf", "0", "-flags", "+cgop", "-g", "60"), {"key frames"}),
        (("-bf", "0", "-flags", "+cgop", "-bufsize", "1000k"), {"constrained parameters"}),
    ],
)
def test_each_fault_of_mpeg1_is_found(
    tmp_path: Path, frames: np.ndarray, arguments: tuple[str, ...], expected: set[str]
) -> None:
    rate = ("-maxrate", "1150k", "-bufsize", "327680")
    base = ("-c:v", "mpeg1video", "-q:v", "8", "-g", "10", "-sc_threshold", "1000000000", *rate)
    path = write(tmp_path / "x.mpg", frames, *base, *arguments)
    assert set(failed(path, "mpeg1-ps-sif", len(frames))) == expected


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (("-profile:v", "0", "-level:v", "5"), set()),
        (("-profile:v", "15", "-level:v", "5", "-bf", "2"), {"B-frames", "coding", "level"}),
        (("-profile:v", "15", "-level:v", "5", "-flags", "+qpel"), {"coding", "level", "tools"}),
        (("-profile:v", "0", "-level:v", "1"), {"level"}),
    ],
)
def test_each_fault_of_mpeg4_is_found(
    tmp_path: Path, frames: np.ndarray, arguments: tuple[str, ...], expected: set[str]
) -> None:
    base = ("-c:v", "mpeg4", "-q:v", "8", "-g", "20")
    path = write(tmp_path / "x.avi", frames[:24], *base, *arguments, rate=Fraction(24))
    assert set(failed(path, "mpeg4-sp-avi", 24, Fraction(24))) == expected


def test_hevc_with_the_other_tag_is_found(tmp_path: Path, frames: np.ndarray) -> None:
    x265 = ("-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error:bframes=2:keyint=10")
    path = write(tmp_path / "x.mp4", frames, *x265, "-tag:v", "hev1", *PLAIN)
    found = failed(path, "hevc-main-1080p", len(frames))
    assert {"tag", "B-frames"} <= set(found)


# --- bits by hand -----------------------------------------------------------------------------------


def test_parameter_sets_by_hand() -> None:
    """Written out bit by bit from ITU-T H.264, 7.3.2.1.1: 320x240 in 20 x 15 blocks, one reference."""
    bits = "".join(
        [
            f"{66:08b}", "11000000", f"{13:08b}",
            "1",  # seq_parameter_set_id 0
            "1",  # log2_max_frame_num_minus4 0
            "011",  # pic_order_cnt_type 2
            "010",  # max_num_ref_frames 1
            "0",  # gaps_in_frame_num_value_allowed_flag
            "000010100",  # pic_width_in_mbs_minus1 19
            "0001111",  # pic_height_in_map_units_minus1 14
            "1", "1", "0", "0",  # frame_mbs_only, direct_8x8, no cropping, no VUI
            "1",
        ]
    )  # fmt: skip
    bits += "0" * (-len(bits) % 8)
    unit = b"\x67" + bytes(int(bits[i : i + 8], 2) for i in range(0, len(bits), 8))
    found = read_sequence_set(unit)
    assert (found.references, found.frames_only) == (1, True)
    # 7.3.2.2: ids 0, CAVLC, one slice group, one reference, no weighting, QP 26 ...
    picture = read_picture_set(bytes([0x68, 0b11001110, 0b00111000, 0b10000000]))
    assert not picture.cabac


# --- damage -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory, frames: np.ndarray) -> Callable[[int], bytes]:
    """Give one of seven sound files; a function, so that no report of a failure prints them all."""
    folder = tmp_path_factory.mktemp("samples")
    made = [
        write(folder / "a.mp4", frames[:4], *GOOD, *PLAIN),
        write(folder / "b.avi", frames[:4], "-c:v", "mjpeg", "-q:v", "20"),
        write(folder / "c.mpg", frames[:4], "-c:v", "mpeg1video", "-q:v", "20"),
        write(folder / "d.mkv", frames[:4], "-c:v", "ffv1"),
        write(folder / "e.h264", frames[:4], *GOOD, "-f", "h264"),
        write(folder / "f.mjpeg", frames[:4], "-c:v", "mjpeg", "-q:v", "20", "-f", "mjpeg"),
        write(folder / "g.avi", frames[:4], "-c:v", "mpeg4", "-q:v", "20"),
    ]
    return lambda which: made[which].read_bytes()


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    which=st.integers(0, 6),
    cut=st.floats(0, 1),
    changes=st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 255)), max_size=6),
)
@example(which=0, cut=0.125, changes=[])  # pictures of no known coding
@example(which=4, cut=1.0, changes=[(0.2265625, 0)])  # a clock that stands still
def test_damage_is_a_job_error_or_is_read(
    tmp_path: Path, sample: Callable[[int], bytes], which: int, cut: float, changes: list[tuple[float, int]]
) -> None:
    data = bytearray(sample(which))
    for place, value in changes:
        # headers lie at the beginning: damage there is what matters
        data[int(place**3 * len(data))] = value
    path = tmp_path / "damaged"
    path.write_bytes(data[: int(len(data) * cut)])
    try:
        facts = read_stream_facts(path)
    except JobError as wrong:
        event(str(wrong).partition("add up: ")[2] or "refused")
        return
    check_limits(facts, load_profile("h264-baseline-qvga"), raster=SIZE, rate=RATE, frames=4)
    check_limits(facts, load_profile("mjpeg-avi-qvga"), raster=SIZE, rate=RATE, frames=4)


def test_other_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.txt"
    path.write_text("no film", encoding="utf-8")
    with pytest.raises(JobError, match="of a form that is not known here"):
        read_stream_facts(path)
    with pytest.raises(JobError, match="No such file"):
        read_stream_facts(tmp_path / "missing")


def test_a_clock_that_stands_still_or_runs_backwards_is_none(
    tmp_path: Path, frames: np.ndarray, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path / "x.mp4", frames[:2], *GOOD, *PLAIN)
    for rate in (Fraction(0), Fraction(-1)):
        monkeypatch.setattr(read, "_rate", lambda *_, rate=rate: rate)
        with pytest.raises(JobError, match="contradicts itself: it has no frame rate"):
            read_stream_facts(path)


def test_large_sizes_of_mp4_boxes_are_read(tmp_path: Path, frames: np.ndarray) -> None:
    """ISO/IEC 14496-12, 4.2: size 1 means that 64 bits of size follow."""
    path = write(tmp_path / "x.mp4", frames[:4], *GOOD, *PLAIN)
    data = path.read_bytes()
    at = data.index(b"mdat") - 4
    (size,) = struct.unpack_from(">I", data, at)
    # put the wide form at the end, where no sample table points past it
    wide = struct.pack(">I4sQ", 1, b"free", 16 + 5) + bytes(5)
    path.write_bytes(data + wide)
    assert at + size == len(data)
    facts = read_stream_facts(path)
    assert facts.mp4 is not None
    assert facts.mp4.order[-1] == "free"
    assert facts.frames == 4


def sample_of(*units: bytes) -> bytes:
    """A sample of NAL units, each behind its length in four bytes (ISO/IEC 14496-15)."""
    return b"".join(len(unit).to_bytes(4, "big") + unit for unit in units)


# ITU-T H.265, table 7-1: 16 to 21 are pictures at which decoding may begin, 19 and 20 of them IDR
@pytest.mark.parametrize("kind", [0, 1, 8, 9, 15, 16, 18, 19, 20, 21])
@pytest.mark.parametrize(("slice_type", "letter"), [("1", "B"), ("010", "P"), ("011", "I")])
def test_hevc_slice_headers_by_hand(kind: int, slice_type: str, letter: str) -> None:
    """7.3.6.1: first slice; from 16 on no_output_of_prior_pics, here 0; parameter set 0; slice_type ue(v)."""
    bits = "1" + ("0" if kind >= 16 else "") + "1" + slice_type
    unit = bytes([kind << 1, 1, int(bits.ljust(8, "0"), 2), 0x55])
    stream = HevcStream()
    stream.add(sample_of(bytes([39 << 1, 1, 0xFF]), unit))  # a message (39, prefix SEI) is no slice
    assert (stream.kinds, stream.instant) == ([letter], [kind in {19, 20}])


def test_hevc_pictures_that_are_no_first_slice_or_have_more_bits() -> None:
    stream = HevcStream(_extra_bits=2)
    # a second slice segment (first bit 0) is passed over; two bits stand before slice_type
    stream.add(sample_of(bytes([2, 1, 0b01110000, 0]), bytes([2, 1, 0b11_10_011_0, 0])))
    stream.add(b"")
    assert stream.kinds == ["I", ""]
    assert stream.instant == [False, False]


def test_mpeg4_pictures_too_large_for_their_level_are_told(tmp_path: Path, frames: np.ndarray) -> None:
    """ISO/IEC 14496-2, annex N: 99 macroblocks at level 1, 396 at levels 2 and 3; 352x288 has 396."""
    base = ("-c:v", "mpeg4", "-q:v", "20", "-g", "20", "-profile:v", "0", "-level:v", "1")
    path = write(tmp_path / "x.avi", frames[:24], *base, rate=Fraction(24))
    facts = dataclasses.replace(read_stream_facts(path), rate=Fraction(1))

    def told(raster: tuple[int, int], level: str) -> bool:
        one = dataclasses.replace(facts, raster=raster, level=level)
        profile = load_profile("mpeg4-sp-avi")
        proofs = check_limits(one, profile, raster=raster, rate=Fraction(1), frames=24)
        return next(proof.passed for proof in proofs if proof.name == "level")

    assert told((176, 144), "1")
    assert not told((192, 144), "1")
    assert told((352, 288), "2")
    assert not told((352, 304), "2")


@pytest.mark.parametrize(
    ("raster", "rate", "within"),
    [
        ((352, 288), 25, True),
        ((352, 240), 30, True),
        ((352, 288), 26, False),  # 10,296 macroblocks a second
        ((320, 240), 31, False),  # 9,300 of them, but more than 30 pictures
        ((368, 288), 1, False),  # 414 macroblocks
        ((768, 128), 20, True),
        ((784, 64), 20, False),
        ((64, 576), 20, True),
        ((64, 592), 20, False),
    ],
)
def test_mpeg1s_constrained_parameters(raster: tuple[int, int], rate: int, within: bool) -> None:
    """ISO/IEC 11172-2, 2.4.3.2: 768 x 576 at most, 396 macroblocks, 9,900 a second, 30 pictures a second."""
    assert is_constrained(raster, Fraction(rate)) is within
