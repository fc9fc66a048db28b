"""Searches a ladder for the best setting that fits: a bisection, guided by the bits of what was made."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

import cv2
import numpy as np

from ghostprep.arrays import Frames
from ghostprep.black import LEAST_FAR, LEAST_NEAR
from ghostprep.player.attempt import Ladder, Setting
from ghostprep.player.measured import Measured

_LONG_S: Final = 2.5
"""Long enough for an encoder to show what the figure costs it, seconds."""
_SHORT_S: Final = 1.0
"""Shorter, and the first picture, which stands on its own, is most of it."""
_TIMES: Final = 4
"""How many times as long a loop must be for a part to be worth it."""
_AIM: Final = 0.96
"""Load of a part at which the whole loop is sure to fit."""
_FULL: Final = 0.8
"""Part of what is aimed at from which another encoding would bring nothing that is seen."""
_TRIES: Final = 5
"""Settings that are tried on a part; the bracket is closed by then."""
_FEW: Final = 3
"""Encodings of a loop of which a part was tried before, drafts among them."""
_MORE: Final = 9
"""The same where there is no part (the loop is short, or its coding quick), or where nothing fits yet."""
_SPARE: Final = 0.007
"""By how much more near black is aimed at than is needed."""
_LEAST_SHARE: Final = 0.92
"""Share of the near black that is coded finely at least."""
_SHARE_SAVES: Final = 1.1
"""Load that a smaller share of near black brings under the limit."""


def lively_part(frames: Frames, rate: Fraction) -> tuple[int, int] | None:
    """Return the first frame, and the one after the last, of a part that is about as lively as all of it.

    None where the loop is so short that a part would hardly be less than all of it.
    """
    length = min(round(_LONG_S * rate), len(frames) // _TIMES)
    if length < _SHORT_S * rate:
        return None
    steps = [0.0]
    before = frames[0]
    for number in range(1, len(frames)):
        frame = frames[number]
        steps.append(cv2.norm(frame, before, cv2.NORM_L1))
        before = frame
    sums = np.concatenate([[0.0], np.cumsum(steps)])
    means = (sums[length:] - sums[:-length]) / length
    first = int(np.argmin(np.abs(means - np.mean(steps))))
    return first, first + length


@dataclass(frozen=True, slots=True)
class _File:
    """What was made of a rung, and the largest part of a limit that it uses."""

    rung: int
    made: Measured
    load: float

    @property
    def fits(self) -> bool:
        return self.load <= 1

    @property
    def black(self) -> bool:
        near, far = self.made.black_near, self.made.black_far
        return (near is None or near >= LEAST_NEAR) and (far is None or far >= LEAST_FAR)


class Search:
    """Closes in on the best rung, on a part of the loop where there is one, and then encodes all of it.

    With a `ceiling` the encoder itself can be made to stay under the limit where nothing else fits.
    """

    def __init__(self, ladder: Ladder, *, in_part: bool, ceiling: bool) -> None:
        self._ladder = ladder
        self._ceiling = ceiling
        self.in_part = in_part  # whether the setting that comes next is tried on the part
        self.kept_load: float | None = None  # load of the last rung that keeps black, once it was tried
        self._tried_part = in_part
        self._most = _FEW if in_part else _MORE
        self._spent = 0
        self._rung = 0
        self._share = ladder.rungs[0].share
        self._draft: Setting | None = None
        self._loads: dict[int, float] = {}
        self._made: dict[Setting, _File] = {}

    def following(self) -> Setting | None:
        """Return the setting to try next, None when the search is over."""
        if self.in_part:
            rung = self._between(_AIM) if len(self._loads) < _TRIES else None
            if rung is not None:
                return self._at(rung)
            chosen = min(self._first_good(_AIM), len(self._ladder.rungs) - 1)
            self.in_part, self._draft, self._loads = False, None, {}
            return self._at(chosen)
        if not self._made:
            return self._at(0)
        fits = any(file.fits for file in self._made.values())
        # the part was right to a few hundredths, and a finer setting would gain no more
        done = self._tried_part and any(file.fits and file.black for file in self._made.values())
        wanted = self._again() or (None if done else self._next())
        if wanted is not None and self._spent + self.cost(wanted) <= (self._most if fits else _MORE):
            return wanted
        if fits:
            return None
        last = self._at(len(self._ladder.rungs) - 1)
        if last in self._made:
            last = replace(last, rim=None, settled=False, share=1.0, hold=0.0, ceiling=self._ceiling)
        return None if last in self._made else last

    def cost(self, setting: Setting) -> int:
        """Return how many encodings a setting takes: two where its draft is not the latest one."""
        return 2 if setting.settled and setting.draft != self._draft else 1

    def take(self, setting: Setting, made: Measured, load: float) -> None:
        """Take in what came of a setting; `load` is the largest part of a limit that it uses."""
        load = max(load, 1e-6)
        if not setting.ceiling:
            self._loads[self._rung] = load
            if self._rung == self._ladder.kept:
                self.kept_load = load
        if not self.in_part:
            self._spent += self.cost(setting)
            self._made[setting] = _File(self._rung, made, load)
        if setting.settled:
            self._draft = setting.draft
        near = made.black_near
        fits = load <= (_AIM if self.in_part else 1)
        # the whole loop keeps less black than the part did, by up to this much
        aim = LEAST_NEAR + (2 * _SPARE if self.in_part else _SPARE)
        if setting.rim == 0 and near is not None and (near < aim or not fits):
            # where bits do not suffice, black beyond the limit is given up where it costs most
            share = setting.share - (near - aim)
            self._share = min(max(round(share, 3), _LEAST_SHARE), 1.0)

    def merit(self, setting: Setting) -> tuple[float, ...] | None:
        """Return how good a file is, larger is better; None if it is too large or not made."""
        file = self._made.get(setting)
        if file is None or not file.fits:
            return None
        if file.black:
            return 1.0, -float(setting.ceiling), -file.rung, file.made.black_near or 0.0
        return 0.0, file.made.black_near or 0.0

    def _at(self, rung: int) -> Setting:
        self._rung = rung
        setting = self._ladder.rungs[rung]
        return setting if setting.rim is None else replace(setting, share=self._share)

    def _again(self) -> Setting | None:
        """Return the latest rung with another share of near black, where that is all that it lacks."""
        latest, file = next(reversed(self._made.items()))
        if latest.ceiling or latest.rim != 0:
            return None
        leaner = 1 < file.load <= _SHARE_SAVES and self._share <= latest.share - 0.01
        fuller = file.fits and not file.black and self._share > latest.share
        again = self._at(file.rung)
        return again if (leaner or fuller) and again not in self._made else None

    def _next(self) -> Setting | None:
        rung = self._between(1)
        return None if rung is None else self._at(rung)

    def _first_good(self, limit: float) -> int:
        """Return the first rung that is known to fit; one after the last if none is."""
        good = (rung for rung, load in self._loads.items() if load <= limit)
        return min(good, default=len(self._ladder.rungs))

    def _between(self, limit: float) -> int | None:
        """Return the rung that is likely to be the first that fits; None if it is known, or near enough."""
        loads, kept = self._loads, self._ladder.kept
        if not loads:
            return 0
        good = self._first_good(limit)
        bad = max((rung for rung in loads if rung < good), default=-1)
        if good - bad <= 1 or loads.get(good, 0) >= _FULL * limit:
            return None
        one, *other = sorted(loads, key=lambda rung: abs(math.log(loads[rung] / limit)))
        fall = self._ladder.fall
        if other:
            fall = max(math.log(loads[one] / loads[other[0]]) / (other[0] - one), fall / 4)
        rung = one + math.ceil(math.log(loads[one] / limit) / fall)
        if rung > kept > bad and self.kept_load is None:
            return kept  # first see what it takes to keep black, before any of it is given up
        return min(max(rung, bad + 1), good - 1)
