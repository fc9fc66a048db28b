"""What encoders share: how a container is written, colour tags, sound, a file that is the same each time."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError
from ghostprep.player.profile import ColourLimits, Profile

REPEATABLE: Final = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags", "+bitexact")
"""No date and no version is written, so the same frames give the same bytes."""
FORMS: Final[dict[str, tuple[str, ...]]] = {
    # the index first, so that a player can start at once; no edit list, which many pass over
    "mp4": ("-movflags", "+faststart", "-use_editlist", "0", "-f", "mp4"),
    "avi": ("-f", "avi"),
    "mkv": ("-f", "matroska"),
    "mpeg-ps": ("-f", "mpeg"),
    "h264-stream": ("-f", "h264"),
    "jpeg-stream": ("-f", "mjpeg"),
}
"""ffmpeg's arguments for each container of `Profile`."""

_CODINGS: Final[dict[str, tuple[tuple[str, ...], int]]] = {
    # ffmpeg's arguments, and by how many samples the encoder delays the sound
    "pcm": (("-c:a", "pcm_s16le", "-ac", "1"), 0),
    "mp2": (("-c:a", "mp2", "-b:a", "128k", "-ac", "2"), 481),
    "mp3": (("-c:a", "libmp3lame", "-b:a", "128k", "-ac", "2"), 1105),
    "aac": (("-c:a", "aac", "-profile:a", "aac_low", "-b:a", "96k", "-ac", "2"), 1024),
}
SOUND_RATE: Final = 44100
"""Samples a second: the one rate that all small players take."""
SOUND_KBPS: Final = {"none": 0, "pcm": 706, "mp2": 128, "mp3": 128, "aac": 96}
"""Bit rate of each coding in 1000 bit/s."""


def key_interval(profile: Profile, rate: Fraction) -> int:
    """Return the most frames from one that stands on its own to the next, at a frame rate."""
    return max(1, int(rate * Fraction(profile.key_s)))


def colour_tags(colour: ColourLimits) -> str:
    """Return the filter that tags frames that come in as i420 with what they are."""
    matrix = {"bt709": "bt709", "bt601": "smpte170m"}[colour.matrix]
    return (
        f"setparams=range={'tv' if colour.range == 'limited' else 'pc'}"
        f":colorspace={matrix}:color_primaries=bt709:color_trc=bt709"
    )


def sound_arguments(profile: Profile, *, laps: int = 1) -> tuple[str, ...]:
    """Return ffmpeg's arguments for sound that is played `laps` times; InputError: the player takes none.

    An encoder that looks ahead puts silence before the sound, and an edit list that skips it
    is not written (players differ in reading it). So as many samples are left out at the start:
    the first few milliseconds are silent, and the rest is in step.
    """
    if profile.sound == "none":
        raise InputError(
            "the player takes no sound", where=f"profile {profile.name}", remedy="leave out --sound keep"
        )
    coding, late = _CODINGS[profile.sound]
    steps = [f"aresample={SOUND_RATE}"]
    if laps > 1:
        steps.append(f"aloop=loop={laps - 1}:size={2**31 - 1}")
    if late:
        steps.append(f"atrim=start_sample={late},asetpts=N/SR/TB")
    # the first packet's time is negative by the delay; it is where the file begins
    shift = ("-bsf:a", "setts=pts=PTS-STARTPTS:dts=DTS-STARTDTS") if late else ()
    return (*coding, "-ar", str(SOUND_RATE), "-af", ",".join(steps), *shift)
