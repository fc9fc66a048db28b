"""Across time: where to join, how to blend, what to repeat."""

from ghostprep.loop.blend import mixed
from ghostprep.loop.candidate import LoopCandidate
from ghostprep.loop.measure import loop_finding
from ghostprep.loop.method import better_method
from ghostprep.loop.plan import Blend, LoopPlan
from ghostprep.loop.refine import join_at
from ghostprep.loop.schedule import Appearance, Schedule, plan_appearances
from ghostprep.loop.seam import quietest
from ghostprep.loop.search import search
from ghostprep.loop.sound import loop_sound
from ghostprep.loop.strip import ThumbnailStrip
from ghostprep.loop.ways import plan_loop, plan_still

__all__ = [
    "Appearance",
    "Blend",
    "LoopCandidate",
    "LoopPlan",
    "Schedule",
    "ThumbnailStrip",
    "better_method",
    "join_at",
    "loop_finding",
    "loop_sound",
    "mixed",
    "plan_appearances",
    "plan_loop",
    "plan_still",
    "quietest",
    "search",
]
