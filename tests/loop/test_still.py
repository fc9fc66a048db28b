"""A still picture becomes a loop that drifts and comes back, measured on the decoded file."""

from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from ghostprep.errors import InputError
from ghostprep.loop.ways import plan_still
from ghostprep.picture.place import Drift, Orientation, Placement
from ghostprep.prepare.make import make
from ghostprep.prepare.recipe import Recipe

RATE = Fraction(30000, 1001)


def test_it_lasts_eight_seconds_and_comes_back() -> None:
    plan = plan_still(RATE, drift=0.02)
    assert len(plan) == 240  # 239.76: the nearest whole frame
    shifts = np.array([mix.shift for mix in plan.steps])
    assert np.abs(shifts[:, 0]).max() == pytest.approx(0.02)
    steps = np.linalg.norm(np.diff(np.vstack([shifts, shifts[:1]]), axis=0), axis=1)
    assert steps[-1] < 0.05 * steps.max()  # at rest where the file starts over
    assert steps.max() < 0.0006  # of the figure's height: a tenth of a pixel of 200


@pytest.mark.parametrize(
    ("length", "frames"), [((5.0, 5.0), 150), ((3.0, 6.0), 180), ((9.0, 20.0), 270), ((2.0, 30.0), 240)]
)
def test_the_wanted_length_is_kept(length: tuple[float, float], frames: int) -> None:
    assert len(plan_still(RATE, drift=0, length_s=length)) == frames


def test_fades_come_out_of_the_dark() -> None:
    plan = plan_still(Fraction(25), drift=0.02, join="fades")
    assert (plan.steps[0].gain, plan.steps[100].gain, plan.join) == (0, 1, "fades")


@pytest.mark.parametrize("join", ["ends", "there-and-back"])
def test_one_picture_has_no_end(join: str) -> None:
    with pytest.raises(InputError, match=f"is {join}, and the clip is one picture"):
        plan_still(RATE, drift=0, join=join)


def test_a_part_of_a_pixel_moves_the_middle_and_keeps_the_sharpness() -> None:
    fine = np.random.default_rng(0).integers(0, 256, (90, 60, 3), dtype=np.uint8)
    drift = Drift(Placement((48, 64), Orientation(mirrored=False, quarter_turns=0), (10, 12)), 3)
    y, x = np.indices((64, 48))
    middles, sharp = [], []
    for shift in np.arange(-1.0, 1.01, 0.125):
        light = drift(fine, (float(shift), -float(shift) / 2)).mean(axis=2)
        middles.append([(x * light).sum() / light.sum(), (y * light).sum() / light.sum()])
        sharp.append(np.abs(np.diff(light, axis=1)).mean())
    moved = np.diff(np.array(middles), axis=0)
    assert moved[:, 0] == pytest.approx(0.125, abs=0.01)
    assert moved[:, 1] == pytest.approx(-0.0625, abs=0.01)
    assert min(sharp) > 0.85 * max(sharp)  # noise, the hardest of pictures


def frames_of(path: Path) -> np.ndarray:
    with av.open(str(path)) as file:
        return np.array([frame.to_ndarray(format="gray") for frame in file.decode(video=0)], float)


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lantern with its handle to one side, on black, tight in its picture."""
    picture = np.zeros((160, 120, 3), np.uint8)
    cv2.ellipse(picture, (60, 90), (40, 66), 0, 0, 360, (90, 170, 220), -1)
    cv2.circle(picture, (90, 30), 14, (200, 220, 240), -1)
    path = tmp_path_factory.mktemp("still") / "lantern.png"
    cv2.imwrite(str(path), picture)
    return path


@pytest.mark.parametrize(("drift", "reach"), [(None, 0.02), (0.0, 0.0), (6.0, 0.06)])
def test_a_still_through_make(still: Path, tmp_path: Path, drift: float | None, reach: float) -> None:
    out = tmp_path / "loop.mp4"
    result = make(still, out, Recipe(drift=drift, length=(2.0, 2.0), backing="black"))
    frames = np.maximum(frames_of(out) - 24, 0)
    assert len(frames) == 50
    x = np.indices(frames[0].shape)[1]
    middle = np.array([(x * frame).sum() / frame.sum() for frame in frames])
    rows = np.flatnonzero(frames[0].max(axis=1) > 8)
    tall = rows[-1] - rows[0] + 1
    assert (middle.max() - middle.min()) / 2 == pytest.approx(reach * tall, rel=0.25, abs=0.05)
    assert not frames[:, :, [0, -1]].any()  # nothing is cut off on its way
    assert all(proof.passed for proof in result.proofs)
    assert result.recipe.drift == pytest.approx(100 * reach)


def test_a_moving_clip_does_not_drift(green_clip: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="moves a still picture, and the clip has"):
        make(green_clip, tmp_path / "loop.mp4", Recipe(drift=1.0))
