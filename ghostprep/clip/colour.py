"""From the clip's colours to BT.709 primaries, sRGB codes, full range."""

from __future__ import annotations

from typing import Final

from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.hlg import CUBE_NAME

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
    return pixel_format.startswith(("yuv", "nv", "p0", "uyv", "yvy", "y2", "ayuv", "vuy", "xv"))


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
    return [
        f"zscale=pin={WIDE[facts.primaries]}:tin=iec61966-2-1:t=iec61966-2-1:p=bt709",
        "format=gbrp",
    ]
