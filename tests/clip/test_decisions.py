"""What is decided from a clip's facts, at the boundary of each decision."""

from __future__ import annotations

import importlib
import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import av.video.reformatter as pyav
import numpy as np
import pytest
from av.video.format import VideoFormat
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from ghostprep.box import Box
from ghostprep.clip import colour, describe, filters, shrunk
from ghostprep.clip.request import Request
from ghostprep.clip.store import FrameStore, KeptFrames
from ghostprep.clip.stream import FrameStream
from ghostprep.errors import InputError

# the package's name `probe` is the function
PROBE: Any = importlib.import_module("ghostprep.clip.probe")


def first(**more: Any) -> describe.FirstFrames:
    plain: dict[str, Any] = {
        "count": 2, "start": Fraction(0), "rate": Fraction(25), "pixel_format": "yuv420p",
        "aspect": Fraction(1), "size": (64, 48), "interlaced": False, "mirrored": False, "rotation": 0,
        "range": "unknown", "matrix": "unknown", "primaries": "unknown", "transfer": "unknown",
    }  # fmt: skip
    return describe.FirstFrames(**plain | more)


def picture(size: tuple[int, int], index: int = 0, **more: Any) -> describe.Picture:
    plain: dict[str, Any] = {
        "codec": "h264", "grey": False, "cover": False, "tile": False, "interlaced": False,
        "alpha_tagged": False, "key_frames": None, "samples": 0,
    }  # fmt: skip
    return describe.Picture(index=index, size=size, **plain | more)


def test_codes_are_called_as_by_pyav() -> None:
    """PyAV's own lists of ITU-T H.273's codes; what it calls otherwise is written out."""
    unlike = {"gamma22": "bt470m", "gamma28": "bt470bg", "log": "log100", "log_sqrt": "log316"}
    unlike |= {"bt1361_ecg": "bt1361e", "arib_std_b67": "arib-std-b67"}
    unlike |= {"itu709": "bt709", "itu601": "bt470bg", "bt2020": "bt2020nc"}
    for kinds, ours in (
        (pyav.ColorTrc, describe._TRANSFERS),
        (pyav.Colorspace, describe._MATRICES),
    ):
        for kind in kinds:
            name = kind.name.lower()
            if name != "unspecified":
                assert ours[kind.value] == unlike.get(name, name.replace("_", "-"))
    primaries = {p.value: p.name.lower() for p in pyav.ColorPrimaries if p.name != "UNSPECIFIED"}
    assert primaries == describe._PRIMARIES
    # ITU-T H.273, table 4, from memory: all codes but 2 (unspecified) and 3 (reserved) up to 15
    assert sorted(describe._MATRICES) == [0, 1, *range(4, 16)]
    ranges = {"MPEG": "tv", "JPEG": "pc"}
    assert {r.value: ranges[r.name] for r in pyav.ColorRange if r.name in ranges} == describe._RANGES


@pytest.mark.parametrize(
    ("said", "pixel_format", "taken"),
    [
        ("pc", "yuv420p", "full"),
        ("tv", "gbrp", "limited"),
        ("unknown", "yuv420p10le", "limited"),
        ("unknown", "nv12", "limited"),
        ("unknown", "p010le", "limited"),
        ("unknown", "yuvj420p", "full"),
        ("unknown", "rgb24", "full"),
        ("unknown", "gray", "full"),
    ],
)
def test_the_range_that_codes_are_read_in(said: str, pixel_format: str, taken: str) -> None:
    assert PROBE._range(first(range=said, pixel_format=pixel_format)) == taken


@pytest.mark.parametrize(
    ("aspect", "rotation", "size"),
    [
        (Fraction(16, 15), 0, (768, 576)),
        (Fraction(16, 15), 180, (768, 576)),
        (Fraction(16, 15), 90, (540, 720)),
        (Fraction(16, 15), 270, (540, 720)),
        (Fraction(1, 5000), 0, (1, 576)),
        (Fraction(5000), 90, (1, 720)),
    ],
)
def test_the_size_of_upright_square_pixels(
    aspect: Fraction, rotation: int, size: tuple[int, int], tmp_path: Path
) -> None:
    """Of 720x576 stored: Recommendation ITU-R BT.601; a turned pixel is as much taller as it was wider."""
    source = PROBE.Source(tmp_path / "x", "file:x")
    told = first(size=(720, 576), aspect=aspect, rotation=rotation)
    found = describe.Description(container="mov", duration_s=4.0, channels=2)
    facts = PROBE._facts(source, found, picture((720, 576)), (), told)
    assert facts.size == size
    assert (facts.still, facts.frames, facts.duration_s, facts.sound) == (False, None, 4.0, True)
    # a still says how long it is shown, three seconds here, and means nothing by it
    shown = replace(found, last_s=Fraction(3))
    single = PROBE._facts(source, shown, picture((720, 576)), (), first(count=1, rate=Fraction(1)))
    assert (single.still, single.frames, single.duration_s) == (True, 1, None)
    assert (single.rate, single.last_s) == (25, Fraction(1, 25))
    for fields in ((True, False), (False, True)):
        both = picture((720, 576), interlaced=fields[0]), first(interlaced=fields[1])
        assert PROBE._facts(source, found, both[0], (), both[1]).interlaced


