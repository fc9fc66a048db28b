"""H.264 for players: closed groups, no B-frames, black kept black."""

from __future__ import annotations

from fractions import Fraction

from ghostprep.errors import InputError
from ghostprep.player.encode.common import REPEATABLE, colour_arguments
from ghostprep.player.h264_level import Level, bit_unit, fits_level, least_level, level_named
from ghostprep.player.profile import Profile

_FFMPEG_PROFILE = {"constrained-baseline": "baseline", "main": "main", "high": "high"}


def level_for(profile: Profile, raster: tuple[int, int], rate: Fraction) -> Level:
    """Return the level that a file for this player is marked with: the lowest it stays within.

    Raises
    ------
    InputError
        Raster and rate are more than the player's highest level allows.
    """
    limits = profile.h264
    if limits is None:
        raise ValueError("the profile is not for H.264")
    bit_rate, buffer_bits = bits_for(profile)
    top = level_named(limits.level)
    level = least_level(
        raster=raster,
        rate=rate,
        profile=limits.profile,
        bit_rate=bit_rate,
        buffer_bits=buffer_bits,
        references=limits.references,
    )
    if level is None or not fits_level(
        top,
        raster=raster,
        rate=rate,
        profile=limits.profile,
        bit_rate=bit_rate,
        buffer_bits=buffer_bits,
        references=limits.references,
    ):
        raise InputError(
            f"{raster[0]}x{raster[1]} at {float(rate):g} frames a second is more than H.264 level "
            f"{limits.level} allows",
            where=f"profile {profile.name}",
            remedy="choose a lower --fps, a smaller raster or another --player",
        )
    return level


def bits_for(profile: Profile) -> tuple[int, int]:
    """Return the highest bit rate and buffer in bit/s and bit: the profile's, within its level."""
    limits = profile.h264
    if limits is None:
        raise ValueError("the profile is not for H.264")
    top, unit = level_named(limits.level), bit_unit(limits.profile)
    rate = min((profile.bits.rate_kbps or 10**9) * 1000, top.rate_units * unit)
    buffer_bits = min((profile.bits.buffer_kbit or 10**9) * 1000, top.buffer_units * unit)
    return rate, buffer_bits


def h264_arguments(
    profile: Profile, raster: tuple[int, int], rate: Fraction, quality: float
) -> tuple[str, ...]:
    """Return ffmpeg's output arguments.

    Parameters
    ----------
    profile : Profile
    raster : (int, int)
        Width and height in pixels.
    rate : Fraction
        Frames a second.
    quality : float
        x264's rate factor; lower is better.
    """
    limits = profile.h264
    if limits is None:
        raise ValueError("the profile is not for H.264")
    level = level_for(profile, raster, rate)
    bit_rate, buffer_bits = bits_for(profile)
    key = max(1, int(rate * Fraction(profile.key_s)))
    tools = {
        "keyint": key,
        "min-keyint": key,
        "scenecut": 0,
        "open-gop": 0,
        "bframes": 0,
        "ref": limits.references,
        "weightp": 0,
        "mbtree": 0,
        "aq-mode": 0,
        "psy": 0,
        "nal-hrd": "none",
    }
    form: tuple[str, ...] = ("-movflags", "+faststart", "-use_editlist", "0", "-f", "mp4")
    filters = "filter_units=remove_types=6"
    if profile.container == "h264-stream":
        form = ("-f", "h264")
        filters += ",dump_extra=freq=keyframe"
    return (
        *colour_arguments(profile.colour),
        "-c:v", "libx264",
        "-preset", "slow",
        "-profile:v", _FFMPEG_PROFILE[limits.profile],
        "-level:v", level.name,
        "-crf", f"{quality:g}",
        "-maxrate", str(bit_rate),
        "-bufsize", str(buffer_bits),
        "-x264-params", ":".join(f"{name}={value}" for name, value in tools.items()),
        "-bsf:v", filters,
        *REPEATABLE,
        *form,
    )  # fmt: skip
