"""HLG and PQ against BT.2100 as colour-science computes it."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import probe, read_frames
from ghostprep.clip.colour import WHITE_CD_M2

colour = pytest.importorskip("colour")

# signals, not light: greys from black up past white, and colours of some saturation
SIGNALS = np.array(
    [
        [0.0, 0.0, 0.0],
        [0.2, 0.2, 0.2],
        [0.38, 0.38, 0.38],
        [0.5, 0.5, 0.5],
        [0.6, 0.6, 0.6],
        [0.75, 0.75, 0.75],
        [0.5, 0.4, 0.35],
        [0.35, 0.5, 0.4],
        [0.8, 0.74, 0.7],
        [0.95, 0.95, 0.95],
    ]
)


def expected(signals: np.ndarray, transfer: str) -> np.ndarray:
    if transfer == "arib-std-b67":
        light = colour.models.eotf_BT2100_HLG(signals, L_B=0, L_W=1000)
    else:
        light = colour.models.eotf_BT2100_PQ(signals)
    wide, narrow = colour.RGB_COLOURSPACES["ITU-R BT.2020"], colour.RGB_COLOURSPACES["ITU-R BT.709"]
    light = colour.RGB_to_RGB(light / WHITE_CD_M2, wide, narrow, chromatic_adaptation_transform=None)
    light = light / np.maximum(light.max(axis=1, keepdims=True), 1)  # what is brighter keeps its hue
    return colour.models.eotf_inverse_sRGB(np.clip(light, 0, 1)) * 255


def decoded(signals: np.ndarray, transfer: str, ffmpeg: Callable[..., None], path: Path) -> np.ndarray:
    """Write patches of these signals, and read their codes back as a builder's clip is read."""
    codes = colour.RGB_to_YCbCr(
        signals, K=colour.WEIGHTS_YCBCR["ITU-R BT.2020"], in_legal=False, in_bits=10, out_bits=10,
        out_legal=True, out_int=True,
    )  # fmt: skip
    planes = np.repeat(np.repeat(codes.T[:, None, :], 32, axis=1), 16, axis=2).astype("<u2")
    size = f"{16 * len(signals)}x32"
    ffmpeg(
        *("-f", "rawvideo", "-pix_fmt", "yuv444p10le", "-video_size", size, "-framerate", "25"),
        *("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", transfer),
        *("-color_range", "tv", "-i", "pipe:0", "-c:v", "ffv1", path),
        feed=planes.tobytes() * 2,
    )  # fmt: skip
    facts = probe(path)
    assert (facts.transfer, facts.primaries, facts.matrix) == (transfer, "bt2020", "bt2020nc")
    with read_frames(facts) as frames:
        first = next(frames)
    return np.array([first[16, x * 16 + 8] for x in range(len(signals))], float)


@pytest.mark.parametrize("transfer", ["arib-std-b67", "smpte2084"])
def test_hdr_greys_and_colours_are_tone_mapped(
    transfer: str, ffmpeg: Callable[..., None], tmp_path: Path
) -> None:
    got = decoded(SIGNALS, transfer, ffmpeg, tmp_path / "hdr.mkv")
    assert np.abs(got - expected(SIGNALS, transfer)).max() <= 2


@pytest.mark.parametrize(("transfer", "signal"), [("arib-std-b67", 0.75), ("smpte2084", 0.5807)])
def test_reference_white_becomes_white(
    transfer: str, signal: float, ffmpeg: Callable[..., None], tmp_path: Path
) -> None:
    """Report ITU-R BT.2408: 203 cd/m2, 75 % HLG and 58 % PQ, is the white of standard range."""
    if transfer == "arib-std-b67":
        light = colour.models.eotf_BT2100_HLG(np.full(3, signal), L_B=0, L_W=1000)[0]
    else:
        light = colour.models.eotf_BT2100_PQ(signal)
    assert light == pytest.approx(WHITE_CD_M2, abs=1)
    greys = np.array([signal - 0.06, signal - 0.01, signal, signal + 0.1])
    got = decoded(np.repeat(greys[:, None], 3, axis=1), transfer, ffmpeg, tmp_path / "white.mkv")
    assert 180 < got[0].min() < got[1].min() < 254
    assert (got[2:] == 255).all()


def test_display_p3_becomes_bt709(ffmpeg: Callable[..., None], tmp_path: Path) -> None:
    signals = np.array([[0.3, 0.6, 0.4], [0.6, 0.4, 0.3], [0.5, 0.5, 0.5], [1.0, 1.0, 1.0], [0.3, 0.4, 0.6]])
    picture = np.repeat(np.repeat(np.round(signals * 255).astype(np.uint8)[None], 32, axis=0), 32, axis=1)
    path = tmp_path / "p3.mkv"
    ffmpeg(
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-video_size", "160x32", "-framerate", "25", "-i", "pipe:0"),
        *(
            "-vf",
            "setparams=color_primaries=smpte432:color_trc=bt709",
            "-c:v",
            "ffv1",
            "-pix_fmt",
            "gbrp",
            path,
        ),
        feed=picture.tobytes(),
    )
    facts = probe(path)
    assert facts.primaries == "smpte432"
    p3, narrow = colour.RGB_COLOURSPACES["Display P3"], colour.RGB_COLOURSPACES["sRGB"]
    wanted = colour.RGB_to_RGB(
        np.round(signals * 255) / 255, p3, narrow, apply_cctf_decoding=True, apply_cctf_encoding=True
    )
    with read_frames(facts) as frames:
        first = next(frames)
    got = np.array([first[16, x * 32 + 16] for x in range(5)], float)
    assert np.abs(got - wanted * 255).max() <= 1
    assert (got[3] == 255).all()
