"""Letters in every orientation: the proof must name each of the eight and pass only one."""

import cv2
import numpy as np
import pytest

from ghostprep.proof import upright
from ghostprep.proof.upright import ORIENTATIONS, UNTOLD, UprightProof, mount_homography
from tests.measured import as_seen


def letters() -> np.ndarray:
    """An asymmetric upright picture, 120 wide and 160 tall."""
    picture = np.zeros((160, 120, 3), np.uint8)
    cv2.putText(picture, "RF", (14, 70), cv2.FONT_HERSHEY_SIMPLEX, 2, (255, 255, 255), 8)
    cv2.putText(picture, "7", (30, 150), cv2.FONT_HERSHEY_SIMPLEX, 2, (90, 200, 90), 8)
    return picture


def mounted(picture: np.ndarray, *, mirrored: bool, quarter_turns: int) -> np.ndarray:
    """What the raster must show: mirror left-right, then turn clockwise."""
    return np.ascontiguousarray(np.rot90(picture[:, ::-1] if mirrored else picture, -quarter_turns))


MOUNTS = [(mirrored, turns) for mirrored in (False, True) for turns in range(4)]


@pytest.mark.parametrize(("mirrored", "turns"), MOUNTS)
def test_the_right_raster_is_upright(mirrored: bool, turns: int) -> None:
    raster = mounted(letters(), mirrored=mirrored, quarter_turns=turns)
    to_raster = mount_homography((raster.shape[1], raster.shape[0]), mirrored=mirrored, quarter_turns=turns)
    assert (as_seen(raster, to_raster) == letters()).all()
    assert (upright.as_seen(raster, to_raster) == letters()).all()
    proof = UprightProof(to_raster)
    proof.add(raster, letters()[5:, 10:])  # another crop than the raster's does not matter
    assert proof.proof().passed
    assert proof.findings() == []


@pytest.mark.parametrize(("mirrored", "turns"), MOUNTS)
def test_each_wrong_mount_is_named(mirrored: bool, turns: int) -> None:
    wrong = mounted(letters(), mirrored=mirrored, quarter_turns=turns)
    proof = UprightProof(mount_homography((wrong.shape[1], wrong.shape[0]), mirrored=False, quarter_turns=0))
    proof.add(wrong, letters())
    expected = ORIENTATIONS[turns + 4 * mirrored]
    assert proof.best() == expected
    assert proof.proof().passed is (expected == "as shot")
    assert bool(proof.findings()) is (expected != "as shot")


def test_a_keystone_and_millimetres_are_undone() -> None:
    height, width = 160, 120
    corners = np.float32([[0, 0], [width, 0], [width, height], [0, height]])
    ghost = np.float32([[-15, 60], [15, 62], [15.5, 20], [-15, 21]])  # mm, y up
    homography = cv2.getPerspectiveTransform(ghost, corners).astype(float)
    proof = UprightProof(homography)
    proof.add(letters(), letters())
    assert proof.proof().passed


def test_a_dark_file_proves_nothing() -> None:
    proof = UprightProof(np.eye(3))
    proof.add(np.zeros((9, 9, 3), np.uint8), letters())
    assert not proof.proof().passed
    assert proof.proof().value == "nothing is lit"
    assert [f.level for f in proof.findings()] == ["fault"]


def orb(noise: float, seed: int) -> np.ndarray:
    y, x = np.indices((160, 160)) - 79.5
    light = np.clip(255 - 3 * np.hypot(x, y), 0, 255)
    noisy = light + np.random.default_rng(seed).normal(0, noise, light.shape) * (light > 0)
    return np.clip(noisy, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", range(4))
def test_a_figure_that_looks_the_same_turned_is_no_fault(seed: int) -> None:
    proof = UprightProof(mount_homography((160, 160), mirrored=False, quarter_turns=0))
    proof.add(orb(3, seed), orb(0, seed))
    assert (proof.proof().value, proof.proof().passed) == (UNTOLD, True)
    assert [f.level for f in proof.findings()] == ["note"]


@pytest.mark.parametrize(("mirrored", "turns"), MOUNTS)
def test_a_nearly_round_figure_is_told_by_its_face(mirrored: bool, turns: int) -> None:
    picture = orb(2, 0)
    picture[40:60, 50:70] = 40  # one eye
    proof = UprightProof(mount_homography((160, 160), mirrored=False, quarter_turns=0))
    proof.add(mounted(picture, mirrored=mirrored, quarter_turns=turns), picture)
    assert proof.proof().value == ORIENTATIONS[turns + 4 * mirrored]
