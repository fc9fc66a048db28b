"""What a builder reads of a player: a profile's limits in words, and what to look out for on its screen."""

from __future__ import annotations

from fractions import Fraction
from typing import Final, NamedTuple

from ghostprep.finding import Finding
from ghostprep.player.profile import Profile
from ghostprep.words import size_words

_CONTAINERS: Final = {
    "mp4": "MP4",
    "avi": "AVI",
    "mkv": "Matroska",
    "mpeg-ps": "MPEG program stream",
    "h264-stream": "bare H.264 stream",
    "jpeg-stream": "JPEG pictures one after the other",
}
_CODECS: Final = {
    "h264": "H.264",
    "hevc": "H.265 (HEVC)",
    "mjpeg": "Motion JPEG",
    "mpeg1": "MPEG-1",
    "mpeg4": "MPEG-4 Simple Profile",
    "ffv1": "FFV1, without loss",
}
_SOUNDS: Final = {"none": "none", "pcm": "PCM, 16 bit", "mp2": "MP2", "mp3": "MP3", "aac": "AAC"}
_LONG: Final = Fraction(37, 20)
"""Long over short side from which a screen is a phone's: others end at 16:9 (common practice)."""
_LEAST: Final = 1000
"""Pixels along the long side: players of few pixels have no such corners."""


class Limit(NamedTuple):
    """One limit: its name, the limit itself, and the reason for it (may be empty)."""

    name: str
    text: str
    why: str


def limits_in_words(profile: Profile) -> list[Limit]:
    """Return everything that a profile asks of a file, most important first."""
    bits, limits, why = profile.bits, profile.h264, profile.why
    rows: list[Limit] = []

    def add(name: str, text: str, *keys: str) -> None:
        rows.append(Limit(name, text, "; ".join(why[key] for key in keys if key in why)))

    add("file", f"{_CONTAINERS[profile.container]}, named *{profile.ending}", "container")
    codec = _CODECS[profile.codec]
    if limits is not None:
        codec += f" {limits.profile.replace('-', ' ')}, level {limits.level} at most"
    elif profile.level:
        codec += f", level {profile.level} at most"
    codec += f", marked {profile.tag}" if profile.tag else ""
    add("pictures", codec, "codec", "h264.profile", "h264.level", "level", "tag")
    add("raster", f"{profile.raster.in_words()}; usually {profile.raster.usual[0]}x{profile.raster.usual[1]}",
        "raster.choices", "raster.largest", "raster.multiple")  # fmt: skip
    add(
        "frames a second", profile.rate.in_words(), "rate.whole", "rate.choices", "rate.least", "rate.largest"
    )
    if limits is not None:
        count = limits.references
        add("references", f"{count} earlier frame{'s' if count > 1 else ''}", "h264.references")
    if bits.rate_kbps:
        add("bit rate", f"at most {bits.rate_kbps} kbit/s", "bits.rate_kbps")
    if bits.buffer_kbit:
        add("buffer", f"at most {bits.buffer_kbit} kbit", "bits.buffer_kbit")
    if bits.frame_bytes:
        add("largest frame", f"at most {bits.frame_bytes} bytes", "bits.frame_bytes")
    if bits.header_bytes:
        add("header", f"at most {bits.header_bytes} bytes before the first frame", "bits.header_bytes")
    if profile.codec in ("h264", "hevc", "mpeg1", "mpeg4"):
        add("key frames", f"at least every {profile.key_s:g} s", "key_s")
    black = "black is luma 16" if profile.colour.range == "limited" else "black is 0"
    add("colour", f"{profile.colour.range} range ({black}), {profile.colour.matrix.upper()}",
        "colour.range", "colour.matrix")  # fmt: skip
    if profile.colour.panel == "565":
        add("panel", "5, 6 and 5 bits of red, green and blue", "colour.panel")
    sound = _SOUNDS[profile.sound]
    silence = ", and silence if there is no sound" if profile.silence_needed else ""
    add(
        "sound", sound if profile.sound == "none" else f"none, or {sound}{silence}", "sound", "silence_needed"
    )
    add("file names", "short (8.3)" if profile.names == "8.3" else "long", "names")
    add("file size", f"at most {size_words(profile.largest_bytes)}", "largest_bytes")
    if profile.blank_s:
        add("start over", f"dark for up to {profile.blank_s:g} s", "blank_s")
    return rows


def about_screen(raster: tuple[int, int]) -> list[Finding]:
    """Return what to look out for on a screen of a raster (width, height).

    A phone's corners are round, a camera stands in its picture, and its system lays bars over it; none of
    that is known from the raster, so the builder is told where to look.

    Examples
    --------
    >>> [finding.subject for finding in about_screen((2400, 1080))], about_screen((3840, 2160))
    (['screen'], [])
    """
    long, short = max(raster), min(raster)
    if long < _LEAST or Fraction(long, short) < _LONG:
        return []
    return [
        Finding(
            "caution",
            "screen",
            f"{raster[0]}x{raster[1]} is a phone's screen: its round corners, the camera in it and the "
            "system's bars cut the picture",
            "play the chart in full screen and look whether all of its border is seen; keep the figure away "
            "from what is cut",
        )
    ]
