"""Where words, tags and measures find room: against shapely, and by what must hold on any sheet."""

from __future__ import annotations

import math
import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from ghostprep.optics import make_plan
from ghostprep.optics.sightlines import Rectangle
from ghostprep.paper.colours import FAINT, INK
from ghostprep.paper.drawing import compose
from ghostprep.paper.frame import arrange
from ghostprep.paper.labels import _crossings, _nearest, label
from ghostprep.paper.lettering import room_of, width_of
from ghostprep.paper.measures import measure
from ghostprep.paper.sheet import DrawnShape, PaperSheet, TextLine, fitted, wrapped
from ghostprep.paper.tags import Entry, Tags, _crossed
from ghostprep.paper.template import template_parts
from ghostprep.paper.template_marks import Tile, head_and_foot
from ghostprep.paper.template_pages import paged
from ghostprep.scene import parse_length, parse_scene
from ghostprep.scene.starter import filled_text, starter_text

CROWDED, STAGE = (
    (Path(__file__).parent / "reference" / f"{name}.toml").read_text("utf-8") for name in ("crowded", "stage")
)
places = st.tuples(st.floats(20, 80), st.floats(20, 80))
turns = st.sampled_from([0.0, 90.0, -90.0, 30.0, -45.0, 75.0])


def words_area(at: tuple[float, float], words: str, size_pt: float, turn: float) -> shapely.Polygon:
    """Return the room of words centred on a point and turned about it, as shapely turns it."""
    size, long = size_pt * 25.4 / 72, width_of(words, size_pt)
    # DejaVu Sans: capitals 0.73 em high; letters rise 0.78 em above their line and hang 0.24 em below it
    down = 0.36 * size
    level = shapely.box(-long / 2, -0.24 * size - down, long / 2, 0.78 * size - down)
    return affinity.translate(affinity.rotate(level, turn, origin=(0, 0)), *at)


def as_box(room: Rectangle) -> shapely.Polygon:
    return shapely.box(room.left, room.low, room.right, room.high)


@settings(deadline=None, max_examples=40)
@given(at=places, turn=turns, ha=st.sampled_from(["left", "center", "right"]))
def test_the_room_of_words_is_their_turned_rectangle_s(at, turn, ha):
    room = room_of(at, "page 3", 9, bold=False, ha=ha, va="middle", turn=turn)
    share = {"left": 0.5, "center": 0.0, "right": -0.5}[ha] * width_of("page 3", 9)
    a = math.radians(turn)
    centre = (at[0] + share * math.cos(a), at[1] + share * math.sin(a))
    # turned words stand on their anchor, wherever along the line it is
    assert as_box(room).bounds == pytest.approx(words_area(centre, "page 3", 9, turn).bounds, abs=1e-6)


@settings(deadline=None, max_examples=60)
@given(at=places, to=places, turn=turns)
def test_a_leader_ends_at_the_nearest_point_of_its_words(at, to, turn):
    near = _nearest(at, to, "baffle", turn)
    area = words_area(to, "baffle", 7, turn)
    assert math.dist(at, near) == pytest.approx(area.distance(shapely.Point(at)), abs=1e-6)
    assert area.distance(shapely.Point(near)) < 1e-6


@settings(deadline=None, max_examples=60)
@given(
    ends=st.lists(st.tuples(places, places), min_size=1, max_size=6),
    level=st.booleans(),
    at=places,
    turn=turns,
)
def test_strokes_through_words_are_counted_as_shapely_counts_them(ends, level, at, turn):
    if level:  # strokes along an axis are what most sheets hold
        ends = [((a[0], a[1]), (b[0], a[1])) for a, b in ends]
    ends = [(a, b) for a, b in ends if math.dist(a, b) > 1e-3] or [((0, 0), (1, 1))]
    area = words_area(at, "holder, inside", 7, turn)
    wanted = sum(shapely.LineString(pair).intersection(area).length > 1e-6 for pair in ends)
    assert _crossings(np.array(ends), at, "holder, inside", turn) == wanted


rooms = st.builds(
    lambda x, y, w, h: Rectangle(x, y, x + w, y + h),
    st.floats(0, 95),
    st.floats(0, 95),
    st.floats(1, 30),
    st.floats(1, 30),
)


