"""How many full-size millimetres one millimetre of the scene stands for."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from ghostprep.scene.lengths import parse_length

_RATIO: Final = re.compile(r"\s*1\s*[:/]\s*(\d+(?:\.\d+)?)\s*")
_SMALLEST: Final = 1000.0
"""1:1000; nobody builds scenery smaller."""


@dataclass(frozen=True, slots=True)
class Reference:
    """An object in the scene whose full size is known."""

    factor: float
    """Scene millimetres in one full-size millimetre, at the object."""
    depth_mm: float | None
    """How far behind the opening it stands; None where the scale is the same everywhere."""


@dataclass(frozen=True, slots=True)
class Scale:
    """The scene's scale: the same everywhere, or falling with depth (forced perspective)."""

    near: Reference
    """The only reference, or the one nearer to the opening."""
    far: Reference | None = None
    """The second one, deeper in the scene."""

    def at(self, depth_mm: float) -> float:
        """Return scene millimetres in one full-size millimetre at a depth behind the opening.

        Scenery built in forced perspective runs together along straight lines, so its size
        falls linearly with depth.

        Raises
        ------
        ValueError
            The lines have met before this depth.

        Examples
        --------
        >>> 1 / parse_scale("1:24").at(100)
        24.0
        """
        if self.far is None or self.near.depth_mm is None or self.far.depth_mm is None:
            return self.near.factor
        along = (depth_mm - self.near.depth_mm) / (self.far.depth_mm - self.near.depth_mm)
        factor = self.near.factor + along * (self.far.factor - self.near.factor)
        if factor <= 0:
            raise ValueError(f"the two references shrink to nothing before {depth_mm:.0f} mm of depth")
        return factor

    def as_written(self) -> str | list[dict[str, float | None]]:
        """Return the scale as a scene file gives it, in mm; `parse_scale` reads it back.

        >>> parse_scale({"reference": 85, "real": "2040 mm"}).as_written()
        '1:24'
        """
        if self.far is None:
            return f"1:{1 / self.near.factor:.12g}"
        pair = (self.near, self.far)
        return [{"reference": 1000 * r.factor, "real": 1000.0, "depth": r.depth_mm} for r in pair]


def parse_scale(value: object, units: str = "mm") -> Scale:
    """Read a scale as the scene file gives it.

    Parameters
    ----------
    value : str, dict, list of two dict, or Scale
        ``"1:24"``; ``{"reference": 85, "real": "2030 mm"}``; or two of these, each with its
        ``depth`` behind the opening.
    units : {"mm", "cm", "in"}
        Unit of bare numbers.

    Raises
    ------
    ValueError
        It is none of these, or no scene has such a scale.
    """
    if isinstance(value, Scale):
        return value
    if isinstance(value, str):
        match = _RATIO.fullmatch(value)
        if match is None:
            raise ValueError(f'{value!r} is not a scale; write it like "1:24"')
        return Scale(_checked(1.0, float(match[1])))
    if isinstance(value, dict):
        return Scale(_reference(value, units, needs_depth=False))
    if isinstance(value, list) and len(value) == 2 and all(isinstance(v, dict) for v in value):
        near, far = sorted(
            (_reference(v, units, needs_depth=True) for v in value), key=lambda r: r.depth_mm or 0.0
        )
        if near.depth_mm == far.depth_mm:
            raise ValueError(
                "the two references stand at the same depth; forced perspective needs two depths"
            )
        return Scale(near, far)
    raise ValueError(
        'must be a scale: "1:24", { reference = 85, real = "2030 mm" }, or two references with their depth'
    )


def _reference(table: dict[str, object], units: str, *, needs_depth: bool) -> Reference:
    known = {"reference", "real", "depth"} if needs_depth else {"reference", "real"}
    if wrong := sorted(set(table) - known):
        raise ValueError(
            f"the reference has the unknown key {wrong[0]!r}; it takes {', '.join(sorted(known))}"
        )
    if missing := sorted(known - set(table)):
        raise ValueError(f"the reference has no {missing[0]!r}")
    seen, real = parse_length(table["reference"], units), parse_length(table["real"], units)
    if seen <= 0 or real <= 0:
        raise ValueError("reference and real must both be above 0")
    depth = parse_length(table["depth"], units) if needs_depth else None
    return _checked(seen, real, depth)


def _checked(seen: float, real: float, depth: float | None = None) -> Reference:
    if not seen <= real <= seen * _SMALLEST:
        raise ValueError(f"gives 1:{real / seen:.4g}, but a scale lies between 1:1 and 1:1000")
    return Reference(seen / real, depth)
