"""From the clip's colours to BT.709 primaries, sRGB codes, full range.

HLG's last step (its OOTF) weighs a pixel's three channels by that pixel's luminance. ffmpeg's filters
raise each channel by itself, which is right for greys and makes colours too strong by up to 20 codes. So a
table turns HLG into PQ, which states light outright and which they read exactly.

References
----------
Recommendation ITU-R BT.2100-2, tables 4 (PQ) and 5 (HLG).
"""

from __future__ import annotations

import atexit
import contextlib
import functools
from pathlib import Path
from typing import Final

import numpy as np

from ghostprep.arrays import Doubles
from ghostprep.clip.facts import ClipFacts
from ghostprep.scratch import scratch_folder

CUBE_NAME: Final = "hlg-to-pq.cube"
_POINTS: Final = 33
"""Grid points a side: in between, codes after tone mapping are off by less than two."""
_SCREEN_CD_M2: Final = 1000.0
_GAMMA: Final = 1.2
_LUMINANCE_2020: Final = (0.2627, 0.6780, 0.0593)
"""A screen of 1000 cd/m2, its OOTF gamma, and the weights of R, G, B (BT.2100-2, table 5)."""


def hlg_to_pq(signal: Doubles) -> Doubles:
    """Turn HLG signals (..., 3), 0..1, BT.2020 primaries, into PQ of the light on a screen of 1000 cd/m2."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    high = (np.exp((np.maximum(signal, 0.5) - c) / a) + b) / 12
    scene = np.where(signal <= 0.5, signal * signal / 3, high)
    luminance = np.maximum(scene @ np.array(_LUMINANCE_2020), 1e-12)[..., None]
    shown = _SCREEN_CD_M2 * scene * luminance ** (_GAMMA - 1)
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = (shown / 10_000) ** m1
    signals: Doubles = ((c1 + c2 * root) / (1 + c3 * root)) ** m2
    return signals


@functools.cache
def cube_folder() -> Path:
    """Return a temporary folder that holds the table as `CUBE_NAME`; it goes when we end."""
    kept = contextlib.ExitStack()
    atexit.register(kept.close)
    folder = kept.enter_context(scratch_folder())
    grid = np.linspace(0, 1, _POINTS)
    blue, green, red = np.meshgrid(grid, grid, grid, indexing="ij")  # red changes fastest in such files
    table = hlg_to_pq(np.stack([red, green, blue], axis=-1)).reshape(-1, 3)
    rows = "\n".join(f"{r:.5f} {g:.5f} {b:.5f}" for r, g, b in table.tolist())
    (folder / CUBE_NAME).write_text(f"LUT_3D_SIZE {_POINTS}\n{rows}\n", encoding="ascii")
    return folder


PQ: Final = "smpte2084"
HLG: Final = "arib-std-b67"
HDR: Final = (PQ, HLG)
"""Transfers that are tone-mapped."""
WHITE_CD_M2: Final = 203
"""HDR reference white (Report ITU-R BT.2408): what becomes white in standard range."""
WIDE: Final = {"bt2020": "bt2020", "smpte431": "smpte431", "smpte432": "smpte432"}
"""Primaries so far from BT.709's that colours are converted; the others differ by a few codes."""
_MATRICES: Final = {
    "bt709": "bt709",
    "smpte170m": "smpte170m",
    "bt470bg": "smpte170m",
    "bt2020nc": "bt2020",
    "smpte240m": "smpte240m",
    "fcc": "fcc",
}
"""How the scaler calls the matrices that it knows; older ones know no other names."""
_YUV: Final = (*("yuv", "yuy", "yvy", "uyv", "uyy", "y2", "ayuv", "vuy", "xv", "nv"), *("p0", "p2", "p4"))
"""How the names of formats begin that hold luma and chroma."""


def matrix_of(facts: ClipFacts) -> str:
    """Return the matrix to read a clip with, by the scaler's name; guessed from the size if not tagged.

    Common practice, no source: up to 576 lines and fewer than 1280 columns BT.601, above BT.709;
    full-range JPEG kinds BT.601 (JFIF).
    """
    if facts.matrix in _MATRICES:
        return _MATRICES[facts.matrix]
    if facts.transfer in HDR or facts.primaries == "bt2020":
        return "bt2020"
    small = min(facts.coded_size) <= 576 and max(facts.coded_size) < 1280
    return "smpte170m" if small or facts.pixel_format.startswith("yuvj") else "bt709"


def reading(facts: ClipFacts) -> str:
    """Return the scaler's options to turn the stored codes into full-range RGB."""
    if facts.pixel_format.startswith("gray"):
        return f":in_range={facts.range}:out_range=full"
    if not is_yuv(facts.pixel_format):
        return ""
    return f":in_range={facts.range}:in_color_matrix={matrix_of(facts)}"


def kept(facts: ClipFacts) -> str:
    """Return the scaler's options that keep range and matrix; RGB becomes limited BT.709."""
    if not is_yuv(facts.pixel_format) and not facts.pixel_format.startswith("gray"):
        return ":out_range=limited:out_color_matrix=bt709"
    matrix, codes = matrix_of(facts), facts.range
    return f":in_range={codes}:out_range={codes}:in_color_matrix={matrix}:out_color_matrix={matrix}"


def is_yuv(pixel_format: str) -> bool:
    """Return whether a pixel format is luma and chroma."""
    return pixel_format.startswith(_YUV)


def tone_map(facts: ClipFacts) -> list[str]:
    """Return the filters from HDR signals (RGB, full range) to BT.709, sRGB.

    Light is taken to be what a screen of 1000 cd/m2 shows; `WHITE_CD_M2` becomes 1, and what is brighter
    is brought down to 1 by its brightest channel, so that it keeps its hue. HLG's table is looked for in the
    folder that ffmpeg runs in, so that no path has to be written inside a filter.
    """
    return [
        *([f"lut3d=file={CUBE_NAME}"] if facts.transfer == HLG else []),
        f"zscale=tin={PQ}:pin={WIDE.get(facts.primaries, 'bt2020')}:min=gbr:rin=full"
        f":t=linear:npl={WHITE_CD_M2}:p=bt709",
        "format=gbrpf32le",
        "tonemap=clip:desat=0",
        "zscale=t=iec61966-2-1:r=full",
        "format=gbrp",
    ]


def narrow_gamut(facts: ClipFacts) -> list[str]:
    """Return the filters from wide primaries (RGB) to BT.709's; greys stay as they are."""
    return [f"zscale=pin={WIDE[facts.primaries]}:tin=iec61966-2-1:t=iec61966-2-1:p=bt709", "format=gbrp"]
