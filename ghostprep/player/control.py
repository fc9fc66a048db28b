"""Searches for the best quality that the limits allow, file by file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import Final, Literal

from ghostprep.arrays import Frame, Frames
from ghostprep.errors import InputError, JobError
from ghostprep.parallel import in_order
from ghostprep.player.attempt import Attempt, Setting, Shape, ladder
from ghostprep.player.encode import arguments_for
from ghostprep.player.encode.regions import Stretches
from ghostprep.player.guard import to_planes
from ghostprep.player.measured import Measured
from ghostprep.player.profile import Profile
from ghostprep.player.profile_files import raster_refused
from ghostprep.player.search import Search, lively_part
from ghostprep.player.settle import settled
from ghostprep.player.silhouette import Silhouette


def check_taken(profile: Profile, raster: tuple[int, int], rate: Fraction) -> None:
    """Refuse a raster or a rate, in frames a second, that the player does not take."""
    where = f"profile {profile.name}"
    if refused := raster_refused(profile, raster):
        what, remedy = refused
        raise InputError(f"the player {what}", where=where, remedy=remedy)
    if not profile.rate.takes(rate):
        what = f"the player does not take {float(rate):g} frames a second"
        raise InputError(what, where=where, remedy=f"it takes {profile.rate.in_words()}")


class RateControl:
    """Proposes encodings until the best one within the profile's limits is found.

    Parameters
    ----------
    raster, rate, frames
        Width and height in pixels; frames a second; frames of the loop.
    keyed : bool, optional
        Whether there is black around a figure to be kept black.
    loop : Frames, optional
        The frames themselves. Without them nothing is tried on a part, and no bits are bought for black.
    """

    def __init__(
        self,
        profile: Profile,
        raster: tuple[int, int],
        rate: Fraction,
        frames: int,
        *,
        keyed: bool = True,
        loop: Frames | None = None,
    ) -> None:
        check_taken(profile, raster, rate)
        self._profile = profile
        self._loop = loop
        self._shape = Shape(raster, rate, frames)
        self._bought = keyed and loop is not None and profile.codec in ("h264", "hevc")
        rungs = ladder(profile, keyed=keyed, bought=self._bought)
        # where single frames are limited, only the whole loop shows its largest one
        flows = profile.bits.rate_kbps is not None and profile.bits.frame_bytes is None
        # at its finest a figure on black took .3 to .8 bits a pixel: who takes 1 gets the finest at once
        pixels = raster[0] * raster[1] * rate
        plenty = self._bought and (profile.bits.rate_kbps or 0) * 1000 >= pixels
        self._part = lively_part(loop, rate) if loop is not None and flows and not plenty else None
        self._search = Search(rungs, in_part=self._part is not None, ceiling=flows)
        self._attempts: list[Attempt] = []
        self._wanted: Setting | None = None
        self._silhouettes: dict[tuple[int, int] | None, Silhouette] = {}

    @property
    def asks_for_black(self) -> bool:
        """Whether the search turns on how much black comes back, so that it must be measured."""
        return self._bought

    @property
    def needed_kbps(self) -> float | None:
        """About the bit rate at which enough black would hold, where that was tried; else None."""
        load, taken = self._search.kept_load, self._profile.bits.rate_kbps
        return load * taken if load and taken else None

    def first(self) -> Attempt:
        """Return the first encoding to try."""
        attempt = self._following()
        assert attempt is not None, "no search ends before it begins"
        return attempt

    def next(self, attempt: Attempt, measured: Measured) -> Attempt | None:
        """Take in what came of an attempt; return the next one, or None when the search is over."""
        if attempt.draft and self._wanted is not None:
            return self._attempt(self._wanted)
        self._search.take(attempt.setting, measured, self._load(measured))
        return self._following()

    def _following(self) -> Attempt | None:
        wanted = self._wanted = self._search.following()
        if wanted is None:
            return None
        drafted = self._search.cost(wanted) == 1
        return self._attempt(wanted if drafted else wanted.draft, draft=not drafted)

    def is_best(self, attempt: Attempt) -> bool:
        """Return whether an attempt is the best so far, so that its file must be kept."""
        return self._best_so_far() == attempt

    @property
    def best(self) -> Attempt:
        """The best attempt that kept black, else the blackest; JobError: none stays within the limits."""
        best = self._best_so_far()
        if best is None:
            raise self.nothing_fits()
        return best

    def nothing_fits(self) -> JobError:
        """Return the error to raise where none of the attempts stayed within the limits."""
        what = "the picture does not fit the player's limits even at the lowest quality"
        remedy = "make the figure smaller, choose a lower --fps or another --player"
        return JobError(what, where=f"profile {self._profile.name}", remedy=remedy)

    def _best_so_far(self) -> Attempt | None:
        merits = [(self._search.merit(one.setting), one) for one in self._attempts if one.part is None]
        fitting = [(merit, one) for merit, one in merits if merit is not None]
        return max(fitting, key=lambda pair: pair[0])[1] if fitting else None

    def _load(self, made: Measured) -> float:
        """Return the largest part of one of the player's limits that a file uses."""
        bits = self._profile.bits
        rate = made.mean_kbps if bits.buffer_kbit else made.peak_kbps
        pairs = (
            *((made.bytes, self._profile.largest_bytes), (made.largest_frame, bits.frame_bytes)),
            *((made.header_bytes, bits.header_bytes), (rate, bits.rate_kbps)),
        )
        load = max(value / most for value, most in pairs if most)
        # where the rate is exceeded anyway, the buffer would only say so again
        if bits.buffer_kbit and load <= 1:
            load = max(load, made.buffer_kbit / bits.buffer_kbit)
        return load

    def _attempt(self, setting: Setting, *, draft: bool = False) -> Attempt:
        part = self._part if self._search.in_part else None
        shape = self._shape if part is None else replace(self._shape, frames=part[1] - part[0])
        regions: Stretches = ()
        if setting.rim is not None:
            rest = min(0.0, _DEAR - setting.quality)
            away = setting.rim - setting.quality
            regions = self._silhouette(part).offsets(rim=away, share=setting.share, rest=rest)
        whole = self._profile.codec == "ffv1"

        def prepare(frames: Iterable[Frame], drafted: Iterable[Frame]) -> Iterator[Frame]:
            if whole:
                return iter(frames)
            if setting.settled:
                black = 16 if self._profile.colour.range == "limited" else 0
                return settled(frames, drafted, setting.guard, black=black, hold=setting.hold)
            centred = self._profile.codec in ("mjpeg", "mpeg1")
            planes = partial(to_planes, colour=self._profile.colour, guard=setting.guard, centred=centred)
            return in_order(planes, frames)

        arguments = arguments_for(self._profile, shape, setting, regions, draft=draft)
        pixels: Literal["rgb24", "i420"] = "rgb24" if whole else "i420"
        attempt = Attempt(len(self._attempts), setting, arguments, pixels, draft, part, prepare)
        self._attempts.append(attempt)
        return attempt

    def _silhouette(self, part: tuple[int, int] | None) -> Silhouette:
        """Return where the figure's rim runs in the loop or a part of it."""
        assert self._loop is not None, "only then is black bought"
        if part not in self._silhouettes:
            silhouette = Silhouette(self._shape.raster, max(1, int(self._shape.rate)))
            silhouette.add(map(self._loop.__getitem__, range(*(part or (0, self._shape.frames)))))
            self._silhouettes[part] = silhouette
        return self._silhouettes[part]


_DEAR: Final = 12
"""Quantiser of near blocks that cost too much to be coded at the rim's."""
