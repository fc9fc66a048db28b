"""Across time: where to join, how to blend, what to repeat."""

from ghostprep.loop.assemble import assemble, make_frame
from ghostprep.loop.candidate import Candidate
from ghostprep.loop.plan import LoopPlan, Mix
from ghostprep.loop.search import search
from ghostprep.loop.strip import Strip
from ghostprep.loop.ways import plan_loop

__all__ = ["Candidate", "LoopPlan", "Mix", "Strip", "assemble", "make_frame", "plan_loop", "search"]
