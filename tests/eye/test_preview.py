"""The preview page in a real browser: it plays past the join, asks for nothing, and answers the keyboard."""

from __future__ import annotations

import base64
import itertools
import json
import re
import time
from dataclasses import astuple
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.digest import sha256_of
from ghostprep.eye.backdrop import find_backdrop
from ghostprep.eye.preview import Ask, write_page
from ghostprep.eye.stage import stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import near_window, whole_window
from ghostprep.optics import make_plan
from ghostprep.scene import load_scene

BITS = 6
READ_NUMBER = f"""
  const c = document.getElementById('raster'), p = c.getContext('2d');
  let n = 0;
  for (let b = 0; b < {BITS}; b++) if (p.getImageData(24 + 48 * b, 24, 1, 1).data[1] > 110) n += 1 << b;
"""


@pytest.fixture(scope="module")
def page(folder: Path) -> Path:
    shown = write_page(Ask(loop=folder / "loop.mp4", scene=folder / "hall.toml"), folder / "page.html")
    assert shown.frames == 45
    return shown.path


def test_the_page_plays_past_the_join_in_order_and_without_a_gap(browser, page: Path) -> None:
    browser.open(page)
    seen = browser.wait_for(
        f"""
        const done = arguments[0], seen = [], times = [];
        document.getElementById('join-only').click();
        if (document.getElementById('play').textContent !== 'Stop') document.getElementById('play').click();
        function look(now) {{
          {READ_NUMBER}
          if (seen[seen.length - 1] !== n) {{ seen.push(n); times.push(now); }}
          if (seen.length < 70) requestAnimationFrame(look); else done([seen, times]);
        }}
        requestAnimationFrame(look);
        """
    )
    numbers, times = seen
    steps = [(b - a) % 45 for a, b in itertools.pairwise(numbers)]
    joins = [k for k, (a, b) in enumerate(itertools.pairwise(numbers)) if a > b]
    assert joins, "the join was never passed"
    # in order always; a busy machine may skip a frame, but never shows one twice or waits at the join
    assert all(1 <= step <= 22 for step in steps)
    gaps = [(times[k + 1] - times[k]) / max(steps[k], 1) for k in range(len(steps))]
    assert gaps[joins[0]] < 3 * sorted(gaps)[len(gaps) // 2] + 20


def test_every_frame_is_the_loops_own(browser, page: Path) -> None:
    browser.open(page)
    for number in (0, 1, 22, 43, 44):
        got = browser.run(
            f"""
            const s = document.getElementById('frame'); s.value = arguments[0];
            s.dispatchEvent(new Event('input'));
            {READ_NUMBER} return n;
            """,
            number,
        )
        assert got == number


def test_no_error_and_no_request(browser, page: Path) -> None:
    browser.open(page)
    time.sleep(0.3)
    assert [entry["message"] for entry in browser.logs("browser")] == []
    asked = {address.split(":")[0] for address in browser.requests()}
    assert asked == {"file", "data"}
    text = page.read_text(encoding="utf-8")
    markup = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    assert not re.search(r"""(?:src|href)\s*=\s*(?!["']?(?:data:|#))""", markup)
    assert "default-src 'none'" in text


def test_the_keyboard_reaches_and_works_every_control(browser, page: Path) -> None:
    browser.open(page)
    controls = browser.run(
        "return [...document.querySelectorAll('button, input, a[href], select, summary')].map(e => e.id)"
    )
    reached = []
    for _ in controls:
        browser.press("\ue004")
        reached.append(browser.run("return document.activeElement.id"))
    assert reached == controls
    browser.run("document.getElementById('play').focus()")
    before = browser.run("return document.getElementById('play').textContent")
    browser.press(" ")
    assert browser.run("return document.getElementById('play').textContent") != before
    browser.run("document.getElementById('across').focus()")
    browser.press(*["\ue014"] * 5)
    assert browser.run("return document.getElementById('across-now').textContent") == "5 mm to the right"
    labelled = browser.run(
        "return [...document.querySelectorAll('input')].filter(e => !e.labels.length).map(e => e.id)"
    )
    assert labelled == []


def test_moving_the_eye_far_cuts_the_figure_off_and_says_so(browser, page: Path) -> None:
    browser.open(page)
    assert (
        browser.run("return document.getElementById('seen').textContent")
        == "From here the whole figure is seen."
    )
    words = browser.wait_for(
        """
        const done = arguments[0], s = document.getElementById('across');
        s.value = s.max; s.dispatchEvent(new Event('input'));
        setTimeout(() => done(document.getElementById('seen').textContent), 400);
        """
    )
    assert re.search(r"From here \d+ % of the figure's area is seen", words)


def test_light_is_told_in_plain_figures_however_bright(browser, page: Path) -> None:
    browser.open(page)
    for at in ("min", "max"):
        told = browser.run(
            "const lamps = document.getElementById('lamps'); lamps.value = lamps[arguments[0]];"
            "lamps.dispatchEvent(new Event('input'));"
            "return document.getElementById('lamps-now').textContent",
            at,
        )
        assert re.fullmatch(r"[\d.]+ cd/m²", told)


def test_dragging_the_picture_moves_the_eye(browser, page: Path) -> None:
    browser.resize(1200, 900)
    browser.open(page)
    browser.run("document.getElementById('view').scrollIntoView({block: 'center'})")
    x, y, w, h = browser.run(
        "const r = document.getElementById('view').getBoundingClientRect();"
        " return [r.x, r.y, r.width, r.height]"
    )
    browser.drag((round(x + w / 2), round(y + h / 2)), (40, 0))
    assert "to the right" in browser.run("return document.getElementById('across-now').textContent")


@pytest.mark.parametrize("width", [360, 1440])
def test_nothing_is_cut_off_at_any_width(browser, page: Path, width: int) -> None:
    browser.resize(width, 900)
    browser.open(page)
    assert browser.run("return document.documentElement.scrollWidth") <= width


FURNISHED = """
title = "A corridor that goes on"
units = "in"
scale = "1:24"
[box]
width = 6
height = 7
depth = 10
[viewer]
distance = 24
height = 3.5
[screen]
wall = "left"
top = "front"
raster = [320, 240]
active = [2.4, 1.8]
body = [3, 2.2, 0.4]
[[divider]]
from = [-3, 1.4]
to = [3, 1.4]
doorways = [ { at = 3.2, width = 3, height = 5 } ]
[[mirror]]
from = [-3, 10]
to = [3, 9.6]
height = 6
[[thing]]
name = "counter"
at = [1.4, 0, 7.6]
size = [1.5, 1.6, 0.8]
turn = 30
picture = "counter.png"
[light]
strips = [ { from = [-2, 6.8, 3], to = [2, 6.8, 3], lumens = 30, faces = "down" } ]
"""


def test_the_ghost_is_large_on_a_laptop_in_a_tall_box_too(browser, folder: Path) -> None:
    tall = folder / "tall.toml"
    text = (
        (folder / "hall.toml")
        .read_text()
        .replace("height = 140", "height = 300")
        .replace("height = 120", "height = 280")
    )
    tall.write_text(text.replace('figure = "0.8 m"', 'figure = "0.7 m"'))
    browser.resize(1280, 800)
    for scene in (tall, folder / "hall.toml"):
        page = write_page(
            Ask(loop=folder / "loop.mp4", scene=scene, overwrite=True), folder / "tall.html"
        ).path
        browser.open(page)
        high, rows = browser.run(
            "const c = document.getElementById('view'); return [c.clientHeight, c.height]"
        )
        plan = find_backdrop(folder / "loop.mp4", (320, 240), scene, {}).plan
        window = near_window(plan, whole_window(plan, rows))
        (x, _, z), feet = plan.layout.ghost, plan.figure.feet_mm
        ends = np.array([(x, feet, z), (x, feet + plan.figure.height_mm, z)])
        px = np.ptp(window.project(plan.layout.eye, ends)[:, 1]) * high / rows
        assert px > 800 / 3
        assert high <= 0.93 * 800


def test_lengths_are_in_the_builders_units(folder: Path) -> None:
    loop = folder / "inches.mp4"
    loop.write_bytes((folder / "loop.mp4").read_bytes())
    proof = {
        "name": "height",
        "value": 25.4,
        "unit": "mm",
        "limit": "25.4 mm, within 6.35 mm",
        "passed": True,
    }
    report = {"output": {"frames": 45, "sha256": sha256_of(loop)}, "loop": {"frames": 45}, "proofs": [proof]}
    loop.with_suffix(".json").write_text(json.dumps(report))
    (folder / "inches.toml").write_text(FURNISHED)
    made = write_page(Ask(loop=loop, scene=folder / "inches.toml"), folder / "inches.html").path
    markup = re.sub(r"<script.*?</script>|data:[^\"]*", "", made.read_text(), flags=re.DOTALL)
    assert "1 in, within 1/4 in" in markup
    assert "24 in before" in markup
    # what stands for the life-size measure is metric: "500 mm in life", "1.70 m"
    assert re.findall(r"\d mm\b", markup.replace("500 mm in life", "")) == []


@pytest.mark.parametrize("name", ["hall", "furnished"])
def test_a_scene_from_the_report_is_the_one_that_was_planned(folder: Path, name: str) -> None:
    (folder / "furnished.toml").write_text(FURNISHED)
    plan = make_plan(load_scene(folder / f"{name}.toml"))
    told = {"scene": json.loads(json.dumps(plan.as_dict()["scene"]))}
    found = find_backdrop(Path("elsewhere/loop.mp4"), (320, 240), None, told).plan
    assert found.scene.units == plan.scene.units
    assert found.pane.corners == pytest.approx(plan.pane.corners, abs=1e-6)
    told, meant = ({t.name: astuple(t.face(p.scene)) for t in p.sight.trims()} for p in (found, plan))
    assert told == {name: pytest.approx(face) for name, face in meant.items()}
    words = {f.text for f in plan.findings if f.level == "fault"}
    assert {f.text for f in found.findings if f.level == "fault"} == words


def picture_of(address: str) -> np.ndarray:
    data = np.frombuffer(base64.b64decode(address.split(",")[1]), np.uint8)
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])


