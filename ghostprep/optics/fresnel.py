"""How much light a clear pane reflects.

A pane has two faces. Its light is counted incoherently: sheet is far thicker than the
coherence length of a screen's light, so no interference remains.

References
----------
W. J. Smith, Modern Optical Engineering, 4th ed., section 11 (Fresnel's equations);
M. Born, E. Wolf, Principles of Optics, section 1.5.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from ghostprep.optics.vectors import Vector

_Cosine = TypeVar("_Cosine", float, Vector)


@dataclass(frozen=True, slots=True)
class PerPolarisation:
    """A share of the light, 0..1, for each polarisation."""

    s: float
    p: float
    """Light that swings across the plane of incidence, and in it."""

    def mixed(self, share_s: float) -> float:
        """Return the share for light of which `share_s` (0..1) swings across the plane of incidence."""
        return share_s * self.s + (1 - share_s) * self.p


def refraction_deg(incidence_deg: float, index: float) -> float:
    """Return the angle inside the pane (Snell's law), degrees.

    Examples
    --------
    >>> round(refraction_deg(45, 1.49), 4)
    28.3312
    """
    return math.degrees(math.asin(math.sin(math.radians(incidence_deg)) / index))


def face_reflectance(incidence_deg: float, index: float) -> PerPolarisation:
    """Return what one face of a pane reflects at an angle from its normal.

    Raises
    ------
    ValueError
        The angle is not within 0 and 90, or the index not above 1.
    """
    if not 0 <= incidence_deg <= 90:
        raise ValueError(f"incidence is {incidence_deg} degrees, it must be between 0 and 90")
    if not index >= 1:
        raise ValueError(f"index is {index}, it must be 1 or more")
    i, r = math.radians(incidence_deg), math.radians(refraction_deg(incidence_deg, index))
    return PerPolarisation(*_reflected(math.cos(i), math.cos(r), index))


def _reflected(outside: _Cosine, inside: _Cosine, index: float) -> tuple[_Cosine, _Cosine]:
    """Return what a face reflects of each polarisation, s and p, by the cosines on its two sides."""
    s = ((outside - index * inside) / (outside + index * inside)) ** 2
    p = ((index * outside - inside) / (index * outside + inside)) ** 2
    return s, p


def pane_reflectance(incidence_deg: float, index: float) -> PerPolarisation:
    """Return what a pane with two faces reflects: R + R(1-R)^2 + R^3(1-R)^2 + ... = 2R / (1+R).

    The sum holds for each polarisation by itself, not for their mean.

    Examples
    --------
    >>> round(pane_reflectance(45, 1.49).mixed(0.5), 5)
    0.09025
    """
    face = face_reflectance(incidence_deg, index)
    return PerPolarisation(2 * face.s / (1 + face.s), 2 * face.p / (1 + face.p))


def pane_transmittance(incidence_deg: float, index: float) -> PerPolarisation:
    """Return what a clear pane lets through; nothing is absorbed in so thin a sheet."""
    pane = pane_reflectance(incidence_deg, index)
    return PerPolarisation(1 - pane.s, 1 - pane.p)


def transmittances(cosines: Vector, index: float) -> Vector:
    """Return what a clear pane lets through of unpolarised light, for cosines 0..1 of the incidence (n,)."""
    s, p = _reflected(cosines, np.sqrt(1 - (1 - cosines**2) / index**2), index)
    return 1 - s / (1 + s) - p / (1 + p)


def doubling_mm(incidence_deg: float, index: float, thickness_mm: float) -> float:
    """Return how far apart the rays from the two faces leave: 2 t tan r cos i, across the ray.

    Derived: the ray that enters runs down and up inside the pane and comes out 2 t tan r along the
    face; seen along the ray that is shortened by cos i.

    Examples
    --------
    >>> round(doubling_mm(45, 1.49, 2), 4)
    1.5249
    """
    tan_r = math.tan(math.radians(refraction_deg(incidence_deg, index)))
    return 2 * thickness_mm * tan_r * math.cos(math.radians(incidence_deg))
