"""The chain of ffmpeg filters between a decoded frame and the array that we want."""

from __future__ import annotations

from typing import Final, Literal

from ghostprep.box import Box
from ghostprep.clip.facts import ClipFacts

Pixels = Literal["rgb24", "rgba", "i420"]

ACCURATE: Final = "bicubic+full_chroma_int+full_chroma_inp+accurate_rnd"
HDR: Final = {"smpte2084": "smpte2084", "arib-std-b67": "arib-std-b67"}
WHITE_CD_M2: Final = 203
"""HDR reference white (Report ITU-R BT.2408): what becomes white in standard range."""
_PEAK_CD_M2: Final = 1000

_YUV: Final = "yuv"


def matrix_of(facts: ClipFacts) -> str:
    """Return the colour matrix to read a clip with, guessed by size where it is not tagged.

    Common practice, no source: up to 576 lines BT.601, above BT.709.
    """
    if facts.matrix in ("bt709", "smpte170m", "bt470bg", "bt2020nc", "smpte240m", "fcc"):
        return facts.matrix
    full_range_jpeg = facts.pixel_format.startswith("yuvj")
    small = min(facts.coded_size) <= 576 and max(facts.coded_size) < 1280
    return "smpte170m" if small or full_range_jpeg else "bt709"


def chain(
    facts: ClipFacts,
    *,
    pixels: Pixels,
    size: tuple[int, int],
    crop: Box | None,
    pick: str,
) -> str:
    """Return the filter chain: deinterlace, pick frames, crop, scale, convert colours.

    Parameters
    ----------
    facts : ClipFacts
    pixels : {"rgb24", "rgba", "i420"}
    size : (int, int)
        Size that comes out.
    crop : Box or None
        In delivered pixels.
    pick : str
        Expression of the select filter; empty for every frame.
    """
    parts = ["bwdif=mode=send_frame:deint=interlaced"] if facts.interlaced else []
    if pick:
        parts.append(f"select='{pick}'")
    if pixels == "i420":
        return ",".join([*parts, *_own_codes(facts, size, crop)])
    if facts.transfer in HDR:
        return ",".join([*parts, *_tone_mapped(facts, size, crop), f"format={pixels}", "setsar=1"])
    if facts.alpha != "none":
        return ",".join([*parts, *_with_alpha(facts, size, crop, pixels), "setsar=1"])
    return ",".join([*parts, *_cut(facts, size, crop, "rgb24"), f"format={pixels}", "setsar=1"])


def _cut(facts: ClipFacts, size: tuple[int, int], crop: Box | None, between: str) -> list[str]:
    """Crop and scale; `between` is the format for cuts that chroma samples do not allow."""
    codes = _reading(facts)
    plain = Box(0, 0, *facts.size)
    if crop is None or crop == plain:
        return [_scale(size, codes)]
    if facts.sample_aspect == 1 and _on_samples(facts, crop):
        return [_crop(crop), _scale(size, codes)]
    whole = [_scale(facts.size, codes), f"format={between}", _crop(crop)]
    return whole if size == (crop.width, crop.height) else [*whole, _scale(size, "")]


def _with_alpha(facts: ClipFacts, size: tuple[int, int], crop: Box | None, pixels: Pixels) -> list[str]:
    whole = crop or Box(0, 0, *facts.size)
    resized = size != (whole.width, whole.height) or facts.sample_aspect != 1
    straight = facts.alpha == "straight"
    if not resized and not (straight and pixels == "rgb24"):
        return [*_cut(facts, size, crop, "rgba"), f"format={pixels}"]
    # colours under no coverage must not leak into the figure's rim: weigh by alpha, resample, divide
    deep = "gbrap16le"
    parts = [_scale(facts.coded_upright, _reading(facts)), f"format={deep}"]
    if straight:
        parts.append("premultiply=inplace=1")
    if crop is not None:
        parts += [_scale(facts.size, ""), _crop(crop)] if facts.sample_aspect != 1 else [_crop(crop)]
    parts.append(_scale(size, ""))
    if straight and pixels == "rgba":
        parts.append("unpremultiply=inplace=1")
    return [*parts, f"format={pixels}"]


def _tone_mapped(facts: ClipFacts, size: tuple[int, int], crop: Box | None) -> list[str]:
    peak = _PEAK_CD_M2 / WHITE_CD_M2
    return [
        *_cut(facts, size, crop, "yuv444p10le"),
        "format=yuv444p10le",
        f"zscale=tin={HDR[facts.transfer]}:pin=bt2020:min=2020_ncl:rin={facts.range}"
        f":t=linear:npl={WHITE_CD_M2}:p=bt2020",
        "format=gbrpf32le",
        "zscale=p=bt709",
        f"tonemap=mobius:desat=0:peak={peak:.5f}",
        "zscale=t=iec61966-2-1:r=full",
        "format=gbrp",
    ]


def _own_codes(facts: ClipFacts, size: tuple[int, int], crop: Box | None) -> list[str]:
    """Keep the file's own codes: neither range nor matrix is changed."""
    parts = [_crop(crop)] if crop is not None else []
    if facts.pixel_format.startswith(_YUV):
        matrix = matrix_of(facts)
        codes = _kept(facts, matrix)
    else:
        codes = ":out_range=limited:out_color_matrix=bt709"
    return [*parts, _scale(size, codes), "format=yuv420p"]


def _reading(facts: ClipFacts) -> str:
    """How swscale shall read the stored codes."""
    if not facts.pixel_format.startswith(_YUV):
        return ""
    if facts.transfer in HDR:
        return _kept(facts, "bt2020nc")
    return f":in_range={facts.range}:in_color_matrix={matrix_of(facts)}"


def _kept(facts: ClipFacts, matrix: str) -> str:
    """Read and write the same range and matrix: codes stay."""
    return (
        f":in_range={facts.range}:out_range={facts.range}:in_color_matrix={matrix}:out_color_matrix={matrix}"
    )


def _on_samples(facts: ClipFacts, box: Box) -> bool:
    """Return whether the box begins and ends between chroma samples."""
    name = facts.pixel_format
    if not name.startswith((_YUV, "nv", "p0")) or "444" in name:
        return True
    step = 4 if "411" in name or "410" in name else 2
    ends = (
        box.right % step == 0 or box.right == facts.size[0],
        box.bottom % step == 0 or box.bottom == facts.size[1],
    )
    return box.x % step == 0 and box.y % step == 0 and all(ends)


def _crop(box: Box) -> str:
    return f"crop={box.width}:{box.height}:{box.x}:{box.y}:exact=1"


def _scale(size: tuple[int, int], codes: str) -> str:
    return f"scale={size[0]}:{size[1]}:flags={ACCURATE}{codes}"
