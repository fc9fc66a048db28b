"""Parts larger than a page: their pages, laid together, are the true whole."""

from __future__ import annotations

import re

import numpy as np
import pytest
from pypdf import PdfReader

from ghostprep.optics import make_plan
from ghostprep.paper.template import draw_template
from ghostprep.paper.template_marks import OVERLAP_MM
from ghostprep.scene import parse_scene
from tests.paper.test_template import TRUE_MM, WIDE, near


@pytest.fixture(scope="module")
def wide():
    return make_plan(parse_scene(WIDE, "scene.toml"))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pages_of_a_large_part_join_to_the_true_whole(paper, wide, tmp_path, pdf_strokes):
    out = tmp_path / "parts.pdf"
    draw_template(wide, out, paper=paper)
    reader = PdfReader(out)
    told = [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]
    floor = [n for n, words in enumerate(told) if "floor, inside" in words]
    pages = pdf_strokes(out)
    sizes = [[float(side) * 25.4 / 72 for side in page.mediabox[2:]] for page in reader.pages]
    links = {}
    for n in floor:
        crosses = find_crosses(pages[n])
        assert crosses
        links[n] = (crosses, [int(m) - 1 for m in re.findall(r"here page (\d+) goes on", told[n])])
    # lay page after page on its neighbours, by the crosses alone, from the first page on
    lie = {floor[0]: np.zeros(2)}
    while len(lie) < len(floor):
        before = len(lie)
        for n, (crosses, others) in links.items():
            for other in set(others) - set(lie) if n in lie else ():
                shift = shift_between(crosses, links[other][0], other - n)
                lie[other] = lie[n] + shift
        assert len(lie) > before
    box = wide.scene.box
    upright = [
        float(s.points[0, 0] + lie[n][0])
        for n in floor
        for s in visible(pages[n], sizes[n])
        if abs(s.points[0, 0] - s.points[1, 0]) < 1e-6 and s.size[1] > 50 and not s.dashed
    ]
    left = min(upright)
    for wanted in (box.wall, box.wall + box.width, 2 * box.wall + box.width):
        assert min(abs(x - left - wanted) for x in upright) <= TRUE_MM
    far = [
        float(s.points[0, 1] + lie[n][1])
        for n in floor
        for s in visible(pages[n], sizes[n])
        if abs(s.points[0, 1] - s.points[1, 1]) < 1e-6 and s.size[0] > 50 and not s.dashed
    ]
    top = max(far)
    # back wall's two faces, and the open front; rulers lie elsewhere
    for wanted in (box.wall, box.wall + box.depth):
        assert min(abs(top - y - wanted) for y in far) <= TRUE_MM


def pieces(strokes):
    """Return every stroke's straight pieces."""
    found = []
    for stroke in strokes:
        for a, b in zip(stroke.points, stroke.points[1:], strict=False):
            found.append(type(stroke)([], stroke.closed, stroke.dashed))
            found[-1].points = np.array([a, b])
    return found


def visible(strokes, size):
    """Return the straight pieces in the window of a page that holds the part; beside it they are cut off."""
    low, high = np.array([9.9, 26.9]), np.array(size) - (9.9, 17.9)
    return [
        s
        for s in pieces(strokes)
        if (s.points.mean(axis=0) > low).all() and (s.points.mean(axis=0) < high).all()
    ]


def find_crosses(strokes):
    """Return the middles of the crosses: two lines of 6 mm that halve each other."""
    level = [s for s in strokes if len(s.points) == 2 and near(s.size, (6, 0))]
    upright = [s for s in strokes if len(s.points) == 2 and near(s.size, (0, 6))]
    middles = [tuple(s.points.mean(axis=0)) for s in level]
    return [np.array(m) for m in middles if any(near(m, tuple(u.points.mean(axis=0))) for u in upright)]


def shift_between(here, there, ahead):
    """Return how far another page must be moved so that the crosses of the shared edge coincide.

    The right neighbour (`ahead` 1) shares our rightmost crosses with its leftmost, and so on.
    """
    axis = 0 if abs(ahead) == 1 else 1
    sign = (1 if ahead > 0 else -1) * (1 if axis == 0 else -1)

    def edge(crosses, way):
        limit = max(way * c[axis] for c in crosses)
        return sorted(tuple(c) for c in crosses if way * c[axis] > limit - 0.01)

    mine, theirs = np.array(edge(here, sign)), np.array(edge(there, -sign))
    assert len(mine) == len(theirs) >= 3
    moves = mine - theirs
    assert np.ptp(moves, axis=0).max() <= TRUE_MM
    return moves[0]


def test_overlap_is_as_wide_as_it_is_said_to_be(wide, tmp_path, pdf_strokes):
    out = tmp_path / "parts.pdf"
    draw_template(wide, out)
    first, second = pdf_strokes(out)[:2]
    shift = shift_between(find_crosses(first), find_crosses(second), 1)
    width = float(PdfReader(out).pages[0].mediabox[2]) * 25.4 / 72
    # 10 mm are left white at each edge
    assert width - 20 - shift[0] == pytest.approx(OVERLAP_MM, abs=0.01)
