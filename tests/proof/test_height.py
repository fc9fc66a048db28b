"""The figure's height on the ghost plane, from known homographies."""

import numpy as np
import pytest

from ghostprep.proof.height import HeightProof

PITCH = 0.1275  # mm, a 2.0 in screen of 320 x 240


def straight() -> np.ndarray:
    """Ghost plane mm (y up) to a raster of 240 wide and 320 tall."""
    return np.array([[1 / PITCH, 0, 120], [0, -1 / PITCH, 320], [0, 0, 1]])


def standing(top: int, bottom: int, *, turned: bool = False) -> np.ndarray:
    frame = np.zeros((320, 240, 3), np.uint8)
    frame[top:bottom, 100:140] = 180
    return np.rot90(frame, -1).copy() if turned else frame


def test_a_figure_of_known_rows() -> None:
    proof = HeightProof(straight(), 200 * PITCH)
    proof.add(standing(60, 260))
    assert proof.height_mm() == pytest.approx(200 * PITCH, abs=1e-9)
    assert proof.proof().passed


def test_a_player_on_its_side_measures_the_same() -> None:
    turn = np.array([[0, -1, 320], [1, 0, 0], [0, 0, 1]], float)
    proof = HeightProof(turn @ straight(), 200 * PITCH)
    proof.add(standing(60, 260, turned=True))
    assert proof.height_mm() == pytest.approx(200 * PITCH, abs=1e-9)


def test_too_small_is_told() -> None:
    proof = HeightProof(straight(), 30.0)
    proof.add(standing(60, 260))
    assert not proof.proof().passed
    assert "25.5 mm tall" in proof.findings()[0].text


def test_the_median_of_the_frames_counts() -> None:
    proof = HeightProof(straight(), 10.0)
    for top, bottom in ((60, 160), (100, 180), (101, 180)):
        proof.add(standing(top, bottom))
    assert proof.height_mm() / PITCH == pytest.approx(80)


def test_codec_residue_does_not_count() -> None:
    frame = standing(60, 260)
    frame[frame == 0] = 12
    proof = HeightProof(straight(), 200 * PITCH)
    proof.add(frame)
    assert proof.height_mm() == pytest.approx(200 * PITCH)


def test_nothing_lit_fails() -> None:
    proof = HeightProof(straight(), 20.0)
    proof.add(np.zeros((320, 240, 3), np.uint8))
    assert not proof.proof().passed
    with pytest.raises(ValueError, match="asked_mm"):
        HeightProof(straight(), 0.0)
