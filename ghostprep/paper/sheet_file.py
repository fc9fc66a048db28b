"""Sheets painted at 1:1 and written: one drawing as .svg, .pdf or .png, or many pages as one .pdf."""

from __future__ import annotations

import logging
import math
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from html import escape
from io import BytesIO, StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.paper.lettering import INCH_MM, MIDDLE, POINT_MM
from ghostprep.paper.sheet import DrawnShape, PaperSheet, TextLine

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FORMATS: Final = (".svg", ".pdf", ".png")
PNG_DPI: Final = 150
"""A picture for the display: letters of 6 points are 12 pixels high."""


def check_drawing(path: Path) -> None:
    """Refuse an ending that a drawing cannot be written in."""
    if path.suffix.lower() not in FORMATS:
        kind = path.suffix.lower()
        raise InputError(
            f"a drawing cannot be written as {kind}" if kind else "a drawing needs an ending",
            where=str(path),
            remedy=f"end it in {', '.join(FORMATS[:-1])} or {FORMATS[-1]}",
        )


def write_sheet(sheet: PaperSheet, path: Path, *, title: str, words: str, overwrite: bool) -> None:
    """Write one sheet as its ending says, whole or not at all.

    An .svg tells `title` and `words`, what it is and shows, to people who do not see it.
    """
    check_drawing(path)
    kind = path.suffix.lower()
    with whole_file(path, overwrite=overwrite) as part:
        if kind == ".svg":
            part.write_text(_XML + svg_text(sheet, title=title, words=words), encoding="utf-8", newline="\n")
        elif kind == ".pdf":
            write_pages([sheet], part, title=title)
        else:
            _write_png(sheet, part)


def _write_png(sheet: PaperSheet, part: Path) -> None:
    with _quiet():
        # a quarter larger than at the usual level 6, in half the time
        figure_of(sheet).savefig(part, format="png", dpi=PNG_DPI, pil_kwargs={"compress_level": 1})


def write_pages(sheets: Sequence[PaperSheet], part: Path, *, title: str) -> None:
    """Write sheets as the pages of one PDF; the same sheets give the same bytes.

    The letters of Helvetica, which every PDF reader brings along, spare the time to embed a font;
    where words need other letters, a font is embedded.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    words = title + "".join(i.words for sheet in sheets for i in sheet.items if isinstance(i, TextLine))
    core = _is_western(words)
    settings: dict[str, Any] = {"pdf.use14corefonts": core, "pdf.fonttype": 42}
    if core:
        settings["font.sans-serif"] = ["Helvetica"]
    metadata = {"Title": title, "Creator": "ghostprep", "Producer": None, "CreationDate": None}
    # in memory first: on a full disk matplotlib fails with an error of its compressor
    made = BytesIO()
    with _quiet(settings), PdfPages(made, metadata=metadata) as pages:
        for sheet in sheets:
            pages.savefig(figure_of(sheet))
    part.write_bytes(made.getvalue())


def svg_text(sheet: PaperSheet, *, title: str, words: str) -> str:
    """Return a sheet as one SVG element, to stand alone or inside a page.

    It holds no script and no style that would reach out of it, asks for nothing, and names itself
    to screen readers. Letters stay letters.
    """
    made = StringIO()
    wide, high = (side / INCH_MM * 72 for side in sheet.size)
    with _quiet({"svg.fonttype": "none", "svg.hashsalt": "ghostprep"}):
        metadata = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure_of(sheet).savefig(made, format="svg", metadata=metadata)
    svg = made.getvalue()
    head = re.search(r"<svg\b[^>]*>", svg)
    assert head is not None
    body = svg[head.end() :]
    # matplotlib's rule for every element would reach the page around; here it is inherited instead
    body = re.sub(r"<defs>\s*<style.*?</style>\s*</defs>\s*", "", body, count=1, flags=re.DOTALL)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
        f' width="{sheet.size[0]:.2f}mm" height="{sheet.size[1]:.2f}mm" viewBox="0 0 {wide:.6f} {high:.6f}"'
        ' role="img" aria-labelledby="drawing-title drawing-words"'
        ' style="stroke-linejoin: round; stroke-linecap: butt">\n'
        f'<title id="drawing-title">{escape(title)}</title>\n'
        f'<desc id="drawing-words">{escape(words)}</desc>\n{body.lstrip()}'
    )


_XML: Final = '<?xml version="1.0" encoding="utf-8" standalone="no"?>\n'


def _is_western(words: str) -> bool:
    try:
        words.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


@contextmanager
def _quiet(settings: Any = None) -> Iterator[None]:
    """Hold matplotlib to settings, and keep it from complaining about letters that a font lacks."""
    import matplotlib as mpl

    logs = [logging.getLogger(name) for name in ("matplotlib.font_manager", "fontTools")]
    levels = [log.level for log in logs]
    with mpl.rc_context(settings or {}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*[Gg]lyph.*missing")
        for log in logs:
            log.setLevel(logging.ERROR)
        try:
            yield
        finally:
            for log, level in zip(logs, levels, strict=True):
                log.setLevel(level)


def figure_of(sheet: PaperSheet) -> Figure:
    """Return a sheet as a figure of its true size on white paper; it is drawn in mm of the paper."""
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(sheet.size[0] / INCH_MM, sheet.size[1] / INCH_MM), facecolor="white")
    mm = Affine2D().scale(1 / INCH_MM) + figure.dpi_scale_trans
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
