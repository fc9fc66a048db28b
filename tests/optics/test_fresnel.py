"""Fresnel, the two-faced pane, Brewster, doubling and shift, against tables, tmm and traced rays."""

from __future__ import annotations

import math

import numpy as np
import pytest
import tmm
from hypothesis import given, settings
from hypothesis import strategies as st

from ghostprep.optics.fresnel import (
    doubling_mm,
    face_reflectance,
    pane_reflectance,
    pane_transmittance,
    refraction_deg,
)

# n, angle, Rs, Rp, R2s, R2p, R2 unpolarised, second image over first s and p; made with tmm 0.2.0
# (interface_R and inc_tmm), equal to the closed forms of Smith, Modern Optical Engineering, ch. 11
TABLE = [
    (1.49, 0, 0.038725, 0.038725, 0.074563, 0.074563, 0.074563, 0.92405, 0.92405),
    (1.49, 40, 0.075066, 0.013706, 0.139649, 0.027041, 0.083345, 0.85550, 0.97278),
    (1.49, 45, 0.089652, 0.008038, 0.164552, 0.015947, 0.090250, 0.82873, 0.98399),
    (1.49, 50, 0.109364, 0.003036, 0.197166, 0.006054, 0.101610, 0.79323, 0.99394),
    (1.49, 60, 0.173098, 0.001945, 0.295113, 0.003882, 0.149497, 0.68377, 0.99611),
    (1.50, 0, 0.040000, 0.040000, 0.076923, 0.076923, 0.076923, 0.92160, 0.92160),
    (1.50, 45, 0.092013, 0.008466, 0.168521, 0.016791, 0.092656, 0.82444, 0.98314),
    (1.52, 0, 0.042580, 0.042580, 0.081682, 0.081682, 0.081682, 0.91665, 0.91665),
    (1.52, 45, 0.096733, 0.009357, 0.176402, 0.018541, 0.097472, 0.81589, 0.98137),
    (1.52, 60, 0.183438, 0.001527, 0.310009, 0.003050, 0.156529, 0.66677, 0.99695),
    (1.586, 0, 0.051350, 0.051350, 0.097683, 0.097683, 0.097683, 0.89994, 0.89994),
    (1.586, 45, 0.112249, 0.012600, 0.201842, 0.024886, 0.113364, 0.78810, 0.97496),
]
# n, incidence, refraction, doubling per thickness, shift per thickness; the shift's form is that of
# Young and Freedman, University Physics, problem 33.54
PLATE = [
    (1.49, 30, 19.6072, 0.617002, 0.191499),
    (1.49, 45, 28.3312, 0.762471, 0.325871),
    (1.49, 60, 35.5368, 0.714261, 0.508895),
    (1.52, 45, 27.7233, 0.743212, 0.335501),
    (1.52, 60, 34.7330, 0.693286, 0.519382),
    (1.586, 45, 26.4773, 0.704401, 0.354906),
]
INDEX = st.floats(1.3, 2.2)
ANGLE = st.floats(0, 89)


@pytest.mark.parametrize(
    ("n", "angle", "rs", "rp", "slab_s", "slab_p", "slab", "second_s", "second_p"), TABLE
)
def test_reflectances_of_the_tables(n, angle, rs, rp, slab_s, slab_p, slab, second_s, second_p):
    face, pane = face_reflectance(angle, n), pane_reflectance(angle, n)
    assert (face.s, face.p) == pytest.approx((rs, rp), abs=6e-7)
    assert (pane.s, pane.p) == pytest.approx((slab_s, slab_p), abs=6e-7)
    assert pane.mixed(0.5) == pytest.approx(slab, abs=6e-7)
    assert ((1 - face.s) ** 2, (1 - face.p) ** 2) == pytest.approx((second_s, second_p), abs=6e-6)


def test_the_mean_of_the_faces_would_be_wrong():
    """2R / (1 + R) of the unpolarised mean is 3.2 % too much at 45 degrees; each goes by itself."""
    mean = face_reflectance(45, 1.49).mixed(0.5)
    assert 2 * mean / (1 + mean) == pytest.approx(0.093140, abs=6e-7)
    assert pane_reflectance(45, 1.49).mixed(0.5) == pytest.approx(0.090250, abs=6e-7)


@settings(deadline=None, max_examples=60)
@given(n=INDEX, angle=ANGLE)
def test_agrees_with_tmm(n, angle):
    radians = math.radians(angle)
    inside = math.radians(refraction_deg(angle, n))
    face, pane = face_reflectance(angle, n), pane_reflectance(angle, n)
    for polarisation in ("s", "p"):
        assert getattr(face, polarisation) == pytest.approx(
            tmm.interface_R(polarisation, 1, n, radians, inside), abs=1e-10
        )
        sheet = tmm.inc_tmm(polarisation, [1, n, 1], [np.inf, 3e6, np.inf], ["i", "i", "i"], radians, 550)
        assert getattr(pane, polarisation) == pytest.approx(sheet["R"], abs=1e-10)


