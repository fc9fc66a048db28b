"""H.264 for players: closed groups, no B-frames, black kept black."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.parallel import workers
from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode.common import FORMS, REPEATABLE, colour_tags, key_interval
from ghostprep.player.encode.regions import Stretches, regions_graph
from ghostprep.player.h264_level import Demand, H264Level, bit_unit, least_level, level_named
from ghostprep.player.profile import H264Limits, Profile

_FFMPEG_PROFILE: Final = {"constrained-baseline": "baseline", "main": "main", "high": "high"}
_SEAM_FINER: Final = 8
"""By how many quantisers the first and the last frame are finer.

Where a loop starts over, a picture that stands on its own follows one that was predicted many times over;
coarsely coded, the two differ by more than the figure moves. Fine, each is nearly the source.
"""
_BLACK_TOOLS: Final = {
    # no block traded for another ...
    "psy": 0,
    # ... but where a region asks for it: with aq-mode 0 x264 would not look at regions
    "aq-mode": 1,
    "aq-strength": 0.001,
    # an error in chroma spreads over twice as many pixels, and black needs neutral chroma too
    "chroma-qp-offset": -2,
    # the filter would soften the rim in a draft, and sharpening it again in the loop costs bits
    "no-deblock": 1,
}


def level_for(profile: Profile, raster: tuple[int, int], rate: Fraction) -> H264Level:
    """Return the level that a file for this player is marked with: the lowest it stays within.

    Raises
    ------
    InputError
        Raster and rate are more than the player's highest level allows.
    """
    limits = _limits(profile)
    bit_rate, buffer_bits = bits_for(profile)
    stream = Demand(
        raster=raster,
        rate=rate,
        profile=limits.profile,
        bit_rate=bit_rate,
        buffer_bits=buffer_bits,
        references=limits.references,
    )
    level = least_level(stream)
    if level is None or not stream.fits(level_named(limits.level)):
        asked = f"{raster[0]}x{raster[1]} at {float(rate):g} frames a second"
        what = f"{asked} is more than H.264 level {limits.level} allows"
        remedy = "choose a lower --fps, a smaller raster or another --player"
        raise InputError(what, where=f"profile {profile.name}", remedy=remedy)
    return level


def _limits(profile: Profile) -> H264Limits:
    if profile.h264 is None:
        raise ValueError("the profile is not for H.264")
    return profile.h264


def bits_for(profile: Profile) -> tuple[int, int]:
    """Return the highest bit rate and buffer in bit/s and bit: the profile's, within its level."""
    limits = _limits(profile)
    top, unit = level_named(limits.level), bit_unit(limits.profile)
    rate = min((profile.bits.rate_kbps or 10**9) * 1000, top.rate_units * unit)
    buffer_bits = min((profile.bits.buffer_kbit or 10**9) * 1000, top.buffer_units * unit)
    return rate, buffer_bits


def h264_arguments(
    profile: Profile, shape: Shape, setting: Setting, regions: Stretches, *, fast: bool
) -> tuple[str, ...]:
    """Return ffmpeg's output arguments, for frames that come in as i420.

    Without regions, see `Silhouette.offsets`, all blocks are alike. `fast` may take a few more bits for a
    third of the time.
    """
    limits = _limits(profile)
    level = level_for(profile, shape.raster, shape.rate)
    tags = colour_tags(profile.colour)
    # the encoder's own remarks (SEI) are of no use to a player
    filters = "filter_units=remove_types=6"
    if profile.container == "h264-stream":
        filters += ",dump_extra=freq=keyframe"
    return (
        "-vf", regions_graph(regions, tags),
        "-c:v", "libx264",
        "-preset", "veryfast" if fast else "medium",
        "-profile:v", _FFMPEG_PROFILE[limits.profile],
        "-level:v", level.name,
        "-crf", f"{setting.quality:g}",
        *(_ceiling(profile, shape.seconds) if setting.ceiling else ()),
        "-x264-params", _tools(profile, shape, setting, fast=fast),
        "-bsf:v", filters,
        *REPEATABLE,
        *FORMS[profile.container],
    )  # fmt: skip


def _ceiling(profile: Profile, seconds: Fraction) -> tuple[str, ...]:
    """Return the arguments that keep the mean over a loop, of `seconds`, under the bit rate."""
    bit_rate, buffer_bits = bits_for(profile)
    held = min(buffer_bits, bit_rate // 2)
    # what the buffer holds at the start comes on top of what flows in meanwhile
    start = 0.3
    flow = max(bit_rate * 0.97 - start * held / float(seconds), bit_rate * 0.3)
    return ("-maxrate", str(int(flow)), "-bufsize", str(held), "-rc_init_occupancy", str(int(start * held)))


def _tools(profile: Profile, shape: Shape, setting: Setting, *, fast: bool) -> str:
    """Return x264's own parameters."""
    key = key_interval(profile, shape.rate)
    tools: dict[str, object] = {
        **{"keyint": key, "min-keyint": key, "scenecut": 0, "open-gop": 0, "bframes": 0},
        **{"ref": _limits(profile).references, "weightp": 0},
        # every picture at the quantiser that was asked for: a key frame that is finer than the frames before
        # it is seen as a jump, once a key interval and where the player starts over
        **{"qcomp": 1, "ipratio": 1, "mbtree": 0},
        # left to itself it takes half as many more, and each holds 20 MB of a raster of 1080x1920
        "threads": workers(),
    }
    if shape.frames > 2:
        fine, last = max(1, round(setting.quality) - _SEAM_FINER), shape.frames - 1
        tools["zones"] = f"0,0,q={fine}/{last},{last},q={fine}"
    if not setting.plain:
        tools |= _BLACK_TOOLS
        if not fast:
            # the rim divides its blocks into black that stands and a figure that moves: small parts follow it
            tools["partitions"] = "all"
    if setting.rim is not None:
        # fast presets leave it out, and round what is left near black away from it: 3 % less of it comes back
        tools["trellis"] = 1
    return ":".join(f"{name}={value}" for name, value in tools.items())
