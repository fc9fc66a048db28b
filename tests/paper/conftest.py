"""Readers of what is drawn, and plans to draw."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import reject
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from pypdf import PdfReader
from pypdf.generic import ContentStream

from ghostprep.errors import InputError
from ghostprep.optics import Plan, make_plan
from ghostprep.paper.sheet import PaperSheet
from ghostprep.paper.sheet_file import figure_of
from ghostprep.scene import Scene
from ghostprep.scene.model import TOPS

POINTS_PER_MM = 72 / 25.4


class Stroke:
    """One stroked or filled path of a PDF page: its points in mm, its dash pattern and line width."""

    def __init__(self, points: list[tuple[float, float]], closed: bool, dashed: bool) -> None:
        self.points = np.array(points) / POINTS_PER_MM
        self.closed = closed
        self.dashed = dashed

    @property
    def size(self) -> tuple[float, float]:
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(high[0] - low[0]), float(high[1] - low[1])

    @property
    def corner(self) -> tuple[float, float]:
        x, y = self.points.min(axis=0)
        return float(x), float(y)


def read_strokes(page: Any, reader: Any) -> list[Stroke]:
    """Read the paths of a page from its content stream (ISO 32000-1, section 8.5), straight ones only."""
    found: list[Stroke] = []
    points: list[tuple[float, float]] = []
    closed = curved = dashed = False
    for operands, operator in ContentStream(page.get_contents(), reader).operations:
        name = operator.decode()
        if name == "cm":
            raise AssertionError("a page at 1:1 is not scaled")
        if name == "d":
            dashed = bool(list(operands[0]))
        elif name == "m":
            points, closed, curved = [tuple(map(float, operands))], False, False
        elif name == "l":
            points.append(tuple(map(float, operands)))
        elif name in {"c", "v", "y"}:
            curved = True
        elif name == "h":
            closed = True
        elif name in {"S", "s", "f", "B", "b", "n", "f*", "B*", "b*"}:
            if name != "n" and len(points) > 1 and not curved:
                found.append(Stroke(points, closed, dashed))
            points = []
    return found


@pytest.fixture(scope="session")
def pdf_strokes() -> Callable[[Path], list[list[Stroke]]]:
    """Return a reader of the strokes of each page of a PDF, in mm from the page's lower left corner."""

    def read(path: Path) -> list[list[Stroke]]:
        reader = PdfReader(path)
        return [read_strokes(page, reader) for page in reader.pages]

    return read


def label_boxes(sheet: PaperSheet) -> list[tuple[str, np.ndarray]]:
    """Return all words of a sheet and the corners (4, 2) of their room, mm, as matplotlib lays them out."""
    figure = figure_of(sheet)
    figure.set_dpi(300)
    renderer = FigureCanvasAgg(figure).get_renderer()
    found = []
    for text in figure.texts + [a for a in figure.artists if isinstance(a, Text)]:
        if not text.get_text().strip():
            continue
        turn = np.radians(text.get_rotation())
        text.set_rotation(0)
        anchor = np.array(text.get_transform().transform(text.get_position()))
        corners = (text.get_window_extent(renderer).corners()[[0, 2, 3, 1]] - anchor) / 300 * 25.4
        turned = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        found.append((text.get_text(), turned + anchor / 300 * 25.4))
    return found


def apart(a: np.ndarray, b: np.ndarray) -> bool:
    """Return whether two rectangles, turned anyhow, have a line between them."""
    for corners in (a, b):
        for side in (corners[1] - corners[0], corners[2] - corners[1]):
            along_a, along_b = a @ side, b @ side
            if along_a.max() <= along_b.min() or along_b.max() <= along_a.min():
                return True
    return False


@pytest.fixture(scope="session")
def label_faults() -> Callable[[PaperSheet], list[str]]:
    """Return a judge of a sheet: which labels leave the page, and which lie on each other."""

    def judge(sheet: PaperSheet) -> list[str]:
        labels = label_boxes(sheet)
        page = np.array(sheet.size)
        faults = [
            f"{words!r} leaves the page"
            for words, corners in labels
            if corners.min() < 0 or (corners > page).any()
        ]
        for (words, corners), (others, there) in itertools.combinations(labels, 2):
            if not apart(corners, there):
                faults.append(f"{words!r} on {others!r}")
        return faults

    return judge


@pytest.fixture(scope="session")
def drawn_scenes() -> st.SearchStrategy[Plan]:
    """Return a strategy of plans: every wall, top, unit and opening, boxes from a palm to a chest."""

    @st.composite
    def plans(draw: Any) -> Plan:
        width, height, depth = (draw(st.integers(60, 700)) for _ in range(3))
        wall = draw(st.sampled_from(sorted(TOPS)))
        lit = round(draw(st.floats(0.1, 0.5)) * min(width, height, depth), 1)
        share = draw(st.sampled_from([0.5, 0.9, 1.0]))
        tables: dict[str, Any] = {
            "title": draw(st.sampled_from(["", "Purser", "The night ferry's ticket hall, $1 a ticket" * 3])),
            "units": draw(st.sampled_from(["mm", "cm", "in"])),
            "box": {
                "width": f"{width} mm",
                "height": f"{height} mm",
                "depth": f"{depth} mm",
                "wall": f"{draw(st.integers(2, 20))} mm",
                "opening": {"width": f"{share * width} mm", "height": f"{share * height} mm", "sill": 0},
            },
            "viewer": {"distance": "600 mm", "across": f"{draw(st.integers(-100, 100))} mm"},
            "screen": {
                "wall": wall,
                "top": draw(st.sampled_from(TOPS[wall])),
                "swivel": draw(st.sampled_from([0, 0, -8, 12])),
                "raster": [320, 240],
                "active": [f"{lit} mm", f"{lit * 0.75} mm"],
            },
            "light": {"lamps": [{"at": [0, f"{0.9 * height} mm", f"{depth / 4} mm"], "lumens": 4}]},
        }
        if draw(st.booleans()):
            tables["shelf"] = {"depth": f"{depth * draw(st.sampled_from([0.8, 1.0, 1.5])):.1f} mm"}
        try:
            return make_plan(Scene.model_validate(tables, context={"units": tables["units"]}))
        except InputError:
            reject()

    return plans()
