"""Searches for the best quality that the limits allow, file by file."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from ghostprep.errors import InputError, JobError
from ghostprep.player.attempt import Attempt, Measured
from ghostprep.player.encode.ffv1 import ffv1_arguments
from ghostprep.player.encode.h264 import h264_arguments
from ghostprep.player.encode.mjpeg import mjpeg_arguments
from ghostprep.player.profile import Profile

BLACK_NEAR: Final = 0.95
"""Share of the pixels within 4 px of the figure that must be black exactly."""
BLACK_FAR: Final = 0.9995
"""The same for those farther away."""

# encoder's own quality figures, best first
_STEPS: Final[dict[str, tuple[float, ...]]] = {
    "h264": (14, 10, 6, 3),
    "mjpeg": (1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 25, 31),
    "ffv1": (0,),
}


class RateControl:
    """Proposes encodings until the best one within the profile's limits is found.

    Parameters
    ----------
    profile : Profile
    raster : (int, int)
        Width and height in pixels.
    rate : Fraction
        Frames a second.
    frames : int
        Frames of the loop.

    Raises
    ------
    InputError
        The player takes no such raster or rate.

    Examples
    --------
    >>> from ghostprep.player.profile_files import load_profile
    >>> control = RateControl(load_profile("mjpeg-avi-qvga"), (320, 240), Fraction(15), 120)
    >>> attempt = control.first()
    >>> attempt = control.next(attempt, Measured(bytes=3_000_000, largest_frame=25_000))
    >>> attempt.quality
    5
    """

    def __init__(self, profile: Profile, raster: tuple[int, int], rate: Fraction, frames: int) -> None:
        where = f"profile {profile.name}"
        if not profile.raster.takes(raster):
            raise InputError(
                f"the player does not take a raster of {raster[0]}x{raster[1]}",
                where=where,
                remedy=f"it takes {profile.raster.in_words()}",
            )
        if not profile.rate.takes(rate):
            raise InputError(
                f"the player does not take {float(rate):g} frames a second",
                where=where,
                remedy=f"it takes {profile.rate.in_words()}",
            )
        self._profile, self._raster, self._rate, self._frames = profile, raster, rate, frames
        self._steps = _STEPS[profile.codec]
        self._tried: dict[int, Attempt] = {}
        self._good: dict[int, Measured] = {}
        self._bad: set[int] = set()

    def first(self) -> Attempt:
        """Return the first encoding to try."""
        return self._attempt(0)

    def next(self, attempt: Attempt, measured: Measured) -> Attempt | None:
        """Take in what came of an attempt; return the next one, or None when the search is over."""
        at = next(index for index, tried in self._tried.items() if tried == attempt)
        if self._within(measured):
            self._good[at] = measured
        else:
            self._bad.add(at)
        following = self._following(at, measured)
        return None if following is None or following in self._tried else self._attempt(following)

    @property
    def best(self) -> Attempt:
        """The attempt to keep.

        Raises
        ------
        JobError
            None of the attempts stayed within the limits.
        """
        if not self._good:
            raise JobError(
                "the picture does not fit the player's limits even at the lowest quality",
                where=f"profile {self._profile.name}",
                remedy="make the figure smaller, choose a lower --fps or another --player",
            )

        def merit(at: int) -> tuple[bool, float, float]:
            made = self._good[at]
            near, far = made.black_near, made.black_far
            black = (near is None or near >= BLACK_NEAR) and (far is None or far >= BLACK_FAR)
            return black, near or 0.0, -self._tried[at].quality

        return self._tried[max(self._good, key=merit)]

    def _attempt(self, index: int) -> Attempt:
        quality = self._steps[index]
        match self._profile.codec:
            case "h264":
                arguments = h264_arguments(self._profile, self._raster, self._rate, quality)
            case "mjpeg":
                arguments = mjpeg_arguments(self._profile, quality)
            case _:
                arguments = ffv1_arguments()
        attempt = Attempt(len(self._tried), quality, arguments)
        self._tried[index] = attempt
        return attempt

    def _within(self, made: Measured) -> bool:
        bits = self._profile.bits
        return (
            made.bytes <= self._profile.largest_bytes
            and (bits.frame_bytes is None or made.largest_frame <= bits.frame_bytes)
            and (bits.header_bytes is None or made.header_bytes <= bits.header_bytes)
            and (bits.rate_kbps is None or made.peak_kbps <= bits.rate_kbps)
            and (bits.buffer_kbit is None or made.buffer_kbit <= bits.buffer_kbit)
        )

    def _following(self, at: int, made: Measured) -> int | None:
        """Return the step to try next: halve between the best that fits and the rest."""
        if self._profile.codec == "h264":
            near, far = made.black_near, made.black_far
            black = (near is None or near >= BLACK_NEAR) and (far is None or far >= BLACK_FAR)
            return None if black or at + 1 >= len(self._steps) or at in self._bad else at + 1
        worst_bad = max(self._bad, default=-1)
        best_good = min(self._good, default=len(self._steps))
        if best_good - worst_bad <= 1:
            return None
        return (best_good + worst_bad) // 2
