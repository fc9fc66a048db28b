"""Sheets as files: one drawing as .svg, .pdf or .png, or many pages as one .pdf."""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from html import escape
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any, Final

from ghostprep.deliver import whole_file
from ghostprep.errors import InputError
from ghostprep.paper.sheet import PaperSheet, TextLine
from ghostprep.paper.sheet_paint import figure_of

FORMATS: Final = (".svg", ".pdf", ".png")
PNG_DPI: Final = 150


def check_drawing(path: Path) -> None:
    """Refuse an ending that a drawing cannot be written in.

    Raises
    ------
    InputError
        The ending is none of `FORMATS`.
    """
    if path.suffix.lower() not in FORMATS:
        kind = path.suffix.lower()
        raise InputError(
            f"a drawing cannot be written as {kind}" if kind else "a drawing needs an ending",
            where=str(path),
            remedy=f"end it in {', '.join(FORMATS[:-1])} or {FORMATS[-1]}",
        )


def write_sheet(sheet: PaperSheet, path: Path, *, title: str, words: str, overwrite: bool) -> None:
    """Write one sheet as its ending says, whole or not at all.

    Parameters
    ----------
    title, words : str
        What it is, and what it shows: an .svg tells both to people who do not see it.

    Raises
    ------
    InputError
        The ending is none of `FORMATS`, or the destination cannot be written.
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
    # into memory first: on a full disk its own compressor would complain, of its inner state
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
    wide, high = (side / 25.4 * 72 for side in sheet.size)
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
