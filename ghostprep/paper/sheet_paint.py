"""Sheets painted by matplotlib's renderers, one shape after the other.

A renderer is asked directly, since a figure with axes would take longer to import than to draw.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

import numpy as np

from ghostprep.paper.lettering import MIDDLE, POINT_MM, Taken
from ghostprep.paper.sheet import Shape, Sheet, Words


def paint(sheet: Sheet, renderer: Any, dpi: float) -> None:
    """Paint a sheet on white paper.

    Parameters
    ----------
    sheet : Sheet
    renderer : matplotlib.backend_bases.RendererBase
        As large as the sheet.
    dpi : float
        How many of its units make an inch.
    """
    paper = Shape(
        np.array([(0, 0), (sheet.size[0], 0), sheet.size, (0, sheet.size[1])], np.float64),
        "white", "none", 0.0, True, 0.0, (), 1.0, -1.0, None,
    )  # fmt: skip
    scale = dpi / 25.4
    for item in sorted([paper, *sheet.items], key=lambda item: item.zorder):
        if isinstance(item, Shape):
            _shape(item, renderer, scale)
        else:
            _words(item, renderer, scale, sheet.size[1] * scale)


def _shape(shape: Shape, renderer: Any, scale: float) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.transforms import IdentityTransform

    gc = renderer.new_gc()
    width = 0.0 if shape.edge == "none" else shape.width_mm / POINT_MM
    gc.set_linewidth(width)
    gc.set_foreground(to_rgba("black" if shape.edge == "none" else shape.edge), isRGBA=True)
    if shape.alpha < 1:
        gc.set_alpha(shape.alpha)
    gc.set_capstyle("butt")
    gc.set_joinstyle("miter")
    if shape.dash:
        gc.set_dashes(0, [length * width for length in shape.dash])
    if shape.window:
        gc.set_clip_rectangle(_bounds(shape.window, scale))
    face = None if shape.fill == "none" else to_rgba(shape.fill, shape.alpha)
    renderer.draw_path(gc, _path(shape, scale), IdentityTransform(), face)
    gc.restore()


def _bounds(room: Taken, scale: float) -> Any:
    from matplotlib.transforms import Bbox

    return Bbox.from_extents(room.left * scale, room.low * scale, room.right * scale, room.high * scale)


def _path(shape: Shape, scale: float) -> Any:
    from matplotlib.path import Path

    if shape.radius:
        return Path.circle(tuple(shape.points[0] * scale), shape.radius * scale)
    points = shape.points * scale
    if not shape.closed:
        return Path(points)
    codes = [Path.MOVETO, *[Path.LINETO] * (len(points) - 1), Path.CLOSEPOLY]
    return Path(np.vstack([points, points[:1]]), codes)


def _words(item: Words, renderer: Any, scale: float, height: float) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.text import Text

    at, start = placed(item, renderer, scale)
    properties = _letters(item.size_pt, item.bold)
    # a writer of SVG takes from it which end of the words is held; parse_math: titles may hold a "$"
    held = Text(
        at[0],
        at[1],
        item.words,
        fontproperties=properties,
        ha=item.ha,
        rotation_mode="anchor",
        parse_math=False,
    )
    gc = renderer.new_gc()
    gc.set_foreground(to_rgba(item.colour), isRGBA=True)
    y = height - start[1] if renderer.flipy() else start[1]
    renderer.draw_text(gc, start[0], y, item.words, properties, item.turn, ismath=False, mtext=held)
    gc.restore()


_SHARE: Final = {"left": 0.0, "center": 0.5, "right": 1.0}


def placed(item: Words, renderer: Any, scale: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where the words are held on their base line and where that begins, in the renderer's units."""
    # the middle of the capitals, and not of what hangs below the line: digits and words then line up
    drop = MIDDLE * item.size_pt * POINT_MM if item.va == "middle" else 0.0
    a = np.radians(item.turn)
    cos, sin = float(np.cos(a)), float(np.sin(a))
    x, y = (item.at[0] + drop * sin) * scale, (item.at[1] - drop * cos) * scale
    long = extent(item, renderer)[0] * _SHARE[item.ha]
    return (x, y), (x - long * cos, y - long * sin)


def extent(item: Words, renderer: Any) -> tuple[float, float, float]:
    """Return width, height and what hangs below the base line, in the renderer's units."""
    properties = _letters(item.size_pt, item.bold)
    wide, high, down = renderer.get_text_width_height_descent(item.words, properties, False)
    return float(wide), float(high), float(down)


@lru_cache(maxsize=64)
def _letters(size_pt: float, bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(family="sans-serif", size=size_pt, weight="bold" if bold else "normal")