@pytest.mark.parametrize("name", ["hall", "furnished"])
def test_the_page_shows_what_the_still_picture_shows(browser, folder: Path, name: str) -> None:
    """Two ways to the same picture: the page's faces in perspective, and rays followed one by one."""
    (folder / "furnished.toml").write_text(FURNISHED)
    squares = np.indices((80, 75)).sum(axis=0) // 10 % 2 * 255
    cv2.imwrite(str(folder / "counter.png"), squares.astype(np.uint8))
    scene = folder / f"{name}.toml"
    page = write_page(Ask(loop=folder / "loop.mp4", scene=scene), folder / f"{name}.html").path
    browser.open(page)
    plan = find_backdrop(folder / "loop.mp4", (320, 240), scene, {}).plan
    stage = stage_of(plan, folders=(folder,))
    assert stage.remarks == ()
    for across, up in ((0, 0), (60, -25)):
        wide, high, url, raster = browser.wait_for(
            """
            const done = arguments[2], [across, up] = arguments;
            const play = document.getElementById('play');
            if (play.textContent === 'Stop') play.click();
            const set = (id, v) => {
              const s = document.getElementById(id); s.value = v; s.dispatchEvent(new Event('input'));
            };
            set('frame', 10); set('across', across); set('up', up);
            setTimeout(() => {
              const c = document.getElementById('view'), r = document.getElementById('raster');
              done([c.width, c.height, c.toDataURL('image/png'), r.toDataURL('image/png')]);
            }, 2500);
            """,
            across,
            up,
        )
        shown, frame = (picture_of(address) for address in (url, raster))
        window = near_window(plan, whole_window(plan, high))
        still = EyeView(stage, window, plan.layout.eye + np.array([across, up, 0])).show(frame)
        assert still.shape == (high, wide, 3)
        off = np.abs(still.astype(int) - shown.astype(int)).max(axis=2)
        assert off.mean() < 1.0
        assert (off > 8).mean() < 0.012  # edges, on which one of the two falls on the other side


