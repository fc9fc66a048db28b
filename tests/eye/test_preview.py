"""The preview page in a real browser: it plays past the join, asks for nothing, and answers the keyboard."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import re
import time
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.errors import InputError
from ghostprep.eye.loop import read_report
from ghostprep.eye.preview import Ask, write_page, write_still
from ghostprep.eye.setting import find_setting
from ghostprep.eye.stage import stage_of
from ghostprep.eye.view import EyeView
from ghostprep.eye.window import near_window, whole_window
from ghostprep.optics import make_plan
from ghostprep.scene import load_scene

SCENE = """
title = "The <hall> & \\"more\\""
scale = "1:24"
[box]
width = 110
height = 140
depth = 200
opening = { width = 70, height = 120, sill = 4 }
[viewer]
height = 70
sway = [40, 30]
[screen]
wall = "left"
centre = [-46, 24, 86]
top = "up"
raster = [320, 240]
active = [48, 36]
[ghost]
at = [0, 24, 132]
figure = "0.8 m"
feet = 7
"""
ARGUMENTS = (
    "-c:v",
    "libx264",
    "-crf",
    "16",
    "-pix_fmt",
    "yuv420p",
    "-color_range",
    "tv",
    "-colorspace",
    "bt709",
)
BITS = 6


def numbered(count: int) -> list[np.ndarray]:
    """Frames that carry their number as bright and dark blocks, and a slow figure."""
    frames = []
    for number in range(count):
        frame = np.zeros((240, 320, 3), np.uint8)
        for bit in range(BITS):
            if number >> bit & 1:
                frame[8:40, 8 + 48 * bit : 40 + 48 * bit] = 230
        x = round(160 + 40 * np.sin(2 * np.pi * number / count))
        cv2.ellipse(frame, (x, 150), (30, 70), 0, 0, 360, (190, 200, 230), -1)
        frames.append(frame)
    return frames


def sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


READ_NUMBER = f"""
  const c = document.getElementById('raster'), p = c.getContext('2d');
  let n = 0;
  for (let b = 0; b < {BITS}; b++) if (p.getImageData(24 + 48 * b, 24, 1, 1).data[1] > 110) n += 1 << b;
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("preview")
    (made / "hall.toml").write_text(SCENE)
    write_frames(made / "loop.mp4", numbered(45), size=(320, 240), rate=Fraction(30), arguments=ARGUMENTS)
    (made / "loop.json").write_text(
        json.dumps(
            {
                "output": {"frames": 45, "sha256": sha256(made / "loop.mp4")},
                "loop": {"frames": 45, "join_steps": [43, 44]},
                "proofs": [
                    {"name": "flash", "value": 1.0, "unit": "a second", "limit": "at most 3", "passed": True}
                ],
                "findings": [
                    {"level": "caution", "subject": "join", "text": "</script><b>x</b>", "remedy": "<i>y</i>"}
                ],
            }
        )
    )
    return made


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
    text = SCENE.replace("height = 140", "height = 300").replace("height = 120", "height = 280")
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
        plan = find_setting(folder / "loop.mp4", (320, 240), scene, {}).plan
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
    report = {"output": {"frames": 45, "sha256": sha256(loop)}, "loop": {"frames": 45}, "proofs": [proof]}
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
    found = find_setting(Path("elsewhere/loop.mp4"), (320, 240), None, told).plan
    assert found.scene.units == plan.scene.units
    assert found.pane.corners == pytest.approx(plan.pane.corners, abs=1e-6)
    assert found.sight.trims() == pytest.approx(plan.sight.trims())
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
    plan = find_setting(folder / "loop.mp4", (320, 240), scene, {}).plan
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
        still = EyeView(stage, window, eye=plan.layout.eye + np.array([across, up, 0])).show(frame)
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