def test_the_decoder_shares_its_work_by_the_memory_that_a_picture_takes() -> None:
    assert PROBE._threads(picture((1920, 1200))) == ()
    assert PROBE._threads(picture((1920, 1202))) == ("-threads", "4")
    assert PROBE._threads(picture((4096, 2304))) == ("-threads", "4")
    assert PROBE._threads(picture((4096, 2306))) == ("-thread_type", "slice")
    assert PROBE._threads(picture((8192, 4320), codec="av1"))[2:] == ("-flags", "low_delay")


def test_the_largest_picture_that_is_no_cover() -> None:
    small, tall, cover = picture((64, 48)), picture((40, 90), 1), picture((600, 600), 2, cover=True)
    assert describe.Description(pictures=(small, tall, cover)).largest == tall
    assert describe.Description(pictures=(cover,)).largest is None
    still, moving, other = (picture((64, 48), i, samples=n) for i, n in enumerate((1, 12, 12)))
    assert describe.Description(pictures=(still, moving, other)).largest == moving


@pytest.mark.parametrize(
    "name", ["yuv420p", "yuv422p", "yuv411p", "yuv410p", "yuv444p", "yuv420p10le", "nv12", "p010le", "rgb24"]
)
def test_a_part_is_cut_where_its_chroma_samples_begin_and_end(name: str) -> None:
    """How many pixels share a sample is PyAV's word; what holds across is asked down the picture as well."""
    form = VideoFormat(name, 16, 16)
    across, down = (16 // form.chroma_width(16), 16 // form.chroma_height(16))
    facts: Any = SimpleNamespace(pixel_format=name, coded_size=(101, 75))
    for n in range(1, 9):
        assert filters._on_samples(facts, Box(n, 0, 48 - n, 48)) is (n % across == 0)
        assert filters._on_samples(facts, Box(0, 0, 48 + n, 48)) is (n % across == 0)
        for box in (Box(0, n, 48, 48 - n), Box(0, 0, 48, 48 + n)):
            assert filters._on_samples(facts, box) is (n % max(across, down) == 0)
    # the last sample of an odd size is cut by the picture itself
    assert filters._on_samples(facts, Box(8, 8, 93, 67))


def test_a_long_gap_is_a_splice_only_where_there_is_no_index(tmp_path: Path) -> None:
    for container, still, longest in (
        ("mpegts", False, 10 + 2 * 3 / 25),
        ("mpegts", True, math.inf),
        ("mov,mp4", False, math.inf),
    ):
        facts = replace(large(tmp_path), container=container, still=still, rate=Fraction(25))
        asked: Any = SimpleNamespace(facts=facts, step=3)
        assert Request.gap_max_s.fget(asked) == pytest.approx(longest)  # type: ignore[attr-defined]


@given(st.data())
def test_a_grown_box_holds_the_box_and_what_chroma_filters_reach(data: st.DataObject) -> None:
    size = data.draw(st.tuples(st.integers(1, 200), st.integers(1, 200)))
    x, y = (data.draw(st.integers(0, side - 1)) for side in size)
    inner = Box(x, y, data.draw(st.integers(1, size[0] - x)), data.draw(st.integers(1, size[1] - y)))
    grown = filters._grown_to_samples(inner, size)
    for least, most, low, high, side in (
        (grown.x, grown.right, inner.x, inner.right, size[0]),
        (grown.y, grown.bottom, inner.y, inner.bottom, size[1]),
    ):
        assert least % 4 == 0
        assert low - least < 12
        assert least == 0 or low - least >= 8
        assert most - high < 12
        assert most == side or (most % 4 == 0 and most - high >= 8)


@pytest.mark.parametrize(("name", "top"), [("gbrp12le", 4080 / 4095), ("gbrp16le", 65280 / 65535)])
def test_white_of_a_deep_format(name: str, top: float) -> None:
    (text,) = filters._white_at_top(name)
    assert np.allclose([float(part.split("=")[-1]) for part in text.split(":")], top, atol=1e-8)


@pytest.mark.parametrize(
    ("after", "kernel"), [((50, 40), "area"), ((51, 40), "bicubic"), ((50, 41), "bicubic")]
)
def test_half_the_size_and_less_is_a_mean(after: tuple[int, int], kernel: str) -> None:
    assert f"flags={kernel}+" in filters._scale((100, 80), after, "")


def test_white_on_the_screen_of_hlg_is_a_thousand_candelas() -> None:
    """Report ITU-R BT.2408, table 1 (from memory): 203 cd/m2 is 75 % in HLG, 58 % in PQ; 1000 75 % in PQ."""
    levels = np.array([[1.0] * 3, [0.75] * 3, [0.0] * 3])
    assert colour.hlg_to_pq(levels)[:, 0] == pytest.approx([0.7518, 0.581, 0], abs=1e-3)


def large(tmp_path: Path) -> Any:
    source = PROBE.Source(tmp_path / "x", "file:x")
    found = describe.Description(container="mov", duration_s=4.0)
    return PROBE._facts(source, found, picture((1920, 1080)), (), first(size=(1920, 1080)))


def test_no_more_is_kept_than_there_is_room_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """960x540 delivered: 1 555 200 bytes a picture, 100 of them announced."""
    facts = large(tmp_path)
    for room, worth in ((155_520_000, True), (155_519_999, False)):
        monkeypatch.setattr(shrunk, "KEPT_BYTES", room)
        assert shrunk.may_be_kept(facts) is worth
    kept = KeptFrames(FrameStore((8, 8)), 3 * 192)
    for number in range(4):
        assert kept.holds(0, number - 1)
        kept.put(number, np.zeros((8, 8, 3), np.uint8))
    assert not kept.holds(0, 0)


def test_a_missing_file_is_no_pattern_and_a_pattern_in_a_missing_folder_is_no_sequence(
    tmp_path: Path,
) -> None:
    for path in (tmp_path / "x.mp4", tmp_path / "none" / "x_%04d.png"):
        with pytest.raises(InputError, match="there is no such file; check the name"):
            PROBE.open_source(path)


def test_a_clock_that_jumps_goes_on_by_one_step() -> None:
    step = Fraction(1, 25)
    stream: Any = SimpleNamespace(
        times=[], _step=step, _origin=Fraction(7), clock_jumped=False, _request=SimpleNamespace(gap_max_s=2)
    )
    clocks = [7, 7 + step, 9 + step, 50, 50 + 2 * step, 3, 3 + step, None]
    for clock in clocks:
        stream.times.append(FrameStream._time(stream, clock))
    assert stream.times == [0, step, 2 + step, *(2 + n * step for n in (2, 4, 5, 6, 7))]
    assert stream.clock_jumped


@pytest.mark.parametrize(
    ("more", "wrong"),
    [
        ({}, ""),
        ({"size": (99, 77)}, ""),
        ({"size": (99, 77), "pixels": "i420"}, "planes of 4:2:0 need an even size, not 99x77"),
        ({"size": (98, 77), "pixels": "i420"}, "not 98x77"),
        ({"size": (98, 76), "pixels": "i420"}, ""),
        ({"size": (0, 76)}, "a frame of 0x76 cannot be made"),
        ({"start": -1}, "no frames lie from -1"),
        ({"step": 0}, "in steps of 0"),
        ({"stop": -1}, "no frames lie from 0 to -1"),
        ({"crop": Box(1, 0, 100, 80)}, "the crop 100x80[+]1[+]0 does not lie in the picture of 100x80"),
        ({"crop": Box(0, 0, 100, 80)}, ""),
        ({"crop": Box(0, 0, 0, 80)}, "the crop 0x80"),
    ],
)
def test_what_cannot_be_asked_for_is_refused(more: dict[str, Any], wrong: str) -> None:
    plain = {"size": (100, 80), "crop": None, "start": 0, "stop": None, "step": 1, "pixels": "rgb24"}
    asked: Any = SimpleNamespace(facts=SimpleNamespace(size=(100, 80)), where="x", **plain | more)
    if not wrong:
        Request.__post_init__(asked)
        return
    with pytest.raises(InputError, match=wrong):
        Request.__post_init__(asked)


def test_pictures_that_tell_no_rate_are_shown_25_times_a_second(tmp_path: Path) -> None:
    for number in range(3):
        Image.new("RGB", (8, 6)).save(tmp_path / f"{number}.png")
    assert PROBE.open_source(tmp_path).options["framerate"] == "25"
