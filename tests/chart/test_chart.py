"""The chart, decoded and traced through the scene, and the corrections that come of what was seen."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.chart.draw import draw_chart, glow_contrast
from ghostprep.chart.layout import STEPS
from ghostprep.chart.questions import signs_text
from ghostprep.chart.seen import SIGNS, Corrected, Seen, corrections_for
from ghostprep.chart.write import write_chart
from ghostprep.cli.chart import command
from ghostprep.clip import probe, read_frames
from ghostprep.errors import InputError
from ghostprep.optics import Plan, make_plan
from ghostprep.proof.upright import ORIENTATIONS, UprightProof
from ghostprep.scene import load_scene, parse_scene
from tests.measured import as_seen

SCENE = """# the hall
title = "hall"
scale = "1:24"      # half inch
[box]
width = 150
height = 130
depth = 200
[screen]            # measured twice
wall = "{wall}"
top = "{top}"          # with the plug below
raster = [{raster}]
active = [{active}]  # from the data sheet
{more}
[ghost]
figure = "0.6 m"    # small
[player]
profile = "{profile}"
"""


def scene_text(**change: str) -> str:
    values = {"wall": "left", "top": "front", "raster": "320, 240", "active": "48.96, 36.72", "more": ""}
    return SCENE.format(**(values | {"profile": "h264-baseline-qvga"} | change))


def written(folder: Path, **change: str) -> Path:
    path = folder / "scene.toml"
    path.write_text(scene_text(**change), encoding="utf-8")
    return path


def plan_of(**change: str) -> Plan:
    return make_plan(parse_scene(scene_text(**change)))


def decoded(path: Path, pixels: str = "rgb24") -> np.ndarray:
    with read_frames(probe(path), pixels=pixels, stop=1) as stream:
        return next(iter(stream)).copy()


MOUNTS = [
    {"top": "front"},
    {"top": "up"},
    {"wall": "right", "top": "back"},
    {"wall": "floor", "top": "back"},
    {"wall": "ceiling", "top": "left"},
    {"top": "down", "more": "mirrored = true"},
    {"top": "front", "more": "swivel = 6"},
    {"top": "up", "raster": "240, 240", "active": "23.4, 23.4", "profile": "mjpeg-avi-qvga"},
]


def tick_ends(seen: np.ndarray, mm_per_px: float, row: int) -> float:
    """Distance in mm between the outermost of a ruler's ticks that cross a row of the seen picture."""
    lit = np.flatnonzero(seen[row] > seen[row].max() * 0.5)
    first = np.average(lit[lit < lit[0] + 3], weights=seen[row][lit[lit < lit[0] + 3]].astype(float))
    last = np.average(lit[lit > lit[-1] - 3], weights=seen[row][lit[lit > lit[-1] - 3]].astype(float))
    return (last - first) * mm_per_px


@pytest.mark.parametrize("mount", MOUNTS, ids=lambda m: " ".join(map(str, m.values())))
def test_the_decoded_chart_is_upright_and_its_ruler_true(mount: dict[str, str], tmp_path: Path) -> None:
    scene = written(tmp_path, **mount)
    made = write_chart(scene, tmp_path / ("c.avi" if "profile" in mount else "c.mp4"))
    plan = make_plan(load_scene(scene))
    frame = decoded(made.path)
    seen = as_seen(frame, plan.mount.homography)
    f_alone = np.zeros((100, 72, 3), np.uint8)  # the letter as the chart's own words have it
    f_alone[:, :20] = f_alone[:20] = f_alone[38:58, :52] = 255
    height, width = seen.shape[:2]
    letter = seen[: int(0.44 * height), int(0.15 * width) : int(0.62 * width)]
    flat = UprightProof(np.array([[1, 0, 0], [0, -1, letter.shape[0]], [0, 0, 1]], float))
    flat.add(np.where(letter > 150, letter, 0).astype(np.uint8), f_alone)
    assert flat.best() == "as shot"
    # where the ruler's ends should be seen, they are, within a pixel
    chart = draw_chart(plan)
    for ruler in (chart.across, chart.up):
        ends = plan.mount.to_raster(np.array([ruler.start, ruler.end]))
        on_plane = plan.mount.to_ghost(ends)
        assert np.linalg.norm(on_plane[1] - on_plane[0]) == pytest.approx(ruler.length, abs=1e-6)
        for x, y in ends:
            around = frame[round(y) - 2 : round(y) + 2, round(x) - 2 : round(x) + 2, 1]
            assert around.max() > 60
    assert made.across_mm == chart.across.length


