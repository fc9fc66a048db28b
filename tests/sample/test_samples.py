"""The sample media are what they say, and the truth that tests compare with fits the clips."""

from __future__ import annotations

import importlib.util
import itertools
import sys
from fractions import Fraction
from pathlib import Path
from types import ModuleType

import av
import cv2
import numpy as np
import pytest

SAMPLES = Path(__file__).parent.parent.parent / "sample_media"
CLIPS = ("green", "dark", "room")
LUMA_709 = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709-6, item 3.2


@pytest.fixture(scope="module")
def make_samples() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_samples"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def part(make_samples: ModuleType) -> ModuleType:
    """The package beside the script, which the script makes importable."""
    import purser.stage

    return purser.stage


def luma(codes: np.ndarray) -> np.ndarray:
    """Return 8-bit video luma of RGB codes (ITU-R BT.709-6, items 3.2 and 3.4)."""
    return 16 + 219 * (codes / 255.0) @ LUMA_709


def decoded_luma(kind: str, index: int) -> np.ndarray:
    with av.open(str(SAMPLES / f"purser_{kind}.mp4")) as clip:
        for number, frame in enumerate(clip.decode(video=0)):
            if number == index:
                return frame.to_ndarray(format="yuv420p")[:720].astype(np.float64)
    raise AssertionError("the clip is too short")


@pytest.mark.parametrize("kind", CLIPS)
def test_clips_have_the_size_rate_length_and_tags_that_the_script_says(kind: str) -> None:
    with av.open(str(SAMPLES / f"purser_{kind}.mp4")) as clip:
        stream = clip.streams.video[0]
        times = sorted(packet.pts for packet in clip.demux(stream) if packet.pts is not None)
        assert (stream.width, stream.height) == (1280, 720)
        assert stream.codec_context.name == "h264"
        assert stream.codec_context.pix_fmt == "yuv420p"
        assert stream.average_rate == 30
        assert len(times) == 360
        assert {(b - a) * stream.time_base for a, b in itertools.pairwise(times)} == {Fraction(1, 30)}
        # ITU-T H.273: 1 is BT.709 for primaries, transfer and matrix; range 1 is limited
        context = stream.codec_context
        tags = (context.color_primaries, context.color_trc, context.colorspace, context.color_range)
        assert tuple(int(tag) for tag in tags) == (1, 1, 1, 1)
        assert not clip.streams.audio


def test_all_together_are_at_most_six_megabytes() -> None:
    files = [p for p in SAMPLES.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert sum(p.stat().st_size for p in files) <= 6_000_000


@pytest.mark.parametrize("index", [0, 77, 359])
def test_the_truth_is_a_whole_figure_premultiplied_on_black(make_samples: ModuleType, index: int) -> None:
    figure, alpha = make_samples.truth(index)
    assert figure.shape == (720, 1280, 3)
    assert alpha.shape == (720, 1280)
    assert figure.dtype == alpha.dtype == np.uint8
    # the glow is light without cover, so a trace of it may lie where coverage rounds to 0
    assert figure[alpha == 0].max() <= 16
    rows = np.nonzero(alpha > 128)[0]
    assert 0.60 <= (rows.max() - rows.min() + 1) / 720 <= 0.75
    lit_rows, lit_columns = np.nonzero(alpha)
    assert min(lit_rows.min(), 719 - lit_rows.max(), lit_columns.min(), 1279 - lit_columns.max()) > 40
    # some of it is solid, some translucent: hem, scarf, hair, glow
    assert (alpha == 255).sum() > 30_000
    assert ((alpha > 20) & (alpha < 235)).sum() > 5_000


def test_the_figure_sways_and_nearly_but_not_exactly_repeats(make_samples: ModuleType) -> None:
    now, half, whole = (make_samples.truth(i)[0].astype(np.float64) for i in (40, 40 + 69, 40 + 138))
    away = np.sqrt(((now - half) ** 2).mean())
    again = np.sqrt(((now - whole) ** 2).mean())
    assert 0 < again < away / 2


def test_a_frame_of_the_green_clip_is_the_truth_before_the_cloth(
    make_samples: ModuleType, part: ModuleType
) -> None:
    from purser.figure import figure_light

    light, alpha = figure_light(100)
    cloth = part.green_backing()
    expected = part.with_spill(light, alpha, cloth) + (1 - alpha)[..., None] * cloth
    seen, wanted = decoded_luma("green", 100), luma(part.to_codes(expected))
    assert ((seen - wanted) ** 2).mean() < 8
    figure, matte = make_samples.truth(100)
    solid = cv2.erode(matte, np.ones((25, 25), np.uint8)) == 255
    # inside the figure only the 4 % spill lies between the clip and the truth
    assert abs((seen - luma(figure))[solid].mean()) < 6
    assert np.corrcoef(seen[solid], luma(figure)[solid])[0, 1] > 0.98


def test_the_green_cloth_is_lit_unevenly_and_spills_as_said(part: ModuleType) -> None:
    uneven = part.green_backing() / part.GREEN
    assert uneven.min() == pytest.approx(0.8, abs=1e-3)
    assert uneven.max() == pytest.approx(1.2, abs=1e-3)
    alpha = np.zeros((720, 1280), np.float32)
    alpha[200:500, 500:800] = 1
    spilt = part.with_spill(np.zeros((720, 1280, 3), np.float32), alpha, np.ones((720, 1280, 3), np.float32))
    inside = spilt[200:500, 500:800]
    assert inside.min() == pytest.approx(0.04, abs=1e-3)
    assert 0.2 < inside.max() <= 0.30 + 1e-6
    assert not spilt[:190].any()


def test_the_camera_adds_noise_of_the_given_size_and_the_same_for_a_seed(part: ModuleType) -> None:
    nothing, behind = np.zeros((720, 1280, 3), np.float32), part.green_backing()
    shots = [part.film(nothing, nothing[..., 0], behind, noise=2.5, seed=s) for s in (1, 1, 2)]
    assert np.array_equal(shots[0], shots[1])
    step = shots[0].astype(np.float64) - shots[2]
    assert step.std() / np.sqrt(2) == pytest.approx(2.5, rel=0.03)


def test_the_dark_cloth_is_near_black_and_the_hall_is_its_plate(make_samples: ModuleType) -> None:
    alpha = make_samples.truth(200)[1]
    away = cv2.dilate(alpha, np.ones((41, 41), np.uint8)) == 0
    dark = (decoded_luma("dark", 200) - 16) / 219 * 255
    assert np.percentile(dark[away], 1) > 8
    assert np.percentile(dark[away], 99) < 19
    plate = cv2.imread(str(SAMPLES / "purser_room_plate.jpg"))[..., ::-1]
    assert plate.shape == (720, 1280, 3)
    assert np.abs(decoded_luma("room", 200) - luma(plate))[away].mean() < 1.5


def test_the_scene_plans_without_a_fault() -> None:
    from ghostprep.optics import make_plan
    from ghostprep.scene import load_scene

    plan = make_plan(load_scene(SAMPLES / "scene.toml"))
    assert plan.faults == 0
    assert plan.figure.fits
    assert plan.scene.player.profile == "h264-baseline-qvga"
