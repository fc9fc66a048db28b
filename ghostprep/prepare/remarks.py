"""What to tell the builder about the figure, before and after it is fitted."""

from __future__ import annotations

from typing import Final

import numpy as np

from ghostprep.clip import ClipFacts
from ghostprep.clip.source import pattern_around
from ghostprep.finding import Finding
from ghostprep.picture.learn.remarks import DARK_FIGURE
from ghostprep.prepare.figure import FigureExtent
from ghostprep.prepare.fit import Fit
from ghostprep.prepare.recipe import Recipe
from ghostprep.prepare.survey import Survey
from ghostprep.transfer import to_linear
from ghostprep.words import rate_words

TINY_PX: Final = 16
"""A clip with a shorter side holds no figure, a drawing in pixels at the most."""
SMALL_PX: Final = 60
"""A figure of fewer rows shows no face and no gesture."""

ENLARGED: Final = 1.6
"""Past this many raster pixels a source pixel the figure looks soft."""

DARK: Final = 0.04
"""Linear light, white = 1: a pane shows a tenth of it, less than scenery in a dim room has."""


def figure_findings(seen: Survey, body: FigureExtent | None, *, all_the_time: bool = True) -> list[Finding]:
    """Return what the survey says of the figure; `all_the_time`: it does not come and go at an edge."""
    found: list[Finding] = []
    if seen.damage:
        found.append(
            Finding(
                "caution",
                "clip",
                f"it is damaged, {len(seen.times)} frames could be used: {seen.damage}",
                "copy it again from where it came, or leave the bad part out with --end",
            )
        )
    keyed = seen.key.backing.kind != "none"
    if body is None and keyed:
        width, height = seen.facts.size
        if min(width, height) < TINY_PX:
            text = f"its pictures are {width}x{height} px, too few to tell a figure from what is behind it"
            found.append(Finding("fault", "clip", text, "bring a larger one"))
        elif not any(one.subject == "figure" and one.level == "fault" for one in seen.key.remarks):
            text = "nothing is left of the clip when the backing is gone: the ghost will be invisible"
            remedy = "name the backing with --backing; a figure in the backing's own colour cannot be kept"
            found.append(Finding("fault", "figure", text, remedy))
        return found
    bright = seen.figure.bright[seen.figure.bright > 0]
    light = float(to_linear(np.array([np.median(bright)]))[0]) if bright.size else 0.0
    told = any(one.subject == DARK_FIGURE and one.level != "note" for one in seen.key.remarks)
    if light < DARK and not told:
        found.append(
            Finding(
                "fault" if light < DARK / 4 else "caution",
                DARK_FIGURE,
                f"it is dark: its brightest parts have {light:.1%} of the screen's white, and a pane shows "
                "a tenth of that; black is nothing in the scene",
                "use --gain, or light the figure more; a silhouette's shape is painted in light with --fill",
            )
        )
    if body is not None and keyed and all_the_time:
        found += _touching(body, seen.facts.size)
    return found


def pictures_findings(facts: ClipFacts, recipe: Recipe) -> list[Finding]:
    """Return that the rate of numbered pictures was assumed, or that others go with the one named."""
    if facts.still:
        if (pattern := pattern_around(facts.path)) is None:
            return []
        text = f"{facts.path.name} is one of several numbered pictures, and is taken alone"
        return [Finding("note", "clip", text, f"to take all of them, name {pattern}")]
    if facts.container != "image2" or recipe.fps is not None:
        return []
    text = f"numbered pictures tell no rate: {rate_words(facts.rate)} are assumed"
    return [Finding("note", "clip", text, "say how many they are with --fps")]


def _touching(body: FigureExtent, size: tuple[int, int]) -> list[Finding]:
    reach = body.reach
    sides = [
        name
        for name, touches in (
            ("left", reach.x <= 0),
            ("right", reach.right >= size[0]),
            ("top", reach.y <= 0),
            ("bottom", reach.bottom >= size[1]),
        )
        if touches
    ]
    if not sides:
        return []
    return [
        Finding(
            "caution",
            "figure",
            f"it touches the picture's edge ({', '.join(sides)}), where the ghost ends in a straight line",
            "the line is softened (--edge); better film it again with room around it",
        )
    ]


def fit_findings(fit: Fit, *, keyed: bool) -> list[Finding]:
    """Return what the chosen size says of the figure."""
    found: list[Finding] = []
    if keyed and round(fit.figure_px) < SMALL_PX:
        found.append(
            Finding(
                "caution",
                "figure",
                f"it is {fit.figure_px:.0f} px tall on the raster; under {SMALL_PX} px no face shows",
                "use a larger scale, a screen with more pixels, or a tighter --crop",
            )
        )
    if fit.scale > ENLARGED:
        found.append(
            Finding(
                "note",
                "figure",
                f"the clip is enlarged {fit.scale:.1f} times and will look soft",
                "use a clip with more pixels, or film the figure larger in the picture",
            )
        )
    return found