def test_the_ruler_measured_in_the_picture(tmp_path: Path) -> None:
    plan = plan_of()
    chart = draw_chart(plan)
    seen = as_seen(chart.still, plan.mount.homography)[..., 1].astype(float)
    pitch = min(plan.mount.pitch_mm)
    # rows just above the lying ruler's line hold its ticks and nothing else but the standing one
    column = round(0.11 * seen.shape[1])
    start = plan.mount.to_raster(np.array([chart.across.start]))[0]
    mask = np.zeros_like(chart.still[..., 0])
    mask[round(start[1]) - 1 : round(start[1]) + 1, round(start[0]) - 1 : round(start[0]) + 1] = 255
    row = int(np.argwhere(as_seen(mask, plan.mount.homography) > 0)[:, 0].mean()) - 3
    inside = seen[:, column:-2]
    assert tick_ends(inside, pitch, row) == pytest.approx(chart.across.length, abs=pitch)


@pytest.mark.parametrize(
    ("profile", "ending", "black", "window", "largest_off"),
    [
        ("h264-baseline-qvga", ".mp4", 16, 1, 1),
        ("h264-main-720p", ".mp4", 16, 1, 1),
        ("mjpeg-avi-qvga", ".avi", 0, 16, 2),
    ],
)
def test_edges_steps_and_window_in_the_file(
    tmp_path: Path, profile: str, ending: str, black: int, window: int, largest_off: int
) -> None:
    scene = written(tmp_path, profile=profile)
    made = write_chart(scene, tmp_path / f"c{ending}")
    luma = decoded(made.path, "i420")[:240].astype(int)
    chart = draw_chart(make_plan(load_scene(scene)))
    for edge in (luma[0], luma[-1], luma[:, 0], luma[:, -1]):
        assert edge.min() > 150
    inside = chart.range_window & (np.roll(chart.range_window, 3, 0) & np.roll(chart.range_window, -3, 0))
    inside &= np.roll(chart.range_window, 3, 1) & np.roll(chart.range_window, -3, 1)
    assert inside.sum() > 50
    assert abs(np.median(luma[inside]) - window) <= largest_off
    span = 255 if black == 0 else 219
    codes = np.unique(chart.still[..., 0])
    for code in STEPS:
        assert code in codes
        middle = luma[(chart.still[..., 0] == code)]
        assert abs(np.median(middle) - (black + code * span / 255)) <= largest_off
    # nothing but greys: a chart must not depend on the matrix
    assert (chart.still == chart.still[..., :1]).all()