@settings(deadline=None)
@given(n=INDEX, angle=ANGLE)
def test_no_light_is_lost(n, angle):
    """Followed bounce by bounce between the faces: what comes out before and behind adds up to all of it."""
    face, reflected, passed = (
        face_reflectance(angle, n),
        pane_reflectance(angle, n),
        pane_transmittance(angle, n),
    )
    for kind in ("s", "p"):
        r = getattr(face, kind)
        before, behind, inside = r, 0.0, 1 - r
        for bounce in range(400):
            out = inside * (1 - r)
            before, behind = (before, behind + out) if bounce % 2 == 0 else (before + out, behind)
            inside *= r
        left = inside  # what still runs between the faces at grazing incidence
        assert getattr(reflected, kind) == pytest.approx(before, abs=left + 1e-12)
        assert getattr(passed, kind) == pytest.approx(behind, abs=left + 1e-12)
        assert before + behind + left == pytest.approx(1, abs=1e-12)
    assert 0 <= reflected.p <= reflected.s <= 1


@settings(deadline=None)
@given(n=INDEX)
def test_identities_that_hold_for_every_index(n):
    at_45, straight = face_reflectance(45, n), face_reflectance(0, n)
    assert at_45.p == pytest.approx(at_45.s**2, abs=1e-12)
    assert straight.s == pytest.approx(((n - 1) / (n + 1)) ** 2, abs=1e-12)
    assert pane_transmittance(0, n).mixed(0.5) == pytest.approx(2 * n / (n * n + 1), abs=1e-12)
    assert face_reflectance(math.degrees(math.atan(n)), n).p == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(
    ("n", "brewster", "inside", "rs", "slab_s"),
    [
        (1.49, 56.1328, 33.8672, 0.143566, 0.251085),
        (1.52, 56.6593, 33.3407, 0.156692, 0.270931),
        (1.586, 57.7679, 32.2321, 0.185825, 0.313410),
    ],
)
def test_brewster_of_the_table(n, brewster, inside, rs, slab_s):
    assert refraction_deg(brewster, n) == pytest.approx(inside, abs=1e-4)
    assert face_reflectance(brewster, n).s == pytest.approx(rs, abs=2e-6)
    assert pane_reflectance(brewster, n).s == pytest.approx(slab_s, abs=2e-6)


@pytest.mark.parametrize(("n", "angle", "inside", "doubling", "shift"), PLATE)
def test_plate_of_the_table(n, angle, inside, doubling, shift):
    assert refraction_deg(angle, n) == pytest.approx(inside, abs=6e-5)
    assert doubling_mm(angle, n, 1) == pytest.approx(doubling, abs=6e-7)
    assert plate_shift_mm(angle, n, 1) == pytest.approx(shift, abs=6e-7)


def plate_shift_mm(incidence_deg, index, thickness_mm):
    """How far a ray that goes through the pane is set aside: t sin(i - r) / cos r."""
    i, r = math.radians(incidence_deg), math.radians(refraction_deg(incidence_deg, index))
    return thickness_mm * math.sin(i - r) / math.cos(r)


def test_shift_of_a_textbook_plate():
    assert plate_shift_mm(66.0, 1.80, 24.0) == pytest.approx(16.175, abs=5e-4)


def bent(way, normal, ratio):
    """Snell's law for vectors: `way` enters through a face with the unit `normal` against it."""
    cos = -normal @ way
    return ratio * way + (ratio * cos - math.sqrt(1 - ratio**2 * (1 - cos**2))) * normal


def distance(a, way_a, b):
    gap = b - a
    return float(np.linalg.norm(gap - (gap @ way_a) * way_a))


@settings(deadline=None, max_examples=100)
@given(n=INDEX, angle=st.floats(1, 85), thickness=st.floats(0.05, 10), turn=st.floats(0, 6.28))
def test_rays_traced_through_the_sheet(n, angle, thickness, turn):
    """The second ray leaves as far from the first, and the passing ray as far aside, as we say."""
    up = np.array([0.0, 0.0, 1.0])
    a = math.radians(angle)
    way = np.array([math.sin(a) * math.cos(turn), math.sin(a) * math.sin(turn), -math.cos(a)])
    first = way - 2 * (way @ up) * up
    inside = bent(way, up, 1 / n)
    low = inside * thickness / -(inside @ up)
    back = inside - 2 * (inside @ up) * up
    out = low + back * thickness / (back @ up)
    second = bent(back, -up, n)
    assert second == pytest.approx(first, abs=1e-9)
    assert distance(np.zeros(3), first, out) == pytest.approx(doubling_mm(angle, n, thickness), abs=1e-9)
    passed = bent(inside, up, n)
    assert passed == pytest.approx(way, abs=1e-9)
    assert distance(np.zeros(3), way, low) == pytest.approx(plate_shift_mm(angle, n, thickness), abs=1e-9)


@pytest.mark.parametrize("angle", [-1, 90.5, math.nan])
def test_angles_outside_are_refused(angle):
    with pytest.raises(ValueError, match="between 0 and 90"):
        face_reflectance(angle, 1.5)


def test_an_index_below_air_is_refused():
    with pytest.raises(ValueError, match="1 or more"):
        face_reflectance(45, 0.9)
