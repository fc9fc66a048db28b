"""Drawings and templates beside references that a person has looked at.

Where each thing stands on paper, how heavy its line is and what covers what has no outside truth but the eye.
So a few sheets are kept, as SVG that any browser shows, one item a line; what is drawn must agree with them
item by item, numbers to 0.02 mm. After a change on purpose, draw them anew, look at each, and keep them:

    python tests/paper/test_reference.py
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape
from pathlib import Path

import pytest

from ghostprep.optics import make_plan
from ghostprep.paper.drawing import compose
from ghostprep.paper.sheet import DrawnShape, PaperSheet, TextLine
from ghostprep.paper.template import template_parts
from ghostprep.paper.template_pages import paged
from ghostprep.scene import parse_scene
from ghostprep.scene.starter import filled_text, starter_text

FOLDER = Path(__file__).parent / "reference"
NEAR_MM = 0.02
NUMBER = re.compile(r"-?\d+\.\d+|-?\d+")


def sheets() -> dict[str, PaperSheet]:
    """Draw what is kept: three drawings, all pages of a template, and pages of one that runs over several."""
    hall, crowded, stage = (
        make_plan(parse_scene(text))
        for text in (
            starter_text(),
            *((FOLDER / f"{n}.toml").read_text("utf-8") for n in ("crowded", "stage")),
        )
    )
    narrow = {"pane.size": [150, 90], "viewer.sway": [10, 5]}
    trims = make_plan(parse_scene(filled_text(narrow)))
    drawn = {"hall": compose(hall), "crowded": compose(crowded), "trims": compose(trims)}
    pages = paged(template_parts(crowded), "letter", crowded.scene.title)
    drawn |= {f"crowded-page-{n}": page for n, page in enumerate(pages, 1)}
    pages = paged(template_parts(stage), "a4", stage.scene.title)
    return drawn | {f"stage-page-{n}": pages[n - 1] for n in (1, 5)}


def svg_lines(sheet: PaperSheet) -> Iterator[str]:
    """Yield a sheet as SVG in mm, one item a line, in the order of painting."""
    wide, high = sheet.size
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {wide:.2f} {high:.2f}" font-family="DejaVu Sans">'
    )
    window = None
    for item in sorted(sheet.items, key=lambda item: item.zorder):
        if isinstance(item, TextLine):
            anchor = {"left": "start", "center": "middle", "right": "end"}[item.ha]
            x, y = item.at[0], high - item.at[1]
            style = f'font-size="{item.size_pt * 25.4 / 72:.2f}" text-anchor="{anchor}" fill="{item.colour}"'
            if item.bold:
                style += ' font-weight="bold"'
            if item.va == "middle":
                style += ' dominant-baseline="central"'
            if item.turn:
                style += f' transform="rotate({-item.turn:.2f} {x:.2f} {y:.2f})"'
            yield f'<text x="{x:.2f}" y="{y:.2f}" {style}>{escape(item.words)}</text>'
            continue
        if item.window is not None and item.window != window:
            w = window = item.window
            yield (
                f'<clipPath id="{w.left:.0f}-{w.low:.0f}"><rect x="{w.left:.2f}" y="{high - w.high:.2f}" '
                f'width="{w.right - w.left:.2f}" height="{w.high - w.low:.2f}"/></clipPath>'
            )
        yield _shape(item, high)
    yield "</svg>"


def _shape(item: DrawnShape, high: float) -> str:
    style = f'fill="{item.fill}" stroke="{item.edge}" stroke-width="{item.width_mm:.2f}"'
    if item.alpha < 1:
        style += f' opacity="{item.alpha:.2f}"'
    if item.dash:
        style += f' stroke-dasharray="{" ".join(f"{n * item.width_mm:.2f}" for n in item.dash)}"'
    if item.window is not None:
        style += f' clip-path="url(#{item.window.left:.0f}-{item.window.low:.0f})"'
    points = [f"{x:.2f},{high - y:.2f}" for x, y in item.points.tolist()]
    if item.radius:
        x, y = points[0].split(",")
        return f'<circle cx="{x}" cy="{y}" r="{item.radius:.2f}" {style}/>'
    return f'<poly{"gon" if item.closed else "line"} points="{" ".join(points)}" {style}/>'


def alike(here: str, there: str) -> bool:
    """Whether two lines agree, numbers to `NEAR_MM`."""
    if NUMBER.sub("", here) != NUMBER.sub("", there):
        return False
    pairs = zip(NUMBER.findall(here), NUMBER.findall(there), strict=True)
    return all(abs(float(a) - float(b)) <= NEAR_MM for a, b in pairs)


@pytest.fixture(scope="module")
def drawn() -> dict[str, PaperSheet]:
    return sheets()


@pytest.mark.parametrize("name", sorted(path.stem for path in FOLDER.glob("*.svg")))
def test_what_is_drawn_agrees_with_the_reference(name: str, drawn: dict[str, PaperSheet]) -> None:
    kept = (FOLDER / f"{name}.svg").read_text(encoding="utf-8").splitlines()
    made = list(svg_lines(drawn[name]))
    other = [(a, b) for a, b in zip(kept, made, strict=False) if not alike(a, b)]
    assert not other, f"kept:  {other[0][0]}\ndrawn: {other[0][1]}"
    assert len(kept) == len(made)


def test_every_sheet_has_its_reference(drawn: dict[str, PaperSheet]) -> None:
    assert sorted(drawn) == sorted(path.stem for path in FOLDER.glob("*.svg"))


if __name__ == "__main__":
    for old in FOLDER.glob("*.svg"):
        old.unlink()
    for name, sheet in sheets().items():
        (FOLDER / f"{name}.svg").write_text(
            "\n".join(svg_lines(sheet)) + "\n", encoding="utf-8", newline="\n"
        )
