"""Searches a ladder of settings for the best one that fits."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from ghostprep.player.attempt import Setting
from ghostprep.player.ladder import Ladder
from ghostprep.player.measured import Measured

_MOST: Final = 10


class LadderSearch:
    """Closes in on the first rung that fits, from what is known of the rungs above and below."""

    asks_for_black = False
    in_part = False
    needed_kbps: float | None = None

    def __init__(self, ladder: Ladder, *, ceiling: bool) -> None:
        self._ladder = ladder
        self._ceiling = ceiling
        self._made: dict[Setting, float] = {}

    def following(self) -> Setting | None:
        """Return the setting to try next, None when the search is over."""
        rungs, made = self._ladder.settings, self._made
        if not made:
            return rungs[self._ladder.start]
        loads = {rung: made[setting] for rung, setting in enumerate(rungs) if setting in made}
        good = min((rung for rung, load in loads.items() if load <= 1), default=len(rungs))
        bad = max((rung for rung, load in loads.items() if load > 1 and rung < good), default=-1)
        if good - bad > 1 and good > 0 and len(made) < _MOST:
            return rungs[self._between(bad, good, loads)]
        if good == len(rungs):
            last = replace(rungs[-1], ceiling=True)
            return None if last in made or not self._ceiling else last
        # a thorough search may bring the next better one under the limit
        finer = replace(rungs[max(bad, 0)], thorough=True)
        return finer if self._ladder.careful and finer not in made else None

    def _between(self, bad: int, good: int, loads: dict[int, float]) -> int:
        """Return the rung that is likely to be the first that fits, of those between two."""
        rungs = self._ladder.settings
        known = min(loads, key=lambda rung: abs(math.log(max(loads[rung], 1e-9))))
        law = self._ladder.law
        wanted = loads[known] / law(rungs[known].quality)
        fitting = (rung for rung in range(bad + 1, good) if wanted * law(rungs[rung].quality) <= 1)
        return next(fitting, good - 1)

    def is_draft(self, _setting: Setting) -> bool:
        """Return whether a setting is only made to make others from: here none is."""
        return False

    def take(self, setting: Setting, _made: Measured, load: float) -> None:
        """Take in what came of a setting; `load` is the largest part of a limit that it uses."""
        self._made[setting] = load

    def merit(self, setting: Setting) -> tuple[float, ...] | None:
        """Return how good a file is, larger is better; None if it is too large or not made."""
        if self._made.get(setting, math.inf) > 1:
            return None
        return -float(setting.ceiling), -setting.quality, float(setting.thorough)