def test_a_photograph_is_shown_where_a_mirror_stands_too(browser, folder: Path) -> None:
    (folder / "furnished.toml").write_text(FURNISHED)
    cv2.imwrite(str(folder / "box.png"), np.full((700, 600, 3), 90, np.uint8))
    corners = ((0.0, 0.0), (599.0, 0.0), (599.0, 699.0), (0.0, 699.0))
    ask = Ask(
        loop=folder / "loop.mp4",
        scene=folder / "furnished.toml",
        photo=folder / "box.png",
        corners=corners,
        overwrite=True,
    )
    browser.open(write_page(ask, folder / "photo.html").path)
    shown = picture_of(browser.run("return document.getElementById('view').toDataURL('image/png')"))
    assert shown.min() > 20  # an even grey, darker behind the pane, black nowhere


def test_names_and_texts_are_escaped(folder: Path, page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "<b>x</b>" not in text
    assert "&lt;/script&gt;&lt;b&gt;x&lt;/b&gt;" in text
    assert "The &lt;hall&gt; &amp; &#34;more&#34;" in text
    assert text.count("<script") == 2
    nasty = folder / "a<img src=x onerror=alert(1)> $(b) 'c.mp4"
    nasty.write_bytes((folder / "loop.mp4").read_bytes())
    made = write_page(Ask(loop=nasty), folder / "nasty.html").path.read_text(encoding="utf-8")
    assert "<img src=x" not in made


def test_a_flashing_loop_does_not_start_by_itself(browser, folder: Path, write_loop) -> None:
    frames = [np.full((240, 320, 3), 235 * (k // 2 % 2), np.uint8) for k in range(30)]
    write_loop(folder / "strobe.mp4", frames)
    shown = write_page(Ask(loop=folder / "strobe.mp4"), folder / "strobe.html")
    assert [finding.subject for finding in shown.findings] == ["flash"]
    browser.open(shown.path)
    assert browser.run("return document.getElementById('play').textContent") == "Play"
    assert "flashes more than is safe" in browser.run("return document.body.textContent")
