"""Sound as each player takes it, in step with the picture from the first sample on."""

from __future__ import annotations

from typing import Final

from ghostprep.errors import InputError
from ghostprep.player.profile import Profile

_CODINGS: Final[dict[str, tuple[tuple[str, ...], int]]] = {
    # ffmpeg's arguments, and by how many samples the encoder delays the sound
    "pcm": (("-c:a", "pcm_s16le", "-ac", "1"), 0),
    "mp2": (("-c:a", "mp2", "-b:a", "128k", "-ac", "2"), 481),
    "mp3": (("-c:a", "libmp3lame", "-b:a", "128k", "-ac", "2"), 1105),
    "aac": (("-c:a", "aac", "-profile:a", "aac_low", "-b:a", "96k", "-ac", "2"), 1024),
}
RATE: Final = 44100
"""Samples a second: the one rate that all small players take."""
KBPS: Final = {"none": 0, "pcm": 706, "mp2": 128, "mp3": 128, "aac": 96}
"""Bit rate of each coding in 1000 bit/s."""


def sound_arguments(profile: Profile, *, laps: int = 1) -> tuple[str, ...]:
    """Return ffmpeg's arguments for the sound stream.

    An encoder that looks ahead puts silence before the sound, and an edit list that skips it
    is not written (players differ in reading it). So as many samples are left out at the start:
    the first few milliseconds are silent, and the rest is in step.

    Parameters
    ----------
    laps : int
        How often the sound is played in a row.

    Raises
    ------
    InputError
        The player takes no sound.
    """
    if profile.sound == "none":
        raise InputError(
            "the player takes no sound", where=f"profile {profile.name}", remedy="leave out --sound keep"
        )
    coding, late = _CODINGS[profile.sound]
    steps = [f"aresample={RATE}"]
    if laps > 1:
        steps.append(f"aloop=loop={laps - 1}:size={2**31 - 1}")
    if late:
        steps.append(f"atrim=start_sample={late},asetpts=N/SR/TB")
    # the first packet's time is negative by the delay; it is where the file begins
    shift = ("-bsf:a", "setts=pts=PTS-STARTPTS:dts=DTS-STARTDTS") if late else ()
    return (*coding, "-ar", str(RATE), "-af", ",".join(steps), *shift)
