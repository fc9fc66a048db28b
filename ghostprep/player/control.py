"""Searches for the best quality that the limits allow, file by file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.errors import InputError, JobError
from ghostprep.player.attempt import Attempt, Setting, Shape
from ghostprep.player.encode import arguments_for
from ghostprep.player.guard import to_planes
from ghostprep.player.h264_level import in_macroblocks
from ghostprep.player.ladder import ladder
from ghostprep.player.measured import Measured
from ghostprep.player.profile import Profile
from ghostprep.player.search_keyed import KeyedSearch, Start
from ghostprep.player.search_ladder import LadderSearch
from ghostprep.player.settle import settled
from ghostprep.player.silhouette import Silhouette

Frame: TypeAlias = npt.NDArray[np.uint8]

_SMALL: Final = 400
"""Macroblocks up to which a thorough search takes no time."""
_RICH: Final = 200
"""Bits for each macroblock from which the finest quality nearly always fits."""
_DEAR: Final = 12
"""Quantiser of near blocks that cost too much to be coded at the rim's."""


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
    keyed : bool, optional
        Whether there is black around a figure to be kept black.
    part : callable, optional
        Gives the first frame, and the one after the last, of a part that is about as lively as the whole, or
        None: settings that are tried only to learn from them are tried on it. Called only if there are any.

    Raises
    ------
    InputError
        The player takes no such raster or rate.

    Examples
    --------
    >>> from ghostprep.player.profile_files import load_profile
    >>> profile = load_profile("mjpeg-avi-qvga")
    >>> control = RateControl(profile, (320, 240), Fraction(15), 120, keyed=True)
    >>> attempt = control.first()
    >>> attempt.quality
    0.25
    >>> attempt = control.next(attempt, Measured(bytes=3_000_000, largest_frame=25_000))
    >>> attempt.quality
    0.5
    """

    def __init__(
        self,
        profile: Profile,
        raster: tuple[int, int],
        rate: Fraction,
        frames: int,
        *,
        keyed: bool = True,
        part: Callable[[], tuple[int, int] | None] = lambda: None,
    ) -> None:
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
        self._profile = profile
        self._shape = Shape(raster, rate, frames)
        self._part: tuple[int, int] | None = None
        self._search = self._way(keyed=keyed, part=part)
        self._attempts: list[Attempt] = []
        self._silhouette: Silhouette | None = None

    def _way(self, *, keyed: bool, part: Callable[[], tuple[int, int] | None]) -> KeyedSearch | LadderSearch:
        """Return how to search: black is bought where an encoder takes regions."""
        profile = self._profile
        across, down = in_macroblocks(self._shape.raster)
        small = across * down <= _SMALL
        if not keyed or profile.codec not in _FINEST:
            rungs = ladder(profile, keyed=keyed, small=small)
            return LadderSearch(rungs, ceiling=profile.bits.rate_kbps is not None)
        finest = _FINEST[profile.codec]
        bits = (profile.bits.rate_kbps or 10**9) * 1000 / float(across * down * self._shape.rate)
        first = finest if bits > _RICH or not small else _USUAL
        careful = small and profile.codec == "h264"
        if first != finest:
            # else bits are plenty, and the first pair is likely to be the last
            self._part = part()
        return KeyedSearch(Start(finest, first, careful=careful, in_part=self._part is not None))

    @property
    def asks_for_black(self) -> bool:
        """Whether the search turns on how much black comes back, so that it must be measured."""
        return self._search.asks_for_black

    @property
    def needed_kbps(self) -> float | None:
        """Where black had to give way: about the bit rate at which enough of it would hold; else None."""
        return self._search.needed_kbps

    def first(self) -> Attempt:
        """Return the first encoding to try."""
        setting = self._search.following()
        assert setting is not None, "no search ends before it begins"
        return self._attempt(setting)

    def next(self, attempt: Attempt, measured: Measured) -> Attempt | None:
        """Take in what came of an attempt; return the next one, or None when the search is over."""
        self._search.take(attempt.setting, measured, self._load(measured))
        setting = self._search.following()
        return None if setting is None else self._attempt(setting)

    def is_best(self, attempt: Attempt) -> bool:
        """Return whether an attempt is the best so far, so that its file must be kept."""
        return self._best_so_far() == attempt

    @property
    def best(self) -> Attempt:
        """The attempt to keep: the best picture that kept black, else the blackest.

        Raises
        ------
        JobError
            None of the attempts stayed within the limits.
        """
        best = self._best_so_far()
        if best is None:
            raise self.nothing_fits()
        return best

    def nothing_fits(self) -> JobError:
        """Return the error to raise where none of the attempts stayed within the limits."""
        return JobError(
            "the picture does not fit the player's limits even at the lowest quality",
            where=f"profile {self._profile.name}",
            remedy="make the figure smaller, choose a lower --fps or another --player",
        )

    def _best_so_far(self) -> Attempt | None:
        merits = [(self._search.merit(one.setting), one) for one in self._attempts]
        fitting = [(merit, one) for merit, one in merits if merit is not None]
        return max(fitting, key=lambda pair: pair[0])[1] if fitting else None

    def _load(self, made: Measured) -> float:
        """Return the largest part of one of the player's limits that a file uses."""
        bits = self._profile.bits
        rate = made.mean_kbps if bits.buffer_kbit else made.peak_kbps
        pairs = (
            (made.bytes, self._profile.largest_bytes),
            (made.largest_frame, bits.frame_bytes),
            (made.header_bytes, bits.header_bytes),
            (rate, bits.rate_kbps),
        )
        load = max(value / most for value, most in pairs if most)
        # a buffer that runs over for want of rate says nothing that the rate does not say
        if bits.buffer_kbit and load <= 1:
            load = max(load, made.buffer_kbit / bits.buffer_kbit)
        return load

    def _attempt(self, setting: Setting) -> Attempt:
        regions = []
        if self._silhouette is not None and setting.rim is not None:
            away = setting.rim - setting.quality
            rest = min(0.0, _DEAR - setting.quality)
            regions = self._silhouette.offsets(rim=away, share=setting.share, rest=rest)
        part = self._part if self._search.in_part else None
        shape = self._shape if part is None else replace(self._shape, frames=part[1] - part[0])
        arguments = arguments_for(self._profile, shape, setting, regions)
        whole = self._profile.codec == "ffv1"
        from_draft = setting.rim is not None

        def prepare(frames: Iterable[Frame], drafted: Iterable[Frame]) -> Iterator[Frame]:
            if whole:
                return iter(frames)
            if from_draft:
                black = 16 if self._profile.colour.range == "limited" else 0
                return settled(frames, drafted, setting.guard, black=black, hold=setting.hold)
            return self._planes(frames, setting, shape.frames)

        attempt = Attempt(
            len(self._attempts),
            setting,
            arguments,
            "rgb24" if whole else "i420",
            draft=self._search.is_draft(setting),
            from_draft=from_draft,
            part=part,
            _prepare=prepare,
        )
        self._attempts.append(attempt)
        return attempt

    def _planes(self, frames: Iterable[Frame], setting: Setting, count: int) -> Iterator[Frame]:
        """Yield the frames as planes; the first time, take note of where the figure's rim runs in them."""
        note = None
        known = self._silhouette is not None and self._silhouette.frames == count
        if not known and self._search.is_draft(setting):
            note = Silhouette(self._shape.raster, max(1, int(self._shape.rate)))
        centred = self._profile.codec in ("mjpeg", "mpeg1")
        for frame in frames:
            if note is not None:
                note.add(frame)
            yield to_planes(frame, self._profile.colour, setting.guard, centred=centred)
        self._silhouette = note or self._silhouette


_FINEST: Final = {"h264": 11, "hevc": 12}
"""Quantisers below which nobody would see a difference, of the encoders that take regions."""
_USUAL: Final = 20
"""Quantiser to begin with where bits are few."""
