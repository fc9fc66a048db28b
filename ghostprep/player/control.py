"""Searches for the best quality that the limits allow, file by file."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from ghostprep.errors import InputError, JobError
from ghostprep.player.attempt import Attempt, Setting, Shape
from ghostprep.player.encode import arguments_for
from ghostprep.player.guard import to_planes
from ghostprep.player.ladder import ladder, variants
from ghostprep.player.measured import Measured
from ghostprep.player.profile import Profile
from ghostprep.player.silhouette import Silhouette
from ghostprep.player.steady import MEMORY, steadied

Frame: TypeAlias = npt.NDArray[np.uint8]

BLACK_NEAR: Final = 0.95
"""Share of the pixels within 4 px of the figure that must be black exactly."""
BLACK_FAR: Final = 0.9995
"""The same for those farther away."""


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
        Whether there is black around a figure to be kept black; left out: whether black is
        measured tells.

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
    7
    """

    def __init__(
        self,
        profile: Profile,
        raster: tuple[int, int],
        rate: Fraction,
        frames: int,
        *,
        keyed: bool | None = None,
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
        self._told = keyed is not None
        self._ladder = ladder(profile, keyed=keyed is not False)
        self._attempts: list[Attempt] = []
        self._made: dict[Setting, Measured] = {}
        self._silhouette: Silhouette | None = None
        self._last: deque[Frame] = deque()

    @property
    def asks_for_black(self) -> bool:
        """Whether the search turns on how much black comes back, so that it must be measured."""
        return self._ladder.black > 0

    def first(self) -> Attempt:
        """Return the first encoding to try."""
        return self._attempt(self._ladder.look or self._ladder.settings[0])

    def next(self, attempt: Attempt, measured: Measured) -> Attempt | None:
        """Take in what came of an attempt; return the next one, or None when the search is over."""
        self._made[attempt.setting] = measured
        if len(self._made) == 1 and measured.black_near is None and not self._told:
            self._ladder = ladder(self._profile, keyed=False)
        setting = self._following()
        return None if setting is None else self._attempt(setting)

    @property
    def best(self) -> Attempt:
        """The attempt to keep: the best picture that kept black, else the blackest.

        Raises
        ------
        JobError
            None of the attempts stayed within the limits.
        """
        fitting = [attempt for attempt in self._attempts if self._fits(attempt.setting)]
        if not fitting:
            raise JobError(
                "the picture does not fit the player's limits even at the lowest quality",
                where=f"profile {self._profile.name}",
                remedy="make the figure smaller, choose a lower --fps or another --player",
            )

        def merit(attempt: Attempt) -> tuple[bool, float, int]:
            made, rung = self._made[attempt.setting], self._rung(attempt.setting)
            asked = self._ladder.black
            if not asked or (rung < asked and self._black(attempt.setting)):
                return True, 0.0, -rung
            return False, made.black_near or 0.0, -rung

        return max(fitting, key=merit)

    def _following(self) -> Setting | None:
        """Return the setting to try next: halving between the best rung that is good and the rest."""
        settings, enough = self._ladder.settings, self._ladder.enough
        tried = sorted({self._rung(setting) for setting in self._made} - {len(settings)})
        good = next((rung for rung in tried if self._is_good(rung)), len(settings))
        bad = -1
        hurried = len(self._made) >= _MOST
        for rung in tried if not hurried else ():
            if rung >= good:
                break
            more = self._variant(rung)
            if more is not None:
                return more
            bad = rung
        if good <= enough or (bad >= self._ladder.black - 1 and self._some_asked_fits()):
            return None
        if good - bad > 1 and not hurried:
            # most loops are done at the first rung above which nothing is seen to be missing; and black
            # is looked for in all that asks for it before it is given up
            after = self._ladder.black if bad + 1 < self._ladder.black < good else good
            return settings[enough if bad < enough < good else (after + bad) // 2]
        if any(self._fits(setting) for setting in self._made):
            return None
        last = replace(settings[-1], ceiling=True)
        return None if last in self._made or self._profile.bits.rate_kbps is None else last

    def _some_asked_fits(self) -> bool:
        """Return whether a setting that asks for black fits, if only nearly black."""
        asked = self._ladder.black
        return any(self._fits(setting) and self._rung(setting) < asked for setting in self._made)

    def _rung(self, setting: Setting) -> int:
        for rung, step in enumerate(self._ladder.settings):
            if setting in variants(step):
                return rung
        return len(self._ladder.settings)

    def _is_good(self, rung: int) -> bool:
        return any(self._fits(one) and self._black(one) for one in variants(self._ladder.settings[rung]))

    def _variant(self, rung: int) -> Setting | None:
        """Return an untried variant of a rung that may be both small and black enough."""
        options = variants(self._ladder.settings[rung])
        least, most = -1, len(options)  # the last that is too large, the first that is not black
        for index, option in enumerate(options):
            if option not in self._made:
                continue
            fits, black = self._fits(option), self._black(option)
            if not (fits or black) or self._load(option) > _HOPELESS:
                return None
            if fits and black:
                return None
            if not fits:
                least = max(least, index)
            elif not black:
                most = min(most, index)
        if most - least <= 1:
            return None
        if least >= 0 and most < len(options):
            return options[(least + most) // 2]
        # a step takes about 0.01 from the share of near black
        known = least if least >= 0 else most
        away = ((self._made[options[known]].black_near or 0.0) - BLACK_NEAR) / 0.01
        if least >= 0:
            return options[min(least + max(1, int(away)), most - 1)]
        return options[max(most - max(1, round(-away)), least + 1)]

    def _load(self, setting: Setting) -> float:
        """Return the bit rate over the allowed one."""
        most = self._profile.bits.rate_kbps
        return self._made[setting].mean_kbps / most if most else 0.0

    def _fits(self, setting: Setting) -> bool:
        made, bits = self._made.get(setting), self._profile.bits
        if made is None:
            return False
        rate = made.mean_kbps if bits.buffer_kbit else made.peak_kbps
        return (
            made.bytes <= self._profile.largest_bytes
            and (bits.frame_bytes is None or made.largest_frame <= bits.frame_bytes)
            and (bits.header_bytes is None or made.header_bytes <= bits.header_bytes)
            and (bits.rate_kbps is None or rate <= bits.rate_kbps)
            and (bits.buffer_kbit is None or made.buffer_kbit <= bits.buffer_kbit)
        )

    def _black(self, setting: Setting) -> bool:
        if self._profile.codec != "h264":
            return True  # the other codings have no regions: black there is what it is, and is proven
        if self._rung(setting) >= self._ladder.black:
            return True
        near, far = self._made[setting].black_near, self._made[setting].black_far
        return (near is None or near >= BLACK_NEAR) and (far is None or far >= BLACK_FAR)

    def _attempt(self, setting: Setting) -> Attempt:
        regions = []
        if self._silhouette is not None and setting.rim is not None:
            away = setting.rim - setting.quality
            rest = min(0.0, _DEAR - setting.quality)
            regions = self._silhouette.offsets(rim=away, share=setting.share, rest=rest)
        arguments = arguments_for(self._profile, self._shape, setting, regions)
        whole = self._profile.codec == "ffv1"

        def prepare(frames: Iterable[Frame]) -> Iterator[Frame]:
            return iter(frames) if whole else self._planes(frames, setting)

        attempt = Attempt(len(self._attempts), setting, arguments, "rgb24" if whole else "i420", prepare)
        self._attempts.append(attempt)
        return attempt

    def _planes(self, frames: Iterable[Frame], setting: Setting) -> Iterator[Frame]:
        """Yield the frames as planes; the first time, take note of where the figure's rim runs."""
        if self._silhouette is None and self._profile.codec == "h264":
            frames = self._noted(frames)
        if setting.guard.still:
            frames = steadied(frames, setting.guard.still, before=tuple(self._last))
        centred = self._profile.codec in ("mjpeg", "mpeg1")
        for frame in frames:
            yield to_planes(frame, self._profile.colour, setting.guard, centred=centred)

    def _noted(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """Yield the frames, and take note of the rim and of how the loop ends."""
        note = Silhouette(self._shape.raster, max(1, int(self._shape.rate)))
        last: deque[Frame] = deque(maxlen=MEMORY)
        for frame in frames:
            note.add(frame)
            last.append(frame)
            yield frame
        self._silhouette, self._last = note, last


_MOST: Final = 14
"""Attempts after which the best so far is good enough."""

_HOPELESS: Final = 1.35
"""Load from which fewer bits for the rim alone cannot help."""

_DEAR: Final = 12
"""Quantiser of near blocks that cost too much to be coded at the rim's."""
