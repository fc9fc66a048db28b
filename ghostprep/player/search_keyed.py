"""Searches for the finest figure that leaves bits enough for black beside it.

A draft tells what the figure costs at one quantiser, an encoding from it what the rim costs; both follow
simple laws, so the next pair is nearly always right. Of a long loop, a first pair that is only made to learn
from is made of a part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.edges import (
    EDGES,
    Edge,
    edge_of,
    figure_share,
    near_gain,
    quality_for,
    rim_cost,
    share_for,
)
from ghostprep.player.measured import Measured

BLACK_NEAR: Final = 0.95
"""Share of the pixels within 4 px of the figure that must be black exactly."""
BLACK_FAR: Final = 0.9995
"""The same for those farther away."""

_AIM: Final = 0.97
"""Load that is aimed at: the laws are good to a few hundredths."""
_CARE: Final = 0.02
"""By how much less is aimed at for each encoding that was too large."""
_FULL: Final = 0.72
"""Load from which another encoding would bring nothing that is seen."""
_NEAR_AIM: Final = BLACK_NEAR + 0.004
_MOST: Final = 5
"""Encodings from a draft, after which the best so far is good enough."""
_USUAL_SHARE: Final = 0.98
_COARSEST_RIM: Final = 24
_SHARE_GIVEN_UP: Final = 0.965
"""Part of the near black that is coded finely where bits do not suffice for enough of it."""
_AS_GOOD: Final = 0.93
"""Load from which no blacker file is looked for where black had to give way."""


@dataclass(frozen=True, slots=True)
class Start:
    """Where the search begins, and how far it goes.

    Attributes
    ----------
    finest : float
        Quantiser below which nobody would see a difference.
    first : float
        Quantiser of the first draft.
    careful : bool
        Whether a thorough search is tried where black has to give way: it finds 4 % of the bits, for
        three times the time.
    in_part : bool
        Whether the first pair is made of a part of the loop.
    """

    finest: float
    first: float
    careful: bool
    in_part: bool = False


class KeyedSearch:
    """Proposes settings for a figure on black; one with a rim follows the draft that it is made from."""

    asks_for_black = True

    needed_kbps: float | None = None
    """Where black had to give way: the bit rate of the coarsest figure with the softest rim that kept it."""

    def __init__(self, start: Start) -> None:
        self._start = start
        self._in_part = start.in_part
        self._drafts: dict[Setting, Measured] = {}
        # what the laws are calibrated by, and what of it are files that could be handed over
        self._known: dict[Setting, tuple[Measured, float]] = {}
        self._made: dict[Setting, tuple[Measured, float]] = {}
        self._wanted = Setting(
            start.first,
            rim=0,
            # where bits are plenty the first pair is likely to be the last, and shall not waste them
            share=_USUAL_SHARE if start.first == start.finest else 1.0,
            guard=EDGES[0].guard,
            hold=EDGES[0].hold,
        )
        self._draft: Setting | None = None
        self._latest: Setting | None = None

    def following(self) -> Setting | None:
        """Return the setting to try next, None when the search is over."""
        if self._latest is not None and (wanted := self._after(self._latest)) is not None:
            self._wanted = wanted
        elif self._latest is not None:
            return None
        draft = Setting(self._wanted.quality, guard=self._wanted.guard)
        if self._wanted.rim is not None and draft != self._draft:
            return draft
        return self._wanted

    @property
    def in_part(self) -> bool:
        """Whether the setting to try next is tried on a part of the loop."""
        return self._in_part

    def is_draft(self, setting: Setting) -> bool:
        """Return whether a setting is only made to make others from."""
        return setting.rim is None and not setting.ceiling

    def take(self, setting: Setting, made: Measured, load: float) -> None:
        """Take in what came of a setting; `load` is the largest part of a limit that it uses."""
        if self.is_draft(setting):
            self._drafts[setting] = made
            self._draft = setting
            return
        self._known[setting] = (made, load)
        self._latest = setting
        if self._in_part:
            self._in_part, self._draft = False, None
        else:
            self._made[setting] = (made, load)

    def merit(self, setting: Setting) -> tuple[float, ...] | None:
        """Return how good a file is, larger is better; None if it is too large or not made."""
        if setting not in self._made or self._made[setting][1] > 1:
            return None
        near = self._made[setting][0].black_near or 0.0
        if self._is_black(setting):
            edge = EDGES.index(edge_of(setting)) if setting.rim is not None else len(EDGES)
            return 1.0, -edge, -setting.quality, near
        return 0.0, near, 0.0, 0.0

    def _is_black(self, setting: Setting) -> bool:
        made = self._made[setting][0]
        near, far = made.black_near, made.black_far
        return (near is None or near >= BLACK_NEAR) and (far is None or far >= BLACK_FAR)

    def _after(self, latest: Setting) -> Setting | None:
        """Return the setting to try after the one that was made last."""
        if latest.ceiling:
            return None
        if latest not in self._made:
            return self._chosen(latest)
        load = self._made[latest][1]
        good = load <= 1 and self._is_black(latest)
        best = load >= _FULL or latest.quality <= self._start.finest
        if good and best:
            return None
        near = self._made[latest][0].black_near or 0.0
        if _AS_GOOD <= load <= 1 and (latest.rim or 0) > 0 and near < BLACK_NEAR - 0.01:
            return None
        fits = any(load <= 1 for _, load in self._made.values())
        many = len(self._made) >= _MOST
        if many and fits:
            return None
        wanted = self._giving_way(latest) if many else self._chosen(latest)
        if wanted in self._made or len(self._made) >= 2 * _MOST:
            return None if fits else Setting(EDGES[-1].coarsest, guard=EDGES[-1].guard, ceiling=True)
        return wanted

    def _chosen(self, latest: Setting) -> Setting:
        """Return what the laws say is best, as the latest encoding calibrates them."""
        finest = self._start.finest
        figure, rim, allowed = self._spent(latest)
        for edge in EDGES:
            left = allowed - rim * rim_cost(self._setting(finest, edge, latest))
            quality = quality_for(left / figure, latest.quality, finest=finest, coarsest=edge.coarsest)
            if quality <= edge.coarsest:
                return self._setting(quality, edge, latest)
        return self._giving_way(latest)

    def _giving_way(self, latest: Setting) -> Setting:
        """Return what fits though less is black: a lost face is seen, a little grey beside it hardly."""
        thorough = self._start.careful
        last = replace(self._setting(EDGES[-1].coarsest, EDGES[-1], latest), thorough=thorough)
        softest = (last.guard, last.hold, last.quality)
        for one, (made, _) in self._made.items():
            if (one.guard, one.hold, one.quality) == softest and not one.rim:
                self.needed_kbps = made.mean_kbps
        if self.needed_kbps is None:
            return last
        figure, rim, allowed = self._spent(latest)
        figure *= figure_share(last.quality, latest.quality)
        last = replace(last, share=_SHARE_GIVEN_UP)
        coarser = self._coarser(latest)
        for number in range(1, 2 * _COARSEST_RIM):
            last = replace(last, rim=number / 2)
            cost = rim_cost(last)
            if coarser:
                cost = rim_cost(latest) * math.exp(coarser * ((latest.rim or 0) - number / 2))
            if rim * cost <= allowed - figure:
                break
        return last

    def _setting(self, quality: float, edge: Edge, latest: Setting) -> Setting:
        """Return the setting for an edge that leaves just enough near black."""
        near = self._known[latest][0].black_near
        first = Setting(quality, rim=0, guard=edge.guard, hold=edge.hold)
        gain = near_gain(first) - near_gain(latest)
        return replace(first, share=share_for((1.0 if near is None else near) + gain - _NEAR_AIM))

    def _spent(self, latest: Setting) -> tuple[float, float, float]:
        """Return kbit/s that the figure took, that the hardest rim would take, and that may be taken."""
        made, load = self._known[latest]
        bits = made.mean_kbps
        figure = min(self._drafts[Setting(latest.quality, guard=latest.guard)].mean_kbps, 0.95 * bits)
        missed = sum(load > 1 for _, load in list(self._known.values())[1:])
        allowed = bits / load * (_AIM - _CARE * missed)
        return figure, (bits - figure) / rim_cost(latest), allowed

    def _coarser(self, latest: Setting) -> float:
        """Return what part of the rim's bits a quantiser saves, if two files that differ in it alone tell."""
        figure = self._drafts[Setting(latest.quality, guard=latest.guard)].mean_kbps
        for other, (made, _) in self._made.items():
            steps = (latest.rim or 0) - (other.rim or 0)
            if steps and replace(other, rim=latest.rim) == latest:
                spent, then = (kbps - figure for kbps in (self._made[latest][0].mean_kbps, made.mean_kbps))
                return math.log(then / spent) / steps if min(spent, then) > 0 else 0.0
        return 0.0
