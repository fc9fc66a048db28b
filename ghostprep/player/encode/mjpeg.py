"""Motion JPEG for small boards."""

from __future__ import annotations

from typing import Final

from ghostprep.player.encode.common import FORMS, REPEATABLE, colour_tags
from ghostprep.player.profile import Profile

_FINEST: Final = 8
"""ffmpeg's quantiser scale 1 divides its tables by 8: entries of 8 are steps of 1, the finest there are."""


def mjpeg_arguments(profile: Profile, quality: float) -> tuple[str, ...]:
    """Return ffmpeg's output arguments, for frames that come in as i420.

    `quality` is ffmpeg's quantiser scale, 1 to 31. Below 1 its tables are made finer: 0.75 the one for
    chroma, 0.5 and 0.25 also the one for luma.
    """
    tables: tuple[str, ...] = ()
    if quality < 1:
        tables = ("-chroma_intra_matrix", _table(_FINEST))
    if quality < 0.75:
        tables += ("-intra_matrix", _table(_FINEST if quality < 0.5 else 3 * _FINEST))
    return (
        "-vf", colour_tags(profile.colour),
        "-c:v", "mjpeg",
        # boards that hold the tables of T.81 Annex K in ROM decode no others
        "-huffman", "default",
        "-qmin", "1",
        "-q:v", f"{max(quality, 1):g}",
        # saves a little; with fine tables it would trade exact black for it
        *(("-trellis", "1") if quality >= 1 else ()),
        *tables,
        *REPEATABLE,
        *FORMS[profile.container],
    )  # fmt: skip


def _table(finest_detail: int) -> str:
    """Return a table that is finest for flat areas and rises to `finest_detail` for the finest detail."""
    rise = (finest_detail - _FINEST) / 14
    return ",".join(str(round(_FINEST + rise * (i // 8 + i % 8))) for i in range(64))
