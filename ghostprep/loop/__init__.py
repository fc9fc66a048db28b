"""Across time: where to join, how to blend, what to repeat."""

from ghostprep.loop.blend import mixed as mixed
from ghostprep.loop.candidate import LoopCandidate as LoopCandidate
from ghostprep.loop.measure import loop_finding as loop_finding
from ghostprep.loop.method import better_method as better_method
from ghostprep.loop.plan import Blend as Blend
from ghostprep.loop.plan import LoopPlan as LoopPlan
from ghostprep.loop.refine import join_at as join_at
from ghostprep.loop.schedule import Appearance as Appearance
from ghostprep.loop.schedule import Schedule as Schedule
from ghostprep.loop.schedule import plan_appearances as plan_appearances
from ghostprep.loop.seam import quietest as quietest
from ghostprep.loop.search import search as search
from ghostprep.loop.sound import loop_sound as loop_sound
from ghostprep.loop.strip import ThumbnailStrip as ThumbnailStrip
from ghostprep.loop.ways import plan_loop as plan_loop
from ghostprep.loop.ways import plan_still as plan_still