def test_a_flashing_loop_does_not_start_by_itself(browser, folder: Path) -> None:
    frames = [np.full((240, 320, 3), 235 * (k // 2 % 2), np.uint8) for k in range(30)]
    write_frames(folder / "strobe.mp4", frames, size=(320, 240), rate=Fraction(30), arguments=ARGUMENTS)
    shown = write_page(Ask(loop=folder / "strobe.mp4"), folder / "strobe.html")
    assert [finding.subject for finding in shown.findings] == ["flash"]
    browser.open(shown.path)
    assert browser.run("return document.getElementById('play').textContent") == "Play"
    assert "flashes more than is safe" in browser.run("return document.body.textContent")


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("reflections", [0, 1, 2])
def test_without_a_scene_every_orientation_is_shown_upright(reflections: int, turn: int) -> None:
    from ghostprep.picture.place import Orientation

    orientation = Orientation.of(reflections, turn)
    setting = find_setting(
        Path("x.mp4"), (320, 240), None, {"recipe": {"reflections": reflections, "turn": turn}}
    )
    assert setting.assumed
    assert setting.orientation == orientation
    wide, high = orientation.picture_size((320, 240))
    upright = np.zeros((high, wide, 3), np.uint8)
    upright[: high // 2, : wide // 2] = (255, 0, 0)  # red at the top left
    upright[high // 2 :, : wide // 2] = (0, 255, 0)  # green below it
    frame = np.ascontiguousarray(orientation.apply(upright))
    stage = stage_of(setting.plan, card=False)
    image = setting.plan.layout.image
    view = EyeView(stage, whole_window(setting.plan, 300), room=0.0)
    added = view.luminance(frame) - view.luminance(np.zeros_like(frame))
    for colour, (u, v) in {0: (0.25, 0.25), 1: (0.25, 0.75)}.items():
        corners = view.window.project(view.eye, image.corners())
        low, top = corners.min(axis=0), corners.max(axis=0)
        x, y = (low + (top - low) * (u, v)).round().astype(int)
        assert added[y, x].argmax() == colour
        assert added[y, x, colour] > 5


def test_one_repeat_of_a_file_full_of_repeats_is_shown(folder: Path) -> None:
    write_frames(
        folder / "thrice.mp4", numbered(10) * 3, size=(320, 240), rate=Fraction(30), arguments=ARGUMENTS
    )
    report = {"output": {"frames": 30, "sha256": sha256(folder / "thrice.mp4")}, "loop": {"frames": 10}}
    (folder / "thrice.json").write_text(json.dumps(report))
    assert write_page(Ask(loop=folder / "thrice.mp4"), folder / "thrice.html").frames == 10
    assert "30 with its repeats" in (folder / "thrice.html").read_text()


@pytest.mark.parametrize(
    "report",
    ["[1, 2", "[]", '{"output": {"sha256": "00"}}', '{"output": 5}', '{"loop": {"frames": 7}, "proofs": 3}'],
)
def test_a_report_of_another_file_is_not_believed(folder: Path, report: str) -> None:
    loop = folder / "plain.mp4"
    loop.write_bytes((folder / "loop.mp4").read_bytes())
    loop.with_suffix(".json").write_text(report)
    found, trouble = read_report(loop)
    assert found == {}
    assert trouble.startswith("plain.json")
    made = write_page(Ask(loop=loop, overwrite=True), folder / "plain.html")
    assert trouble in made.path.read_text()


def test_a_spoilt_report_with_the_right_sum_does_no_harm(folder: Path) -> None:
    loop = folder / "spoilt.mp4"
    loop.write_bytes((folder / "loop.mp4").read_bytes())
    report = {
        "output": {"sha256": sha256(loop), "frames": "x"},
        "loop": {"frames": -3, "join_steps": [9e9, "a"]},
    }
    report |= {
        "proofs": [{"name": 1}],
        "findings": ["x", {"level": "shout"}],
        "recipe": 3,
        "scene": {"scale": {}},
    }
    loop.with_suffix(".json").write_text(json.dumps(report))
    assert write_page(Ask(loop=loop), folder / "spoilt.html").frames == 45


def test_a_still_picture(folder: Path) -> None:
    shown = write_still(Ask(loop=folder / "loop.mp4", scene=folder / "hall.toml"), folder / "still.png")
    picture = cv2.imread(str(shown.path))
    assert picture.shape[0] == 800
    assert picture.std() > 20


def test_refusals(folder: Path) -> None:
    loop = folder / "loop.mp4"
    with pytest.raises(InputError, match="end it in"):
        write_still(Ask(loop=loop), folder / "still.txt")
    with pytest.raises(InputError, match="exists already"):
        write_page(Ask(loop=loop), folder / "hall.toml")
    with pytest.raises(InputError, match="--corners"):
        Ask(loop=loop, corners=((0, 0), (1, 0), (1, 1), (0, 1)))
    other = folder / "other.toml"
    other.write_text(SCENE.replace("[320, 240]", "[480, 320]"))
    with pytest.raises(InputError, match="the loop has 320x240"):
        write_page(Ask(loop=loop, scene=other), folder / "x.html")
    assert not (folder / "x.html").exists()
