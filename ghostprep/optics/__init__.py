"""Physics on a scene: images in the pane, sightlines, light. No files, no pixels, no clip."""

from ghostprep.optics.layout import lay_out as lay_out
from ghostprep.optics.mount import Mount as Mount
from ghostprep.optics.plan import Plan as Plan
from ghostprep.optics.planning import make_plan as make_plan
