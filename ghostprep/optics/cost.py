"""What a layout costs: the board and sheet that it takes, and all that speaks against it."""

from __future__ import annotations

from typing import Final

from ghostprep.optics.advice.collect import found_in, is_the_layouts
from ghostprep.optics.baffle import lateral
from ghostprep.optics.collisions import LEAST_MM
from ghostprep.optics.edges import share_of_opening
from ghostprep.optics.plan import Plan
from ghostprep.optics.solids import player_block
from ghostprep.optics.trial import OFF_MIDDLE

_OFF_THE_WALL: Final = 0.004
"""What a millimetre between player and wall costs; that there is room at all costs as much as five."""
_AROUND: Final = 0.12
"""Share of the box's depth that is wanted behind the ghost."""


def cost_of(plan: Plan) -> tuple[float, int]:
    """Return what a layout costs, and how many faults it has."""
    box, baffle, found = plan.scene.box, plan.sight.baffle, list(found_in(plan))
    area = plan.pane.cut[0] * plan.pane.cut[1]
    if baffle is not None:
        area += baffle.size[0] * baffle.size[1]
    faults = sum(is_the_layouts(draft) for draft in found)
    cautions = sum(f.level == "caution" and f.subject != "safety" for f in found)
    lost = max(plan.sight.cut_off.values()) / min(box.width, box.height)
    slanted = abs(plan.layout.angle_deg - 45) * 0.004
    # a ghost flat against the back wall has no scenery around it
    shallow = max(1 + plan.sight.behind_back_mm / (_AROUND * box.depth), 0.0)
    trimmed = sum(share_of_opening(plan.scene, trim) for trim in plan.sight.trims())
    # how far a fault is from being none, so that a walk downhill finds its way out of it
    cut = 0.0 if baffle is None else max(-baffle.clearance_mm, 0.0)
    cut += sum(pair.overlap_mm for pair in (*plan.collisions, *plan.reaches))
    cut += sum(plan.pane.outside.values()) + max(plan.figure.height_mm - plan.figure.largest_mm, 0.0)
    # strips on the wall itself are the simplest holder
    off = float(lateral(plan.scene, player_block(plan.layout.screen, plan.scene.screen.body).corners()).min())
    charges = (
        _OFF_THE_WALL * (5 * (off > LEAST_MM) + off)
        + 0.2 * cautions
        + 0.5 * shallow
        + trimmed
        + 2 * lost
        + slanted
        + OFF_MIDDLE * abs(float(plan.layout.ghost[0])) / box.width
        + cut
    )
    return 100 * faults + area / (box.width * box.height) + charges, faults
