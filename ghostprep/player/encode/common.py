"""Arguments that every encoder shares: colour and a file that is the same each time."""

from __future__ import annotations

from typing import Final

from ghostprep.player.profile import ColourLimits

REPEATABLE: Final = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags", "+bitexact")
"""No date and no version is written, so the same frames give the same bytes."""

_FFMPEG_MATRIX: Final = {"bt709": "bt709", "bt601": "smpte170m"}


def colour_arguments(colour: ColourLimits) -> tuple[str, ...]:
    """Return the conversion from full-range RGB to the player's 4:2:0, and its tags.

    The matrix and range are named on both sides: left to itself ffmpeg takes BT.601 here.
    """
    matrix = _FFMPEG_MATRIX[colour.matrix]
    short = "tv" if colour.range == "limited" else "pc"
    scale = (
        f"scale=in_range=pc:out_range={short}:out_color_matrix={colour.matrix}"
        ":flags=bilinear+accurate_rnd+full_chroma_int+full_chroma_inp"
    )
    tags = f"setparams=range={short}:colorspace={matrix}:color_primaries=bt709:color_trc=bt709"
    return ("-vf", f"{scale},format=yuv420p,{tags}")