@settings(deadline=None, max_examples=80)
@given(taken=st.lists(rooms, max_size=4), room=rooms)
def test_what_a_room_would_cover_is_an_area(taken, room):
    sheet = PaperSheet((100, 90))
    sheet.taken += taken
    # two rooms keep 0.3 mm apart; 5 mm at the rim stay free, a millimetre over them counts as 100 mm2
    grown = shapely.box(room.left - 0.15, room.low - 0.15, room.right + 0.15, room.high + 0.15)
    wide = [shapely.box(t.left - 0.15, t.low - 0.15, t.right + 0.15, t.high + 0.15) for t in taken]
    over = max(0, 5 - room.left, 5 - room.low, room.right - 95, room.high - 85)
    wanted = sum(grown.intersection(t).area for t in wide) + 100 * over
    assert sheet.covered(room) == pytest.approx(wanted, abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(taken=rooms, at=places, turn=turns)
def test_a_label_is_near_clear_and_within_its_room(taken, at, turn):
    sheet = PaperSheet((100, 100))
    sheet.taken.append(taken)
    within = Rectangle(10, 10, 90, 90)
    done = label(sheet, at, "screen", within=within, turn=turn)
    words = [item for item in sheet.items if isinstance(item, TextLine)]
    assert done
    assert len(words) == 1
    area = words_area(words[0].at, "screen", 7, words[0].turn)
    assert as_box(within).buffer(1e-6).contains(area)
    # on a sheet with one other thing there is always room close by
    assert not area.intersects(as_box(taken))
    assert 0.5 < area.distance(shapely.Point(at)) < 22
    assert words[0].turn in {turn, 0.0}
    leads = [item for item in sheet.items if isinstance(item, DrawnShape)]
    assert bool(leads) == (area.distance(shapely.Point(at)) > 4)


def test_a_label_is_left_out_where_there_is_no_room():
    sheet = PaperSheet((100, 100))
    assert not label(
        sheet, (5, 50), "screen", within=Rectangle(10, 10, 90, 90)
    )  # what it names is not on this page
    sheet.taken.append(Rectangle(0, 0, 100, 100))
    assert not label(sheet, (50, 50), "screen", within=Rectangle(10, 10, 90, 90))
    assert sheet.items == []


def test_words_turn_with_what_they_name():
    sheet = PaperSheet((100, 100))
    assert label(sheet, (50, 50), "pane", within=Rectangle(10, 10, 90, 90), turn=40.0)
    (item,) = sheet.items
    assert isinstance(item, TextLine)
    assert item.turn == 40
    # beside the line, square to it
    away = math.degrees(math.atan2(item.at[1] - 50, item.at[0] - 50))
    assert away == pytest.approx(130)
    assert math.dist(item.at, (50, 50)) == pytest.approx(2.2, abs=0.01)


@settings(deadline=None, max_examples=40)
@given(
    words=st.lists(st.sampled_from(["a", "lantern", "of", "the", "purser"]), min_size=1),
    wide=st.floats(12, 60),
)
def test_wrapped_words_are_all_there_in_lines_that_fit_and_are_full(words, wide):
    lines = wrapped(" ".join(words), wide, 6.3)
    assert " ".join(lines) == " ".join(words)
    assert all(width_of(line, 6.3) <= wide + 1e-9 for line in lines)
    for line, after in pairwise(lines):
        assert width_of(f"{line} {after.split()[0]}", 6.3) > wide


@settings(deadline=None, max_examples=30)
@given(wide=st.floats(8, 60))
def test_a_title_is_shortened_no_more_than_needed(wide):
    words = "The night ferry's ticket hall"
    told = fitted(words, wide, 8)
    assert width_of(told, 8, bold=True) <= wide
    if told != words:
        kept = told.removesuffix("…")
        assert words.startswith(kept)
        longer = words[: len(kept) + (2 if words[len(kept)] == " " else 1)]
        assert width_of(longer + "…", 8, bold=True) > wide


def test_tags_stand_beside_their_points_and_off_everything():
    tags = Tags([Entry("ghost", INK, "here"), Entry("pane", INK, "there")])
    sheet = PaperSheet((100, 100))
    sheet.taken.append(Rectangle(52, 40, 70, 60))
    tags.put_all(sheet, [("pane", (50, 50), 0.0), ("ghost", (50, 44), 0.0)])
    discs = [item for item in sheet.items if isinstance(item, DrawnShape) and item.radius > 2]
    numbers = [item.words for item in sheet.items if isinstance(item, TextLine)]
    assert numbers == ["2", "1"]  # the key's order counts, not that of drawing
    areas = [shapely.Point(disc.points[0]).buffer(disc.radius) for disc in discs]
    assert not any(area.intersects(shapely.box(52, 40, 70, 60)) for area in areas)
    assert not areas[0].intersects(areas[1])
    for area, at in zip(areas, [(50, 50), (50, 44)], strict=True):
        assert area.centroid.distance(shapely.Point(at)) == pytest.approx(5.5, abs=0.01)
        assert all(area.distance(shapely.Point(dot)) > 0.8 for dot in [(50, 50), (50, 44)])


def test_a_leader_knows_what_it_would_run_over():
    sheet = PaperSheet((100, 100))
    sheet.taken += [Rectangle(40, 40, 60, 60), Rectangle(70, 70, 80, 80), Rectangle(0, 90, 9, 99)]
    assert _crossed(sheet, (30, 30), (90, 90)) == 2
    assert _crossed(sheet, (30, 30), (30, 90)) == 0
    assert _crossed(sheet, (30, 50), (50, 50)) == 1


def test_the_key_is_as_high_as_it_is_written():
    tags = Tags(
        [Entry("ghost", INK, "middle at a place that takes more than one line of the key " * 2)] * 3,
        [(INK, (), "seen from the middle eye, so far before the opening that it takes two lines")] * 2,
    )
    sheet = PaperSheet((200, 200))
    tags.key(sheet, 20, 150, 62)
    low = min(room.low for room in sheet.taken)
    assert 0 <= low - (150 - tags.height(62)) < 6
    assert max(room.right for room in sheet.taken) <= 82
    assert max(room.high for room in sheet.taken) <= 150


def read_measures(sheet: PaperSheet):
    """Yield the two ends of each measure, as its line is drawn, and its words."""
    for line, words in pairwise(sheet.items):
        if (
            isinstance(line, DrawnShape)
            and isinstance(words, TextLine)
            and line.points.shape == (2, 2)
            and re.search(r"\d (mm|cm|in)$", words.words)
            and words.size_pt == 6.5
        ):
            yield line.points, words


SCENES = [
    starter_text(),
    CROWDED,
    STAGE.replace("title", 'units = "cm"\ntitle'),
    filled_text({"box.opening": None}),
]


@pytest.mark.parametrize("text", SCENES)
def test_every_measure_is_as_long_as_it_says(text):
    plan = make_plan(parse_scene(text.replace('units = "cm"', 'units = "mm"')))
    sheet = compose(plan)
    k = float(arrange(plan, lambda width: 60.0).scale)
    told = re.search(
        r"drawn (?:1:([\d.]+)|(\d+):1) on", " ".join(i.words for i in sheet.items if isinstance(i, TextLine))
    )
    assert told is not None
    assert (float(told[2]) if told[2] else 1 / float(told[1])) == pytest.approx(k)
    box, names = plan.scene.box, []
    for (a, b), words in read_measures(sheet):
        name, size = re.fullmatch(r"([a-z ]+) (\S.*)", words.words).groups()
        assert math.dist(a, b) / k == pytest.approx(parse_length(size), abs=0.85 if "in" in size else 0.06)
        level = abs(a[1] - b[1]) < 1e-9
        assert level or abs(a[0] - b[0]) < 1e-9
        # words stand along their line, or past one of its ends, close to it
        along = 0 if level else 1
        assert words.turn == (0 if level else 90)
        assert abs(words.at[1 - along] - a[1 - along]) < 2
        names.append((name, round(math.dist(a, b) / k, 3)))
    lengths = dict(names)
    insides = sorted(length for name, length in names if name == "inside")
    open_front = box.open_front
    wanted = [box.width, box.height, box.height, box.depth][open_front:]
    assert insides == pytest.approx(sorted(wanted), abs=2e-3)
    assert lengths["box and cord"] == pytest.approx(plan.room.shelf.depth_needed_mm, abs=2e-3)
    assert lengths.get("sill", 0) == pytest.approx(box.opening.sill, abs=2e-3)


def test_a_low_boxs_measures_leave_the_sheets_head_alone():
    """The opening's height is a hair too short for its words: they go past one of its ends."""
    box = "[box]\nwidth = 300\nheight = 120\ndepth = 400\nopening = { width = 280, height = 100, sill = 10 }"
    screen = "[screen]\nwall = 'floor'\ncentre = [0, 3, 150]\nraster = [800, 480]\nactive = [154, 86]"
    sheet = compose(make_plan(parse_scene(f"scale = '1:24'\n{box}\n{screen}\n[ghost]\nfigure = '1.75 m'")))
    head = min(
        i.points[0, 1] for i in sheet.items if isinstance(i, DrawnShape) and np.ptp(i.points[:, 0]) > 200
    )
    for _, words in read_measures(sheet):
        assert words.at[1] + width_of(words.words, 6.5) / 2 < head


def test_measures_have_a_slanted_tick_at_both_ends():
    sheet = compose(make_plan(parse_scene(starter_text())))
    lines = [i.points for i in sheet.items if isinstance(i, DrawnShape) and i.points.shape == (2, 2)]
    # ISO 129-1 lets an oblique stroke stand for an arrow
    ticks = [line for line in lines if np.allclose(line[1] - line[0], 1.4)]
    found = list(read_measures(sheet))
    assert len(found) >= 9
    for ends, _ in found:
        for end in ends:
            assert any(np.allclose(tick.mean(axis=0), end) for tick in ticks)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_map_of_a_large_part_shows_this_page_dark(paper):
    pages = paged(template_parts(make_plan(parse_scene(STAGE))), paper, "A stage")
    seen = 0
    for number, page in enumerate(pages, 1):
        dark = [i for i in page.items if isinstance(i, DrawnShape) and i.fill == INK]
        white = [i for i in page.items if isinstance(i, DrawnShape) and i.fill == "white"]
        if not dark:
            continue
        (here,) = dark
        seen += 1
        middles = {tuple(np.round(cell.points.mean(axis=0), 3)) for cell in [here, *white]}
        words = {
            tuple(np.round(i.at, 3)): i.words
            for i in page.items
            if isinstance(i, TextLine) and i.words.isdigit() and i.words != "0"
        }
        assert words[tuple(np.round(here.points.mean(axis=0), 3))] == str(number)
        assert middles == set(words)
        # row by row from the upper left
        ordered = sorted(words, key=lambda at: (-at[1], at[0]))
        assert [int(words[at]) for at in ordered] == list(
            range(int(words[ordered[0]]), int(words[ordered[0]]) + len(words))
        )
        cells = np.vstack([cell.points for cell in [here, *white]])
        assert (cells.max(axis=0) <= np.array(page.size) - (10, 0)).all()
        assert cells[:, 1].max() <= 10 + 17
        assert cells.min() >= 10
        # cells are higher than wide, as pages are
        wide, high = np.ptp(here.points, axis=0)
        assert 1.2 < high / wide < 1.5
    assert seen >= 9


@pytest.mark.parametrize(
    "title", ["A stage", "The last purser walks with a lantern through the ticket hall " * 4]
)
def test_head_and_foot_of_a_page_do_not_meet(title, label_faults):
    for tile in (Tile(0, 0, 1, 1, 1), Tile(2, 1, 4, 4, 101)):
        sheet = PaperSheet((210, 297))
        head_and_foot(sheet, title, 100, 200, tile)
        assert label_faults(sheet) == []
        assert all(room.left >= 10 - 1e-6 and room.right <= 200 + 1e-6 for room in sheet.taken)
        lines = [i for i in sheet.items if isinstance(i, DrawnShape) and i.points.shape == (2, 2)]
        # from the ruler's ticks: each whole centimetre and inch is longer than those between
        up = {
            round(i.points[0, 0] - 10, 3): np.ptp(i.points[:, 1])
            for i in lines
            if i.points[1, 1] > i.points[0, 1] + 1
        }
        assert sorted(up) == pytest.approx(list(range(0, 101, 5)))
        down = {
            round((i.points[0, 0] - 10) / 25.4, 3): np.ptp(i.points[:, 1])
            for i in lines
            if i.points[1, 1] < i.points[0, 1] - 1
        }
        assert sorted(down) == pytest.approx([n / 4 for n in range(17)])
        for ticks, whole in ((up, 10), (down, 1)):
            longs = [tall for at, tall in ticks.items() if at % whole == 0]
            shorts = [tall for at, tall in ticks.items() if at % whole]
            assert min(longs) > 1.5 * max(shorts)
        words = {i.words: i.at[0] - 10 for i in sheet.items if isinstance(i, TextLine)}
        told = {"50 mm": 50, "100 mm": 100, "2 in": 50.8, "4 in": 101.6}
        assert {w: words[w] for w in told} == pytest.approx(told)


@settings(deadline=None, max_examples=30)
@given(blocked=st.floats(0.1, 11), upright=st.booleans())
def test_words_that_find_no_room_go_past_their_measure_no_farther_than_needed(blocked, upright):
    """Before the measure all is taken, past it the first `blocked` mm: a step of 3 mm more is the most."""
    sheet = PaperSheet((200, 200))
    ends = np.array([[100.0, 40.0], [101.0, 40.0]])
    end, long = 101.0, width_of("sill 1 mm", 6.5)
    taken = [(0.0, 50.0, end, 70.0), (end, 50.0, end + 1.5 + blocked - 0.3, 70.0)]
    if upright:
        ends = ends[:, ::-1].copy()
    sheet.taken += [Rectangle(b, a, d, c) if upright else Rectangle(a, b, c, d) for a, b, c, d in taken]
    measure(sheet, ends, "sill 1 mm", axis=int(upright), level=60.0)
    (words,) = (item for item in sheet.items if isinstance(item, TextLine))
    start = words.at[int(upright)] - long / 2 - end - 1.5
    assert blocked <= start + 1e-6 <= blocked + 3
    # from what is measured a thin line leads to its own
    leads = [i.points for i in sheet.items if isinstance(i, DrawnShape) and i.edge == FAINT]
    spans = [lead[:, 1 - int(upright)] for lead in leads]
    assert [tuple(span) for span in spans] == [pytest.approx((40.8, 60.8))] * 2
