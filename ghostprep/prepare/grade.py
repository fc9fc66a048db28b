"""How bright the figure is shown, in which colour, and how soft at a cut edge."""

from __future__ import annotations

from typing import Final

from ghostprep.loop import LoopPlan
from ghostprep.picture.tone import Tone, auto_gain
from ghostprep.prepare.figure import Body
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.recipe import Recipe, colour_codes
from ghostprep.prepare.survey import Survey
from ghostprep.transfer import to_linear

EDGE_SHARE: Final = 0.04
"""Softness of a cut edge, as a share of the picture's smaller side."""


def grade(seen: Survey, plan: LoopPlan, fit: Fit, body: Body, recipe: Recipe, *, keyed: bool) -> Tone:
    """Return brightness, colour and edge as asked, or as the figure needs them."""
    if recipe.gain == "auto":
        first, stop = plan.span
        # the brightest moment sets the gain, so that it holds for all others
        bright = float(to_linear(seen.figure.bright[first:stop]).max(initial=0.0))
        # who names a colour of light means it as bright as it is
        gain = auto_gain(bright) if keyed and recipe.fill is None else 1.0
    else:
        gain = float(recipe.gain)
    if recipe.edge == "auto":
        crop, reach = fit.crop, body.reach
        inside = (
            reach.x > crop.x and reach.y > crop.y and reach.right < crop.right and reach.bottom < crop.bottom
        )
        edge = 0 if inside else max(round(EDGE_SHARE * min(fit.size)), 1)
    else:
        edge = int(recipe.edge)
    return Tone(gain=gain, tint=colour_codes(recipe.tint) if recipe.tint else None, edge=edge)
