"""The stretch that loops."""

from __future__ import annotations

from dataclasses import dataclass

from moviepy import Clip

from ghostprep.effects.checked import CheckedEffect
from ghostprep.effects.frames import counted, frame_at, frame_count, frames_of, rate_of
from ghostprep.errors import InputError
from ghostprep.joins import How
from ghostprep.loop import LoopPlan, ThumbnailStrip, mixed, plan_loop, search
from ghostprep.prepare.recipe import Recipe


@dataclass
class SeamlessLoop(CheckedEffect):
    """Cut the stretch that loops best and blend its end into its start, or loop the clip as asked.

    Attributes
    ----------
    length_s : tuple of float, optional
        Shortest and longest loop wanted, seconds.
    join : {"search", "ends", "there-and-back", "fades", "none"}
        As for ``make --join``.
    crossfade_s : float, optional
        Length of the blend, seconds.
    """

    length_s: tuple[float, float] | None = None
    join: How = "search"
    crossfade_s: float | None = None

    def __post_init__(self) -> None:
        """Refuse what `make` would refuse."""
        super().__post_init__()
        Recipe(length=self.length_s, join=self.join, crossfade=self.crossfade_s)

    def apply(self, clip: Clip) -> Clip:
        """Return the loop; its duration is a whole number of frames.

        Raises
        ------
        InputError
            No two moments of the clip are alike enough, or it is too short for what is asked.
        """
        plan = self._plan(clip)
        return counted(
            clip, len(plan), lambda n: mixed(plan, plan.steps[n], lambda source: frame_at(clip, source))
        )

    def _plan(self, clip: Clip) -> LoopPlan:
        count, rate = frame_count(clip), rate_of(clip)
        if self.join != "search":
            return plan_loop(self.join, count, rate, crossfade_s=self.crossfade_s, length_s=self.length_s)
        strip = ThumbnailStrip()
        for frame in frames_of(clip):
            strip.add(frame)
        found = search(strip, rate, length_s=self.length_s)
        if not found:
            raise InputError("no two moments of the clip are alike enough to join", where="SeamlessLoop")
        return plan_loop("search", count, rate, candidate=found[0], crossfade_s=self.crossfade_s)
