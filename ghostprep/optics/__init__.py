"""Physics on a scene: images in the pane, sightlines, light. No files, no pixels, no clip."""

from ghostprep.optics.layout import Layout, Panel, lay_out
from ghostprep.optics.mount import Mount
from ghostprep.optics.plan import Plan
from ghostprep.optics.planning import make_plan

__all__ = ["Layout", "Mount", "Panel", "Plan", "lay_out", "make_plan"]
