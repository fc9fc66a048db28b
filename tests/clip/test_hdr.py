"""HLG and PQ against BT.2100 as colour-science computes it."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from ghostprep.clip import probe, read_frames
from ghostprep.clip.colour import PEAK_CD_M2, WHITE_CD_M2

colour = pytest.importorskip("colour")

# signals, not light: greys from black to the peak, and colours of some saturation
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
    ]
)


def mobius(light: np.ndarray, peak: float, bend: float = 0.3) -> np.ndarray:
    """The curve that ffmpeg's documentation of its tonemap filter names, as published in its source."""
    a = -bend * bend * (peak - 1) / (bend * bend - 2 * bend + peak)
    b = (bend * bend - 2 * bend * peak + peak) / max(peak - 1, 1e-6)
    bent = (b * b + 2 * b * bend + bend * bend) / (b - a) * (light + a) / (light + b)
    return np.where(light <= bend, light, bent)


def expected(signals: np.ndarray, transfer: str) -> np.ndarray:
    if transfer == "arib-std-b67":
        light = colour.models.eotf_BT2100_HLG(signals, L_B=0, L_W=PEAK_CD_M2)
    else:
        light = colour.models.eotf_BT2100_PQ(signals)
    wide, narrow = colour.RGB_COLOURSPACES["ITU-R BT.2020"], colour.RGB_COLOURSPACES["ITU-R BT.709"]
    light = colour.RGB_to_RGB(light / WHITE_CD_M2, wide, narrow, chromatic_adaptation_transform=None)
    # highlights are bent by the brightest channel, so that hues stay
    brightest = np.maximum(light.max(axis=1, keepdims=True), 1e-6)
    light = light * mobius(brightest, PEAK_CD_M2 / WHITE_CD_M2) / brightest
    return colour.models.eotf_inverse_sRGB(np.clip(light, 0, 1)) * 255


@pytest.mark.parametrize("transfer", ["arib-std-b67", "smpte2084"])
def test_hdr_greys_and_colours_are_tone_mapped(
    transfer: str, ffmpeg: Callable[..., None], tmp_path: Path
) -> None:
    codes = colour.RGB_to_YCbCr(
        SIGNALS, K=colour.WEIGHTS_YCBCR["ITU-R BT.2020"], in_legal=False, in_bits=10, out_bits=10,
        out_legal=True, out_int=True,
    )  # fmt: skip
    planes = np.repeat(np.repeat(codes.T[:, None, :], 32, axis=1), 16, axis=2).astype("<u2")
    path = tmp_path / "hdr.mkv"
    ffmpeg(
        *("-f", "rawvideo", "-pix_fmt", "yuv444p10le", "-video_size", "128x32", "-framerate", "25"),
        *("-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", transfer),
        *("-color_range", "tv", "-i", "pipe:0", "-c:v", "ffv1", path),
        feed=planes.tobytes() * 2,
    )  # fmt: skip
    facts = probe(path)
    assert (facts.transfer, facts.primaries, facts.matrix) == (transfer, "bt2020", "bt2020nc")
    with read_frames(facts) as frames:
        first = next(frames)
    got = np.array([first[16, x * 16 + 8] for x in range(8)], float)
    assert np.abs(got - expected(SIGNALS, transfer)).max() <= 2


def test_reference_white_is_where_the_recommendation_puts_it() -> None:
    """Report ITU-R BT.2408: 203 cd/m2 is 75 % HLG and 58 % PQ."""
    assert colour.models.eotf_BT2100_HLG(np.full(3, 0.75), L_B=0, L_W=1000)[0] == pytest.approx(
        WHITE_CD_M2, abs=1
    )
    assert colour.models.eotf_BT2100_PQ(0.58) == pytest.approx(WHITE_CD_M2, abs=2)


def test_display_p3_becomes_bt709(ffmpeg: Callable[..., None], tmp_path: Path) -> None:
    signals = np.array([[0.3, 0.6, 0.4], [0.6, 0.4, 0.3], [0.5, 0.5, 0.5], [0.3, 0.4, 0.6]])
    picture = np.repeat(np.repeat(np.round(signals * 255).astype(np.uint8)[None], 32, axis=0), 32, axis=1)
    path = tmp_path / "p3.mkv"
    ffmpeg(
        *("-f", "rawvideo", "-pix_fmt", "rgb24", "-video_size", "128x32", "-framerate", "25", "-i", "pipe:0"),
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
    got = np.array([first[16, x * 32 + 16] for x in range(4)], float)
    assert np.abs(got - wanted * 255).max() <= 2
