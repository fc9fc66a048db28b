"""True black outside the figure: ITU-R BT.709-6 item 4.5 (16, 128, 128), full range 0, 128, 128."""

import numpy as np
import pytest

from ghostprep.proof.black import BlackProof


def frame(black: int, size=(32, 24)) -> np.ndarray:
    w, h = size
    planes = np.full((h * 3 // 2, w), 128, np.uint8)
    planes[:h] = black
    return planes


def figure(size=(32, 24)) -> np.ndarray:
    mask = np.zeros(size[::-1], bool)
    mask[10:14, 14:18] = True
    return mask


@pytest.mark.parametrize(("full", "black"), [(False, 16), (True, 0)])
def test_black_is_black_in_its_own_range(full: bool, black: int) -> None:
    proof = BlackProof(full_range=full)
    planes = frame(black)
    planes[10:14, 14:18] = 200  # the figure itself does not count
    proof.add(planes, figure())
    assert [p.value for p in proof.proofs()] == [1.0, 1.0, 1.0]
    assert all(p.passed for p in proof.proofs())
    assert proof.findings() == []


def test_the_wrong_range_is_not_black() -> None:
    proof = BlackProof(full_range=True)
    proof.add(frame(16), figure())
    assert proof.proofs()[0].value == 0
    assert proof.findings()[0].subject == "black"


def test_near_and_far_are_counted_apart() -> None:
    planes = frame(16)
    planes[9, 14] = 17  # touches the figure
    planes[0, 0] = 17
    planes[23, 31] = 15  # darker than black is not exact either
    proof = BlackProof(full_range=False)
    proof.add(planes, figure())
    every, near, far = (p.value for p in proof.proofs())
    ring = 12 * 12 - 16  # 4 px around a figure of 4 x 4
    assert near == pytest.approx((ring - 1) / ring)
    assert far == pytest.approx((32 * 24 - 16 - ring - 2) / (32 * 24 - 16 - ring))
    assert every == pytest.approx((32 * 24 - 16 - 3) / (32 * 24 - 16))


def test_one_chroma_sample_spoils_four_pixels() -> None:
    planes = frame(16)
    planes[24, 0] = 129  # the first row of Cb: its first sample
    proof = BlackProof(full_range=False)
    proof.add(planes, np.zeros((24, 32), bool))
    assert proof.proofs()[0].value == pytest.approx(1 - 4 / (32 * 24))


def test_the_worst_frame_is_named() -> None:
    proof = BlackProof(full_range=False)
    for spoiled in (0, 40, 4):
        planes = frame(16)
        planes.reshape(-1)[:spoiled] = 30
        proof.add(planes, np.zeros((24, 32), bool))
    assert "in frame 1" in proof.findings()[0].text


def test_sizes_must_fit() -> None:
    with pytest.raises(ValueError, match="they must be"):
        BlackProof(full_range=False).add(frame(16), np.zeros((23, 32), bool))


@pytest.mark.parametrize(("spoiled", "passes"), [(3, False), (1, False), (0, True)])
def test_five_in_a_thousand_far_pixels_are_too_many(spoiled: int, passes: bool) -> None:
    proof = BlackProof(full_range=False)
    planes = frame(16)
    planes[0, :spoiled] = 17  # 3 of 624: 0.995; 1 of 624: 0.9984
    proof.add(planes, figure())
    far = proof.proofs()[2]
    assert far.passed is passes
    assert far.value == pytest.approx(1 - spoiled / (32 * 24 - 12 * 12), abs=1e-9)