def test_the_dot_runs_clockwise_once_round_and_joins() -> None:
    plan = plan_of()
    chart = draw_chart(plan)
    positions = plan.mount.to_ghost(chart.orbit[:: len(chart.orbit) // 8])
    middle = positions.mean(axis=0)
    assert positions[0, 1] == pytest.approx(positions[:, 1].max())  # begins at the top
    (x0, y0), (x1, y1) = positions[0] - middle, positions[2] - middle
    assert x0 * y1 - y0 * x1 < 0  # clockwise with y up
    first, last, next_to_first = (chart.frame(k, 100).astype(int) for k in (0, 99, 1))
    assert np.abs(first - last).sum() == pytest.approx(np.abs(next_to_first - first).sum(), rel=0.5)


def test_the_pair_of_lines_stands_as_far_apart_as_the_images() -> None:
    plan = plan_of(more="luminance = 300")
    chart = draw_chart(plan)
    seen = as_seen(chart.still, plan.mount.homography)[..., 1].astype(float)
    row = seen[-round(0.1 * seen.shape[0]), round(0.62 * seen.shape[1]) : -3]
    peaks = [
        k for k in range(1, len(row) - 1) if row[k] > 60 and row[k] >= row[k - 1] and row[k] > row[k + 1]
    ]
    assert len(peaks) == 2
    assert peaks[1] - peaks[0] == pytest.approx(plan.doubling.offset_px, abs=1.2)


@pytest.mark.parametrize("claimed", ["front", "up"])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("top", ["up", "down", "front", "back"])
def test_a_wrong_mount_is_corrected(top: str, mirrored: bool, claimed: str, tmp_path: Path) -> None:
    path = written(tmp_path, top=claimed)
    chart = draw_chart(make_plan(load_scene(path)))
    # what the eye sees of that raster when the player really hangs like this
    really = make_plan(parse_scene(scene_text(top=top, more=f"mirrored = {str(mirrored).lower()}")))
    upright = as_seen(chart.still, make_plan(load_scene(path)).mount.homography)
    proof = UprightProof(really.mount.homography)
    proof.add(chart.still, upright)
    sign = list(SIGNS)[ORIENTATIONS.index(proof.best())]
    corrected = correct_scene(path, Seen(sign=sign))
    found = load_scene(path).screen
    assert (found.top, found.mirrored) == (top, mirrored)
    assert len(corrected.corrections) == (top != claimed) + mirrored
    # and a chart made anew is upright
    anew = UprightProof(really.mount.homography)
    anew.add(
        draw_chart(make_plan(load_scene(path))).still,
        as_seen(draw_chart(really).still, really.mount.homography),
    )
    assert anew.best() == "as shot"


def test_comments_and_order_stay(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_text()
    correct_scene(path, Seen(sign="upside-down", across_mm=29.0, glow_step=3))
    after = path.read_text()
    kept = [line for line in after.splitlines() if line in before.splitlines()]
    assert len(kept) == len(before.splitlines()) - 2
    for comment in (
        "# the hall",
        "# half inch",
        "# measured twice",
        "# with the plug below",
        "# from the data sheet",
    ):
        assert comment in after


@settings(deadline=None, max_examples=15)
@given(across=st.floats(0.85, 1.15), up=st.floats(0.85, 1.15), top=st.sampled_from(["up", "front", "down"]))
def test_the_pitch_follows_the_rulers(across: float, up: float, top: str, tmp_path_factory) -> None:
    folder = tmp_path_factory.mktemp("pitch")
    path = written(folder, top=top)
    chart = draw_chart(make_plan(load_scene(path)))
    seen = Seen(across_mm=chart.across.length * across, up_mm=chart.up.length * up)
    wide, high = parse_scene(corrections_for(path, seen).text).screen.active
    by_axis = (across, up) if top in {"up", "down"} else (up, across)
    expected = [v * f if abs(f - 1) > 0.004 else v for v, f in zip((48.96, 36.72), by_axis, strict=True)]
    assert (wide, high) == pytest.approx(expected, abs=1e-3)


def test_a_scene_in_inches_keeps_its_inches(tmp_path: Path) -> None:
    path = tmp_path / "inches.toml"
    path.write_text(
        'units = "in"\n[box]\nwidth = 6\nheight = 5\ndepth = 8\n'
        '[screen]\nraster = [320, 240]\nactive = [2, "1.5 in"]\n'
    )
    chart = draw_chart(make_plan(load_scene(path)))
    correct_scene(path, Seen(across_mm=chart.across.length * 1.05))
    assert load_scene(path).screen.active[0] == pytest.approx(2 * 25.4 * 1.05, abs=0.05)
    assert "[2.1, 1.5]" in path.read_text()


@pytest.mark.parametrize("step", range(1, len(STEPS) + 1))
def test_glow_is_the_steps_own_light(step: int) -> None:
    # sRGB, IEC 61966-2-1
    # IEC 61966-2-1: a straight line up to 0.04045, then a power
    signal = STEPS[step - 1] / 255
    light = signal / 12.92 if signal <= 0.04045 else ((signal + 0.055) / 1.055) ** 2.4
    assert glow_contrast(step) == pytest.approx(1 / light, rel=1e-6)


@pytest.mark.parametrize(
    ("profile", "shows", "after"),
    [
        ("h264-baseline-qvga", True, "full"),
        ("h264-baseline-qvga", False, None),
        ("mjpeg-avi-qvga", True, None),
        ("mjpeg-avi-qvga", False, "limited"),
    ],
)
def test_the_range_follows_the_window(profile: str, shows: bool, after: str | None, tmp_path: Path) -> None:
    path = written(tmp_path, profile=profile)
    corrected = correct_scene(path, Seen(range_shows=shows))
    assert [c.after for c in corrected.corrections] == ([] if after is None else [after])
    extra = load_scene(path).player.model_extra or {}
    assert extra == ({} if after is None else {"colour": {"range": after}})


def correct_scene(path: Path, seen: Seen) -> Corrected:
    corrected = corrections_for(path, seen)
    if corrected.corrections:
        corrected.write()
    return corrected


def test_black_and_edges_are_told() -> None:
    assert {f.subject for f in corrections_of(Seen(last_step=4, whole=False))} == {"black", "raster"}
    assert corrections_of(Seen(last_step=1, whole=True)) == []


def corrections_of(seen: Seen) -> list:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        return list(corrections_for(written(Path(folder)), seen).findings)


def test_what_is_right_changes_nothing(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    chart = draw_chart(make_plan(load_scene(path)))
    seen = Seen(sign="upright", across_mm=chart.across.length, up_mm=chart.up.length * 1.002, glow_step=0)
    assert [c.key for c in correct_scene(path, seen).corrections] == ["screen.contrast"]
    path.write_bytes(before)
    assert correct_scene(path, Seen(sign="upright", across_mm=chart.across.length)).corrections == ()
    assert path.read_bytes() == before


def test_refusals(tmp_path: Path) -> None:
    path = written(tmp_path)
    with pytest.raises(InputError, match="--sign: is 'askew'"):
        Seen(sign="askew")
    with pytest.raises(InputError, match=r"--last-step: is 40, it must be in 0\.\.9"):
        Seen(last_step=40)
    with pytest.raises(InputError, match="--across: is 300 mm"):
        correct_scene(path, Seen(across_mm=300.0))
    with pytest.raises(InputError, match=r"end the name in \.mp4"):
        write_chart(path, tmp_path / "chart.avi")
    (tmp_path / "there.mp4").write_text("x")
    with pytest.raises(InputError, match="exists already"):
        write_chart(path, tmp_path / "there.mp4")


def test_the_eight_signs_are_shown_apart() -> None:
    blocks = signs_text().split("\n\n")[0]
    assert blocks.splitlines()[0].split() == ["1", "2", "3", "4"]
    letter = np.arange(6, dtype=np.uint8).reshape(3, 2)
    assert (
        len(
            {
                orientation.apply(letter).tobytes() + bytes(orientation.apply(letter).shape)
                for orientation in SIGNS.values()
            }
        )
        == 8
    )


def test_the_command_asks_and_answers(tmp_path: Path) -> None:
    path = written(tmp_path)
    asked = CliRunner().invoke(command, ["--scene", str(path), "--seen"], input="3\n\n\n1\n4\nyes\nyes\ny\n")
    assert asked.exit_code == 0, asked.output
    assert load_scene(path).screen.top == "back"
    assert load_scene(path).screen.contrast == pytest.approx(329, abs=1)
    told = CliRunner().invoke(command, ["--scene", str(path), "--sign", "upside-down", "--json", "--yes"])
    assert json.loads(told.stdout)["corrections"] == [
        {"key": "screen.top", "before": "back", "after": "front"}
    ]


def test_nothing_is_written_unasked_and_nothing_is_lost(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    ask = ["--scene", str(path), "--sign", "upside-down"]
    for answer in ("n\n", ""):  # refused, and nobody there to answer
        told = CliRunner().invoke(command, ask, input=answer)
        assert (told.exit_code, path.read_bytes()) == (0, before)
        assert "was not changed; --yes corrects it" in told.stdout
    dry = json.loads(CliRunner().invoke(command, [*ask, "--json"]).stdout)
    assert (dry["changed"], path.read_bytes()) == (False, before)
    for old in ("scene.old.toml", "scene.old2.toml"):
        was = path.read_bytes()
        done = CliRunner().invoke(command, [*ask, "--yes"])
        assert done.exit_code == 0, done.output
        assert path.with_name(old).read_bytes() == was != path.read_bytes()


def test_a_byte_order_mark_and_line_ends_stay(tmp_path: Path) -> None:
    path = written(tmp_path)
    text = path.read_text().replace("\n", "\r\n")
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert len(correct_scene(path, Seen(sign="upside-down")).corrections) == 1
    after = path.read_bytes()
    assert after.startswith(b"\xef\xbb\xbf")
    assert after.count(b"\r\n") == after.count(b"\n") == text.count("\n")


@pytest.mark.parametrize("answer", ["15/16 in", "15/16", "0.9375", "23.8125 mm", "15/16 inch"])
def test_answers_in_inches(answer: str, tmp_path: Path) -> None:
    path = tmp_path / "my box.toml"
    path.write_text(
        'units = "in"\n[box]\nwidth = 6\nheight = 5\ndepth = 8\n'
        "[screen]\nraster = [320, 240]\nactive = [1.3, 1]\n"
    )
    drawn = draw_chart(make_plan(load_scene(path))).across.length
    assert drawn / 25.4 == pytest.approx(1.0)  # a whole eighth
    told = CliRunner().invoke(command, ["--scene", str(path), "--across", answer])
    assert told.exit_code == 0, told.output
    assert "screen.active: [1.3, 1.0] -> [1.219, 1.0]" in told.stdout
    with pytest.raises(InputError, match="the chart's ruler is drawn 1 in long"):
        corrections_for(path, Seen(across_mm=76.2))
