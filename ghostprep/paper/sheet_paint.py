"""Sheets painted as figures of matplotlib, at 1:1."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from ghostprep.paper.lettering import MIDDLE, POINT_MM
from ghostprep.paper.sheet import DrawnShape, PaperSheet, TextLine

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def figure_of(sheet: PaperSheet) -> Figure:
    """Return a sheet as a figure of its true size on white paper; it is drawn in mm of the paper."""
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(sheet.size[0] / 25.4, sheet.size[1] / 25.4), facecolor="white")
    mm = Affine2D().scale(1 / 25.4) + figure.dpi_scale_trans
    for item in sorted(sheet.items, key=lambda item: item.zorder):
        figure.add_artist(_shape(item, mm) if isinstance(item, DrawnShape) else _words(item, mm))
    return figure


def _shape(shape: DrawnShape, mm: Any) -> Any:
    from matplotlib.patches import PathPatch
    from matplotlib.transforms import Bbox, TransformedBbox

    width = shape.width_mm / POINT_MM if shape.edge != "none" else 0.0
    patch = PathPatch(
        _path(shape),
        facecolor=shape.fill,
        edgecolor=shape.edge,
        linewidth=width,
        # dashes are told in widths of the line, as matplotlib takes them
        linestyle=(0, shape.dash) if shape.dash else "solid",
        alpha=shape.alpha if shape.alpha < 1 else None,
        capstyle="butt",
        joinstyle="miter",
        zorder=shape.zorder,
        transform=mm,
    )
    patch.set_snap(False)
    if (w := shape.window) is not None:
        patch.set_clip_box(TransformedBbox(Bbox.from_extents(w.left, w.low, w.right, w.high), mm))
    return patch


def _path(shape: DrawnShape) -> Any:
    from matplotlib.path import Path

    if shape.radius:
        return Path.circle(tuple(shape.points[0]), shape.radius)
    if not shape.closed:
        return Path(shape.points)
    return Path(np.vstack([shape.points, shape.points[:1]]), closed=True)


def _words(item: TextLine, mm: Any) -> Any:
    from matplotlib.text import Text

    # the middle of the capitals, and not of what hangs below the line: digits and words then line up
    drop = MIDDLE * item.size_pt * POINT_MM if item.va == "middle" else 0.0
    a = math.radians(item.turn)
    return Text(
        item.at[0] + drop * math.sin(a),
        item.at[1] - drop * math.cos(a),
        item.words,
        color=item.colour,
        fontproperties=_letters(item.size_pt, item.bold),
        ha=item.ha,
        va="baseline",
        rotation=item.turn,
        rotation_mode="anchor",
        parse_math=False,  # titles may hold a "$"
        zorder=item.zorder,
        transform=mm,
    )


@lru_cache(maxsize=64)
def _letters(size_pt: float, bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(family="sans-serif", size=size_pt, weight="bold" if bold else "normal")
