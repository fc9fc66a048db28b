"""Every kind of clip, made on the spot: count, size, upright, colours against PyAV and colour-science."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from ghostprep.clip import probe, read_frames
from ghostprep.clip.colour import matrix_of

colour = pytest.importorskip("colour")

TO_709 = "scale=out_color_matrix=bt709:out_range=limited:flags=full_chroma_int+accurate_rnd"
TO_601 = "scale=out_color_matrix=smpte170m:out_range=limited:flags=full_chroma_int+accurate_rnd"
TO_FULL = "scale=out_color_matrix=bt709:out_range=full:flags=full_chroma_int+accurate_rnd"
TO_2020 = "scale=out_color_matrix=bt2020:out_range=limited:flags=full_chroma_int+accurate_rnd"
UNTAG = "setparams=colorspace=unknown:range=unknown"
X265 = ("-c:v", "libx265", "-x265-params", "log-level=none:crf=4", "-pix_fmt")
VP9 = ("-c:v", "libvpx-vp9", "-crf", "4", "-cpu-used", "8", "-pix_fmt", "yuv420p")
AV1 = ("-c:v", "libaom-av1", "-cpu-used", "8", "-crf", "4", "-pix_fmt", "yuv420p")
X264 = ("-c:v", "libx264", "-preset", "ultrafast", "-crf", "4")


@dataclass(frozen=True)
class Row:
    name: str
    arguments: tuple[str, ...]
    weights: str = "ITU-R BT.601"
    frames: int = 6
    rate: str = "25"
    depth: int = 8
    facts: dict[str, Any] = field(default_factory=dict)
    tolerance: float = 2.0


def h264(filters: str, pixel_format: str, *tags: str) -> tuple[str, ...]:
    return ("-vf", filters, *X264, "-pix_fmt", pixel_format, *tags)


TAG_709 = ("-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709")
ROWS = [
    Row("untagged.mp4", h264(f"{TO_601},{UNTAG}", "yuv420p"),
        facts={"matrix": "unknown", "range": "limited"}),
    Row("tagged709.mp4", h264(TO_709, "yuv420p", *TAG_709, "-color_range", "tv"), "ITU-R BT.709",
        facts={"matrix": "bt709", "container": "mov,mp4,m4a,3gp,3g2,mj2"}),
    Row("tagged601.mkv", h264(TO_601, "yuv420p", "-colorspace", "smpte170m"), facts={"matrix": "smpte170m"}),
    Row("full.mp4", h264(TO_FULL, "yuv420p", *TAG_709, "-color_range", "pc"), "ITU-R BT.709",
        facts={"range": "full"}),
    Row("444.mkv", h264(TO_709, "yuv444p", *TAG_709), "ITU-R BT.709", facts={"pixel_format": "yuv444p"}),
    Row("full444.mkv",
        ("-vf", TO_FULL, "-c:v", "ffv1", "-pix_fmt", "yuv444p", *TAG_709, "-color_range", "pc"),
        "ITU-R BT.709", facts={"range": "full", "pixel_format": "yuv444p"}),
    Row("422.mkv", h264(TO_601, "yuv422p")),
    Row("high10.mp4", h264(TO_709, "yuv420p10le", *TAG_709), "ITU-R BT.709", depth=10,
        facts={"bit_depth": 10}),
    Row("hevc.mp4", ("-vf", TO_601, *X265, "yuv420p"), facts={"codec": "hevc"}),
    Row("hevc12.mkv", ("-vf", TO_709, *X265, "yuv422p12le", *TAG_709), "ITU-R BT.709", depth=12,
        facts={"bit_depth": 12}),
    Row("sdr2020.mkv", h264(TO_2020, "yuv420p10le", "-colorspace", "bt2020nc"), "ITU-R BT.2020", depth=10,
        facts={"matrix": "bt2020nc"}),
    Row("av1.mp4", ("-vf", TO_601, *AV1), facts={"codec": "av1"}),
    Row("vp8.webm", ("-vf", TO_601, "-c:v", "libvpx", "-crf", "4", "-b:v", "9M"), facts={"codec": "vp8"}),
    Row("vp9.webm", ("-vf", TO_601, *VP9), facts={"codec": "vp9"}),
    Row("mpeg2.ts", ("-vf", TO_601, "-c:v", "mpeg2video", "-q:v", "1"), facts={"codec": "mpeg2video"}),
    Row("mpeg2.mpg", ("-vf", TO_601, "-c:v", "mpeg2video", "-q:v", "1"), facts={"container": "mpeg"}),
    Row("mpeg4.avi", ("-vf", TO_601, "-c:v", "mpeg4", "-q:v", "1"), facts={"container": "avi"}),
    Row("mjpeg.avi", ("-c:v", "mjpeg", "-q:v", "1", "-pix_fmt", "yuvj420p"), facts={"range": "full"}),
    Row("prores.mov", ("-vf", TO_709, "-c:v", "prores_ks", "-profile:v", "3", *TAG_709), "ITU-R BT.709",
        depth=10, facts={"codec": "prores"}),
    Row("film.mp4", h264(TO_601, "yuv420p"), rate="24000/1001", facts={"rate": Fraction(24000, 1001)}),
    Row("fast.mp4", h264(TO_601, "yuv420p"), rate="240", frames=48, facts={"rate": Fraction(240)}),
    Row("single.mp4", h264(TO_601, "yuv420p"), frames=1, facts={"frames": 1, "still": True}),
    Row("late.ts", (*h264(TO_601, "yuv420p"), "-output_ts_offset", "100")),
    Row("late.mp4", (*h264(TO_601, "yuv420p"), "-output_ts_offset", "10")),
    Row("raw.h264", h264(TO_601, "yuv420p"), facts={"container": "h264"}),
    Row("flash.flv", h264(TO_601, "yuv420p")),
    Row("theora.ogv", ("-vf", TO_601, "-c:v", "libtheora", "-q:v", "10")),
]  # fmt: skip


def outside(path: Path, weights: str, depth: int, card: Any) -> np.ndarray:
    """The patches of the first frame: planes by PyAV, matrix by colour-science."""
    with av.open(str(path)) as container:
        stream = next(s for s in container.streams.video)
        frame = next(container.decode(stream))
    full = frame.format.name.startswith("yuvj") or int(frame.color_range) == 2
    columns = []  # of luma, blue and red difference
    for i, plane in enumerate(frame.planes):
        kind = np.uint16 if frame.format.components[i].bits > 8 else np.uint8
        rows = np.frombuffer(plane, kind).reshape(plane.height, -1)[:, : plane.width]
        sx, sy = card.size[0] / plane.width, card.size[1] / plane.height
        columns.append(
            [
                rows[int(y / sy) - 2 : int(y / sy) + 3, int(x / sx) - 2 : int(x / sx) + 3].mean()
                for x, y in card.centres
            ]
        )
    codes = np.array(columns).T / (2**depth - 1)
    if full:
        codes[:, 1:] -= 2 ** (depth - 1) / (2**depth - 1)
    rgb = colour.YCbCr_to_RGB(
        codes, K=colour.WEIGHTS_YCBCR[weights], in_bits=depth, in_legal=not full, out_legal=False,
        in_int=False,
    )  # fmt: skip
    return np.clip(rgb, 0, 1) * 255


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_a_clip_comes_out_right(row: Row, encode: Callable[..., Path], card: Any) -> None:
    path = encode(row.name, *row.arguments, frames=card.frames(row.frames), rate=row.rate)
    facts = probe(path)
    for name, value in row.facts.items():
        assert getattr(facts, name) == value, name
    assert facts.size == card.size
    with read_frames(facts) as frames:
        seen = list(frames)
    assert [card.number(f) for f in seen] == list(range(row.frames))
    assert frames.times[0] == 0
    for i, time in enumerate(frames.times):
        # a container's clock may be as coarse as a millisecond
        assert abs(time - i / Fraction(row.rate)) <= Fraction(1, 1000)
    assert frames.damage is None
    for frame in (seen[0], seen[-1]):
        got = card.colours(frame)
        assert np.abs(got - outside(path, row.weights, row.depth, card)).max() <= row.tolerance
    # and the way there and back loses little
    assert np.abs(card.colours(seen[0]) - card.patches.reshape(8, 3)).max() <= 6


@pytest.mark.parametrize(
    ("size", "matrix"),
    [((720, 576), "smpte170m"), ((720, 480), "smpte170m"), ((576, 720), "smpte170m"), ((768, 578), "bt709"),
     ((1280, 720), "bt709"), ((1280, 576), "bt709")],
)  # fmt: skip
def test_an_untagged_matrix_goes_by_the_lines(
    size: tuple[int, int], matrix: str, encode: Callable[..., Path], card: Any
) -> None:
    """576 lines and fewer are BT.601's; common practice, no source."""
    path = encode("any.mkv", *h264(f"{TO_601},{UNTAG}", "yuv420p"), frames=card.frames(2), rate="25")
    assert matrix_of(replace(probe(path), coded_size=size, matrix="unknown")) == matrix
